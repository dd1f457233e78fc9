"""The rule about settings, and what changes after a sign-off. Each follows its row of docs/contract/findings.md."""

from facts import latest, standing
from finding import Cause, joined, worst
from times import AFTER, BEFORE, CLAIMED, order

LIVE = "live"


def settings_for(view, link):
    """The settings of a link's tracker; those that name another camera do not count for the pair."""
    return [f for f in view.kind("settings") if f.tracker == link.tracker and f.camera in (None, link.camera)]


def lives(view, link):
    return [f for f in settings_for(view, link) if f.data["state"] == LIVE]


def by_pair(links):
    found = {}
    for link in links:
        found.setdefault(link.pair, []).append(link)
    return found


def placed(view, links, sign):
    """The settings of one pair, told apart by when they were: decided (after the link and before the sign-off), open,
    claimed (recorded after the sign-off, said to be earlier)."""
    found = {"decided": [], "open": [], "claimed": []}
    for f in settings_for(view, links[0]):
        to_sign = order(f, sign)
        to_link = {order(link, f) for link in links}
        if to_sign == AFTER or to_link <= {AFTER, CLAIMED}:
            continue
        if to_sign == CLAIMED:
            found["claimed"].append(f)
        elif to_sign == BEFORE and BEFORE in to_link:
            found["decided"].append(f)
        else:
            found["open"].append(f)
    return found


def settled_state(view, links, sign):
    """None when the settings were live, else (severity, the settings that speak against it)."""
    at = placed(view, links, sign)
    live_of = {name: [f for f in facts if f.data["state"] == LIVE] for name, facts in at.items()}
    if not at["decided"]:
        return ("ask" if live_of["open"] or live_of["claimed"] else "stop", [])
    last = latest(at["decided"])
    against = [f for f in last if f.data["state"] != LIVE]
    if against:
        return ("ask" if live_of["claimed"] else "stop", against)
    doubtful = [f for f in at["open"] if f.data["state"] != LIVE and not any(f in view.before(d).facts for d in last)]
    return ("ask", doubtful) if doubtful else None


def signed_before_live(view):
    """Row `signed-before-live`: the latest settings for the pair's tracker, after the link and before the sign-off, are
    not all live. None, or all certainly later: stop. Only undecidable ones: ask."""
    for job in view.jobs:
        found = []
        for sign in view.signs_for(job, "fit", "replace", "prove"):
            for links in by_pair(view.signed_links(job, sign)).values():
                state = settled_state(view, links, sign)
                if state:
                    found.append((*state, sign, links))
        if found:
            facts = [f for _, against, sign, links in found for f in [*against, sign, *links]]
            # Settings at a wrong time do not join it, but who recorded them may have known.
            stands = joined({standing([sign], against or lives(view, links[0])) for _, against, sign, links in found})
            yield Cause("signed-before-live", worst(found), job, facts, stands, [job], "pair")


def touches(fact, pair):
    """An unlink by both codes of the pair, a link by one, settings by the tracker."""
    camera, tracker = pair
    if fact.kind == "unlink":
        return fact.pair == pair
    if fact.kind == "link":
        return fact.camera == camera or fact.tracker == tracker
    return fact.kind == "settings" and fact.tracker == tracker and fact.camera in (None, camera)


def later_signs(view, job, sign):
    """The sign-offs of later jobs on the trailer: made by somebody who had seen this one."""
    return [s for other in view.jobs_beside(job) for s in view.all_signs(other) if s.saw(sign)]


def changed_after_sign_off(view):
    """Row `changed-after-sign-off`: a link, unlink or settings fact touches the job's pair after its sign-off, and neither
    this job nor a later job on the trailer was signed by somebody who had seen it. What happens after a later signed
    job on the trailer concerns only that job."""
    changes = [f for f in view.facts if f.kind in ("link", "unlink", "settings")]
    for job in view.jobs:
        found = []
        for sign in [] if view.stood_down(job) else view.all_signs(job):
            pairs = {link.pair for link in view.signed_links(job, sign)}
            seen_by = later_signs(view, job, sign)
            for f in changes:
                if f.kind == "unlink" and view.purpose_at(job, sign) == "take-off":
                    continue  # What a take-off was for; that it came late is `signed-without-link`.
                if any(touches(f, pair) for pair in pairs) and order(sign, f) == BEFORE and not taken(view, job, f, seen_by):
                    found.append((sign, f))
        if found:
            stands = joined({standing([s], [f]) for s, f in found})
            yield Cause("changed-after-sign-off", "ask", job, [f for pair in found for f in pair], stands, [job], "changed")


def taken(view, job, change, later):
    """Whether a sign-off of this job or of a later one had seen the change, or a later one was before it."""
    if any(s.saw(change) for s in view.all_signs(job)) or any(s.saw(change) for s in later):
        return True
    # A job that was given up since is no later signed job to which the change could belong.
    standing_ones = [s for s in later if not view.stood_down(s.job)]
    return any(change.saw(s) or order(s, change) == BEFORE for s in standing_ones)


RULES = [signed_before_live, changed_after_sign_off]
