"""Compares the second judge with the program over random days.

    python3 compare.py --bin target/debug/gladhand --days 40 --seed 1
    python3 compare.py --bin … --story FILE      one day that was written down (JSON lines, as a failure prints it)

Exit code 1 when they differ: the smallest day found is printed, fact by fact. 2 when the program refused something.
"""

import argparse
import os
import sys
import time

import days
import judge as judge_module
from homes import Played, Program, Refused, subject_key
from judge import judge, relied_on
from rules_only import PlayedOnRules, Rules
from standard import Standard
from story import Day
from view import View
from withdrawn import rejected

HERE = os.path.dirname(os.path.abspath(__file__))
STANDARD = os.path.join(HERE, "../../../config/work-standard.toml")


class Comparison:
    def __init__(self, args):
        self.args = args
        with open(args.standard, encoding="utf-8") as file:
            self.standard = Standard(file.read())
        self.rules = set(filter(None, args.rules.split(","))) if args.rules else None
        self.skipped = set(filter(None, args.without.split(",")))
        self.seen = {}
        self.rules_alone = Rules(args.rules_only) if args.rules_only else None

    def wanted(self, rule):
        return rule not in self.skipped and (self.rules is None or rule in self.rules)

    def run(self, day):
        """{(rule, subject): (what the program says, what the second judge says)} where they differ."""
        played, (findings, relied) = self.play(day)
        theirs = {(f["rule"], subject_key(f, played, day)): f for f in findings}
        view, ours = judge(day.facts(skipped=played.rejected), self.standard, day.depot)
        self.count(ours)
        if self.args.story and len(self.args.story) == 1:
            show(played, theirs, ours)
        found = {**self.differences(played, theirs, ours), **self.refusals(day, played)}
        return found or self.reliance(view, ours, relied)

    def reliance(self, view, ours, theirs):
        """Where a trailer is relied on differently, although the findings are the same."""
        if not self.wanted("relied-on"):
            return {}
        mine = {trailer: relied_on(view, ours, trailer) for trailer in view.trailer_jobs}
        for word in mine.values():
            self.seen["relied-on", word] = self.seen.get(("relied-on", word), 0) + 1
        return {("relied-on", t): (theirs.get(t), mine.get(t)) for t in set(mine) | set(theirs) if theirs.get(t) != mine.get(t)}

    def play(self, day):
        """The day on real homes, or on the rules alone."""
        if self.rules_alone:
            played = PlayedOnRules(self.rules_alone, day, self.standard)
            return played, played.answers()
        program = Program(self.args.bin, self.args.where)
        try:
            played = Played(program, day)
            return played, played.answers()
        finally:
            program.close()

    def refusals(self, day, played):
        """Where one of the two refuses a line that the other takes: only withdrawals are refused in these days."""
        found = {}
        missing = {tag for tag, why in played.rejected.items() if not why.startswith("refused")}
        facts = day.facts(skipped=missing)
        view = View(facts, self.standard, day.depot)
        for f in facts if self.wanted("withdraw") and not self.rules_alone else ():
            theirs = "refused" if f.tag in played.rejected else "taken"
            ours = "taken"
            if f.kind == "withdraw" and rejected(view.before(f), f):
                ours = "refused"
            if theirs != ours:
                found["withdraw", f.tag] = (theirs + ": " + played.rejected.get(f.tag, ""), ours)
        return found

    def count(self, ours):
        for cause in ours.values():
            key = (cause.rule, cause.status)
            self.seen[key] = self.seen.get(key, 0) + 1

    def differences(self, played, theirs, ours):
        found = {}
        for key in sorted(set(theirs) | set(ours)):
            if self.wanted(key[0]):
                a, b = told(theirs.get(key), played, self.args), judged(ours.get(key), self.args)
                if a != b:
                    found[key] = (a, b)
        return found

    def smallest(self, day, key, differences):
        """Leaves out events, halves first and then one by one, as long as the same finding differs in the same way."""
        size = max(1, len(day.events) // 2)
        while size:
            at = 0
            while at < len(day.events):
                fewer = Day(day.homes, day.events[:at] + day.events[at + size:])
                now = self.still(fewer, key, differences[key])
                if now:
                    day, differences = fewer, now
                else:
                    at += size
            size //= 2
        return day, differences

    def still(self, day, key, before):
        try:
            now = self.run(day)
        except (Refused, IndexError, KeyError, RuntimeError):
            return None
        return now if now.get(key) == before else None


def show(played, theirs, ours):
    """Both answers about one story, side by side."""
    for key in sorted(set(theirs) | set(ours)):
        f = theirs.get(key)
        if f:
            tags = [played.tags.get(tag, tag) for tag in f["facts"]]
            print("program:     ", f["severity"], *key, f"[{f['status']}, {f['standing']}]", tags, "\n              ", f["says"])
        print("second judge:", ours.get(key))


def told(finding, played, args):
    """What the program says of a finding, as far as it is compared."""
    if finding is None:
        return None
    facts = tuple(sorted(played.tags.get(f, f[:8]) for f in finding["facts"])) if args.facts else None
    return comparable(finding["severity"], finding["standing"], finding["status"], facts, args)


def judged(cause, args):
    if cause is None:
        return None
    facts = tuple(sorted(f.tag for f in cause.facts)) if args.facts else None
    return comparable(cause.severity, cause.standing, cause.status, facts, args)


def comparable(severity, standing, status, facts, args):
    if status == "cleared":
        return None if args.without_cleared else (None, None, "cleared", None)
    return (severity, None if args.without_standing else standing, status, facts)


def arguments():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    program = parser.add_mutually_exclusive_group(required=True)
    program.add_argument("--bin", help="the program")
    program.add_argument("--rules-only", help="its rules alone: the example judge_days of the crate reconcile")
    parser.add_argument("--days", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1, help="of the first day; each further day counts up")
    parser.add_argument("--rules", default="", help="only these, comma between them")
    parser.add_argument("--without", default="", help="not these rules")
    parser.add_argument("--without-standing", action="store_true")
    parser.add_argument("--without-cleared", action="store_true", help="cleared and absent are the same")
    parser.add_argument("--before-recording", action="store_true",
                        help="what stood open only right after the fact that made it may vanish")
    parser.add_argument("--facts", action="store_true", help="compare the facts that make a finding too")
    parser.add_argument("--keep-going", action="store_true", help="all days; each rule's first difference is made small")
    parser.add_argument("--leave-out", default="", help="kinds of trouble that no day has, comma between them (days.py)")
    parser.add_argument("--story", nargs="+", help="days from files instead")
    parser.add_argument("--standard", default=STANDARD)
    parser.add_argument("--where", default="/dev/shm" if os.path.isdir("/dev/shm") else None, help="where homes are made")
    return parser.parse_args()


def main():
    args = arguments()
    comparison, met, began = Comparison(args), {}, time.monotonic()
    judge_module.AFTER_RECORDING = not args.before_recording
    stories = ((os.path.basename(file), Day.load(open(file, encoding="utf-8").read())) for file in args.story) if args.story else (
        (seed, days.day(seed, comparison.standard, args.leave_out.split(","))) for seed in range(args.seed, args.seed + args.days))
    count = 0
    for seed, day in stories:
        count += 1
        try:
            differences = comparison.run(day)
        except Refused as refused:
            print(f"day {seed}: {refused}\n{day.dump()}")
            return 2
        for key in sorted(differences):
            kind = (key[0], differences[key])
            met.setdefault(kind, []).append(seed)
            if len(met[kind]) == 1 and not args.story:
                small, now = comparison.smallest(day, key, differences)
                print(f"\nday {seed}: {key[0]} {key[1]}\n  program:      {now[key][0]}\n  second judge: {now[key][1]}")
                print(small.dump(), flush=True)
                if not args.keep_going:
                    return 1
    print(f"{count} days in {time.monotonic() - began:.0f} s; findings by the second judge:")
    for (rule, status), n in sorted(comparison.seen.items()):
        print(f"  {n:6} {rule} {status}")
    for (rule, (theirs, ours)), seeds in sorted(met.items(), key=str):
        print(f"DIFFERENT {rule}: program {theirs}, second judge {ours}: {len(seeds)} times, first in {seeds[0]}")
    return 1 if met else 0


if __name__ == "__main__":
    sys.exit(main())
