"""Asks python-stdnum about codes: check_codes.py QUESTIONS ANSWERS

A question is a line `rule TAB body TAB code`. The answer is a line `character TAB verdict`: the check character that
stdnum makes of the body, and whether it holds the code for valid (yes, no).
Prints the package's version; exit code 3 when the package is not there.
"""

import importlib.metadata
import importlib.util
import sys

if importlib.util.find_spec("stdnum") is None:
    print("python-stdnum is not installed", file=sys.stderr)
    sys.exit(3)

from stdnum import ean, imei, luhn  # noqa: E402
from stdnum.iso7064 import mod_37_36  # noqa: E402

RULES = {
    # stdnum.imei has no function for the digit alone, but can write it behind the 14 others.
    "imei": (lambda body: imei.format(body, separator="", add_check_digit=True)[-1], imei.is_valid),
    "gtin-13": (ean.calc_check_digit, ean.is_valid),
    # stdnum.ean computes the digit for any length, but ean.is_valid refuses 18: this is what it does, without the length.
    "sscc": (ean.calc_check_digit, lambda code: code.isdigit() and ean.calc_check_digit(code[:-1]) == code[-1]),
    "iso7064-mod37-36": (mod_37_36.calc_check_digit, mod_37_36.is_valid),
    "luhn": (luhn.calc_check_digit, luhn.is_valid),
}

with open(sys.argv[1], encoding="utf-8") as questions, open(sys.argv[2], "w", encoding="utf-8") as answers:
    for line in questions:
        rule, body, code = line.rstrip("\n").split("\t")
        character, is_valid = RULES[rule]
        verdict = "yes" if is_valid(code) else "no"
        answers.write(f"{character(body)}\t{verdict}\n")
print("python-stdnum", importlib.metadata.version("python-stdnum"))
