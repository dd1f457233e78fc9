"""The steps of a job in the order in which they should be done, and the small ways in which they are not."""

ANSWERS = ("front-wall-seen", "door-frame-seen", "no-jagged-edge", "lens-clear")
PURPOSES = ("fit", "fit", "replace", "prove", "take-off")


class Script:
    """A job on a trailer: its steps are recorded one by one, at the home where the job is."""

    def __init__(self, job, home, steps, after=()):
        self.job, self.home, self.steps, self.after, self.fresh = job, home, steps, list(after), True

    @property
    def done(self):
        return not self.steps

    def step(self, work):
        data, self.fresh = dict(self.steps.pop(0)), False
        if "job" in data:
            data["job"] = work.spell.name(self.job)
        for key in ("camera", "tracker", "trailer"):
            if data.get(key):
                data[key] = work.spell.code(data[key])
        late, clock = 0, None
        if work.chance(0.15, "typed-times"):
            late, clock = work.rng.choice((0, 10, 40, 120, 2000)), "person"
        elif work.chance(0.15, "late-files"):
            late = work.rng.choice((10, 60, 2000))
        elif data["kind"] in ("settings", "proof", "sign-off", "link", "check") and work.chance(0.2, "server-times"):
            late, clock = work.rng.choice((0, 0, 14, 70, 2000)), "reference"
        work.record(self.home, data, late, clock)


def open_scripts(work):
    """The jobs of a day: on each trailer one after the other, or side by side where nobody knew."""
    rng, scripts, number = work.rng, [], 0
    parts = Parts(work)
    for _ in range(rng.choice((1, 1, 2, 3))):
        trailer, before, pair = work.spell.fresh("LF", 4), [], None
        for turn in range(rng.choice((1, 1, 2, 2, 3))):
            number += 1
            purpose = "fit" if turn == 0 and rng.random() < 0.9 else rng.choice(PURPOSES)
            home = rng.choice(work.homes)
            job = f"Job {number}"
            steps, pair = job_steps(work, purpose, trailer, parts, pair)
            waits = [] if work.chance(0.3, "side-by-side") else list(before)
            script = Script(job, home, steps, waits)
            before.append(script)
            scripts.append(script)
    return scripts


class Parts:
    """Cameras and trackers; now and then one that is already somewhere else."""

    def __init__(self, work):
        self.work, self.used = work, {"camera": [], "tracker": []}

    def new(self, sort):
        used = self.used[sort]
        if used and self.work.chance(0.25, "double-parts"):
            return self.work.rng.choice(used)
        used.append(self.work.spell.fresh("LC" if sort == "camera" else "LT"))
        return used[-1]


def job_steps(work, purpose, trailer, parts, old):
    """The steps of one job, and the pair that it leaves on the trailer."""
    rng = work.rng
    about = {"wall": rng.choice(("plate", "sheet-and-post")), "load": rng.choice(("empty", "empty", "loaded")),
             "thickness": rng.choice(("1/2 in", "1/2 in", "1 in"))}
    if purpose == "fit" or old is None:
        pair = (parts.new("camera"), parts.new("tracker"))
    else:
        pair = (parts.new("camera"), old[1]) if purpose == "replace" else old
    opening = {"kind": "job", "job": "", "trailer": trailer, "fleet": work.spell.name("Larkspur Freight"), **about}
    if purpose != "fit" or rng.random() < 0.2:
        opening["purpose"] = purpose
    if purpose in ("fit", "replace") and rng.random() < 0.5:
        opening.update(camera=pair[0], tracker=pair[1])
    steps = [opening]
    if work.chance(0.4, "plans"):
        steps.insert(0, {"kind": "job", "job": "", "trailer": trailer, "planned": "2026-03-02"})
        if rng.random() < 0.5:
            del opening["trailer"]
    tie = {"camera": pair[0], "tracker": pair[1]}
    steps += checks(work, purpose, about)
    if old and (purpose in ("replace", "take-off") or purpose == "fit" and rng.random() < 0.7):
        steps.append({"kind": "unlink", "job": "", "camera": old[0], "tracker": old[1], "why": "worn"})
    if purpose in ("fit", "replace"):
        steps.append({"kind": "link", "job": "", **tie})
        steps += settings(work, tie)
    if purpose != "take-off":
        steps += proof(work)
    if rng.random() < 0.93:
        steps.append({"kind": "sign-off", "job": ""})
        if work.chance(0.3, "sign-again"):
            steps += [s for s in steps[2:] if s["kind"] in ("settings", "proof", "check") and rng.random() < 0.3]
            steps.append({"kind": "sign-off", "job": ""})
    return jumbled(work, steps), None if purpose == "take-off" else pair


def settings(work, tie):
    states = work.rng.choice((["live"], ["asked", "live"], ["asked", "live"]))
    if work.chance(0.5, "settings"):
        states = work.rng.choice((["asked"], ["failed"], ["asked", "failed", "live"], ["live", "failed"], ["live", "asked"],
                                  []))
    one = {"kind": "settings", "job": "", "tracker": tie["tracker"]}
    if work.rng.random() < 0.3:
        one["camera"] = tie["camera"]
    return [{**one, "state": state} for state in states]


def proof(work):
    rng = work.rng
    one, picture = {"kind": "proof", "job": ""}, f"p{rng.randrange(10**4)}.png"
    if work.chance(0.4, "pictures"):
        picture = rng.choice(("p1.png", "p1-copy.png", "torn1.png", "gone1.png", None))
    taken = {**one, "state": "taken"}
    judged = {**one, "state": "judged", "ok": True, "answers": dict.fromkeys(ANSWERS, True)}
    if picture:
        (taken if rng.random() < 0.8 else judged)["picture"] = picture
    if work.chance(0.5, "proofs"):
        kind = rng.randrange(4)
        if kind == 0:
            judged["ok"] = False
        elif kind == 1:
            judged["answers"] = {**judged["answers"], "lens-clear": False}
        elif kind == 2:
            del judged["answers"]["door-frame-seen"]
        else:
            return [{**one, "state": "asked"}, taken, judged, {**judged, "ok": False}]
    return [{**one, "state": "asked"}, taken, judged]


def checks(work, purpose, about):
    """Most complete, some with a check missing or failing."""
    required = work.standard.required(Wanted(purpose, about))
    if work.chance(0.3, "few-checks"):
        required = work.rng.sample(required, min(3, len(required)))
    probes = probing(work, about) if purpose == "fit" and about["load"] == "loaded" else []
    probed = {p["check"] for p in probes}
    steps = []
    for name in required:
        if name in probed or work.chance(0.06, "missing"):
            continue
        steps.append(good(work, name) if not work.chance(0.06, "failing") else bad(work, name))
    cut = next((i for i, s in enumerate(steps) if s["check"] == "hole-diameter"), len(steps))
    if purpose == "fit" and work.rng.random() < 0.5:
        steps.insert(cut, {"kind": "check", "job": "", "check": "hole-cut", "ok": True})
    return steps[:cut] + probes + steps[cut:]


class Wanted:
    def __init__(self, purpose, about):
        from keys import amount
        self.purpose, self.wall, self.load = purpose, about["wall"], about["load"]
        self.thickness_mm = amount(about["thickness"])


def good(work, name):
    check, one = work.standard.checks[name], {"kind": "check", "job": "", "check": name}
    if check["wants"] == "measure":
        value = check.get("value") or check.get("exactly") or check.get("at-least") or "1/2 in"
        return {**one, "value": value}
    if check["wants"] == "wait":
        return {**one, "value": "5 min"}
    if check["wants"] == "yes-or-no":
        return {**one, "value": "no"}
    if check["wants"] == "reading":
        return {**one, "value": "free"}
    return {**one, "ok": True}


def bad(work, name):
    check, one = work.standard.checks[name], {"kind": "check", "job": "", "check": name}
    if check["wants"] == "measure":
        return {**one, "value": 3 if "exactly" in check else "6 in"}
    if check["wants"] == "wait":
        return {**one, "value": "1 min"}
    if check["wants"] == "seen":
        return {**one, "ok": False}
    return good(work, name)


def probing(work, about):
    """The readings of the clearance on a loaded trailer; with the trouble `probes` also those that do not clear."""
    rng = work.rng
    one = {"kind": "check", "job": ""}
    steps = [{**one, "check": "freight-at-opening", "value": "no"}, {**one, "check": "pilot-hole", "ok": True}]
    depth = "free"
    if work.chance(0.6, "probes"):
        depth = rng.choice(("3/8 in", "1 in", "1/2 in", "1 3/4 in", "free"))
        if rng.random() < 0.2:
            steps[0]["value"] = rng.choice(("yes", "cannot-be-seen"))
    steps.append({**one, "check": "first-probe", "value": depth})
    if about["wall"] == "sheet-and-post" and depth == "3/8 in":
        steps.append({**one, "check": "pilot-depth", "value": "5/8 in"})
        depth = rng.choice(("free", "free", "5/8 in", "1 in", "1 3/4 in", "1/4 in"))
        steps.append({**one, "check": "second-probe", "value": depth})
        if rng.random() < 0.8:
            steps.append({**one, "check": "second-hole-entered", "ok": True})
    if work.chance(0.4, "probes"):
        steps.append({**one, "check": "pilot-sealed", "ok": True})
    return steps


def jumbled(work, steps):
    """Steps in a wrong order, lost ones, and some that are done twice."""
    steps = list(steps)
    if work.chance(0.6, "wrong-order"):
        for _ in range(work.rng.choice((1, 2, 4))):
            at = work.rng.randrange(1, len(steps))
            to = min(len(steps), max(1, at + work.rng.choice((-6, -3, -1, 2, 5))))
            steps.insert(to, steps.pop(at))
    if work.chance(0.5, "lost-steps"):
        steps = steps[:1] + [s for s in steps[1:] if work.rng.random() > 0.1]
    return steps
