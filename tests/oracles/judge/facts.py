"""Facts as they stand in the logs, and what each recorder had seen (docs/contract/facts.md, docs/contract/findings.md)."""

from datetime import datetime

from keys import code_key, name_key

JOB_FIELDS = ("purpose", "trailer", "vin", "fleet", "yard", "tracker", "camera", "wall", "load", "thickness", "assigned",
              "planned")
CODE_FIELDS = {"trailer", "vin", "tracker", "camera"}


class Fact:
    """One fact: its place in a device's log, and how many facts of every log its recorder had seen before it."""

    def __init__(self, tag, device, seq, seen, data):
        self.tag, self.device, self.seq, self.seen, self.data = tag, device, seq, dict(seen), data
        self.kind = data["kind"]
        self.job = name_key(data.get("job"))
        self.by = name_key(data.get("by"))
        self.clock = data.get("clock", "device")
        self.at_s = seconds(data["at"])
        self.camera, self.tracker = code_key(data.get("camera")), code_key(data.get("tracker"))
        self.check = data.get("check")

    def saw(self, other):
        """Whether this fact's recorder had seen the other: other -> self."""
        return other.seq < self.seen.get(other.device, 0)

    def field(self, name):
        """The key of a job's field, or None when the fact does not set it."""
        value = self.data.get(name)
        if value is None:
            return None
        return code_key(value) if name in CODE_FIELDS else name_key(value)

    @property
    def pair(self):
        return (self.camera, self.tracker)

    def __repr__(self):
        return f"{self.tag}@{self.device}"


def seconds(text):
    """An RFC 3339 time in seconds."""
    return datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


def concurrent(a, b):
    return a is not b and not a.saw(b) and not b.saw(a)


def latest(facts):
    """The latest by happens-before, between two reference times by certain time; several when concurrent."""
    facts = list(facts)
    return [f for f in facts if not any(g is not f and supersedes(g, f) for g in facts)]


def supersedes(g, f):
    from times import by_time  # times.py builds on this file
    if g.clock == f.clock == "reference":
        certain = by_time(f, g)
        if certain:
            return certain < 0
    return g.saw(f)


def first(facts):
    """The first by happens-before; several when concurrent."""
    facts = list(facts)
    return [f for f in facts if not any(f.saw(g) for g in facts)]


def standing(one_side, other_side):
    """`aware` when the recorder of a fact on one side had one of the other side in view, else `unaware`."""
    if not one_side or not other_side:
        return "-"
    known = any(a.saw(b) or b.saw(a) for a in one_side for b in other_side if a is not b)
    return "aware" if known else "unaware"


def standing_of(sides):
    """The same for several sides, such as the trackers of one camera."""
    sides = list(sides)
    pairs = [(a, b) for i, a in enumerate(sides) for b in sides[i + 1:]]
    found = {standing(a, b) for a, b in pairs}
    return "aware" if "aware" in found else "unaware" if "unaware" in found else "-"
