"""`make.py --check`: is what lies here well-formed, and does the day show what expected.json says?"""

import json
import sys
import tomllib
from datetime import datetime

from . import codes
from .causality import Book, read_lines
from .judge import Judge

REQUIRED = {
    "job": (),
    "scan": ("code",),
    "check": ("job", "check"),
    "link": ("camera", "tracker"),
    "unlink": ("camera", "tracker"),
    "settings": ("tracker", "state"),
    "proof": ("job", "state"),
    "sign-off": ("job",),
    "stand-down": ("job",),
    "stock": ("fleet",),
    "note": ("text",),
}
PERSONS = {"harrow-street": "bram", "laptop-mara": "mara", "laptop-ilse": "ilse", "laptop-tomas": "tomas"}


def run(here):
    """Prints what is wrong to stderr; 0 when nothing is."""
    codes.self_test()
    story = tomllib.loads((here / "story.toml").read_text(encoding="utf-8"))
    expected = json.loads((here / story["expected"]).read_text(encoding="utf-8"))
    book = Book()
    book.play(story, here)
    wrong = [*shapes(here, book), *times(book), *parts(book, expected), *steps(story, book)]
    wrong += findings(here, book, expected)
    for line in wrong:
        print(line, file=sys.stderr)
    jobs = {f.get("job") for f in book.facts if f.get("job")}
    print(f"{len(book.facts)} facts, {len(jobs)} jobs, {len(expected['findings'])} findings, {len(wrong)} things wrong")
    return 1 if wrong else 0


def shapes(here, book):
    """Required keys, the right handle for the device, every file used once, no line twice on a device."""
    played = [name for _, name in book.files]
    lying = sorted(p.name for p in here.iterdir() if p.suffix in (".jsonl", ".csv"))
    if sorted(played) != lying:
        yield f"story.toml records {sorted(played)}, but here lie {lying}"
    seen = set()
    for fact in book.facts:
        where = f"{fact.source}, fact {fact.seq} of {fact.device}"
        kind = fact.get("kind")
        if kind == "ruling":
            continue
        if kind not in REQUIRED or any(not fact.get(key) for key in (*REQUIRED[kind], "at", "by")):
            yield f"{where}: kind {kind} lacks one of {REQUIRED.get(kind)}, at, by"
        if fact.get("by") != PERSONS[fact.device]:
            yield f"{where}: recorded by {fact.get('by')}"
        if not (fact.get("at") or "").endswith("-05:00"):
            yield f"{where}: {fact.get('at')} is not in the yard's offset"
        text = (fact.device, json.dumps(fact.line, sort_keys=True))
        if text in seen:
            yield f"{where}: the same line stands there twice"
        seen.add(text)
        if fact.get("picture") and not (here / fact.get("picture")).exists():
            yield f"{where}: no picture {fact.get('picture')}"
    for name in played:
        if not read_lines(here / name):
            yield f"{name} is empty"


def times(book):
    """Ascending in the order of each device; a job is opened first and not touched by its laptop once signed."""
    last = {}
    for fact in book.facts:
        if fact.device in last and fact.time() < last[fact.device]:
            yield f"{fact.source}: {fact.line['at']} stands after a later time"
        last[fact.device] = fact.time()
    opened = set()
    for fact in book.facts:
        job = fact.get("job")
        if fact.is_("job") and fact.get("trailer"):
            opened.add(job)
        elif job and job not in opened:
            yield f"{fact.source}: {job} is used before it is opened"
    if len({f.line["at"][:10] for f in book.facts}) < 2:
        yield "no time crosses midnight"


def parts(book, expected):
    """Check characters, and everything but the one typed code in the stock list; trackers stay on their trailer."""
    stock = {f.get("camera") or f.get("tracker") for f in book.facts if f.is_("stock")}
    intended = {f["subject"] for f in expected["findings"] if f["rule"] == "code-suspect"}
    trailer_of = {}
    for fact in book.facts:
        cameras = {fact.get("camera")} | ({fact.get("code")} if fact.get("what") == "camera" else set())
        trackers = {fact.get("tracker")} | ({fact.get("code")} if fact.get("what") == "tracker" else set())
        for code in (cameras | trackers) - {None} - intended:
            if code not in stock:
                yield f"{fact.source}: {code} is not in the stock list"
        yield from (f"{c}: bad check character" for c in cameras - {None} - intended if not codes.camera_ok(c))
        yield from (f"{t}: bad check digit" for t in trackers - {None} if not codes.tracker_ok(t))
        if fact.get("vin") and not codes.vin_ok(fact.get("vin")):
            yield f"{fact.get('vin')}: bad check digit"
        if fact.is_("job") and fact.get("tracker"):
            trailer = trailer_of.setdefault(fact.get("tracker"), fact.get("trailer"))
            if trailer != fact.get("trailer"):
                yield f"{fact.get('tracker')} is on two trailers"
    yield from (f"{code} should be wrong and is not" for code in intended if codes.camera_ok(code))


def steps(story, book):
    """Every step has its sentence; what a step shows is there to be shown."""
    for number, step in enumerate(story["step"], 1):
        if not step.get("title", "").endswith("."):
            yield f"step {number} has no sentence as its title"
    yield from hours(story, book)
    for step, vector in book.shown:
        held = book.held_by(vector)
        for key in ("job", "camera", "tracker"):
            if step.get(key) and not any(f.get(key) == step[key] for f in held):
                yield f"'{step['title']}' shows {key} {step[key]}, of which {step['device']} holds nothing"


def hours(story, book):
    """The clocks of the day go forward, and a file is recorded after the last thing that it tells of."""
    last = {}
    for fact in book.facts:
        if fact.clock() != "reference":
            last[fact.source] = max(last.get(fact.source, fact.time()), fact.time())
    before = None
    for number, step in enumerate(story["step"], 1):
        now = datetime.fromisoformat(step["time"])
        if before and now < before:
            yield f"step {number} is at {step['time']}, earlier than the step before it"
        if "file" in step and now < last[step["file"]]:
            yield f"step {number} records {step['file']} at {step['time']}, before the last of it: {last[step['file']]}"
        before = now


def findings(here, book, expected):
    """The contract's rules over what each node holds, against what expected.json and the story promise."""
    standard = here.parent / "config" / "work-standard.toml"
    depot = book.vectors[expected["device"]]
    found = Judge(book.held_by(depot), standard, expected["shows"][-1]["clocks_within_min"]).all()
    wanted = {(f["rule"], f["subject"]): [f["severity"], f["standing"], f["status"]] for f in expected["findings"]}
    for key in sorted({*found, *wanted}):
        if found.get(key) != wanted.get(key):
            yield f"{' '.join(key)}: by the rules {found.get(key)}, in expected.json {wanted.get(key)}"
    if any(len(f["reason"]) < 20 for f in expected["findings"]):
        yield "expected.json: a finding has no reason"
    yield from moments(book, standard, expected)
    if book.vectors["laptop-mara"] != depot:
        yield "laptop-mara does not end with what the depot holds"


def moments(book, standard, expected):
    """What each `show findings` of the story must list, kept under `shows` in the order of the steps."""
    at = [(s, v) for s, v in book.shown if s["what"] == "findings"]
    if len(at) != len(expected["shows"]):
        yield f"{len(at)} steps show findings, expected.json lists {len(expected['shows'])}"
    for (step, vector), want in zip(at, expected["shows"]):
        found = Judge(book.held_by(vector), standard, want["clocks_within_min"]).all()
        rows = sorted(
            [rule, subject, status]
            for (rule, subject), (_, _, status) in found.items()
            if step.get("rule") in (None, rule) and (not step.get("open") or status == "open")
        )
        if rows != sorted(want["findings"]) or want["title"] != step["title"]:
            yield f"'{step['title']}' shows {rows}"


