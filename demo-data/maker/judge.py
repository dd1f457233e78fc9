"""The contract's table of findings (docs/contract/findings.md), written down once more, small and slow, to check the demo day.

It is an oracle for this data set and shares no code with the reconciler. One device's clock is taken as exact, and clocks
of two devices as `within` of each other: as far as the bundles that were carried had measured them by then (see expected.py).
"""

import tomllib
from collections import defaultdict
from datetime import timedelta
from fractions import Fraction

from . import codes

LENGTHS = {"in": Fraction(254, 10), "mm": Fraction(1)}
TIMES = {"min": Fraction(60), "s": Fraction(1), "h": Fraction(3600)}


def standing(ones, others):
    """Whether one of two facts that clash had been seen by the recorder of the other; `-` when nothing clashes."""
    pairs = [(a, b) for a in ones for b in others]
    if not pairs:
        return "-"
    return "aware" if any(not a.concurrent(b) for a, b in pairs) else "unaware"


def measure(text):
    """The exact value of `1 3/4 in`, `25 mm`, `4 min` or a count, in millimetres, seconds or one."""
    words = str(text).split()
    unit = words.pop() if words[-1].isalpha() else ""
    return sum(Fraction(w) for w in words) * {**LENGTHS, **TIMES, "": Fraction(1)}[unit]


class Judge:
    """All findings of a set of facts."""

    def __init__(self, facts, standard_path, within_min):
        self.facts = facts
        self.within = timedelta(minutes=within_min)
        self.standard = tomllib.loads(standard_path.read_text(encoding="utf-8"))
        self.jobs = defaultdict(list)
        for fact in facts:
            if fact.get("job"):
                self.jobs[fact.get("job")].append(fact)
        self.links = [f for f in facts if f.is_("link")]
        self.unlinks = [f for f in facts if f.is_("unlink")]
        self.stock = {f.get("camera") or f.get("tracker"): f.get("fleet") for f in facts if f.is_("stock")}
        self.found = {}
        self.made_of = {}

    def all(self):
        for part, other in (("camera", "tracker"), ("tracker", "camera")):
            self.double_ties(part, other)
        for name in self.jobs:
            self.fields_disagree(name)
            self.proofs(name)
            self.pilot_left_open(name)
            for sign_off in self.of(name, "sign-off"):
                self.signed(name, sign_off)
        self.opened_twice()
        self.wrong_fleet()
        self.suspect_codes()
        self.weigh_rulings()
        return self.found

    def find(self, rule, subject, severity, standing, facts, status="open"):
        self.found[rule, subject] = [severity, standing, status]
        self.made_of[rule, subject] = facts

    def of(self, job, kind, state=None):
        return [f for f in self.jobs[job] if f.is_(kind, state)]

    def removals(self, link):
        pair = (link.get("camera"), link.get("tracker"))
        return [u for u in self.unlinks if (u.get("camera"), u.get("tracker")) == pair and link.before(u)]

    def double_ties(self, part, other):
        by_part = defaultdict(list)
        for link in self.links:
            by_part[link.get(part)].append(link)
        rule = "camera-on-two-trackers" if part == "camera" else "tracker-with-two-cameras"
        for code, links in by_part.items():
            clashes = [(a, b) for a in links for b in links if a.get(other) != b.get(other) and self.clash(a, b)]
            both_live = [(a, b) for a, b in clashes if not self.removals(a) and not self.removals(b)]
            pairs = both_live or clashes
            if pairs:
                standing = "aware" if any(a.before(b) for a, b in pairs) else "unaware"
                status = "open" if both_live else "cleared"
                self.find(rule, code, "stop", standing, [f for pair in pairs for f in pair], status)

    def clash(self, a, b):
        """Neither was taken off before the other was made."""
        return not any(u.before(b) for u in self.removals(a)) and not any(u.before(a) for u in self.removals(b))

    def fields_disagree(self, job):
        setters = defaultdict(list)
        for fact in self.of(job, "job"):
            for key in set(fact.line) - {"kind", "at", "clock", "by", "job", "note"}:
                setters[key].append(fact)
        for key, facts in setters.items():
            torn = [f for f in facts for g in facts if f.concurrent(g) and f.get(key) != g.get(key)]
            if torn:
                over = any(all(t.before(f) for t in torn) for f in facts)
                self.find("fields-disagree", job, "ask", "unaware", torn, "cleared" if over else "open")

    def parts(self, job, part):
        """The job's camera or tracker: its field, or else what its links name."""
        setters = [f for f in self.of(job, "job") if f.get(part)]
        latest = [f for f in setters if not any(f.before(g) for g in setters)]
        return {f.get(part) for f in latest} or {f.get(part) for f in self.of(job, "link")}

    def signed(self, job, sign_off):
        cameras, trackers = self.parts(job, "camera"), self.parts(job, "tracker")
        mine = [x for x in self.links if x.get("camera") in cameras or x.get("tracker") in trackers]
        live = [x for x in mine if x.before(sign_off) and not any(u.before(sign_off) for u in self.removals(x))]
        if not live:
            off = [u for x in mine if x.before(sign_off) for u in self.removals(x)]
            self.find("signed-without-link", job, "stop", standing([sign_off], off or mine), [sign_off])
        for link in live:
            self.live_settings(job, sign_off, link)
        judged = self.of(job, "proof", "judged")
        good = [p for p in judged if p.get("ok") is True]
        if not any(p.before(sign_off) for p in good):
            self.find("signed-without-proof", job, "stop", standing([sign_off], good or judged), [sign_off])
        self.checks(job, sign_off)
        if self.field(job, "load") == "loaded" and not self.cleared_to_cut(job):
            checks = self.of(job, "check")
            cuts = [f for f in checks if f.get("check") == "hole-cut"]
            readings = [f for f in checks if f.get("check") in ("pilot-hole", "first-probe", "second-probe")]
            self.find("cut-without-clearance", job, "stop", standing(cuts, readings), [sign_off])
        kinds = ("link", "unlink", "settings")
        changes = [f for f in self.facts if f.get("kind") in kinds and self.follows(f, sign_off)]
        changes = [f for f in changes if touches(f, cameras, trackers)]
        if any(not any(c.before(s) for s in self.of(job, "sign-off")) for c in changes):
            known = standing([sign_off], changes)
            self.find("changed-after-sign-off", job, "ask", known, [sign_off, *changes])

    def follows(self, change, sign_off):
        """After the sign-off: seen by its recorder, or certainly later."""
        if sign_off.before(change) or change.before(sign_off):
            return sign_off.before(change)
        return change.time() - sign_off.time() > self.within

    def live_settings(self, job, sign_off, link):
        lives = [f for f in self.facts if f.is_("settings", "live") and f.get("tracker") == link.get("tracker")]
        lives = [f for f in lives if f.get("camera") in (None, link.get("camera")) and not f.before(link)]
        if any(link.before(f) and self.earlier(f, sign_off) for f in lives):
            return
        undecided = [f for f in lives if not sign_off.before(f) and not self.earlier(sign_off, f)]
        severity = "ask" if undecided else "stop"
        known = standing([sign_off], undecided or lives)
        self.find("signed-before-live", job, severity, known, [link, sign_off, *lives])

    def earlier(self, a, b):
        return a.before(b) or (a.concurrent(b) and a.clock() == b.clock() and a.time() < b.time())

    def field(self, job, name):
        values = [f.get(name) for f in self.of(job, "job") if f.get(name)]
        return values[-1] if values else None

    def checks(self, job, sign_off):
        missing, failed = [], []
        for want in self.standard["check"]:
            if not self.required(want, job):
                continue
            seen = [f for f in self.jobs[job] if says(want["name"], f) and f.before(sign_off)]
            if not seen:
                missing.append(want["name"])
            elif not passes(want, seen[-1]):
                failed.append(want["name"])
        if missing:
            self.find("check-missing", job, "ask", "-", missing)
        if failed:
            self.find("check-failed", job, "stop", "aware", failed)

    def required(self, want, job):
        thick = self.field(job, "thickness")
        over = want.get("thickness-over")
        return (
            want.get("required", True)
            and (self.field(job, "purpose") or "fit") in want.get("purpose", ("fit", "replace", "take-off", "prove"))
            and self.field(job, "load") in want.get("load", ("empty", "loaded"))
            and self.field(job, "wall") in want.get("wall", ("plate", "sheet-and-post"))
            and (over is None or (thick is not None and measure(thick) > measure(over)))
        )

    def cleared_to_cut(self, job):
        """TRADE §2 for the readings before the cut, which must all be there by then."""
        read = {}
        for fact in self.of(job, "check"):
            if fact.get("check") in ("hole-cut", "hole-diameter"):
                break
            read[fact.get("check")] = fact
        if not {"freight-at-opening", "pilot-hole", "first-probe"} <= set(read):
            return False
        if read["freight-at-opening"].get("value") not in ("no", "cannot-be-seen"):
            return False
        first = depth(read["first-probe"])
        give = measure("1/32 in")
        if self.field(job, "wall") == "plate":
            return first - give >= measure("1/2 in")
        # The probes find the thickness; one that was recorded must be under 3/4 in, whatever its reading may be off.
        thick = self.field(job, "thickness")
        if thick is not None and measure(thick) + give >= measure("3/4 in"):
            return False
        if first + give < measure("1/2 in"):
            deep = "pilot-depth" in read and depth(read["pilot-depth"]) == measure("5/8 in")
            entered = "second-hole-entered" in read and read["second-hole-entered"].get("ok") is True
            return deep and entered and "second-probe" in read and depth(read["second-probe"]) - give >= measure("2 in")
        return first - give >= measure("2 in")

    def proofs(self, job):
        for judged in self.of(job, "proof", "judged"):
            answers = judged.get("answers") or {}
            if judged.get("ok") is True and any(answers.get(a) is not True for a in self.standard["proof"]["answers"]):
                self.find("proof-answers-disagree", job, "stop", "-", [judged])
            asked = [f for f in self.of(job, "proof", "asked") if f.before(judged)]
            taken = [f for f in self.of(job, "proof", "taken") if f.before(judged)]
            if not asked or not taken or asked[-1].clock() != taken_clock(taken[-1]):
                self.find("proof-older-than-request", job, "ask", standing(asked, [judged]), [judged])
            elif taken[-1].time("taken_at") <= asked[-1].time():
                self.find("proof-older-than-request", job, "stop", standing(asked, [judged]), [judged])

    def pilot_left_open(self, job):
        checks = [f.get("check") for f in self.of(job, "check")]
        cut = {"hole-cut", "hole-diameter"} & set(checks)
        # Only a cut with clearance takes the pilot hole away.
        if "pilot-hole" not in checks or (cut and self.cleared_to_cut(job)):
            return
        given_up = self.of(job, "stand-down") or not self.cleared_to_cut(job)
        sealed = "pilot-sealed" in checks and checks.index("pilot-sealed") > checks.index("pilot-hole")
        if given_up:
            pilots = [f for f in self.of(job, "check") if f.get("check") == "pilot-hole"]
            known = standing(pilots, self.of(job, "stand-down"))
            self.find("pilot-hole-left-open", job, "stop", known, [], "cleared" if sealed else "open")

    def opened_twice(self):
        visits = defaultdict(dict)
        for job, facts in self.jobs.items():
            openings = [f for f in facts if f.get("trailer")]
            if openings:
                visits[openings[0].get("trailer")][job] = openings[0]
        for trailer, by_job in visits.items():
            pairs = [(a, b) for a in by_job for b in by_job if a < b and self.both_open(by_job, a, b)]
            for a, b in pairs:
                known = not by_job[a].concurrent(by_job[b])
                self.find("trailer-opened-twice", trailer, "ask", "aware" if known else "unaware", [*by_job.values()])

    def both_open(self, by_job, a, b):
        if self.of(a, "stand-down") or self.of(b, "stand-down"):
            return False
        over = lambda one, other: any(self.earlier(s, by_job[other]) for s in self.of(one, "sign-off"))
        return not over(a, b) and not over(b, a)

    def wrong_fleet(self):
        for job in self.jobs:
            fleet = self.field(job, "fleet")
            for link in self.of(job, "link"):
                strange = [c for c in (link.get("camera"), link.get("tracker")) if self.stock.get(c, fleet) != fleet]
                if strange:
                    stock = [f for f in self.facts if f.is_("stock") and (f.get("camera") or f.get("tracker")) in strange]
                    fleets = [f for f in self.of(job, "job") if f.get("fleet")]
                    known = any(self.had_all_three(link, s, f) for s in stock for f in fleets)
                    self.find("wrong-fleet", job, "stop", "aware" if known else "unaware", [link])

    def had_all_three(self, *facts):
        """Whether whoever recorded one of them had the others in view."""
        return any(all(f is last or f.before(last) for f in facts) for last in facts)

    def suspect_codes(self):
        for fact in self.facts:
            used = [fact.get(k) for k in ("camera", "tracker", "code") if fact.get(k)]
            for code in used:
                near = [known for known in self.stock if codes.distance(code, known) == 1]
                if code not in self.stock and near:
                    uses = [f for f in self.facts if code in (f.get("camera"), f.get("tracker"), f.get("code"))]
                    stock = [f for f in self.facts if f.is_("stock") and (f.get("camera") or f.get("tracker")) in near]
                    self.find("code-suspect", code, "ask", standing(uses, stock), [fact])
            if fact.get("vin") and not codes.vin_ok(fact.get("vin")):
                self.find("code-suspect", fact.get("vin"), "ask", "-", [fact])

    def weigh_rulings(self):
        for ruling in self.facts:
            key = ruling.get("finding")
            if ruling.is_("ruling") and key in self.found and self.found[key][2] == "open":
                if all(f.before(ruling) for f in self.made_of[key]):
                    self.found[key][2] = "settled"


def touches(change, cameras, trackers):
    """Of an unlink both codes, of a link one, of settings the tracker."""
    camera, tracker = change.get("camera") in cameras, change.get("tracker") in trackers
    return {"unlink": camera and tracker, "link": camera or tracker, "settings": tracker}[change.get("kind")]


def taken_clock(taken):
    """The clock of a picture's `taken_at`: a server's, unless it says otherwise."""
    return taken.device if taken.get("taken_clock") == "device" else "reference"


def depth(fact):
    return measure("100 in") if fact.get("value") == "free" else measure(fact.get("value"))


def says(name, fact):
    """Whether a fact says something of that check; the thickness may stand in a job as well."""
    return fact.get("check") == name if fact.is_("check") else name == "thickness" and fact.is_("job") and fact.get(name)


def passes(want, fact):
    """Whether a check is as the standard wants it: the shapes that this day uses."""
    if fact.get("ok") is False:
        return False
    if want["wants"] in ("measure", "wait"):
        got = measure(fact.get("value") or fact.get("thickness"))
        if "value" in want:
            return abs(got - measure(want["value"])) <= measure(want["tolerance"])
        low, over, exact = want.get("at-least"), want.get("over"), want.get("exactly")
        return (
            (low is None or got >= measure(low))
            and (over is None or got > measure(over))
            and (exact is None or got == measure(exact))
        )
    if want["wants"] == "seen":
        return fact.get("ok") is True
    return fact.get("value") is not None
