"""Rules about jobs and trailers as such. Each follows its row of docs/contract/findings.md."""

from facts import standing
from finding import Cause, joined
from times import BEFORE, order
from view import disagreeing

KINDS = {"job", "scan", "check", "link", "unlink", "settings", "proof", "sign-off", "stand-down", "stock", "withdraw",
         "clock", "handover", "note", "ruling"}


def trailer_opened_twice(view):
    """Row `trailer-opened-twice`: two jobs on one trailer were opened (not only planned), neither stood down, neither signed
    off before the other was opened."""
    for trailer, jobs in sorted(view.trailer_jobs.items()):
        opened = [(job, view.openings(job)) for job in jobs if view.openings(job) and not view.stood_down(job)]
        pairs = [(a, b) for i, a in enumerate(opened) for b in opened[i + 1:]
                 if not over_before(view, a[0], b[1]) and not over_before(view, b[0], a[1])]
        if pairs:
            facts = [f for pair in pairs for _, openings in pair for f in openings]
            stands = joined({standing(a[1], b[1]) for a, b in pairs})
            yield Cause("trailer-opened-twice", "ask", trailer, facts, stands, {job for pair in pairs for job, _ in pair})


def over_before(view, job, openings):
    """Whether a job was signed off before another was opened, or whoever opened that knew that it had been given up."""
    given_up = view.of(job, "stand-down")
    if given_up and all(any(o.saw(down) for down in given_up) for o in openings):
        return True
    return any(all(order(s, o) == BEFORE for o in openings) for s in view.all_signs(job))


def fields_disagree(view):
    """Row `fields-disagree`: a job field has concurrent different values, by key."""
    for job in view.jobs:
        found = disagreeing(view, job)
        if found:
            facts = [f for writers in found.values() for f in writers]
            yield Cause("fields-disagree", "ask", job, facts, "unaware", [job])


def not_understood(view):
    """Row `not-understood`: facts of a kind that this version does not know."""
    found = {}
    for f in view.facts:
        if f.kind not in KINDS:
            found.setdefault(f.job or f"device {f.device}", []).append(f)
    for subject, facts in sorted(found.items()):
        yield Cause("not-understood", "note", subject, facts, "-", {f.job for f in facts if f.job})


RULES = [trailer_opened_twice, fields_disagree, not_understood]
