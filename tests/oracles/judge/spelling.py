"""Codes of a day, far from each other, and the ways in which people write them."""

WIDE = {ord("0") + d: 0xFF10 + d for d in range(10)}


class Speller:
    def __init__(self, rng, varied):
        self.rng, self.varied, self.used = rng, varied, []

    def fresh(self, prefix, digits=6):
        """A code that differs from every other one in at least three places."""
        while True:
            code = prefix + "".join(self.rng.choice("0123456789") for _ in range(digits))
            if all(sum(x != y for x, y in zip(code, other)) >= 3 for other in self.used if len(other) == len(code)):
                self.used.append(code)
                return code

    def near(self, code):
        """A code one edit away: two digits swapped, one lost, or one mistyped."""
        at = self.rng.randrange(3, len(code) - 1)
        kind = self.rng.randrange(3)
        if kind == 0 and code[at] != code[at + 1]:
            return code[:at] + code[at + 1] + code[at] + code[at + 2:]
        if kind == 1:
            return code[:at] + code[at + 1:]
        return code[:at] + str((int(code[at]) + 5) % 10) + code[at + 1:] if code[at].isdigit() else code[:at] + "7" + code[at + 1:]

    def code(self, code):
        """A code as somebody writes it: the same key in another spelling."""
        if not self.varied or self.rng.random() < 0.5:
            return code
        kind = self.rng.randrange(6)
        head, tail = code[:2], code[2:]
        return (code.lower(), f"{head}-{tail}", f"{head} {tail}", f" {head.lower()}_{tail[:3]}.{tail[3:]}",
                code.translate(WIDE), f"{head}\u2013{tail[:2]}/{tail[2:]}")[kind]

    def name(self, name):
        """The name of a job, fleet or person in another spelling."""
        if not self.varied or self.rng.random() < 0.6:
            return name
        return self.rng.choice((name.lower(), name.upper(), name.replace(" ", "  "), f" {name}"))
