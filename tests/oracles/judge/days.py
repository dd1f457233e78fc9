"""Random days of a small fleet, each from one number: what people do right, and what they do wrong.

A day has a depot and one to three laptops, a few trailers, jobs of all purposes whose steps are mixed in time and between homes,
merges by bundle, and of the kinds of trouble below a random few, so that small days with one trouble occur as often as wild
ones.
"""

import random

from scripts import open_scripts
from spelling import Speller
from story import Day
from troubles import TROUBLES, trouble_step

PEOPLE = {"depot": "bram", "lap-a": "mara", "lap-b": "ilse", "lap-c": "tomas"}
BEGIN_MIN = 8 * 60
STEP_MIN = 7  # more than twice the uncertainty of a server's time: two reference times are never in doubt


class Work:
    """A day in the making: who knows what, what time it is, and the events so far."""

    def __init__(self, seed, standard, leave_out=()):
        self.rng, self.standard = random.Random(f"day {seed}"), standard
        self.homes = list(PEOPLE)[:self.rng.choice((2, 3, 3, 4))]
        wanted = [t for t in TROUBLES if t not in leave_out]
        self.troubles = set(self.rng.sample(wanted, min(len(wanted), self.rng.choice((0, 1, 2, 3, 6, 12)))))
        self.spell = Speller(self.rng, "spelling" in self.troubles)
        self.fast = {home: self.rng.choice((0, 0, -20, 15)) for home in self.homes}
        self.events, self.minute, self.count = [], BEGIN_MIN, 0
        self.known = {home: [] for home in self.homes}

    def chance(self, p, trouble=None):
        return (trouble is None or trouble in self.troubles) and self.rng.random() < p

    def record(self, home, data, late_min=0, clock=None, by=None):
        """One fact, with the time of a clock: the device's, a server's, or somebody's word."""
        self.count += 1
        tag = f"f{self.count}"
        minute = self.minute - late_min
        if clock != "reference":
            minute += self.fast[home]
        data = {**data, "by": by or self.person(home), "at": stamp(minute)}
        if clock:
            data["clock"] = clock
        self.events.append(("fact", home, tag, data))
        self.known[home].append((tag, home, data))
        self.minute += STEP_MIN if self.rng.random() < 0.3 else 1
        return tag

    def person(self, home):
        return self.rng.choice(list(PEOPLE.values())) if self.chance(0.1, "people") else PEOPLE[home]

    def merge(self, source, target):
        self.events.append(("merge", source, target))
        have = {tag for tag, *_ in self.known[target]}
        self.known[target] += [fact for fact in self.known[source] if fact[0] not in have]

    def move(self, script, home):
        """A job goes on at another home, mostly after the two have met."""
        if home != script.home and self.rng.random() < 0.8:
            self.merge(script.home, home)
        script.home = home

    def hear_of(self, script):
        """Whoever begins a further job on a trailer mostly knows of the earlier ones."""
        for earlier in script.after:
            if earlier.home != script.home:
                self.merge(earlier.home, script.home)

    def meet(self):
        a, b = self.rng.sample(self.homes, 2)
        self.merge(a, b)
        if self.rng.random() < 0.6:
            self.merge(b, a)


def stamp(minute):
    day, rest = divmod(minute, 24 * 60)
    return f"2026-03-{10 + day:02}T{rest // 60:02}:{rest % 60:02}:00Z"


def day(seed, standard, leave_out=()):
    work = Work(seed, standard, leave_out)
    scripts = open_scripts(work)
    while any(not script.done for script in scripts):
        ready = [s for s in scripts if not s.done and all(a.done for a in s.after)]
        script = work.rng.choice(ready[:3])
        if work.chance(0.1, "other-home"):
            work.move(script, work.rng.choice(work.homes))
        if script.fresh and script.after and work.rng.random() < 0.8:
            work.hear_of(script)
        script.step(work)
        if work.rng.random() < 0.15:
            work.meet()
        if work.troubles and work.rng.random() < 0.2:
            trouble_step(work, scripts)
    for _ in range(work.rng.choice((0, 1, 3))):
        trouble_step(work, scripts)
    for home in work.homes[1:]:
        work.merge(home, work.homes[0])
    for _ in range(work.rng.choice((0, 0, 1, 3))):
        trouble_step(work, scripts, home=work.homes[0])
    return Day(work.homes, work.events)
