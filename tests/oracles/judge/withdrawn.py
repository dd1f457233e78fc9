"""Which facts count: withdrawals, their exceptions and approvals (docs/contract/findings.md, Withdrawn)."""

from standard import verdict

# What the clearance reads.
READINGS = {"freight-at-opening", "pilot-hole", "pilot-depth", "first-probe", "second-probe", "second-hole-entered",
            "seen-empty"}


def rejected(view, withdrawal):
    """Why a withdrawal is rejected when it is recorded, or None. The view is what its recorder had seen."""
    target = next((f for f in view.known if f.tag == withdrawal.data["fact"].lstrip("@")), None)
    if target is None:
        return "not known here"
    if not (withdrawal.by == target.by or withdrawal.device in (target.device, view.depot)):
        return "somebody else's"
    if target.kind == "withdraw":
        return "a withdrawal"
    if target.kind == "job" and target in view.openings(target.job):
        return "opened a job"
    return None


def out_of_force(facts, standard):
    """The withdrawals that count: {withdrawn fact: its withdrawals}, after exceptions and approvals."""
    by_tag = {f.tag: f for f in facts}
    found = {}
    for w in facts:
        if w.kind == "withdraw":
            target = by_tag.get(w.data["fact"].lstrip("@"))
            if target is not None and w.saw(target):
                found.setdefault(target, []).append(w)
    return {target: ws for target, ws in found.items()
            if not stays_without_approval(target, facts, standard) or any(approved(target, w, facts) for w in ws)}


def stays_without_approval(fact, facts, standard):
    """A reading of the clearance, a failed check, and a wall or load by which a reading was judged."""
    if fact.kind == "check":
        return fact.check in READINGS or verdict(standard, fact) != "ok"
    if fact.kind == "job" and ("wall" in fact.data or "load" in fact.data):
        return any(f.kind == "check" and f.check in READINGS and f.job == fact.job and f.saw(fact) for f in facts)
    return False


def approved(target, withdrawal, facts):
    """An `approval` of that withdrawal by neither who recorded the fact nor who withdrew it nor who cut."""
    return bool(approvals(target, withdrawal, facts))


def approvals(target, withdrawal, facts):
    cutters = {f.by for f in facts if f.kind == "check" and f.job == target.job and f.check in ("hole-cut", "hole-diameter")}
    return [f for f in facts
            if f.kind == "check" and f.check == "approval" and f.data.get("ok") is True
            and str(f.data.get("of", "")).lstrip("@") == target.tag and f.saw(withdrawal)
            and f.by not in {target.by, withdrawal.by} | cutters]
