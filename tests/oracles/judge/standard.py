"""The work standard: which checks a job needs, and whether a check passes (config/work-standard.toml says how to read it)."""

import sys

try:
    import tomllib
except ModuleNotFoundError:
    print("there is no Python of version 3.11 or later", file=sys.stderr)
    sys.exit(3)

from facts import latest
from keys import amount, measure
from times import BEFORE


class Standard:
    def __init__(self, text):
        data = tomllib.loads(text)
        self.checks = {check["name"]: check for check in data["check"]}
        self.clearance = data["clearance"]
        self.proof = data["proof"]
        self.codes = data["codes"]

    def required(self, about):
        """The names of the checks that a sign-off needs for this purpose, wall, load and thickness."""
        return [name for name, check in self.checks.items() if check.get("required", True) and applies(check, about)]

    def answers(self, about):
        """The answers that a judged picture must have: those of the first table that applies."""
        for table in self.proof.get("instead", []):
            if applies(table, about):
                return table["answers"]
        return self.proof["answers"]


def applies(check, about):
    for key, value in (("purpose", about.purpose), ("wall", about.wall), ("load", about.load)):
        if key in check and value not in check[key]:
            return False
    if "thickness-over" in check:
        return about.thickness_mm is not None and about.thickness_mm > amount(check["thickness-over"])
    return True


def ends(check):
    """(low, high): the range of a measure, both ends belonging to it; `over` and `below` are told apart by the caller."""
    if "value" in check:
        middle, off = amount(check["value"]), amount(check.get("tolerance", "0"))
        return (middle - off, middle + off)
    if "exactly" in check:
        return (amount(check["exactly"]),) * 2
    return (amount(check.get("at-least")), amount(check.get("at-most")))


def outside(check, fact):
    """`under`, `over`, or None when the value is in the range or there is none."""
    found = measure(fact.data.get("value"), fact.data.get("unit"))
    if found is None:
        return None
    low, high = ends(check)
    if low is not None and found[1] < low or "over" in check and found[1] <= amount(check["over"]):
        return "under"
    if high is not None and found[1] > high or "below" in check and found[1] >= amount(check["below"]):
        return "over"
    return None


def says_no(check, fact):
    """Whether ok, the answers or a yes-or-no value of the fact speak against it, whatever was measured."""
    if fact.data.get("ok") is False or False in (fact.data.get("answers") or {}).values():
        return True
    if check["wants"] == "seen":
        return str(fact.data.get("value", "yes")).casefold() not in ("yes", "true")
    return False


def verdict(standard, fact, around=(), cuts=(), about=None):
    """`ok`, `ask` or `stop` for a check fact; `around` are the job's checks before the same sign-off, `about` its fields."""
    check = standard.checks.get(fact.check)
    if check is None or check["wants"] in ("reading", "yes-or-no"):
        return "stop" if fact.data.get("ok") is False else "ok"
    if says_no(check, fact):
        return "stop"
    side = outside(check, fact) if check["wants"] in ("measure", "wait") else None
    if side is None or any(makes_good(standard, good, side, fact, around, about) for good in check.get("made-good-by", [])):
        return "ok"
    if check.get("outside") != "ask":
        return "stop"
    # What is for the office is made good by an approval of the place.
    return "ok" if any(approves(a, fact, cuts, "place") for a in around if a.check == "approval") else "ask"


def makes_good(standard, good, side, fact, around, about):
    """A value outside the range is made good by a further check, for its side, its zone and such walls as it says."""
    if good["check"] == "approval" or good.get("when", side) != side:
        return False
    found = measure(fact.data.get("value"), fact.data.get("unit"))[1]
    if "at-most" in good and found > amount(good["at-most"]) or "at-least" in good and found < amount(good["at-least"]):
        return False
    if about is not None and not applies(good, about) or about is None and "thickness-over" in good:
        return False
    others = latest(f for f in around if f.check == good["check"])
    return bool(others) and all(verdict(standard, f, around) == "ok" for f in others)


def approves(approval, fact, cuts, what):
    """An approval counts when its `by` neither recorded the fact nor cut, its recorder had seen it, and no cut came first."""
    from times import order
    if approval.data.get("ok") is not True or str(approval.data.get("of", "place")) != what:
        return False
    if approval.by == fact.by or any(approval.by == cut.by for cut in cuts) or not approval.saw(fact):
        return False
    return all(order(approval, cut) == BEFORE for cut in cuts)
