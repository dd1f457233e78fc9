"""Rules about the proof of a job. Each follows its row of docs/contract/findings.md."""

from facts import latest, seconds, standing
from finding import Cause, joined, worst
from times import AFTER, BEFORE, CLAIMED, OPEN, order, order_of_moment


class Proof:
    """What a judgement is about: the `taken` facts that its recorder had seen last, and the requests that these had."""

    def __init__(self, view, judged):
        self.judged = judged
        mine = view.of(judged.job, "proof")
        self.takens = latest(f for f in mine if f.data["state"] == "taken" and judged.saw(f))
        asked = [f for f in mine if f.data["state"] == "asked"]
        # A picture whose recorder knew of no request was asked for, if at all, by what whoever judged it knew.
        knew = [k for k in self.takens if any(k.saw(f) for f in asked)] or [judged]
        self.requests = latest({a for k in knew for a in latest(f for f in asked if k.saw(f))})

    @property
    def pictures(self):
        """The pictures that its `judged` or its `taken` names."""
        if self.judged.data.get("picture"):
            return {self.judged.data["picture"]}
        return {f.data["picture"] for f in self.takens if f.data.get("picture")}

    def moments(self):
        """(fact, time, clock) of the taking; without a `taken_at` the fact's own."""
        return [(f, seconds(f.data["taken_at"]), "device" if f.data.get("taken_clock") == "device" else "reference")
                if f.data.get("taken_at") else (f, f.at_s, f.clock) for f in [*self.takens, self.judged]
                if f in self.takens or f.data.get("taken_at")]


def is_ok(judged):
    return judged.data.get("ok") is True


def proven(view):
    """(job, its latest sign-offs) of the jobs whose sign-off needs a proof."""
    signed = [(job, view.signs_for(job, "fit", "replace", "prove")) for job in view.jobs]
    return [(job, signs) for job, signs in signed if signs]


def judged_before(view, job, sign):
    """The latest judgements of the proof that are certainly before a sign-off."""
    return latest(f for f in view.judged(job) if order(f, sign) == BEFORE)


def signed_without_proof(view):
    """Row `signed-without-proof`: the latest judgements of the proof before a sign-off are not all ok, or there is none.

    An ok judgement that was recorded afterwards with an earlier time makes it a question.
    """
    for job, signs in proven(view):
        found = []
        for sign in signs:
            last = judged_before(view, job, sign)
            against = [f for f in last if not is_ok(f)]
            if last and not against:
                continue
            said_later = [f for f in view.judged(job) if order(f, sign) == CLAIMED and is_ok(f)]
            found.append(("ask" if said_later else "stop", sign, against))
        if found:
            facts = [f for _, sign, against in found for f in [sign, *against]]
            # A judgement that came too late does not join it, but who recorded it may have known.
            stands = joined({standing([sign], against or view.judged(job)) for _, sign, against in found})
            yield Cause("signed-without-proof", worst(found), job, facts, stands, [job], "proof")


def proof_of_another_pair(view):
    """Row `proof-of-another-pair`: the judged picture was asked for, taken or judged before the live link of the pair that
    was signed for. Certain: stop; undecidable: ask."""
    for job, signs in proven(view):
        found = [(severity, sign, step, links) for sign in signs
                 for severity, step, links in before_its_link(view, job, sign)]
        if found:
            facts = [f for _, sign, step, links in found for f in [sign, step, *links]]
            stands = joined({standing([step, sign], links) for _, sign, step, links in found})
            yield Cause("proof-of-another-pair", worst(found), job, facts, stands, [job], "proof")


def before_its_link(view, job, sign):
    from rules_settings import by_pair
    for links in by_pair(view.signed_links(job, sign)).values():
        for judged in judged_before(view, job, sign):
            if is_ok(judged):
                yield from steps_before(Proof(view, judged), links)


def steps_before(proof, links):
    steps = [(f, [order(f, link) for link in links]) for f in [*proof.requests, proof.judged]]
    steps += [(f, [order_of_moment(f, at, clock, link) for link in links]) for f, at, clock in proof.moments()]
    for fact, orders in steps:
        if all(o == BEFORE for o in orders):
            yield ("stop", fact, links)
        elif not {AFTER, CLAIMED} & set(orders):
            yield ("ask", fact, links)


def proof_older_than_request(view):
    """Row `proof-older-than-request`: a judged picture was taken before its request: the latest that the recorder of its
    `taken` had seen."""
    for job in view.jobs:
        found = []
        for judged in latest(view.judged(job)):
            proof = Proof(view, judged)
            for fact, at, clock in proof.moments():
                for request in proof.requests:
                    when = order_of_moment(fact, at, clock, request)
                    if when in (BEFORE, OPEN):
                        found.append(("stop" if when == BEFORE else "ask", fact, request, judged))
        if found:
            facts = [f for _, *three in found for f in three]
            stands = joined({standing([fact, judged], [request]) for _, fact, request, judged in found})
            yield Cause("proof-older-than-request", worst(found), job, facts, stands, [job], "proof")


def proof_out_of_order(view):
    """Row `proof-out-of-order`: the judged picture on which a sign-off stands (or that was asked for when its link was
    live) was certainly asked for before the settings were live or before the doors were closed."""
    for job in view.jobs:
        if view.purpose(job) == "take-off" or view.stood_down(job):
            continue
        found = []
        for judged, links, sign in standing_proofs(view, job):
            for request in Proof(view, judged).requests:
                found += [(request, judged, late) for late in too_late(view, job, request, links, sign)]
        if found:
            facts = [f for request, judged, late in found for f in [request, judged, *late]]
            stands = joined({standing([request], late) for request, _, late in found})
            yield Cause("proof-out-of-order", "ask", job, facts, stands, [job], "proof")


def standing_proofs(view, job):
    """The ok judgements on which the latest sign-offs stand, with the links signed for; without a sign-off the latest
    judgements whose request was made when a link of the pair was live."""
    signs = view.signs(job)
    for sign in signs:
        links = view.signed_links(job, sign)
        yield from ((judged, links, sign) for judged in judged_before(view, job, sign) if is_ok(judged))
    if not signs:
        for judged in filter(is_ok, latest(view.judged(job))):
            links = [link for link in view.pair_links(job) if was_live(view, link, Proof(view, judged).requests)]
            if links:
                yield (judged, links, None)


def was_live(view, link, requests):
    """Whether a request was made when the link was live, whatever became of it later."""
    return any(order(link, r) == BEFORE and not any(order(u, r) == BEFORE for u in view.unlinked_by(link)) for r in requests)


def too_late(view, job, request, links, sign):
    """The facts that had to come before the request, where each of them certainly came after it; settings that were live
    only after the sign-off were never live for it."""
    from rules_settings import settings_for
    live = {f for link in links for f in settings_for(view, link) if f.data["state"] == "live"}
    live = [f for f in live if any(order(link, f) not in (AFTER, CLAIMED) for link in links)]
    live = [f for f in live if sign is None or order(f, sign) not in (AFTER, CLAIMED)]
    closed = [f for f in view.checks(job, "doors-closed") if f.data.get("ok") is not False]
    for facts in (live, closed) if links else ():
        if facts and all(order(request, f) == BEFORE for f in facts):
            yield facts


def proof_answers_disagree(view):
    """Row `proof-answers-disagree`: a proof is judged ok with an answer false, or a required answer missing."""
    for job in view.jobs:
        wanted = view.standard.answers(view.about(job))
        bad = [f for f in latest(view.judged(job)) if is_ok(f) and not answers_agree(f, wanted)]
        if bad:
            yield Cause("proof-answers-disagree", "stop", job, bad, "-", [job], "proof")


def answers_agree(judged, wanted):
    answers = judged.data.get("answers") or {}
    return False not in answers.values() and all(answers.get(name) is True for name in wanted)


def proof_without_picture(view):
    """Row `proof-without-picture`: a proof is judged ok and no picture is named, or what is named was not there or is no
    readable picture."""
    from pictures import readable
    for job in view.jobs:
        bad = [f for f in latest(view.judged(job)) if is_ok(f) and not any(map(readable, Proof(view, f).pictures))]
        if bad:
            yield Cause("proof-without-picture", "ask", job, bad, "-", [job], "proof")


def picture_used_twice(view):
    """Row `picture-used-twice`: equal picture bytes stand for proofs of two trailers, of two pairs, or for a `prove` job and
    an earlier one; cleared when every trailer concerned was proven again with another picture."""
    from pictures import digest, there
    uses = {}
    for job in view.jobs:
        for judged in view.judged(job):
            if is_ok(judged):
                for name in filter(there, Proof(view, judged).pictures):
                    uses.setdefault(digest(name), []).append(judged)
    for picture, facts in sorted(uses.items()):
        clashing = [(f, g) for i, f in enumerate(facts) for g in facts[i + 1:] if stand_for_two(view, f, g)]
        used = [f for f in facts if any(f in pair for pair in clashing)]
        if clashing and not all(proven_again(view, f, picture) for f in used):
            stands = joined({standing([f], [g]) for f, g in clashing})
            yield Cause("picture-used-twice", "stop", picture, used, stands, {f.job for f in used})


def stand_for_two(view, f, g):
    """Whether two judgements of one picture are about two trailers, two pairs, or an audit and an earlier job."""
    trailers, pairs = [view.trailers(x.job) for x in (f, g)], [pairs_then(view, x) for x in (f, g)]
    for a, b in (trailers, pairs):
        if a and b and not a & b:
            return True
    return f.job != g.job and "prove" in (view.purpose(f.job), view.purpose(g.job))


def pairs_then(view, judged):
    then = view.behind(judged)
    return {link.pair for link in then.pair_links(judged.job) if link in then.live}


def proven_again(view, judged, picture):
    """Whether the trailer was proven again later with another picture."""
    from pictures import digest
    jobs = {judged.job, *view.jobs_beside(judged.job)}
    later = [f for job in jobs for f in view.judged(job) if is_ok(f) and f.saw(judged)]
    return any(picture not in {digest(p) for p in Proof(view, f).pictures} and Proof(view, f).pictures for f in later)


RULES = [signed_without_proof, proof_of_another_pair, proof_older_than_request, proof_out_of_order,
         proof_answers_disagree, proof_without_picture, picture_used_twice]
