"""May the wall be cut? The go/no-go answer for a job in somebody's view (docs/contract/findings.md, Clearance).

Only what findings ask about is told apart: CLEAR, APPROVED ("clear by approval"), BLOCKED, UNDECIDED, and NOT_YET (something is
still to be recorded or probed).
"""

from facts import first, latest
from keys import amount
from standard import approves

CLEAR, APPROVED, BLOCKED, UNDECIDED, NOT_YET = "clear", "approved", "blocked", "undecided", "not yet"
PROBES = ("first-probe", "second-probe")
FREE = float("inf")


def answer(view, job, cutter=None):
    """The answer from what stands in this view; whoever cuts can approve nothing."""
    walls, loads = view.values(job, "wall"), view.values(job, "load")
    taken = readings(view, job)
    if len(walls) > 1 or len(loads) > 1:
        return BLOCKED if freight_blocks(view, job) or any(result == BLOCKED for _, result in taken) else NOT_YET
    if not walls or not loads:
        return NOT_YET
    if loads == {"empty"}:
        return of_empty(view, job, taken)
    return of_loaded(view, job, next(iter(walls)), taken, cutter)


def of_empty(view, job, taken):
    """Clear once the thickness is known; after a reading that did not clear, once somebody has looked inside."""
    bad = [f for f, result in taken if result in (BLOCKED, UNDECIDED, "missed")] + freight_blocks(view, job)
    if bad and not seen_empty_after(view, job, bad):
        return UNDECIDED
    return CLEAR if view.thickness(job) is not None else NOT_YET


def freight_blocks(view, job):
    """The latest words on the freight at the opening, where they say that it stands there."""
    said = latest(view.checks(job, "freight-at-opening"))
    return [f for f in said if str(f.data.get("value")).casefold() == "yes"]


def of_loaded(view, job, wall, taken, cutter):
    """The worst of what was read: blocked, not decidable, not all probed yet, and only then clear."""
    table = table_for(view.standard, wall, "loaded")
    mine = [(f, result) for f, result in taken if regime(view, f) == (wall, "loaded")]
    if freight_blocks(view, job) or any(result == BLOCKED for _, result in mine):
        return BLOCKED
    thick = too_thick(view, job, table)
    if thick:
        return thick
    changed = [f for f, result in taken if regime(view, f) != (wall, "loaded") and result in (BLOCKED, UNDECIDED)]
    if changed and not probed_again(view, job, changed, mine):
        return UNDECIDED
    undecided = [f for f, result in mine if result in (UNDECIDED, "missed")]
    if undecided:
        return APPROVED if approved(view, job, undecided, cutter) else UNDECIDED
    if not view.checks(job, "freight-at-opening"):
        return NOT_YET
    return CLEAR if probed_clear(view, job, mine) else NOT_YET


def probed_clear(view, job, mine):
    """The first probe cleared, or sent on to a second one that cleared and entered the hole in the liner."""
    of = {check: {result for f, result in mine if f.check == check} for check in PROBES}
    if of["first-probe"] == {CLEAR}:
        return True
    if not of["first-probe"] or of["second-probe"] != {CLEAR}:
        return False
    entered = latest(view.checks(job, "second-hole-entered"))
    return bool(entered) and all(f.data.get("ok") is True for f in entered)


def too_thick(view, job, table):
    """A recorded thickness that is not surely under the table's limit is not clear."""
    thickness = view.thickness(job)
    if "thickness-below" not in table or thickness is None:
        return None
    limit, off = amount(table["thickness-below"]), amount(view.standard.clearance["uncertainty"])
    if thickness + off < limit:
        return None
    return BLOCKED if thickness - off >= limit else UNDECIDED


# --- probes -----------------------------------------------------------------------------------------------------------

def readings(view, job):
    """The probes of a job with what each means under the wall and load of its recorder's view."""
    found = []
    for f in view.of(job, "check"):
        if f.check in PROBES:
            wall, load = regime(view, f)
            if load == "loaded" and wall:
                found.append((f, band(view.standard, f, table_for(view.standard, wall, load))))
    # Only a reading that missed the hole in the liner is replaced by the next one.
    return [(f, result) for f, result in found if result != "missed" or
            not any(g.check == f.check and g.saw(f) for g, _ in found)]


def regime(view, probe):
    """The wall and load to which a reading belongs: as its recorder had them, else the first ones recorded later."""
    then = view.behind(probe)
    found = []
    for field in ("wall", "load"):
        values = then.values(probe.job, field)
        if not values:
            values = {f.field(field) for f in first(f for f in view.of(probe.job, "job") if field in f.data)}
        found.append(next(iter(values)) if len(values) == 1 else None)
    return tuple(found)


def band(standard, fact, table):
    """What a depth means, with everything within its uncertainty: all of it in one band, or not decidable."""
    probe = next((p for p in table.get("probe", []) if p["check"] == fact.check), None)
    if probe is None:
        return CLEAR
    bands = probe["bands"]
    if str(fact.data.get("value")).casefold() == "free":
        return result_of(bands[-1])
    depth = amount(fact.data["value"], fact.data.get("unit"))
    off = amount(fact.data.get("uncertainty") or standard.clearance["uncertainty"])
    for b in bands:
        if "exactly" in b and abs(depth - amount(b["exactly"])) <= off:
            return result_of(b)
    for b in bands:
        if "exactly" not in b and inside(depth - off, depth + off, b):
            return result_of(b)
    return UNDECIDED


def inside(low, high, b):
    fits_low = "at-least" not in b or low >= amount(b["at-least"])
    fits_high = ("at-most" not in b or high <= amount(b["at-most"])) and ("below" not in b or high < amount(b["below"]))
    return fits_low and fits_high


def result_of(b):
    return {"blocked": BLOCKED, "clear": CLEAR, "next": "next", "missed": "missed"}[b["answer"]]


def table_for(standard, wall, load):
    for table in standard.clearance["table"]:
        if wall in table["wall"] and load in table["load"]:
            return table
    return {}


# --- what undoes a reading --------------------------------------------------------------------------------------------

def seen_empty_after(view, job, bad):
    """Somebody looked inside after all of these readings and says that the trailer is empty."""
    return any(f.data.get("ok") is True and all(f.saw(b) for b in bad) for f in view.checks(job, "seen-empty"))


def probed_again(view, job, changed, mine):
    """After wall or load was changed, everything was probed again."""
    return any(f.check == "first-probe" and all(f.saw(b) for b in changed) for f, _ in mine)


def approved(view, job, undecided, cutter):
    """The office decided the readings that did not: by another person who had seen them, and who does not cut."""
    agreed = [a for a in view.checks(job, "approval") if a.by != cutter]
    return all(any(approves(a, f, view.cuts(job), "reading") for a in agreed) for f in undecided)
