"""The second judge: facts and what their recorders had seen -> findings, and for each trailer whether it is relied on.

Written from the text of the contract alone, for comparison with the program (compare.py). See README.md for what was
read where the text is silent.
"""

import rules_checks
import rules_links
import rules_lists
import rules_proofs
import rules_settings
import rules_trailers
from finding import Cause
from keys import code_key
from times import Clocks
from view import View

RULES = [rule for part in (rules_links, rules_settings, rules_proofs, rules_checks, rules_lists, rules_trailers)
         for rule in part.RULES]
# Whether a finding stood open also for whoever recorded the fact that made it, and was told so, and nothing further.
AFTER_RECORDING = True
CHAIN = {"signed-without-link", "signed-before-live", "proof-of-another-pair", "proof-older-than-request",
         "proof-out-of-order", "proof-answers-disagree", "proof-without-picture", "signed-without-proof",
         "failed-after-sign-off", "picture-used-twice"}


def judge(facts, standard, depot):
    """The findings of all facts together: open, settled, and those cleared that had been open for somebody."""
    Clocks.depot = depot
    view = View(facts, standard, depot)
    once, now = once_open(view), standing_causes(view)
    # What a later job puts right before anybody saw it open was never there.
    told = {key: cause for key, cause in now.items() if cause.status != "cleared" or key in once}
    for key, cause in once.items():
        if key not in now:
            cause.status = "cleared"
            told[key] = cause
    return view, told


def standing_causes(view):
    """The causes in a view, with what rulings settle and later jobs clear."""
    if "causes" not in view._cache:
        causes = {}
        for rule in RULES:
            for cause in rule(view):
                causes[cause.key] = cause
        for cause in causes.values():
            cause.status = "cleared" if taken_over(view, cause) else "settled" if settled(view, cause) else "open"
        view._cache["causes"] = causes
    return view._cache["causes"]


def settled(view, cause):
    """A ruling settles a finding only if it had seen all of its facts."""
    named = [r for r in view.kind("ruling") if tuple(r.data["finding"].lstrip("@").split("|", 1)) == cause.key]
    return any(all(r.saw(f) for f in cause.facts) for r in named)


# --- a later job takes over -------------------------------------------------------------------------------------------

def signed_jobs(view, trailer):
    return [job for job in view.trailer_jobs.get(trailer, []) if view.signs(job)]


def speaker(view, trailer):
    """The newest signed job that has seen the others, or None where nobody speaks."""
    jobs = signed_jobs(view, trailer)
    for job in jobs:
        if all(has_seen(view, job, other) for other in jobs if other != job):
            return job
    return None


def has_seen(view, job, other):
    """Whether a sign-off of the job had seen those of the other."""
    return any(all(s.saw(o) for o in view.signs(other)) for s in view.signs(job))


def taken_over(view, cause):
    """Whether a later job on the trailer speaks for it and had seen what was open about this one's sign-off."""
    if cause.about not in ("pair", "proof"):
        return False
    job = cause.subject
    if not view.all_signs(job):
        return False
    for trailer in view.trailers(job):
        if speaker(view, trailer) is None:
            continue
        for later in signed_jobs(view, trailer):
            if later != job and has_seen(view, later, job):
                for s in view.signs(later):
                    able = view.purpose_at(later, s) != "prove" or cause.about == "proof"
                    if able and all(s.saw(f) for f in cause.facts):
                        return True
    return False


# --- what stood open once ---------------------------------------------------------------------------------------------

def once_open(view):
    """The findings that stood open in the view of whoever recorded a fact about their subject, newest view first."""
    seen = {}
    for fact in reversed(view.known):
        views = (view.before(fact, inclusive=True), view.before(fact)) if AFTER_RECORDING else (view.before(fact),)
        for then in views:
            for key, cause in standing_causes(then).items():
                if cause.status == "open" and key not in seen and concerns(then, fact, cause):
                    seen[key] = Cause(cause.rule, cause.severity, cause.subject, cause.facts, cause.standing, cause.jobs)
    return seen


def concerns(view, fact, cause):
    """Whether a fact is about the subject of a finding."""
    if fact.kind == "withdraw":
        target = next((f for f in view.known if f.tag == fact.data["fact"].lstrip("@")), None)
        return target is not None and concerns(view, target, cause)
    if cause.rule in ("code-suspect", "unknown-part"):
        return cause.subject in (fact.camera, fact.tracker, code_key(fact.data.get("code")), fact.field("vin"))
    if fact.job in cause.jobs and fact.job or fact in cause.facts:
        return True
    trailers = {t for job in cause.jobs for t in view.trailers(job)} | {cause.subject}
    codes = {code for f in cause.facts for code in f.pair} | {cause.subject}
    names = {fact.camera, fact.tracker, fact.field("vin"), code_key(fact.data.get("code"))}
    if names & codes - {None} or ({fact.field("trailer")} | view.trailers(fact.job)) & trailers:
        return True
    return fact.kind == "ruling" and fact.data["finding"].lstrip("@") == "|".join(cause.key)


# --- who is believed --------------------------------------------------------------------------------------------------

def relied_on(view, findings, trailer):
    """What the report says of a trailer: the first that holds."""
    jobs = set(view.trailer_jobs.get(trailer, []))
    mine = [c for c in findings.values() if c.subject == trailer or jobs & set(c.jobs)]
    open_ones = {c.severity for c in mine if c.status == "open"}
    speaks = speaker(view, trailer)
    signed = signed_jobs(view, trailer)
    if "stop" in open_ones:
        return "no"
    if "ask" in open_ones or signed and speaks is None:
        return "ask"
    if not signed:
        return "not-yet"
    pair = [link for job in jobs for link in view.own_links(job) if link in view.live]
    if not pair:
        return "taken-off" if view.signs_for(speaks, "take-off") else "no"
    if any(c.status == "settled" and c.severity == "stop" and c.rule in CHAIN for c in mine):
        return "by-ruling"
    return "yes"
