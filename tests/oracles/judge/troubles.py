"""What else happens in a yard: slips, second thoughts, rulings, lists, and words said afterwards."""

from judge import standing_causes
from keys import code_key
from scripts import ANSWERS
from story import Day
from view import View

# Those of scripts.py and days.py, and the steps below.
TROUBLES = ["people", "other-home", "typed-times", "late-files", "server-times", "side-by-side", "double-parts", "plans",
            "sign-again", "settings", "pictures", "proofs", "few-checks", "missing", "failing", "probes", "wrong-order",
            "lost-steps", "spelling",
            "unlinking", "relinking", "jobless", "fields", "withdrawing", "approving", "ruling", "standing-down", "stock",
            "listing", "failing-later", "signing-later", "unknown-kinds", "proving-later", "recorded-late",
            "scanning", "placing"]
RULINGS = ("accepted", "corrected", "void")
OWN_STEPS = TROUBLES[TROUBLES.index("unlinking"):]


def trouble_step(work, scripts, home=None):
    """One thing that goes wrong, or is put right, at some home by what is known there."""
    names = [name for name in OWN_STEPS if name in work.troubles]
    if names:
        home = home or work.rng.choice(work.homes)
        known = [fact for fact in work.known[home] if fact[2]["kind"] != "withdraw"]
        if known:
            STEPS[work.rng.choice(names)](work, home, known)


def of_kind(known, *kinds):
    return [fact for fact in known if fact[2]["kind"] in kinds]


def pick(work, facts):
    return work.rng.choice(facts) if facts else None


def say(work, home, data):
    clock = "person" if work.chance(0.3, "recorded-late") else None
    return work.record(home, data, work.rng.choice((30, 200, 2000)) if clock else 0, clock)


def tie_of(data):
    return {key: data[key] for key in ("camera", "tracker")}


def unlinking(work, home, known):
    link = pick(work, of_kind(known, "link"))
    if link:
        extra = {} if work.rng.random() < 0.5 or "job" not in link[2] else {"job": link[2]["job"]}
        say(work, home, {"kind": "unlink", **extra, **tie_of(link[2]), "why": "wrong carton"})


def relinking(work, home, known):
    link, other = pick(work, of_kind(known, "link")), pick(work, of_kind(known, "link"))
    if link:
        tie = {"camera": other[2]["camera"], "tracker": link[2]["tracker"]}
        say(work, home, {"kind": "link", **({"job": link[2]["job"]} if "job" in link[2] else {}), **tie})


def jobless(work, home, known):
    link = pick(work, of_kind(known, "link"))
    if link:
        say(work, home, {"kind": "link", **tie_of(link[2])})


def fields(work, home, known):
    job = pick(work, of_kind(known, "job"))
    change = work.rng.choice(({"load": "loaded"}, {"load": "empty"}, {"wall": "plate"}, {"thickness": "1 in"},
                              {"fleet": "Osier Haulage"}, {"fleet": "larkspur  freight"}, {"yard": "Tolland"}))
    say(work, home, {"kind": "job", "job": job[2]["job"], **change}) if job else None


def withdrawing(work, home, known):
    """Mostly of one's own; also of somebody else's, of an opening and of a withdrawal, which are rejected."""
    mine = [f for f in known if f[1] == home]
    last = [f for f in mine if f[2]["kind"] in ("check", "settings", "proof", "link", "sign-off")][-6:]
    fact = pick(work, known if work.rng.random() < 0.15 else last or mine)
    if work.rng.random() < 0.03:
        fact = pick(work, of_kind(work.known[home], "withdraw")) or fact
    if fact:
        say(work, home, {"kind": "withdraw", "fact": f"@{fact[0]}", "why": "a slip of the pen"})


def approving(work, home, known):
    check = pick(work, of_kind(known, "check"))
    if check:
        taken_back = [f[2]["fact"] for f in work.known[home] if f[2]["kind"] == "withdraw"]
        of = work.rng.choice([{}, {"of": "place"}, {"of": "reading"}, *({"of": t} for t in taken_back[-3:])])
        by = work.rng.choice(("bram", "vera", "mara"))
        work.record(home, {"kind": "check", "job": check[2]["job"], "check": "approval", "ok": True, **of}, by=by)


def scanning(work, home, known):
    """Labels, some of them read wrong; a VIN that fits, or does not."""
    job, link = pick(work, of_kind(known, "job")), pick(work, of_kind(known, "link"))
    sort = work.rng.choice(("camera", "tracker", "trailer", "vin"))
    if job and sort == "vin":
        vin = work.rng.choice(("1G4AH59H45G118341", "1G4AH59H55G118341", "1m8gdm9axkp042788"))
        say(work, home, {"kind": "job", "job": job[2]["job"], "vin": vin})
    elif job and link:
        code = code_key(link[2].get(sort) or job[2].get("trailer") or "LF1")
        code = work.spell.near(code) if work.rng.random() < 0.4 and len(code) > 5 else code
        say(work, home, {"kind": "scan", "job": job[2]["job"], "what": sort, "code": work.spell.code(code)})


def placing(work, home, known):
    """Places outside the default one, with what makes them good, and what does not."""
    job = pick(work, of_kind(known, "job"))
    if job:
        name, value = work.rng.choice((("placement-rear", "20 in"), ("placement-rear", "40 in"), ("placement-rear", "3 in"),
                                       ("placement-top", "3 in"), ("post-distance", "4 in"), ("thickness", "1 in")))
        one = {"kind": "check", "job": job[2]["job"]}
        say(work, home, {**one, "check": name, "value": value})
        good = {"placement-rear": "lock-rods-would-strike", "post-distance": "post-covered"}.get(name)
        if good and work.rng.random() < 0.5:
            say(work, home, {**one, "check": good, "ok": work.rng.random() < 0.8})


def ruling(work, home, known):
    """About a finding that stands open in the view of this home, or now and then about one that does not."""
    names = open_there(work, home)
    if work.rng.random() < 0.1:
        names += [("check-missing", "job 1")]
    if names:
        name = "@" + "|".join(work.rng.choice(names))
        say(work, home, {"kind": "ruling", "finding": name, "ruling": work.rng.choice(RULINGS), "why": "looked at it"})


def open_there(work, home):
    tags = {fact[0] for fact in work.known[home]}
    facts = [f for f in Day(work.homes, work.events).facts() if f.tag in tags]
    causes = standing_causes(View(facts, work.standard, work.homes[0]))
    return [key for key, cause in sorted(causes.items()) if cause.status == "open" and not key[1].startswith("device")]


def standing_down(work, home, known):
    job = pick(work, of_kind(known, "job"))
    if job and work.rng.random() < 0.5:
        say(work, home, {"kind": "stand-down", "job": job[2]["job"], "why": "sealed"})


def stock(work, home, known):
    fact = pick(work, of_kind(known, "link", "settings"))
    if fact:
        sort = work.rng.choice(("camera", "tracker") if fact[2].get("camera") else ("tracker",))
        code = fact[2][sort]
        if work.rng.random() < 0.3:
            code = work.spell.near(code_key(code))
        fleet = work.rng.choice(("Larkspur Freight", "Larkspur Freight", "Osier Haulage"))
        say(work, home, {"kind": "stock", sort: code, "fleet": fleet})


def listing(work, home, known):
    job, link = pick(work, [f for f in of_kind(known, "job") if "trailer" in f[2]]), pick(work, of_kind(known, "link"))
    if job and link:
        on_it = {"trailer": job[2]["trailer"], "tracker": link[2]["tracker"]}
        say(work, home, {"kind": "stock", **on_it, "fleet": "Larkspur Freight"})


def failing_later(work, home, known):
    job, link = pick(work, of_kind(known, "sign-off")), pick(work, of_kind(known, "link"))
    if not job:
        return
    one = {"job": job[2]["job"]}
    choices = [{"kind": "check", **one, "check": "rivet-count", "value": 5},
               {"kind": "check", **one, "check": "lens-untouched", "ok": False},
               {"kind": "proof", **one, "state": "judged", "ok": False}]
    if link:
        choices += [{"kind": "settings", "tracker": link[2]["tracker"], "state": s} for s in ("failed", "live", "asked")]
    say(work, home, work.rng.choice(choices))


def signing_later(work, home, known):
    job = pick(work, of_kind(known, "link", "proof", "sign-off"))
    if job and "job" in job[2]:
        say(work, home, {"kind": "sign-off", "job": job[2]["job"]})


def unknown_kinds(work, home, known):
    job = pick(work, of_kind(known, "job"))
    say(work, home, {"kind": "weighed", **({"job": job[2]["job"]} if work.rng.random() < 0.7 else {}), "tons": 12})


def proving_later(work, home, known):
    proof = pick(work, of_kind(known, "proof"))
    if proof:
        state = work.rng.choice(("asked", "taken", "judged"))
        extra = {"ok": work.rng.random() < 0.7, "answers": dict.fromkeys(ANSWERS, True)} if state == "judged" else {}
        picture = {"picture": f"p{work.rng.randrange(10**4)}.png"} if state == "taken" else {}
        say(work, home, {"kind": "proof", "job": proof[2]["job"], "state": state, **extra, **picture})


def recorded_late(work, home, known):
    """Settings, checks or a judgement that are recorded after the sign-off, with an earlier time of some clock."""
    fact = pick(work, of_kind(known, "settings", "check", "proof"))
    if fact:
        data = {key: value for key, value in fact[2].items() if key not in ("by", "at", "clock")}
        clock = work.rng.choice(("person", "reference", None))
        work.record(home, data, work.rng.choice((60, 400, 3000)), clock)


STEPS = {"unlinking": unlinking, "relinking": relinking, "jobless": jobless, "fields": fields, "withdrawing": withdrawing,
         "approving": approving, "ruling": ruling, "standing-down": standing_down, "stock": stock, "listing": listing,
         "failing-later": failing_later, "signing-later": signing_later, "unknown-kinds": unknown_kinds,
         "proving-later": proving_later, "recorded-late": recorded_late, "scanning": scanning,
         "placing": placing}
