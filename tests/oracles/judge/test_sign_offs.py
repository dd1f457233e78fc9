"""Sign-offs, proofs and checks: the second judge against the sentences of docs/contract/findings.md."""

import unittest

from tale import PAIR, Tale

OTHER = {"camera": "LC300003", "tracker": "LT400004"}


class Signing(unittest.TestCase):
    def test_a_job_done_right_shows_nothing(self):
        t = Tale()
        t.fitted()
        self.assertEqual((t.findings(), t.relied_on()), ({}, "yes"))

    def test_without_a_link(self):
        t = Tale()
        t.fitted(without=("link",))
        self.assertEqual(t.says("signed-without-link"), ("stop", "open", "-"))
        self.assertEqual(t.relied_on(), "no")

    def test_an_unlink_concurrent_with_the_sign_off_makes_it_unaware(self):
        t = Tale()
        t.fitted(signed=False)
        t.merge("a", "b")
        t.fact("b", "unlink", **PAIR)
        t.sign()
        self.assertEqual(t.says("signed-without-link"), ("stop", "open", "unaware"))

    def test_an_unlink_after_the_sign_off_is_a_change_and_no_fault_of_it(self):
        t = Tale()
        t.fitted()
        t.fact("a", "unlink", **PAIR)
        self.assertEqual({k[0] for k in t.findings()}, {"changed-after-sign-off"})

    def test_settings_must_be_live_after_the_link(self):
        t = Tale()
        t.live()
        t.fitted(without=("live",))
        self.assertEqual(t.says("signed-before-live"), ("stop", "open", "aware"))

    def test_a_failure_after_live_is_not_live(self):
        t = Tale()
        t.fitted(signed=False)
        t.live(state="failed")
        t.sign()
        self.assertEqual(t.says("signed-before-live"), ("stop", "open", "aware"))

    def test_settings_for_another_camera_do_not_count(self):
        t = Tale()
        t.fitted(without=("live",), signed=False)
        t.live(camera=OTHER["camera"])
        t.sign()
        self.assertEqual(t.says("signed-before-live")[0], "stop")

    def test_settings_nobody_can_place_are_a_question(self):
        t = Tale()
        t.fitted(without=("live",), signed=False)
        t.live("b")
        t.sign()
        self.assertEqual(t.says("signed-before-live")[0], "ask")

    def test_recorded_afterwards(self):
        for clock, said in (("device", "ask"), ("person", "ask"), ("reference", None)):
            t = Tale()
            t.opened(at=0)
            t.checks()
            t.link(at=20, clock="reference")
            t.proof()
            sign = t.minute + 10
            t.sign(clock="reference" if clock == "reference" else "device")
            t.live(clock=clock, at=sign - 60)
            severity, status, _ = t.says("signed-before-live")
            self.assertEqual(severity if status == "open" else None, said, clock)

    def test_until_somebody_who_has_seen_it_signs_again(self):
        t = Tale()
        t.fitted(without=("live",))
        t.live(clock="person", at=5)
        t.sign()
        self.assertEqual(t.says("signed-before-live")[1], "cleared")

    def test_proof_not_ok_or_missing(self):
        t = Tale()
        t.fitted(without=("proof",), signed=False)
        t.proof(ok=False)
        t.sign()
        self.assertEqual(t.says("signed-without-proof"), ("stop", "open", "aware"))

    def test_a_take_off_needs_no_proof_but_the_link_gone(self):
        t = Tale()
        t.fitted()
        t.opened(job="J2", purpose="take-off")
        t.fact("a", "check", job="J2", check="hole-closed", ok=True)
        t.sign(job="J2")
        self.assertEqual(t.findings()[("signed-without-link", "j2")], ("stop", "open", "aware"))
        t.fact("a", "unlink", job="J2", **PAIR)
        t.sign(job="J2")
        self.assertEqual(t.findings()[("signed-without-link", "j2")][1], "cleared")
        self.assertEqual(t.relied_on(), "taken-off")

    def test_planned_parts_that_were_not_linked(self):
        t = Tale()
        t.opened(camera="LC999999")
        t.checks()
        t.link()
        t.live()
        t.proof()
        t.sign()
        self.assertEqual(t.says("planned-not-linked")[0], "ask")


class Proving(unittest.TestCase):
    def test_a_picture_of_the_pair_before(self):
        t = Tale()
        t.opened()
        t.checks()
        t.proof()
        t.link()
        t.live()
        t.sign()
        self.assertEqual(t.says("proof-of-another-pair"), ("stop", "open", "aware"))

    def test_asked_before_the_settings_were_live(self):
        t = Tale()
        t.opened()
        t.checks()
        t.link()
        t.proof()
        t.live()
        t.sign()
        self.assertEqual(t.says("proof-out-of-order"), ("ask", "open", "aware"))

    def test_answers(self):
        t = Tale()
        t.fitted(without=("proof",), signed=False)
        t.fact("a", "proof", job="J1", state="judged", ok=True, picture="p1.png", answers={"lens-clear": True})
        self.assertEqual(t.says("proof-answers-disagree"), ("stop", "open", "-"))

    def test_pictures_that_are_not_there(self):
        for name, wrong in (("p1.png", False), ("torn1.png", True), ("gone1.png", True)):
            t = Tale()
            t.fitted(picture=name)
            self.assertEqual(t.says("proof-without-picture") is not None, wrong, name)

    def test_one_picture_for_two_trailers_until_both_are_proven_again(self):
        t = Tale()
        t.fitted(picture="p1.png")
        t.fitted(job="J2", trailer="LF2", pair=OTHER, picture="p1-copy.png")
        self.assertEqual(t.says("picture-used-twice"), ("stop", "open", "aware"))
        t.proof(picture="p2.png")
        self.assertEqual(t.says("picture-used-twice")[1], "open")
        t.proof(job="J2", picture="p3.png")
        self.assertEqual(t.says("picture-used-twice")[1], "cleared")

    def test_an_audit_must_not_show_the_picture_of_the_fitting(self):
        t = Tale()
        t.fitted(picture="p1.png")
        t.opened(job="J2", purpose="prove")
        t.proof(job="J2", picture="p1.png")
        self.assertEqual(t.says("picture-used-twice")[0], "stop")


class Checking(unittest.TestCase):
    def test_missing(self):
        t = Tale()
        t.fitted(without=("lens-untouched",))
        self.assertEqual(t.says("check-missing"), ("ask", "open", "-"))
        t.fact("a", "check", job="J1", check="lens-untouched", ok=True)
        self.assertEqual(t.says("check-missing")[1], "open")
        t.sign()
        self.assertEqual(t.says("check-missing")[1], "cleared")

    def test_failed(self):
        t = Tale()
        t.fitted(without=("rivet-count",), signed=False)
        t.fact("a", "check", job="J1", check="rivet-count", value=5)
        t.sign()
        self.assertEqual(t.says("check-failed"), ("stop", "open", "aware"))

    def test_a_place_for_the_office_needs_somebody_else_before_the_cut(self):
        for by, before, said in (("vera", True, None), ("mara", True, "ask"), ("vera", False, "ask")):
            t = Tale()
            t.opened()
            t.fact("a", "check", job="J1", check="placement-top", value="4 in")
            approval = {"job": "J1", "check": "approval", "ok": True, "by": by}
            if before:
                t.fact("a", "check", **approval)
            t.checks(without=("placement-top",))
            if not before:
                t.fact("a", "check", **approval)
            t.link()
            t.live()
            t.proof()
            t.sign()
            found = t.says("check-failed")
            self.assertEqual(found and found[0], said, (by, before))

    def test_failures_after_the_sign_off(self):
        for data in ({"kind": "check", "check": "rivet-count", "value": 5}, {"kind": "settings", "state": "failed", **PAIR},
                     {"kind": "proof", "state": "judged", "ok": False}):
            t = Tale()
            t.fitted()
            t.fact("a", job="J1", **data)
            self.assertEqual(t.says("failed-after-sign-off"), ("stop", "open", "aware"), data)

    def test_an_audit_that_fails_speaks_against_the_fitting(self):
        t = Tale()
        t.fitted()
        t.opened(job="J2", purpose="prove")
        t.proof(job="J2", picture="p2.png", ok=False)
        self.assertEqual(t.findings()[("failed-after-sign-off", "j1")], ("stop", "open", "aware"))
        self.assertEqual(t.relied_on(), "no")
