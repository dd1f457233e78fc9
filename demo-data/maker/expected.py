"""What the day must show: written by hand, from the story, before any rule is run over it.

`reason` is by the contract's letter. Standing is `-` for the rules about a sign-off: they name something that was
lacking at that moment, not two facts that clash.
"""


def expected(day):
    """The content of expected.json. `day` gives the codes that stand for the people's mistakes."""
    rows = findings(day)
    end = [[r["rule"], r["subject"], r["status"]] for r in rows]
    return {
        "device": "harrow-street",
        "when": "after the last step of story.toml",
        "findings": rows,
        "shows": shows(day, end),
    }


def row(rule, subject, severity, standing, status, reason):
    return {
        "rule": rule,
        "subject": subject,
        "severity": severity,
        "standing": standing,
        "status": status,
        "reason": reason,
    }


def findings(day):
    j = {short: job.name for short, job in day.plan.items()}
    return [
        row(
            "camera-on-two-trackers", day["M03"].camera, "stop", "unaware", "open",
            f"linked in {j['M03']} on laptop-mara and in {j['I04']} on laptop-ilse, both in the afternoon; neither had "
            "read anything of the other until the tea at 21:45, so the two links are concurrent; none was unlinked",
        ),
        row(
            "camera-on-two-trackers", day["M05"].camera, "stop", "aware", "open",
            f"linked in {j['M05']} on laptop-mara before the meeting at 18:40; laptop-tomas read that there and linked "
            f"the same camera in {j['T09']} in the evening: the first link happens before the second",
        ),
        row(
            "tracker-with-two-cameras", day["I13"].tracker, "stop", "aware", "cleared",
            f"in {j['I13']} laptop-ilse linked a spare without unlinking the first camera, so both links were live and "
            "the first before the second; her unlink after shift end took the first one off",
        ),
        row(
            "signed-without-link", j["T15"], "stop", "-", "open",
            "settings, proof and sign-off are there, but no link of its tracker or camera was ever recorded",
        ),
        row(
            "signed-before-live", j["I06"], "stop", "aware", "open",
            "the only settings live for the linked tracker stands later in the same log than the sign-off",
        ),
        row(
            "signed-before-live", j["M14"], "ask", "unaware", "settled",
            "settings live was recorded on laptop-ilse after she had read mara's link and is concurrent with the "
            "sign-off on laptop-mara; both clocks say 21:58:00, so the intervals touch and nothing is certain; the "
            "depot had read link, live and sign-off when bram accepted it",
        ),
        row(
            "changed-after-sign-off", j["I06"], "ask", "aware", "open",
            "settings live for the job's pair follows its sign-off in the same log, and it was not signed again",
        ),
        row(
            "changed-after-sign-off", j["M03"], "ask", "unaware", "open",
            "ilse links the job's camera to another tracker at 17:22, on another laptop, after mara's sign-off at 17:08: "
            "the sticks that both laptops exchanged with the depot measured their clocks, so that is certain",
        ),
        row(
            "changed-after-sign-off", j["M05"], "ask", "unaware", "open",
            "tomas links the job's camera to another tracker at 19:37, on another laptop, after mara's sign-off at 18:49: "
            "the sticks that both laptops exchanged with the depot measured their clocks, so that is certain",
        ),
        row(
            "trailer-opened-twice", day["M11"].trailer, "ask", "unaware", "open",
            f"{j['M11']} on laptop-mara and {j['T12']} on laptop-tomas, opened after the meeting at 18:40 and before "
            f"anything was carried again; {j['M11']} was signed after {j['T12']} was opened; neither was stood down",
        ),
        row(
            "fields-disagree", j["M08"], "ask", "unaware", "open",
            "thickness is 3/4 in by laptop-mara and 5/8 in by laptop-tomas, both set after the hand-over and neither "
            "seen by the other; nobody has set it since",
        ),
        row(
            "wrong-fleet", j["I17"], "stop", "aware", "open",
            "its camera is in stock for Osier Haulage, the job is for Larkspur Freight; whoever linked it had both in view",
        ),
        row(
            "pilot-hole-left-open", j["I09"], "stop", "aware", "cleared",
            "blocked with a pilot hole in the wall, as the probe met something at 1 in; the later check pilot-sealed "
            "removed the cause, and the job was stood down after it",
        ),
        row(
            "code-suspect", day.bad_code, "ask", "aware", "open",
            f"typed in {j['T05']}; unknown to the stock list and one character away from {day['T05'].camera}, which he "
            "linked; the label was never read again for this job",
        ),
    ]


def shows(day, end):
    """What each `show findings` step lists, in the order of the steps: rule, subject, status."""
    suspect = ["code-suspect", day.bad_code, "open"]
    blind = ["camera-on-two-trackers", day["M03"].camera, "open"]
    knowing = ["camera-on-two-trackers", day["M05"].camera, "open"]
    spare = ["tracker-with-two-cameras", day["I13"].tracker, "open"]
    cleared = [*spare[:2], "cleared"]
    # Before the ruling and the correction everything is open but the hole that was sealed in the evening.
    # The clock of ilse's laptop is known to a few minutes only when her stick has come back from the depot: not yet of M03.
    later = ["pilot-hole-left-open"], ["changed-after-sign-off", day["M03"].name]
    open_ones = [[*f[:2], "open"] for f in end if f[:1] not in later and f[:2] not in later]
    lists = [[suspect], [knowing], [blind], open_ones, [spare], [cleared], end, end]
    # How far apart the clocks of two laptops may be, as far as the bundles have measured them by then.
    clocks = [30] * 5 + [10] * 3
    rows = zip(TITLES, lists, clocks, strict=True)
    return [{"title": title, "findings": found, "clocks_within_min": minutes} for title, found, minutes in rows]


# As in story.toml; `make.py --check` compares.
TITLES = (
    "Tomas's laptop alone sees the typed code: it is one character away from a camera in the stock list.",
    "His laptop tells him at once, without any network: that camera is on another tracker, and he could have known.",
    "Now Mara's laptop shows a camera that both of them linked, and that neither could have known of the other.",
    "The depot now holds the whole day. These findings are open.",
    "Her laptop names the tracker on which she had put a second camera without unlinking the first.",
    "That finding is cleared. Nothing was erased: it still says what happened.",
    "All findings of the day: open, settled and cleared.",
    "It has read the same facts, so it gives the same answer, byte for byte.",
)
