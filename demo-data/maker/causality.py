"""Plays story.toml and keeps, for every fact, what its device had seen: happens-before without any clock.

A device's vector counts the facts of each device that it holds. A bundle makes the reader's vector the larger
of both, place by place. Nothing else moves knowledge.
"""

import csv
import json
from dataclasses import dataclass, field
from datetime import datetime


@dataclass
class Fact:
    """One line, where it stands, and what had been seen when it was recorded."""

    line: dict
    device: str
    seq: int
    seen: dict = field(repr=False)
    source: str = ""

    def before(self, other):
        """Whether the recorder of `other` had this fact."""
        if self.device == other.device:
            return self.seq < other.seq
        return other.seen.get(self.device, 0) >= self.seq

    def concurrent(self, other):
        return self is not other and not self.before(other) and not other.before(self)

    def get(self, key):
        return self.line.get(key)

    def is_(self, kind, state=None):
        return self.get("kind") == kind and (state is None or self.get("state") == state)

    def clock(self):
        return "reference" if self.get("clock") == "reference" else self.device

    def time(self, key="at"):
        return datetime.fromisoformat(self.line[key])


def read_lines(path):
    """The lines of a file as the recorder takes them: JSON Lines, or CSV with dotted headers."""
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".csv":
        return [json.loads(line) for line in text.splitlines()]
    return [unflattened(row) for row in csv.DictReader(text.splitlines())]


def unflattened(row):
    line = {}
    for key, text in row.items():
        if text == "":
            continue
        value = {"true": True, "false": False}.get(text, text)
        head, _, tail = key.partition(".")
        if tail:
            line.setdefault(head, {})[tail] = value
        else:
            line[head] = value
    return line


class Book:
    """Every device's facts, and how far each device has read."""

    def __init__(self):
        self.facts = []
        self.vectors = {}
        self.files = []
        self.shown = []

    def play(self, story, here):
        for number, step in enumerate(story["step"], 1):
            action = getattr(self, "on_" + step["action"], None)
            assert action, f"step {number}: no action {step['action']}"
            action(step, here)

    def on_setup(self, step, here):
        assert step["device"] not in self.vectors, f"{step['device']} is set up twice"
        assert isinstance(step["depot"], bool) and step["person"]
        self.vectors[step["device"]] = {}

    def on_join(self, step, here):
        assert step["device"] in self.vectors

    def on_record(self, step, here):
        self.files.append((step["device"], step["file"]))
        for line in read_lines(here / step["file"]):
            self.record(step["device"], line, step["file"])

    def on_bundle(self, step, here):
        source, target = self.vectors[step["from"]], self.vectors[step["to"]]
        for device, seq in source.items():
            target[device] = max(seq, target.get(device, 0))

    def on_show(self, step, here):
        assert step["what"] in ("findings", "history", "status", "report")
        self.shown.append((step, dict(self.vectors[step["device"]])))

    def on_ruling(self, step, here):
        keys = ("ruling", "why", "by", "at")
        line = {"kind": "ruling", "finding": (step["rule"], step["subject"])} | {k: step[k] for k in keys}
        self.record(step["device"], line, "story.toml")

    def record(self, device, line, source):
        vector = self.vectors[device]
        seq = vector.get(device, 0) + 1
        seen = {d: s for d, s in vector.items() if d != device}
        self.facts.append(Fact(line, device, seq, seen, source))
        vector[device] = seq

    def held_by(self, vector):
        return [f for f in self.facts if vector.get(f.device, 0) >= f.seq]
