"""What is recorded on one trailer, step by step (TRADE §1 to §3). Generators for work.Person."""

from dataclasses import dataclass

ANSWERS = ("front-wall-seen", "door-frame-seen", "no-jagged-edge", "lens-clear")


# Wall, load and thickness as they come in this yard; the loaded ones are about one in four.
WALLS = (
    ("plate", "empty", "1/2 in"),
    ("plate", "empty", "9/16 in"),
    ("sheet-and-post", "empty", "5/8 in"),
    ("sheet-and-post", "empty", "3/4 in"),
    ("sheet-and-post", "empty", "7/8 in"),
    ("plate", "loaded", "1/2 in"),
    ("sheet-and-post", "loaded", "5/8 in"),
    ("plate", "empty", "1/2 in"),
)
# Within the tolerances of the default work standard, as people read their tapes.
TOPS = ("1 in", "1 in", "7/8 in", "1 1/8 in", "25 mm")
REARS = ("12 in", "12 in", "12 1/4 in", "11 3/4 in", "305 mm")
POSTS = ("13 in", "14 in", "15 1/2 in", "12 1/2 in")


@dataclass
class Job:
    """One visit to one trailer."""

    name: str
    trailer: str
    vin: str
    tracker: str
    camera: str
    assigned: str
    wall: str = "plate"
    load: str = "empty"
    thickness: str | None = "1/2 in"
    first_probe: str = "free"
    place: tuple = (TOPS[0], REARS[0], POSTS[0])
    refused_once: bool = False
    pictures: int = 0

    def line(self, kind, **keys):
        return {"kind": kind, "job": self.name} | keys

    def do(self, seconds, kind, **keys):
        return ("do", seconds, self.line(kind, **keys))

    def next_picture(self):
        """The file of the next picture of this trailer; no two pictures of the day are alike (see pictures.py)."""
        self.pictures += 1
        return f"proof-{self.name}.png" if self.pictures == 1 else f"proof-{self.name}-{self.pictures}.png"

    def check(self, seconds, name, **keys):
        return self.do(seconds, "check", check=name, **keys)


def opened(job):
    fields = {"trailer": job.trailer, "vin": job.vin, "fleet": "Larkspur Freight", "yard": "Tolland"}
    fields |= {"tracker": job.tracker, "wall": job.wall, "load": job.load}
    if job.thickness:
        fields["thickness"] = job.thickness
    yield job.do(220, "job", **fields, assigned=job.assigned)
    yield job.do(20, "scan", what="trailer", code=job.trailer, symbology="code-39")
    yield job.do(35, "scan", what="tracker", code=job.tracker, symbology="data-matrix")


def looked_over(job, reporting=True):
    yield job.check(25, "tracker-reporting", ok=reporting)
    if reporting:
        yield job.check(40, "kit-complete", ok=True)


def marked_out(job):
    top, rear, post = job.place
    yield job.check(0, "side", ok=True)
    yield job.check(0, "lock-rods-checked", ok=True)
    yield job.check(40, "clear-of-markings", ok=True)
    yield job.check(30, "placement-top", value=top)
    yield job.check(25, "placement-rear", value=rear)
    yield job.check(25, "post-distance", value=post)


def cleared_to_cut(job):
    """The readings that a loaded trailer needs; each run ends in `clear`. An empty one needs none."""
    if job.load == "empty":
        return
    yield job.check(60, "freight-at-opening", value="no")
    yield job.check(90, "pilot-hole", ok=True)
    if job.first_probe == "7/16 in":
        yield job.check(40, "first-probe", value="7/16 in")
        yield job.check(60, "pilot-depth", value="5/8 in")
        yield job.check(40, "second-probe", value="free")
        yield job.check(0, "second-hole-entered", ok=True)
    else:
        yield job.check(40, "first-probe", value=job.first_probe)


def probed_blocked(job):
    """Nobody saw freight, but the probe meets it at one inch: blocked."""
    yield job.check(60, "freight-at-opening", value="no")
    yield job.check(90, "pilot-hole", ok=True)
    yield job.check(40, "first-probe", value="1 in")


def cut(job):
    if job.load == "loaded":
        yield job.check(0, "saw-limited", ok=True)
        yield job.check(120, "hole-cut", ok=True)
    yield job.check(150, "hole-diameter", value="1 3/4 in")
    yield job.check(0, "deburred", ok=True)
    if job.thickness == "7/8 in":
        yield job.check(180, "inner-cut-offset", value="10 1/2 in")


def stuck_on(job):
    """Clean, prime, let the primer dry, press the tape on, rivet, screw."""
    yield job.check(70, "surface-prepared", ok=True)
    yield job.check(310, "primer-wait", value="4 min")
    yield job.check(0, "bracket-aligned", ok=True)
    yield job.check(40, "tape-pieces", value=4)
    if job.load == "loaded":
        yield job.check(0, "rivet-drill-limited", ok=True)
    yield job.check(110, "rivet-count", value=8)
    yield job.check(50, "camera-screws", value=4)
    yield job.check(10, "lens-untouched", ok=True)


def scanned_camera(job, code=None, **more):
    yield job.do(20, "scan", what="camera", code=code or job.camera, symbology="qr", **more)


def linked(job, camera=None, **more):
    yield job.do(25, "link", camera=camera or job.camera, tracker=job.tracker, **more)


def settings(job, state, seconds=20, camera=None, clock="reference", **more):
    keys = {"clock": clock} if state != "asked" and clock else {}
    yield job.do(seconds, "settings", tracker=job.tracker, camera=camera or job.camera, state=state, **keys, **more)


def set_up(job, camera=None):
    yield from settings(job, "asked", camera=camera)
    yield ("wait", 200)
    yield from settings(job, "live", camera=camera)


def set_up_twice(job):
    """The tracker refuses the settings once, and takes them the second time."""
    yield from settings(job, "asked")
    yield ("wait", 150)
    yield from settings(job, "failed")
    yield from set_up(job)


def closed_up(job):
    yield job.check(45, "label-moved", ok=True)
    yield job.check(35, "doors-closed", ok=True)


def asked(job):
    """The request's time is the server's, as the picture's is: so nobody has to guess which came first."""
    yield job.do(15, "proof", clock="reference", state="asked")


def proof(job, bad=(), **more):
    """Asks for the picture, waits, looks at it and answers the four questions."""
    yield from asked(job)
    yield ("wait", 260)
    yield from proof_came(job, bad, **more)


def proof_came(job, bad=(), **more):
    yield ("do", 20, job.line("proof", state="taken", taken_at="now", picture=job.next_picture()))
    yield from judged(job, bad, **more)


def judged(job, bad=(), **more):
    answers = {name: name not in bad for name in ANSWERS}
    yield job.do(40, "proof", state="judged", answers=answers, ok=not bad, **more)


def signed(job, seconds=15):
    yield job.do(seconds, "sign-off")


def fitted(job):
    """Everything up to the link, for an empty or a loaded trailer."""
    yield from marked_out(job)
    yield from cleared_to_cut(job)
    yield from cut(job)
    yield from stuck_on(job)
    yield from scanned_camera(job)


def clean(job):
    """The whole of an ordinary job."""
    yield from opened(job)
    yield from looked_over(job)
    yield from fitted(job)
    yield from linked(job)
    yield from set_up_twice(job) if job.refused_once else set_up(job)
    yield from closed_up(job)
    yield from proof(job)
    yield from signed(job)
