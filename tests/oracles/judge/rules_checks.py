"""Rules about checks, the cut and the pilot hole. Each follows its row of docs/contract/findings.md."""

from clearance import APPROVED, BLOCKED, CLEAR, UNDECIDED, answer, freight_blocks, readings
from facts import latest, standing
from finding import Cause, joined, worst
from rules_settings import later_signs, settings_for
from standard import verdict
from times import BEFORE, CLAIMED, order
from withdrawn import READINGS


# A probe goes into a pilot hole, also where nobody recorded that it was made.
SHOW_A_HOLE = {"pilot-hole", "first-probe", "second-probe"}


def present(view, job, name):
    """The facts that say that a check was done; a wait may be timed by two of them."""
    check, found = view.standard.checks[name], view.checks(job, name)
    if check["wants"] == "wait" and "from" in check:
        ends = [view.checks(job, check["from"]), view.checks(job, check["to"])]
        if all(ends):
            found = found + ends[0] + ends[1]
    if name == "thickness":
        found = [*found, *(f for f in view.of(job, "job") if "thickness" in f.data)]
    return found


def check_missing(view):
    """Row `check-missing`: a sign-off while required checks (for that purpose, wall, load and thickness) are absent before
    it; one finding a job, naming what is missing before each of its latest sign-offs."""
    for job in view.jobs:
        bad = [sign for sign in view.signs(job) if missing(view, job, sign)]
        if bad:
            yield Cause("check-missing", "ask", job, bad, "-", [job], "pair")


def missing(view, job, sign):
    about = view.behind(sign).about(job)
    needed = view.standard.required(about)
    unknown = [field for field in ("wall", "load") if not view.behind(sign).values(job, field)] if about.purpose == "fit" else []
    return unknown + [name for name in needed if not any(order(f, sign) == BEFORE for f in present(view, job, name))]


def check_failed(view):
    """Row `check-failed`: a sign-off while the latest value of a required check is out of tolerance or not ok (concurrent
    latest: any failing one): stop; ask where the standard says so and nobody else approved before the cut."""
    for job in view.jobs:
        found = [(severity, sign, f) for sign in view.signs(job) for severity, f in failing(view, job, sign)]
        if found:
            stands = joined({standing([sign], [f]) for _, sign, f in found})
            facts = [f for _, *two in found for f in two]
            yield Cause("check-failed", worst(found), job, facts, stands, [job], "pair")


def failing(view, job, sign):
    """(severity, fact) of the required checks that speak against a sign-off."""
    around = [f for f in view.of(job, "check") if order(f, sign) == BEFORE]
    cuts, about = view.cuts(job), view.behind(sign).about(job)
    for name in view.standard.required(about):
        for f in latest(f for f in around if f.check == name):
            said = verdict(view.standard, f, around, cuts, about)
            if said != "ok":
                yield ("ask" if passed_claimed(view, job, f, sign) else said, f)


def passed_claimed(view, job, failed, sign):
    """Whether somebody said afterwards that the check had passed before the sign-off."""
    later = [f for f in view.checks(job, failed.check) if f.saw(failed) and order(f, sign) == CLAIMED]
    return any(verdict(view.standard, f) == "ok" for f in later)


def failed_after_sign_off(view):
    """Row `failed-after-sign-off`: not before its sign-off the job's proof is judged not ok for that pair, also in another
    job on the trailer that was not signed before that, or a required check or its settings fail; and no later sign-off
    of this job, of a later `fit` or `replace`, or (for the picture) of a later `prove` has seen that."""
    for job in view.jobs:
        found = {(sign, f) for sign in view.signs(job) for f in failures(view, job, sign)
                 if order(f, sign) != BEFORE and not signed_again(view, job, sign, f)}
        if found:
            stands = joined({standing([sign], [f]) for sign, f in found})
            about = "proof" if all(f.kind == "proof" for _, f in found) else "pair"
            facts = [f for pair in found for f in pair]
            yield Cause("failed-after-sign-off", "stop", job, facts, stands, [job], about)


def failures(view, job, sign):
    links = view.signed_links(job, sign)
    about = view.behind(sign).about(job)
    needed = view.standard.required(about)
    for link in links:
        yield from (f for f in settings_for(view, link) if f.data["state"] == "failed")
    checks = view.of(job, "check")
    yield from (f for f in checks if f.check in needed and verdict(view.standard, f, checks, view.cuts(job), about) != "ok")
    pairs = {link.pair for link in links}
    for other in [job, *view.jobs_beside(job)]:
        for f in view.judged(other):
            if f.data.get("ok") is not True and (pair_then(view, f) & pairs or other == job and not (pairs and pair_then(view, f))):
                if other == job or not any(f.saw(s) for s in view.all_signs(other)):
                    yield f


def pair_then(view, fact):
    then = view.behind(fact)
    return {link.pair for link in then.pair_links(fact.job) if link in then.live}


def signed_again(view, job, sign, failure):
    """Whether a sign-off that puts it right had seen the failure."""
    if any(s.saw(failure) for s in view.all_signs(job)):
        return True
    able = {"fit", "replace"} | ({"prove"} if failure.kind == "proof" else set())
    return any(s.saw(failure) for s in later_signs(view, job, sign) if view.purpose_at(s.job, s) in able)


def cut_without_clearance(view):
    """Row `cut-without-clearance`: the hole was cut on a trailer that was loaded as known then, or is recorded as loaded
    later, or was called empty after a reading that did not clear, while the answer at that moment was not clear."""
    for job in view.jobs:
        now = view.values(job, "load")
        found = [(cut, against) for cut in view.cuts(job) for against in not_cleared(view, job, cut, now)]
        if found:
            facts = [f for cut, against in found for f in [cut, *against]]
            stands = joined({standing([cut], against) for cut, against in found})
            yield Cause("cut-without-clearance", "stop", job, facts, stands, [job])


def not_cleared(view, job, cut, loads_now):
    """The readings that a cut had in view, once, when it was not cleared."""
    then = view.before(cut)
    loads = then.values(job, "load")
    said = answer(then, job, cutter=cut.by)
    called_empty = loads == {"empty"} and said == UNDECIDED
    if said not in (CLEAR, APPROVED) and ("loaded" in loads | loads_now or called_empty):
        yield [f for f in then.of(job, "check") if f.check in READINGS]


def pilot_hole_left_open(view):
    """Row `pilot-hole-left-open`: a pilot hole was made, the answer is blocked or not decidable or the job was stood down,
    and no later check says it was sealed. Only a cut that was cleared settles it."""
    for job in view.jobs:
        holes = [f for f in view.of(job, "check") if f.check in SHOW_A_HOLE and f.data.get("ok") is not False]
        sealed = [f for f in view.checks(job, "pilot-sealed") if f.data.get("ok") is not False]
        left = [h for h in holes if not any(order(h, s) == BEFORE for s in sealed)]
        if not left or cut_when_clear(view, job):
            continue
        if view.stood_down(job) or answer(view, job) in (BLOCKED, UNDECIDED):
            bad = [f for f, result in readings(view, job) if result in (BLOCKED, UNDECIDED)] + freight_blocks(view, job)
            given_up = view.of(job, "stand-down") if view.stood_down(job) else []
            stands = standing([f for f in left if f.check == "pilot-hole"], given_up)
            yield Cause("pilot-hole-left-open", "stop", job, [*left, *bad, *given_up], stands, [job])


def cut_when_clear(view, job):
    return any(answer(view.before(cut), job, cutter=cut.by) in (CLEAR, APPROVED) for cut in view.cuts(job))


def reading_withdrawn(view):
    """Row `reading-withdrawn`: a check or reading was withdrawn."""
    for job in sorted({f.job for f in view.known if f.job}):
        pairs = [(f, w) for w in view.kind("withdraw") for f in view.known
                 if f.tag == w.data["fact"].lstrip("@") and f.kind == "check" and f.job == job]
        if pairs:
            yield Cause("reading-withdrawn", "note", job, [f for pair in pairs for f in pair], "-", [job])


RULES = [check_missing, check_failed, failed_after_sign_off, cut_without_clearance, pilot_hole_left_open,
         reading_withdrawn]
