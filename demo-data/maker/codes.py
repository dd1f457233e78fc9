"""The code scheme of the demo day: invented parts, invented trailers, real check characters.

Camera   `LC-` + 6 letters or digits + one ISO/IEC 7064 MOD 37,36 check character over `LC` and the six.
Tracker  `LT`  + 8 digits + one Luhn digit (ISO/IEC 7812-1) over the eight.
VIN      17 characters; position 9 by 49 CFR 565.15. The prefix `0LK` starts with a zero, which no region of
         the world uses for its makers, so no real trailer can carry it (from memory of ISO 3780).
"""

ALNUM = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
# I, O and Q are left out of what is printed: they look like 1 and 0.
CLEAR = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"
VIN_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
VIN_VALUES = dict(zip("ABCDEFGHJKLMNPRSTUVWXYZ", (1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 5, 7, 9, 2, 3, 4, 5, 6, 7, 8, 9)))
VIN_VALUES.update({d: int(d) for d in "0123456789"})


def mod37_36(text):
    """The check character of ISO/IEC 7064 MOD 37,36 for `text` (letters and digits)."""
    product = 36
    for char in text:
        product = (product + ALNUM.index(char)) % 36 or 36
        product = product * 2 % 37
    return ALNUM[(37 - product) % 36]


def luhn(digits):
    """The Luhn digit that completes `digits`."""
    total = 0
    for place, digit in enumerate(reversed(digits)):
        value = int(digit) * (2 if place % 2 == 0 else 1)
        total += value - 9 if value > 9 else value
    return str(-total % 10)


def vin_check(vin):
    """What position 9 of `vin` must be (whatever stands there counts nothing)."""
    rest = sum(VIN_VALUES[c] * w for c, w in zip(vin, VIN_WEIGHTS)) % 11
    return "X" if rest == 10 else str(rest)


def camera_ok(code):
    body = code.replace("-", "")
    return code.startswith("LC-") and len(body) == 9 and mod37_36(body[:-1]) == body[-1]


def tracker_ok(code):
    return code.startswith("LT") and len(code) == 11 and code[2:].isdigit() and luhn(code[2:-1]) == code[-1]


def vin_ok(vin):
    return len(vin) == 17 and not set(vin) & set("IOQ") and vin_check(vin) == vin[8]


def distance(a, b):
    """The true Damerau-Levenshtein distance (CA to ABC is 2)."""
    table, last = {}, {}
    far = len(a) + len(b)
    table[-1, -1] = far
    for i in range(len(a) + 1):
        table[i, -1], table[i, 0] = far, i
    for j in range(len(b) + 1):
        table[-1, j], table[0, j] = far, j
    for i in range(1, len(a) + 1):
        match = 0
        for j in range(1, len(b) + 1):
            i1, j1 = last.get(b[j - 1], 0), match
            same = a[i - 1] == b[j - 1]
            match = j if same else match
            table[i, j] = min(
                table[i - 1, j - 1] + (not same),
                table[i, j - 1] + 1,
                table[i - 1, j] + 1,
                table[i1 - 1, j1 - 1] + (i - i1 - 1) + 1 + (j - j1 - 1),
            )
        last[a[i - 1]] = i
    return table[len(a), len(b)]


def apart(code, others, least):
    return all(abs(len(code) - len(o)) >= least or distance(code, o) >= least for o in others)


def cameras(rng, count):
    """`count` camera codes, any two of them at least three edits apart."""
    made = []
    while len(made) < count:
        body = "LC" + "".join(rng.choice(CLEAR) for _ in range(6))
        code = f"LC-{body[2:]}{mod37_36(body)}"
        if code[-1] in CLEAR and apart(code, made, 3):
            made.append(code)
    return made


def trackers(rng, count):
    """`count` tracker codes, any two of them at least three edits apart."""
    made = []
    while len(made) < count:
        digits = "".join(rng.choice("0123456789") for _ in range(8))
        code = f"LT{digits}{luhn(digits)}"
        if apart(code, made, 3):
            made.append(code)
    return made


def trailers(rng, count):
    """`count` pairs of unit number and VIN."""
    units = sorted(rng.sample(range(5210, 5690), count))
    rng.shuffle(units)
    return [(f"LF {unit}", make_vin(rng, unit)) for unit in units]


def make_vin(rng, unit):
    model, year, plant = rng.choice(("5TV53", "5TS53", "5TV48")), rng.choice("NPRS"), rng.choice("HT")
    vin = f"0LK{model}0{year}{plant}{rng.randrange(10, 99)}{unit}"
    return vin[:8] + vin_check(vin) + vin[9:]


def self_test():
    """Published or well-known values; the sources are named in crates/trade/src/codes."""
    assert mod37_36("A12425GABC1234002") == "M", "ISO/IEC 7064 MOD 37,36"
    assert luhn("7992739871") == "3", "Luhn, ISO/IEC 7812-1"
    assert vin_check("1G4AH59H45G118341") == "4" and vin_check("1M8GDM9AXKP042788") == "X", "49 CFR 565.15"
    assert distance("CA", "ABC") == 2 and distance("5312", "5321") == 1, "Damerau-Levenshtein"
