"""One person at work: takes several jobs in turn, as installers do while a picture is on its way.

A job is a generator (see jobs.py). It yields
    ("do", seconds, line)     hands-on work, at the end of which the line is recorded
    ("wait", seconds)         nothing to do here for so long: the person goes to another trailer
    ("at", moment)            not before this time of day, and then exactly then if the person is free
    ("phase",)                not before the next file
A person's clock goes on with the work only, so the times in one file never go back.
"""

from datetime import timedelta

OPEN_AT_ONCE = 3


class Person:
    """Somebody with a laptop. Carries on with open jobs from file to file."""

    def __init__(self, handle, rng):
        self.handle = handle
        self.rng = rng
        self.open = []

    def work(self, start, jobs, until):
        """Does `jobs`, and what is still open, from `start`; fails if it is not done by `until`."""
        now, lines, todo, parked = start, [], list(jobs), []
        running = [(now, job) for job in self.open]
        while running or todo:
            running.sort(key=lambda pair: pair[0])
            may_open = todo and len(running) < OPEN_AT_ONCE
            if may_open and (not running or running[0][0] > now):
                running.append((now, todo.pop(0)))
                continue
            ready, job = running.pop(0)
            now, state, when = self._stretch(max(now, ready), ready, job, lines)
            if state == "wait":
                running.append((when, job))
            elif state == "phase":
                parked.append(job)
        self.open = parked
        if now > until:
            raise SystemExit(f"{self.handle} works until {now}, past {until}: move a job to the next file")
        return lines

    def _stretch(self, now, ready, job, lines):
        """Goes on with one job until it waits, parks or ends. `ready` is when what it waited for was there."""
        for step in job:
            if step[0] == "do":
                now += timedelta(seconds=self._about(step[1]))
                lines.append(stamped(step[2], now, ready, self.handle))
            elif step[0] == "wait":
                return now, "wait", now + timedelta(seconds=self._about(step[1]))
            elif step[0] == "at":
                if now > step[1]:
                    raise SystemExit(f"{self.handle} is busy at {step[1]}: it is {now} already")
                now = step[1]
            else:
                return now, "phase", None
        return now, "end", None

    def _about(self, seconds):
        return 0 if seconds == 0 else max(4, round(seconds * self.rng.uniform(0.8, 1.25)))


FIRST = ("kind", "at", "clock", "by", "job")


def stamped(line, now, ready, handle):
    """The line with its time and its person, common keys first. A picture was taken a little before it was there."""
    line = {"at": now.isoformat(), "by": handle} | line
    if "taken_at" in line:
        line["taken_at"] = (ready - timedelta(seconds=40)).isoformat()
    return {key: line[key] for key in FIRST if key in line} | {k: v for k, v in line.items() if k not in FIRST}
