"""Identity keys, measures and edits: when two written things are the same thing (docs/contract/README.md, Identity)."""

import re
import unicodedata
from fractions import Fraction

DROPPED = set("./_")


def code_key(text):
    """Trailers, VINs, trackers, cameras, other codes: NFKC, upper case, no white space, dashes, `.`, `/`, `_`."""
    if text is None:
        return None
    upper = unicodedata.normalize("NFKC", str(text)).upper()
    return "".join(c for c in upper if not c.isspace() and unicodedata.category(c) != "Pd" and c not in DROPPED)


def name_key(text):
    """Jobs, fleets, yards, persons: NFKC, case-folded, white space collapsed."""
    if text is None:
        return None
    return " ".join(unicodedata.normalize("NFKC", str(text)).casefold().split())


# --- measures: lengths in millimetres, times in seconds; counts stay counts -------------------------------------------

UNITS = {
    "in": ("mm", Fraction(254, 10)), "mm": ("mm", Fraction(1)), "cm": ("mm", Fraction(10)),
    "s": ("s", Fraction(1)), "min": ("s", Fraction(60)), "h": ("s", Fraction(3600)),
    "°C": ("°C", Fraction(1)),
}
MEASURE = re.compile(r"^\s*(-?)(?:(\d+)\s+)?(\d+(?:\.\d+)?)(?:/(\d+))?\s*([a-z°C]+)?\s*$")


def measure(value, unit=None):
    """A measure as (dimension, exact value); `None` for what is no measure, such as the words `free` and `yes`."""
    if isinstance(value, bool) or value is None:
        return None
    match = MEASURE.match(str(value))
    if not match:
        return None
    minus, whole, number, below, written_unit = match.groups()
    value = (Fraction(number) / int(below or 1) + int(whole or 0)) * (-1 if minus else 1)
    written_unit = written_unit or unit
    if written_unit is None:
        return ("count", value)
    dimension, factor = UNITS[written_unit]
    return (dimension, value * factor)


def amount(value, unit=None):
    """The exact value alone."""
    found = measure(value, unit)
    return None if found is None else found[1]


# --- near misses ------------------------------------------------------------------------------------------------------

def one_edit_apart(a, b):
    """Exactly one insertion, deletion, replacement or swap of neighbours (Damerau-Levenshtein distance 1)."""
    if a == b or abs(len(a) - len(b)) > 1:
        return False
    if len(a) > len(b):
        a, b = b, a
    start = 0
    while start < len(a) and a[start] == b[start]:
        start += 1
    if len(a) < len(b):
        return a[start:] == b[start + 1:]
    if a[start + 1:] == b[start + 1:]:
        return True
    return a[start:start + 2] == b[start:start + 2][::-1] and a[start + 2:] == b[start + 2:]


# --- the check digit of a VIN (49 CFR 565.15) -------------------------------------------------------------------------

VIN_VALUES = {**{str(d): d for d in range(10)},
              **dict(zip("ABCDEFGH", range(1, 9))), **dict(zip("JKLMN", range(1, 6))), "P": 7, "R": 9,
              **dict(zip("STUVWXYZ", range(2, 10)))}
VIN_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)


def vin_fits(key):
    """17 characters without I, O, Q, the ninth being the sum modulo 11; one character 17 times is no VIN."""
    if len(key) != 17 or any(c not in VIN_VALUES for c in key) or len(set(key)) == 1:
        return False
    rest = sum(VIN_VALUES[c] * weight for c, weight in zip(key, VIN_WEIGHTS)) % 11
    return key[8] == ("X" if rest == 10 else str(rest))
