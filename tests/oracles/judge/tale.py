"""Small stories for the unit tests: facts by hand, with a whole good job in one line."""

import os

from judge import judge, relied_on
from keys import amount
from scripts import ANSWERS, good
from standard import Standard
from story import Day

HERE = os.path.dirname(os.path.abspath(__file__))
with open(os.path.join(HERE, "../../../config/work-standard.toml"), encoding="utf-8") as file:
    STANDARD = Standard(file.read())
PEOPLE = {"depot": "bram", "a": "mara", "b": "ilse", "c": "tomas"}
PAIR = {"camera": "LC100001", "tracker": "LT200001"}


class Wanted:
    def __init__(self, purpose, wall, load, thickness):
        self.purpose, self.wall, self.load, self.thickness_mm = purpose, wall, load, amount(thickness)


class Tale:
    standard = STANDARD

    def __init__(self):
        self.events, self.minute = [], 0

    def fact(self, home, kind, *, at=None, **data):
        """One fact; `at` in minutes of the day, else ten minutes after the last one."""
        self.minute += 10
        minute = self.minute if at is None else at
        tag = f"f{len(self.events)}"
        day, rest = divmod(minute, 1440)
        time = f"2026-03-{10 + day:02}T{rest // 60:02}:{rest % 60:02}:00Z"
        self.events.append(("fact", home, tag, {"kind": kind, "by": PEOPLE[home], "at": time, **data}))
        return tag

    def merge(self, *homes):
        """From the first to the second, on to the third …"""
        for source, target in zip(homes, homes[1:]):
            self.events.append(("merge", source, target))

    def opened(self, home="a", job="J1", trailer="LF1", **fields):
        known = {"fleet": "Larkspur Freight", "wall": "plate", "load": "empty", "thickness": "1/2 in"}
        return self.fact(home, "job", job=job, trailer=trailer, **{**known, **fields})

    def checks(self, home="a", job="J1", purpose="fit", without=()):
        for name in self.standard.required(Wanted(purpose, "plate", "empty", "1/2 in")):
            if name not in without:
                self.fact(home, **{**good(self, name), "job": job})

    def proof(self, home="a", job="J1", picture="p1.png", **judged):
        self.fact(home, "proof", job=job, state="asked")
        self.fact(home, "proof", job=job, state="taken", picture=picture)
        return self.judged(home, job, **judged)

    def judged(self, home="a", job="J1", ok=True, **more):
        return self.fact(home, "proof", job=job, state="judged", ok=ok, answers=dict.fromkeys(ANSWERS, True), **more)

    def live(self, home="a", state="live", tracker=PAIR["tracker"], **more):
        return self.fact(home, "settings", tracker=tracker, state=state, **more)

    def link(self, home="a", job="J1", **pair):
        return self.fact(home, "link", job=job, **{**PAIR, **pair})

    def sign(self, home="a", job="J1", **more):
        return self.fact(home, "sign-off", job=job, **more)

    def fitted(self, home="a", job="J1", trailer="LF1", pair=PAIR, without=(), picture="p1.png", signed=True):
        """A job in which everything is right, but for the parts that are left out."""
        self.opened(home, job, trailer)
        if "checks" not in without:
            self.checks(home, job, without=without)
        if "link" not in without:
            self.link(home, job, **pair)
        if "live" not in without:
            self.live(home, tracker=pair["tracker"])
        if "proof" not in without:
            self.proof(home, job, picture)
        return self.sign(home, job) if signed else None

    # --- what the judge says ---

    def judged_day(self):
        homes = ["depot"] + sorted({h for e in self.events for h in (e[1:3] if e[0] == "merge" else e[1:2])} - {"depot"})
        events = self.events + [("merge", home, "depot") for home in homes[1:]]
        return judge(Day(homes, events).facts(), self.standard, "depot")

    def findings(self):
        """{(rule, subject): (severity, status, standing)}"""
        _, found = self.judged_day()
        return {key: (c.severity, c.status, c.standing) for key, c in found.items()}

    def says(self, rule):
        """What the only finding of a rule says, or None."""
        found = [value for key, value in self.findings().items() if key[0] == rule]
        assert len(found) < 2, found
        return found[0] if found else None

    def relied_on(self, trailer="LF1"):
        view, found = self.judged_day()
        return relied_on(view, found, trailer)
