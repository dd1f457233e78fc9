"""Before and after: causality, then intervals, never bare time (docs/contract/findings.md, How facts are compared).

BEFORE, AFTER: decided. OPEN: nobody can tell. CLAIMED: recorded by somebody who had seen the other fact, with an
earlier time of a device's clock or by word ("recorded afterwards"): it counts as later, and turns a stop into an ask.
"""

BEFORE, AFTER, OPEN, CLAIMED = "before", "after", "open", "claimed"

# Of the work standard's [clock]: how far off a clock may be that nobody has measured, and a server's.
UNMEASURED_S = 24 * 3600
SERVER_S = 120
EVER = float("inf")


class Clocks:
    """Which device is the depot, whose clock is the one that all others are compared with."""

    depot = None


def interval(fact, at_s=None, clock=None):
    """When it happened by the depot's clock: (earliest, latest). A person's word is from ever to the recording."""
    at_s, clock = fact.at_s if at_s is None else at_s, clock or fact.clock
    if clock == "reference":
        return (at_s - SERVER_S, at_s + SERVER_S)
    if clock == "person":
        return (-EVER, EVER)
    return stated(fact.device, at_s)


def stated(device, at_s):
    """A time of this device's clock, as it stands."""
    off = 0 if device == Clocks.depot else UNMEASURED_S
    return (at_s - off, at_s + off)


def apart(a, b):
    """-1 when a certainly ends before b begins, 1 the other way round, 0 when they touch."""
    return -1 if a[1] < b[0] else 1 if b[1] < a[0] else 0


def by_time(a, b):
    """-1, 0, 1: certain order of two facts by their times alone."""
    if a.device == b.device and a.clock == b.clock == "device":
        return (a.at_s > b.at_s) - (a.at_s < b.at_s)
    return apart(interval(a), interval(b))


def says_earlier(a, b):
    """Whether the time that `a` gives, by a device's clock or by word, is before that of `b`, as both stand."""
    return a.at_s < b.at_s


def order(a, b):
    """Whether `a` is before `b`. With a reference time on either side a certain time wins over what had been seen."""
    if "reference" in (a.clock, b.clock):
        certain = by_time(a, b)
        if certain:
            return BEFORE if certain < 0 else AFTER
    if b.saw(a):
        return BEFORE
    if a.saw(b):
        late = a.clock != "reference" and says_earlier(a, b)
        return CLAIMED if late else AFTER
    certain = by_time(a, b)
    return BEFORE if certain < 0 else AFTER if certain > 0 else OPEN


def order_of_moment(fact, at_s, clock, b):
    """Whether a picture that `fact` names, taken at a time of its own, was taken before `b`."""
    moment = interval(fact, at_s, clock)
    if fact.device == b.device and clock == b.clock == "device":
        certain = (at_s > b.at_s) - (at_s < b.at_s)
    else:
        certain = apart(moment, interval(b))
    if certain and "reference" in (clock, b.clock):
        return BEFORE if certain < 0 else AFTER
    if b.saw(fact):
        return BEFORE
    if fact.saw(b):
        return AFTER
    return BEFORE if certain < 0 else AFTER if certain > 0 else OPEN
