"""A finding as a rule gives it: a cause that is there in a view, before anybody ruled or took over."""


class Cause:
    """`facts` are those that make it: a ruling settles it only when it had seen them all.

    `about` says what a later job on the trailer puts right: "pair" (links, settings, checks), "proof", or None.
    """

    def __init__(self, rule, severity, subject, facts, standing="-", jobs=(), about=None):
        self.rule, self.severity, self.subject = rule, severity, subject
        self.facts = sorted(set(facts), key=lambda f: (f.device, f.seq))
        self.standing, self.jobs, self.about = standing, sorted(set(jobs)), about
        self.status = "open"

    @property
    def key(self):
        return (self.rule, self.subject)

    def __repr__(self):
        return f"{self.severity} {self.rule} {self.subject} [{self.status}, {self.standing}] {self.facts}"


def worst(found):
    """Of several (severity, …) the part with the worst severity: a stop before an ask."""
    found = list(found)
    return "stop" if any(severity == "stop" for severity, *_ in found) else "ask"


def joined(standings):
    """`aware` when one of them is, then `unaware`."""
    return "aware" if "aware" in standings else "unaware" if "unaware" in standings else "-"
