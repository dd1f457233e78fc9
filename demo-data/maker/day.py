"""The day in Tolland yard: who does which trailer when, and what goes wrong on purpose.

Every generator below is one trailer; what is not named here is an ordinary job (jobs.clean). The story's
meetings lie between the files: see ../story.toml, whose order is the causal order.
"""

import random
from datetime import datetime, timedelta, timezone

from . import codes, incidents, jobs
from .jobs import Job
from .work import Person, stamped

YARD = timezone(timedelta(hours=-5))
FLEET, NEIGHBOUR = "Larkspur Freight", "Osier Haulage"
SEED = 20260302


def at(text, day=2):
    hour, minute = map(int, text.split(":"))
    return datetime(2026, 3, day, hour, minute, tzinfo=YARD)


# The minute in which mara signs M14 and ilse records that its settings are live.
LIVE_AT = at("21:58")
CARTON = "label read from a carton, the camera was up already"
LEFT_CARTON = "label read from a carton that stood by the trailer, the camera was up already"


class Day:
    """The parts, the trailers and the people; `files` is what the generator writes."""

    def __init__(self):
        rng = random.Random(SEED)
        cameras, trackers = codes.cameras(rng, 72), codes.trackers(rng, 72)
        self.cameras, self.osier_cameras = cameras[:66], cameras[66:]
        self.trackers, self.osier_trackers = trackers[:66], trackers[66:]
        self.rng = rng
        self.people = {who: Person(who, random.Random(f"{SEED} {who}")) for who in ("mara", "ilse", "tomas")}
        self.plan = self._plan(codes.trailers(rng, 60))
        self.spare = self.cameras[64]
        self.bad_code = self._one_character_wrong(self["T05"].camera)
        self.files = {}

    def __getitem__(self, short):
        return self.plan[short]

    def _plan(self, trailers):
        """Sixty jobs: `M01` to `M20`, `I01` to `I20`, `T01` to `T20`, each with its parts."""
        plan = {}
        for number, (trailer, vin) in enumerate(trailers):
            who = ("mara", "ilse", "tomas")[number // 20]
            short = f"{who[0].upper()}{number % 20 + 1:02}"
            kind = jobs.WALLS[self.rng.randrange(len(jobs.WALLS))]
            job = Job(f"0302-{short}", trailer, vin, self.trackers[number], self.cameras[number], who, *kind)
            job.place = tuple(self.rng.choice(values) for values in (jobs.TOPS, jobs.REARS, jobs.POSTS))
            job.first_probe = self.rng.choice(("free", "free", "1 in" if job.wall == "plate" else "2 1/4 in"))
            plan[short] = job
        return plan

    def make(self):
        self._shape()
        self._stock()
        self._afternoon()
        self._evening()
        self._night()
        self._correction()
        return self.files

    def _one_character_wrong(self, code):
        """`code` as somebody types it who takes one character for another; the check character shows it."""
        wrong = code[:6] + ("8" if code[6] != "8" else "B") + code[7:]
        assert not codes.camera_ok(wrong)
        return wrong

    def _shape(self):
        """What the story needs to be so and not otherwise."""
        loaded, empty = ("sheet-and-post", "loaded", "5/8 in"), ("sheet-and-post", "empty", "5/8 in")
        for short in ("M01", "I02", "I09", "T03"):
            self[short].wall, self[short].load, self[short].thickness = loaded
            self[short].first_probe = "free"
        for short in ("M05", "M07", "M08", "M11", "M14", "M16", "M17", "I06", "I13", "T05", "T18"):
            self[short].wall, self[short].load, self[short].thickness = empty
        self["M08"].thickness = None
        for short in ("I02", "T03"):
            self[short].first_probe = "7/16 in"
        self["M10"].refused_once = True
        # The same trailer, with the tracker that it carries, opened by two people.
        twin, first = self["T12"], self["M11"]
        for field in ("trailer", "vin", "tracker", "wall", "load", "thickness"):
            setattr(twin, field, getattr(first, field))
        # Taken from the neighbour's box: wrong-fleet.
        self["I17"].camera = self.osier_cameras[2]

    def _stock(self):
        lines, now = [], at("07:20")
        parts = [("camera", c, FLEET) for c in self.cameras] + [("tracker", t, FLEET) for t in self.trackers]
        parts += [("camera", c, NEIGHBOUR) for c in self.osier_cameras]
        parts += [("tracker", t, NEIGHBOUR) for t in self.osier_trackers]
        lines.append(stamped({"kind": "note", "text": "Stock list of the morning, counted by hand"}, now, now, "bram"))
        for key, code, fleet in parts:
            now += timedelta(seconds=4)
            lines.append(stamped({"kind": "stock", key: code, "fleet": fleet}, now, now, "bram"))
        self.files["01-stock.jsonl"] = lines

    def _clean(self, *shorts):
        return [jobs.clean(self[short]) for short in shorts]

    def _file(self, name, who, start, todo, until):
        self.files[name] = self.people[who].work(start, todo, until)

    def _afternoon(self):
        day, it = self, incidents
        mara = [*day._clean("M01", "M02", "M03", "M04", "M06"), it.until_the_meeting(day["M05"])]
        mara += [it.handed_over(day["M07"]), it.begun(day["M08"])]
        self._file("02-mara-afternoon.jsonl", "mara", at("15:30"), mara, at("18:40"))
        ilse = [*day._clean("I01", "I02", "I03"), it.wrong_label(day["I04"], day["M03"].camera, CARTON), *day._clean("I05", "I08")]
        self._file("03-ilse-afternoon.jsonl", "ilse", at("15:35"), ilse, at("18:40"))
        tomas = [*day._clean("T01", "T02", "T03"), it.misread(day["T05"], self.bad_code), *day._clean("T04", "T06")]
        self._file("04-tomas-afternoon.jsonl", "tomas", at("15:30"), tomas, at("18:40"))

    def _evening(self):
        day, it = self, incidents
        mara = [it.thickness_from_memory(day["M08"]), *day._clean("M11", "M09", "M10", "M12", "M13")]
        mara += [it.until_the_second_meeting(day["M14"], LIVE_AT)]
        self._file("05-mara-evening.jsonl", "mara", at("18:48"), mara, at("21:40"))
        ilse = [it.signed_early(day["I06"]), *day._clean("I07"), it.blocked(day["I09"]), *day._clean("I10")]
        ilse += [it.second_camera(day["I13"], self.spare), *day._clean("I11")]
        self._file("06-ilse-evening.csv", "ilse", at("18:46"), ilse, at("21:40"))
        tomas = [it.taken_over(day["M07"]), it.thickness_measured(day["M08"]), it.walked_away(day["T12"])]
        tomas += [it.wrong_label(day["T09"], day["M05"].camera, LEFT_CARTON), *day._clean("T07", "T08", "T10")]
        self._file("07-tomas-evening.jsonl", "tomas", at("18:50"), tomas, at("21:40"))

    def _night(self):
        day, it = self, incidents
        mara = [*day._clean("M15"), it.no_picture(day["M16"], day["M17"]), *day._clean("M18", "M19", "M20")]
        self._file("08-mara-night.jsonl", "mara", at("21:56"), mara, at("01:50", 3))
        ilse = [it.live_elsewhere(day["M14"], LIVE_AT), *day._clean("I12", "I14", "I15", "I17")]
        ilse += day._clean("I16", "I18", "I19", "I20")
        self._file("09-ilse-night.jsonl", "ilse", at("21:57"), ilse, at("01:50", 3))
        tomas = [*day._clean("T11", "T13", "T14"), it.never_linked(day["T15"]), *day._clean("T16", "T17")]
        tomas += [it.not_reporting(day["T18"]), *day._clean("T19", "T20")]
        self._file("10-tomas-night.jsonl", "tomas", at("21:45"), tomas, at("01:50", 3))

    def _correction(self):
        todo = [incidents.corrected(self["I13"], self.spare)]
        self._file("11-ilse-correction.jsonl", "ilse", at("02:32", 3), todo, at("03:10", 3))
