"""Cuts, links, lists and the lives of trailers: the second judge against docs/contract/findings.md."""

import unittest

from tale import PAIR, Tale

OTHER = {"camera": "LC300003", "tracker": "LT400004"}


class Cutting(unittest.TestCase):
    def loaded(self, *readings, wall="plate", **first):
        t = Tale()
        t.opened(load="loaded", wall=wall, **first)
        for name, value in readings:
            t.fact("a", "check", job="J1", check=name, **({"ok": True} if value is True else {"value": value}))
        return t

    def cut(self, t, **more):
        t.fact("a", "check", job="J1", check="hole-cut", ok=True, **more)
        return t.says("cut-without-clearance")

    def test_plate(self):
        clear = [("freight-at-opening", "no"), ("pilot-hole", True), ("first-probe", "free")]
        self.assertIsNone(self.cut(self.loaded(*clear)))
        self.assertEqual(self.cut(self.loaded(*clear[1:]))[0], "stop")
        self.assertEqual(self.cut(self.loaded(("freight-at-opening", "yes"), *clear[1:]))[0], "stop")

    def test_sheet_and_post(self):
        begun = [("freight-at-opening", "no"), ("pilot-hole", True), ("first-probe", "3/8 in"), ("pilot-depth", "5/8 in")]
        for second, entered, clear in (("free", True, True), ("free", False, False), ("5/8 in", True, False),
                                       ("1 in", True, False), ("1 3/4 in", True, False), ("1/4 in", True, False)):
            readings = begun + [("second-probe", second)] + [("second-hole-entered", True)] * entered
            t = self.loaded(*readings, wall="sheet-and-post")
            self.assertEqual(self.cut(t) is None, clear, (second, entered))

    def test_only_a_missed_liner_hole_is_superseded(self):
        begun = [("freight-at-opening", "no"), ("pilot-hole", True), ("first-probe", "3/8 in"), ("pilot-depth", "5/8 in")]
        for first, clear in (("1/4 in", True), ("1 in", False)):
            readings = begun + [("second-probe", first), ("second-probe", "free"), ("second-hole-entered", True)]
            self.assertEqual(self.cut(self.loaded(*readings, wall="sheet-and-post")) is None, clear, first)

    def test_an_undecided_reading_may_be_approved_by_somebody_else_a_blocking_one_not(self):
        for depth, by, clear in (("1 3/4 in", "vera", True), ("1 3/4 in", "mara", False), ("1 in", "vera", False)):
            t = self.loaded(("freight-at-opening", "no"), ("pilot-hole", True), ("first-probe", depth), wall="sheet-and-post")
            t.fact("a", "check", job="J1", check="approval", of="reading", ok=True, by=by)
            self.assertEqual(self.cut(t) is None, clear, (depth, by))

    def test_called_empty_after_a_blocking_reading(self):
        for seen, clear in ((False, False), (True, True)):
            t = self.loaded(("freight-at-opening", "no"), ("pilot-hole", True), ("first-probe", "1/4 in"))
            t.fact("a", "job", job="J1", load="empty")
            if seen:
                t.fact("a", "check", job="J1", check="seen-empty", ok=True)
            self.assertEqual(self.cut(t) is None, clear)

    def test_a_withdrawn_reading_stays_until_it_is_approved(self):
        for by, clear in ((None, False), ("mara", False), ("vera", True)):
            t = self.loaded(("freight-at-opening", "no"), ("pilot-hole", True), ("first-probe", "1/4 in"))
            probe = t.events[-1][2]
            t.fact("a", "withdraw", fact=f"@{probe}", why="slip")
            if by:
                t.fact("a", "check", job="J1", check="approval", of=f"@{probe}", ok=True, by=by)
            t.fact("a", "check", job="J1", check="first-probe", value="free")
            self.assertEqual(self.cut(t) is None, clear, by)
            self.assertEqual(t.says("reading-withdrawn")[0], "note")

    def test_a_pilot_hole_left_open(self):
        t = self.loaded(("freight-at-opening", "no"), ("pilot-hole", True), ("first-probe", "1/4 in"))
        self.assertEqual(t.says("pilot-hole-left-open")[:2], ("stop", "open"))
        t.fact("a", "check", job="J1", check="pilot-sealed", ok=True)
        self.assertEqual(t.says("pilot-hole-left-open")[1], "cleared")


class Linking(unittest.TestCase):
    def test_double_links(self):
        t = Tale()
        t.opened()
        t.link()
        t.merge("a", "b")
        t.opened("b", "J2", "LF2")
        t.link("b", "J2", camera=OTHER["camera"])
        t.link("c", None, tracker=OTHER["tracker"], camera="LC 100001")
        self.assertEqual(t.says("tracker-with-two-cameras"), ("stop", "open", "aware"))
        self.assertEqual(t.says("tracker-on-two-trailers"), ("stop", "open", "aware"))
        self.assertEqual(t.findings()[("camera-on-two-trackers", "LC100001")], ("stop", "open", "unaware"))

    def test_an_unlink_takes_off_only_what_its_recorder_had_seen(self):
        t = Tale()
        t.link("a")
        t.link("b", camera=OTHER["camera"])
        t.fact("b", "unlink", **PAIR)
        self.assertEqual(t.says("tracker-with-two-cameras")[1], "open")
        t.merge("a", "b")
        t.fact("b", "unlink", **PAIR)
        self.assertEqual(t.says("tracker-with-two-cameras")[1], "cleared")

    def test_two_pairs_on_one_trailer(self):
        t = Tale()
        t.opened()
        t.link()
        t.link(**OTHER)
        self.assertEqual(t.says("trailer-with-two-pairs"), ("stop", "open", "aware"))


class Listing(unittest.TestCase):
    def test_another_fleets_part(self):
        t = Tale()
        t.fact("depot", "stock", camera=PAIR["camera"], fleet="Osier Haulage")
        t.opened()
        t.link()
        self.assertEqual(t.says("wrong-fleet"), ("stop", "open", "unaware"))
        t.merge("depot", "b")
        t.fact("b", "stock", camera=PAIR["camera"], fleet="larkspur freight")
        self.assertEqual(t.says("wrong-fleet"), None)

    def test_concurrent_lists_with_the_jobs_fleet_among_them_are_a_question(self):
        t = Tale()
        t.fact("depot", "stock", camera=PAIR["camera"], fleet="Osier Haulage")
        t.fact("b", "stock", camera=PAIR["camera"], fleet="larkspur freight")
        t.opened()
        t.link()
        self.assertEqual(t.says("wrong-fleet")[0], "ask")

    def test_unknown_and_suspect_parts(self):
        for listed, rule in (("LC555555", "unknown-part"), ("LC100010", "code-suspect"), ("LC100001", None)):
            t = Tale()
            t.fact("depot", "stock", camera=listed, fleet="Larkspur Freight")
            t.opened()
            t.link()
            rules = {key[0] for key in t.findings()}
            self.assertEqual(rules, {rule} - {None}, listed)

    def test_another_tracker_than_the_listed_one(self):
        t = Tale()
        t.fact("depot", "stock", trailer="LF-1", tracker=OTHER["tracker"], fleet="Larkspur Freight")
        t.fact("depot", "stock", tracker=PAIR["tracker"], fleet="Larkspur Freight")
        t.opened()
        t.link()
        self.assertEqual(t.says("not-the-listed-tracker")[0], "ask")


class Lives(unittest.TestCase):
    def test_opened_twice(self):
        t = Tale()
        t.opened("a", "J1")
        t.opened("b", "J2", "lf-1")
        self.assertEqual(t.says("trailer-opened-twice"), ("ask", "open", "unaware"))
        t.merge("a", "b")
        t.fact("b", "stand-down", job="j2", why="sealed")
        self.assertEqual(t.says("trailer-opened-twice")[1], "cleared")

    def test_a_plan_opens_nothing(self):
        t = Tale()
        t.opened("a", "J1")
        t.fact("b", "job", job="J2", trailer="LF1", planned="2026-03-11")
        self.assertEqual(t.findings(), {})
        t.fact("b", "scan", job="J2", what="trailer", code="LF1")
        self.assertEqual(t.says("trailer-opened-twice")[0], "ask")

    def test_fields_that_disagree(self):
        t = Tale()
        t.opened("a", "J1", fleet="Larkspur Freight")
        t.merge("a", "b")
        t.fact("a", "job", job="J1", fleet="larkspur  freight")
        t.fact("b", "job", job="J1", fleet="Larkspur Freight")
        self.assertEqual(t.findings(), {})
        t.fact("b", "job", job="J1", yard="Tolland")
        t.fact("a", "job", job="J1", yard="Harrow Street")
        self.assertEqual(t.says("fields-disagree"), ("ask", "open", "unaware"))

    def test_a_ruling_settles_what_it_has_seen_and_a_later_fact_opens_it_again(self):
        t = Tale()
        t.fitted(without=("proof",))
        t.fact("a", "ruling", finding="@signed-without-proof|j1", ruling="accepted", why="seen")
        self.assertEqual((t.says("signed-without-proof")[1], t.relied_on()), ("settled", "by-ruling"))
        t.sign()
        self.assertEqual((t.says("signed-without-proof")[1], t.relied_on()), ("open", "no"))

    def test_a_stand_down_closes_what_was_open_about_sign_offs(self):
        t = Tale()
        t.fitted(without=("proof",))
        t.fact("a", "stand-down", job="J1", why="sealed")
        self.assertEqual(t.says("signed-without-proof")[1], "cleared")

    def test_a_later_job_takes_over(self):
        for purpose, status in (("prove", "cleared"), ("fit", "cleared")):
            t = Tale()
            t.fitted(without=("proof",))
            t.opened(job="J2", purpose=purpose)
            t.checks(job="J2", purpose=purpose)
            if purpose == "fit":
                t.link(job="J2")
            t.live()
            t.proof(job="J2", picture="p2.png")
            t.sign(job="J2")
            self.assertEqual(t.findings(), {("signed-without-proof", "j1"): ("stop", status, "-"), **t_changed(t)})

    def test_a_later_prove_takes_over_only_what_concerns_proofs(self):
        t = Tale()
        t.fitted(without=("live",))
        t.live()
        t.opened(job="J2", purpose="prove")
        t.checks(job="J2", purpose="prove")
        t.proof(job="J2", picture="p2.png")
        t.sign(job="J2")
        self.assertEqual(t.says("signed-before-live")[1], "open")

    def test_two_signed_jobs_that_have_not_seen_each_other(self):
        t = Tale()
        t.fitted("a", "J1")
        t.merge("a", "b")
        t.opened("b", "J2", purpose="prove")
        t.checks("b", "J2", purpose="prove")
        t.proof("b", "J2", "p2.png")
        t.sign("b", "J2")
        self.assertEqual(t.relied_on(), "yes")
        t.opened("c", "J3", purpose="prove")
        t.fact("c", "stand-down", job="J3", why="x")
        self.assertEqual(t.relied_on(), "yes")
        t.sign("a", "J1")
        self.assertEqual(t.relied_on(), "ask")


def t_changed(t):
    """What changed after the first sign-off was seen by the second one, so that it is cleared."""
    return {key: value for key, value in t.findings().items() if key[0] == "changed-after-sign-off" and value[1] == "cleared"}
