"""A day as a list of events, and what every recorder had seen by it: known here from the merges, never asked of the program.

An event is ("fact", home, tag, {…}) or ("merge", from, to). In a fact `"@f12"` stands for the id of the fact with that tag, and
`"@rule|subject"` for the id of a finding.
"""

import json

from facts import Fact


class Day:
    def __init__(self, homes, events):
        self.homes, self.events = homes, events
        self.depot = homes[0]

    def facts(self, skipped=()):
        """The facts in an order in which each comes after all that its recorder had seen."""
        known = {home: dict.fromkeys(self.homes, 0) for home in self.homes}
        found = []
        for event in self.events:
            if event[0] == "merge":
                _, source, target = event
                for home, n in known[source].items():
                    known[target][home] = max(known[target][home], n)
            elif event[2] not in skipped:
                _, home, tag, data = event
                found.append(Fact(tag, home, known[home][home], known[home], data))
                known[home][home] += 1
        return found

    def dump(self):
        """The story as JSON lines."""
        lines = []
        for event in self.events:
            if event[0] == "merge":
                lines.append({"merge": [event[1], event[2]]})
            else:
                lines.append({"device": event[1], "tag": event[2], **event[3]})
        return "\n".join(json.dumps(line, ensure_ascii=False) for line in lines)

    @classmethod
    def load(cls, text):
        """Reads what `dump` wrote; the depot is the first home that is named, and hears of everything in the end."""
        events, homes = [], []
        for line in filter(None, text.splitlines()):
            data = json.loads(line)
            if "homes" in data:
                homes = data["homes"]
            elif "merge" in data:
                events.append(("merge", *data["merge"]))
            else:
                device, tag = data.pop("device"), data.pop("tag", f"g{len(events)}")
                events.append(("fact", device, tag, data))
        for event in events:
            homes += [h for h in (event[1:3] if event[0] == "merge" else event[1:2]) if h not in homes]
        return cls(homes, events + [("merge", home, homes[0]) for home in homes[1:]])
