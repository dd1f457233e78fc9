"""Plays a day on the rules of the program alone, without homes: `crates/reconcile/examples/judge_days.rs`, thousands of days an hour.

What a device notes with a fact when it records it is added here, and withdrawals that a home would refuse are left out.
"""

import json
import subprocess

from homes import relied
from pictures import digest
from view import View
from withdrawn import rejected

CLASSES = {"camera-on-two-trackers": "camera", "tracker-with-two-cameras": "tracker", "tracker-on-two-trailers": "tracker",
           "trailer-with-two-pairs": "trailer", "trailer-opened-twice": "trailer", "unknown-part": "code",
           "code-suspect": "code", "picture-used-twice": "picture"}


class Rules:
    """The program that judges days, one after the other."""

    def __init__(self, binary):
        self.ran = subprocess.Popen([binary], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def judged(self, events):
        self.ran.stdin.write(json.dumps(events) + "\n")
        self.ran.stdin.flush()
        answer = self.ran.stdout.readline()
        if not answer:
            raise RuntimeError("the rules ended")
        return json.loads(answer)

    def close(self):
        self.ran.stdin.close()
        self.ran.wait()


class PlayedOnRules:
    """The same as `homes.Played`, with the tags themselves in the place of ids."""

    def __init__(self, rules, day, standard):
        self.rules, self.day = rules, day
        self.rejected = refused(day, standard)
        self.tags = {}

    def answers(self):
        """The findings, and what is relied on of each trailer."""
        taken = [event for event in self.day.events if event[0] == "merge" or event[2] not in self.rejected]
        told = self.rules.judged([noted(event) for event in taken])
        return told["findings"], relied(told["trailers"])


def refused(day, standard):
    """The withdrawals that a home would not take, and the facts that name what was not taken."""
    left_out = {}
    while True:
        facts = day.facts(skipped=left_out)
        tags = {f.tag: f for f in facts}
        view = View(facts, standard, day.depot)
        for f in facts:
            target = f.data.get("of") if f.kind == "check" else f.data.get("fact")
            if f.kind == "withdraw" and rejected(view.before(f), f):
                left_out[f.tag] = "refused: by this judge"
                break
            if str(target).startswith("@") and (target[1:] not in tags or not f.saw(tags[target[1:]])):
                left_out[f.tag] = "refused: names what was not taken"
                break
        else:
            return left_out


def noted(event):
    """An event with what its device notes with the fact."""
    if event[0] == "merge":
        return list(event)
    _, home, tag, data = event
    line = {**data, "note": tag}
    if data["kind"] == "ruling":
        rule, subject = data["finding"].lstrip("@").split("|", 1)
        kind = CLASSES.get(rule, "job")
        line["ruled_on"] = {kind: subject if kind != "picture" else subject.removeprefix("blake3:")}
    if data.get("picture"):
        name = data["picture"]
        line["picture_held"] = "absent" if name.startswith("gone") else "unreadable" if name.startswith("torn") else "readable"
        if not name.startswith("gone"):
            line["picture_blake3"] = digest(name)
    return ["fact", home, tag, line]
