"""Rules about a fleet's lists of trailers, trackers and cameras. Each follows its row of docs/contract/findings.md."""

from facts import latest, standing
from finding import Cause, joined, worst
from keys import code_key, one_edit_apart, vin_fits

SORTS = ("camera", "tracker")


def stock(view, sort, key):
    """The latest entries that say to which fleet a part belongs; a trailer's entry says it of the tracker that it carries."""
    return latest(f for f in view.kind("stock") if getattr(f, sort) == key)


def listed(view, sort, fleet=None):
    """The codes of one sort that stand in any list, or in those of one fleet."""
    return {getattr(f, sort) for f in entries(view, sort) if fleet is None or f.field("fleet") == fleet}


def in_lists(view, sort):
    """{code: the entries that name it}: a tracker stands in a list too when it comes with its trailer."""
    found = {}
    for f in view.kind("stock"):
        if getattr(f, sort):
            found.setdefault(getattr(f, sort), []).append(f)
    return found


def entries(view, sort):
    """The entries of the lists of one sort of part; a tracker that comes with its trailer makes no list of trackers."""
    return [f for f in view.kind("stock") if getattr(f, sort) and not f.data.get("trailer")]


def listed_trackers(view, trailer):
    """The trackers that the lists give a trailer."""
    return {f.tracker for f in latest_of_trailer(view, trailer) if f.tracker}


def latest_of_trailer(view, trailer):
    return latest(f for f in view.kind("stock") if f.field("trailer") == trailer)


def wrong_fleet(view):
    """Row `wrong-fleet`: a live linked camera or tracker is in stock for another fleet than the job's, as both stand now
    (concurrent entries, the job's fleet among them: ask)."""
    for job in view.jobs:
        fleet = view.one(job, "fleet")
        if fleet is None:
            continue
        found = []
        for link in view.live_pair(job):
            for sort in SORTS:
                listed_as = stock(view, sort, getattr(link, sort))
                strange = [f for f in listed_as if f.field("fleet") != fleet]
                if strange:
                    found.append(("ask" if len(strange) < len(listed_as) else "stop", link, strange))
        if found:
            facts = [f for _, link, strange in found for f in [link, *strange]]
            stands = joined({standing([link], strange) for _, link, strange in found})
            yield Cause("wrong-fleet", worst(found), job, facts, stands, [job])


def not_the_listed_tracker(view):
    """Row `not-the-listed-tracker`: the lists give this trailer another tracker than the pair's."""
    for job in view.jobs:
        found = []
        for trailer in view.trailers(job):
            given = [f for f in latest_of_trailer(view, trailer) if f.tracker]
            trackers = {f.tracker for f in given}
            found += [(link, given) for link in view.live_pair(job) if trackers and link.tracker not in trackers]
        if found:
            stands = joined({standing([link], given) for link, given in found})
            facts = [f for link, given in found for f in [link, *given]]
            yield Cause("not-the-listed-tracker", "ask", job, facts, stands, [job])


def unknown_part(view):
    """Row `unknown-part`: there is a list of the job's fleet for this sort of part and a linked code is in no list and
    near none, or it stands only in lists of another sort."""
    for sort, other in (SORTS, SORTS[::-1]):
        known, wrong = in_lists(view, sort), listed(view, other)
        found = {}
        for job in view.jobs:
            fleet = view.one(job, "fleet")
            if fleet is None or not listed(view, sort, fleet):
                continue
            for link in view.live_pair(job):
                code = getattr(link, sort)
                if code not in known and (code in wrong or not any(one_edit_apart(code, k) for k in known)):
                    found.setdefault(code, []).append(link)
        for code, links in sorted(found.items()):
            yield Cause("unknown-part", "ask", code, links, "-", {f.job for f in links if f.job})


def code_suspect(view):
    """Row `code-suspect`: a code fails its check character, or is unknown to the stock list and one edit (Damerau) from a
    code in it. Never for unit numbers."""
    found, near_to = {}, {}
    for f in view.facts:
        for sort, code in codes_of(view, f):
            known = in_lists(view, sort) if sort in SORTS else {}
            near = [] if code in known else [e for k, es in known.items() if one_edit_apart(code, k) for e in es]
            if near:
                near_to.setdefault(code, set()).update(near)
            if near or sort == "vin" and view.standard.codes.get("vin") == "vin" and not vin_fits(code):
                found.setdefault(code, []).append(f)
    for code, facts in sorted(found.items()):
        near = sorted(near_to.get(code, ()), key=lambda f: f.tag)
        yield Cause("code-suspect", "ask", code, [*facts, *near], standing(facts, near), {f.job for f in facts if f.job})


def codes_of(view, fact):
    """(sort, key) of the codes that a fact names; the field of a job only as long as its value stands, a scan until the
    job's next one of the same sort."""
    if fact.kind == "scan":
        again = [f for f in view.of(fact.job, "scan") if f.data.get("what") == fact.data.get("what") and f.saw(fact)]
        if fact.data.get("what") in SORTS and not (fact.job and again):
            yield (fact.data["what"], code_key(fact.data["code"]))
        return
    if fact.kind == "unlink" or fact.kind == "link" and fact not in view.live:
        return
    for sort in (*SORTS, "vin"):
        if fact.data.get(sort) and (fact.kind != "job" or fact in view.writers(fact.job, sort)):
            yield (sort, code_key(fact.data[sort]))


RULES = [wrong_fleet, not_the_listed_tracker, unknown_part, code_suspect]
