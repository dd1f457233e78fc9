"""Plays a day on real homes of the real program: `setup`, `join`, `record`, `bundle write`, `bundle read`, `findings`."""

import json
import os
import shutil
import subprocess
import tempfile

from keys import code_key, name_key
from pictures import content


class Refused(Exception):
    """The program ended with an exit code that nobody expected."""


class Program:
    def __init__(self, binary, where=None):
        self.binary = os.path.abspath(binary)
        self.where = tempfile.mkdtemp(prefix="judge-", dir=where)

    def close(self):
        shutil.rmtree(self.where, ignore_errors=True)

    def run(self, home, *words, stdin=None, allowed=(0,)):
        ran = subprocess.run([self.binary, "--home", os.path.join(self.where, home), *words], input=stdin,
                             capture_output=True, text=True, cwd=self.where, timeout=120)
        if ran.returncode not in allowed:
            raise Refused(f"{home}: {' '.join(words)}: exit {ran.returncode}\n{ran.stderr}\n{stdin or ''}")
        return ran.stdout

    def fleet(self, homes):
        """A depot and laptops that it has enrolled and that know each other."""
        depot, *laptops = homes
        self.run(depot, "setup", "--depot", "--name", depot, "--person", "bram")
        for laptop in laptops:
            invite = self.run(depot, "invite", "--person", laptop).splitlines()[0]
            self.run(laptop, "setup", "--name", laptop, "--person", laptop)
            self.run(laptop, "join", invite.strip())
            self.merge(laptop, depot)
        for laptop in laptops:
            self.merge(depot, laptop)

    def merge(self, source, target):
        self.run(source, "bundle", "write", "carried.bundle")
        self.run(target, "bundle", "read", "carried.bundle")
        os.remove(os.path.join(self.where, "carried.bundle"))


class Played:
    """A day that was played: the ids of the facts, and which the program did not take."""

    def __init__(self, program, day):
        self.program, self.day = program, day
        self.day = day
        self.ids, self.tags, self.rejected, self.waiting = {}, {}, {}, []
        program.fleet(day.homes)
        for event in day.events:
            self.step(event)
        self.flush()

    def step(self, event):
        if self.waiting and (event[0] == "merge" or event[1] != self.waiting[0][1] or refers(event)):
            self.flush()
        if event[0] == "merge":
            self.program.merge(event[1], event[2])
        else:
            line = self.resolved(event)
            if line is not None:
                self.waiting.append((*event, line))

    def resolved(self, event):
        """The line to hand over, with ids for what it refers to; None when there is nothing to refer to."""
        _, home, tag, data = event
        line = {**data, "note": tag}
        for key, value in data.items():
            if key in ("fact", "of") and str(value).startswith("@"):
                if value[1:] not in self.ids:
                    self.rejected[tag] = f"{value} was not taken"
                    return None
                line[key] = self.ids[value[1:]]
            elif key == "finding":
                found = self.finding(home, value.lstrip("@"))
                if found is None:
                    self.rejected[tag] = f"no finding {value} is known there"
                    return None
                line[key] = found
            elif key == "picture":
                self.place(value)
        return line

    def finding(self, home, name):
        rule, subject = name.split("|", 1)
        for f in self.findings(home):
            if f["rule"] == rule and subject_key(f) == subject:
                return f["id"]
        return None

    def place(self, picture):
        path = os.path.join(self.program.where, picture)
        if not picture.startswith("gone") and not os.path.exists(path):
            with open(path, "wb") as file:
                file.write(content(picture))

    def flush(self):
        if not self.waiting:
            return
        home = self.waiting[0][1]
        lines = "\n".join(json.dumps(line, ensure_ascii=False) for *_, line in self.waiting) + "\n"
        path = os.path.join(self.program.where, "batch.jsonl")
        with open(path, "w", encoding="utf-8") as file:
            file.write(lines)
        out = self.program.run(home, "record", "--json", "batch.jsonl", allowed=(0, 4))
        for answer in map(json.loads, filter(None, out.splitlines())):
            tag = self.waiting[answer["line"] - 1][2]
            if answer["receipt"] == "rejected":
                self.rejected[tag] = "refused: " + str(answer.get("reason") or answer)
            else:
                self.ids[tag] = answer["fact"]
                self.tags[answer["fact"]] = tag
        for _, _, tag, *_ in self.waiting:
            if tag not in self.ids and tag not in self.rejected:
                self.rejected[tag] = "no receipt"
        self.waiting = []

    def answers(self):
        """The findings of the depot, and what its report says of each trailer."""
        report = json.loads(self.program.run(self.day.depot, "report", "--json"))
        return self.findings(), relied(report["trailers"])

    def findings(self, home=None):
        return json.loads(self.program.run(home or self.day.depot, "findings", "--json"))["findings"]


def relied(trailers):
    """{trailer: relied on} of the lines of a report."""
    return {code_key(line["trailer"]): line["relied_on"] for line in trailers}


def refers(event):
    data = event[3]
    return "finding" in data or any(str(data.get(key, "")).startswith("@") for key in ("fact", "of"))


BY_CODE = {"camera-on-two-trackers", "tracker-with-two-cameras", "tracker-on-two-trailers", "trailer-with-two-pairs",
           "trailer-opened-twice", "unknown-part", "code-suspect"}
BY_DEVICE = {"clock-off", "log-forked"}


def subject_key(finding, played=None, day=None):
    """The subject of the program's finding as it is compared here; a device by the name of its home."""
    rule, subject = finding["rule"], finding["subject"]
    if rule in BY_CODE:
        return code_key(subject)
    if rule == "not-understood" and not finding["jobs"]:
        home = {event[2]: event[1] for event in day.events if event[0] == "fact"} if day else {}
        return f"device {home.get(played.tags.get(finding['facts'][0], finding['facts'][0]), subject)}"
    if rule == "picture-used-twice":
        return "blake3:" + subject.removeprefix("blake3:")
    return subject if rule in BY_DEVICE else name_key(subject)
