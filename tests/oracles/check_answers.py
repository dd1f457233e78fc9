"""Checks answers against their schemas: check_answers.py PAIRS

A pair is a line `schema TAB answer`, both names of JSON files. Says on standard error what does not fit; exit code 1 then.
Prints the package's version; exit code 3 when the package is not there.
"""

import importlib.metadata
import importlib.util
import json
import sys

if importlib.util.find_spec("jsonschema") is None:
    print("jsonschema is not installed", file=sys.stderr)
    sys.exit(3)

from jsonschema import Draft202012Validator  # noqa: E402


def read(name):
    with open(name, encoding="utf-8") as file:
        return json.load(file)


faults = []
with open(sys.argv[1], encoding="utf-8") as pairs:
    for line in pairs:
        schema, answer = line.rstrip("\n").split("\t")
        Draft202012Validator.check_schema(read(schema))
        for error in Draft202012Validator(read(schema)).iter_errors(read(answer)):
            faults.append(f"{answer} against {schema}: {error.json_path}: {error.message}")
print("\n".join(faults), file=sys.stderr)
print("jsonschema", importlib.metadata.version("jsonschema"))
sys.exit(1 if faults else 0)
