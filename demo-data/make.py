#!/usr/bin/env python3
"""Makes the demo day (no argument), or checks what lies here (`--check`). See README.md.

Python 3.11 or later, standard library only. The same source always writes the same bytes.
"""

import csv
import io
import json
import sys
import zlib
from pathlib import Path

from maker import check, pictures
from maker.day import Day
from maker.expected import expected

HERE = Path(__file__).resolve().parent
CSV_COLUMNS = (
    "kind at clock by job trailer vin fleet yard tracker camera wall load thickness assigned what code symbology "
    "check value ok state taken_at picture answers.front-wall-seen answers.door-frame-seen answers.no-jagged-edge "
    "answers.lens-clear reason why text note"
).split()


def as_jsonl(lines):
    return "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines)


def as_csv(lines):
    """A header row and one row a fact; nested keys get a dotted column, truth is `true` or `false`."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(CSV_COLUMNS)
    for line in lines:
        flat = {k: v for k, v in line.items() if k != "answers"}
        flat |= {f"answers.{name}": v for name, v in line.get("answers", {}).items()}
        unknown = set(flat) - set(CSV_COLUMNS)
        assert not unknown, f"no column for {unknown}"
        table.writerow([str(flat[c]).lower() if isinstance(flat.get(c), bool) else flat.get(c, "") for c in CSV_COLUMNS])
    return out.getvalue()


def write():
    day = Day()
    for name, lines in day.make().items():
        text = as_csv(lines) if name.endswith(".csv") else as_jsonl(lines)
        (HERE / name).write_text(text, encoding="utf-8")
        print(f"{name}: {len(lines)} facts", file=sys.stderr)
    draw(day)
    text = json.dumps(expected(day), ensure_ascii=False, indent=2) + "\n"
    (HERE / "expected.json").write_text(text, encoding="utf-8")


def draw(day):
    """The pictures that the facts name, beside them. Two that were alike would be a finding (picture-used-twice)."""
    drawn = {}
    for old in HERE.glob("proof-*.png"):
        old.unlink()
    for line in (line for lines in day.files.values() for line in lines if "picture" in line):
        name = line["picture"]
        drawn[name] = pictures.proof_picture(zlib.crc32(name.encode()))
        (HERE / name).write_bytes(drawn[name])
    assert len(set(drawn.values())) == len(drawn), "two pictures are alike"
    print(f"{len(drawn)} pictures", file=sys.stderr)


if __name__ == "__main__":
    if sys.argv[1:] == ["--check"]:
        sys.exit(check.run(HERE))
    if sys.argv[1:]:
        sys.exit(__doc__)
    write()
