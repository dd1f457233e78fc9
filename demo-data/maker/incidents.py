"""The jobs of the day that do not go the ordinary way. Each says which finding it makes, if any."""

from . import jobs


def until_linked(job):
    """From the gate to the hole with its frame and its camera in place, not yet linked."""
    yield from jobs.opened(job)
    yield from jobs.looked_over(job)
    yield from jobs.fitted(job)


def proved(job):
    yield from jobs.closed_up(job)
    yield from jobs.proof(job)
    yield from jobs.signed(job)


def wrong_label(job, code, note):
    """camera-on-two-trackers: another camera's label was scanned and linked."""
    yield from jobs.opened(job)
    yield from jobs.looked_over(job)
    yield from jobs.marked_out(job)
    yield from jobs.cleared_to_cut(job)
    yield from jobs.cut(job)
    yield from jobs.stuck_on(job)
    yield from jobs.scanned_camera(job, code=code, note=note)
    yield from jobs.linked(job, camera=code)
    yield from jobs.set_up(job, camera=code)
    yield from proved(job)


def until_the_meeting(job):
    """The picture is still on its way when the meeting is: signed afterwards, before anybody links it again."""
    yield from until_linked(job)
    yield from jobs.linked(job)
    yield from jobs.set_up(job)
    yield from jobs.closed_up(job)
    yield from jobs.asked(job)
    yield ("phase",)
    yield from jobs.proof_came(job)
    yield from jobs.signed(job)


def handed_over(job):
    """Begun here, up to the settings; another laptop goes on after the meeting. No finding."""
    yield from until_linked(job)
    yield from jobs.linked(job)
    yield from jobs.settings(job, "asked")
    yield job.do(30, "note", text="Handed to tomas at the meeting: settings are asked, doors still open")


def taken_over(job):
    """The other half of handed_over."""
    yield job.do(30, "job", assigned="tomas")
    yield from jobs.settings(job, "live")
    yield from proved(job)


def begun(job):
    """Opened without the wall's thickness; handed over at the meeting."""
    yield from jobs.opened(job)
    yield from jobs.looked_over(job)


def thickness_from_memory(job):
    """fields-disagree, first half: set on the one laptop after the meeting."""
    yield job.do(40, "job", thickness="3/4 in", note="measured at the rear frame before the hand-over")


def thickness_measured(job):
    """fields-disagree, second half: set on the other laptop, which then does the whole job."""
    yield job.do(60, "job", thickness="5/8 in", assigned="tomas")
    yield from jobs.fitted(job)
    yield from jobs.linked(job)
    yield from jobs.set_up(job)
    yield from proved(job)


def until_the_second_meeting(job, signed_at):
    """signed-before-live (ask): signed here while another laptop records that the settings are live.

    They are sent from the office, so that no word of them is in this laptop's log.
    """
    yield from until_linked(job)
    yield from jobs.linked(job)
    yield from jobs.closed_up(job)
    yield from jobs.asked(job)
    yield ("phase",)
    yield from jobs.proof_came(job)
    yield ("at", signed_at)
    yield from jobs.signed(job, seconds=0)


def live_elsewhere(job, at):
    """The other half: read off the server in the yard office, on a laptop that has seen the link."""
    yield ("at", at)
    yield from jobs.settings(job, "live", seconds=0, note="read off the server for mara, from the office")


def signed_early(job):
    """signed-before-live (stop) and changed-after-sign-off: the settings come after the signature."""
    yield from until_linked(job)
    yield from jobs.linked(job)
    yield from jobs.settings(job, "asked")
    yield from proved(job)
    yield ("wait", 900)
    yield from jobs.settings(job, "live", clock=None)


def blocked(job):
    """pilot-hole-left-open, cleared at once: the probe meets freight; the hole is sealed and the job stood down."""
    yield from jobs.opened(job)
    yield from jobs.looked_over(job)
    yield from jobs.marked_out(job)
    yield from jobs.probed_blocked(job)
    yield job.check(180, "pilot-sealed", ok=True)
    why = "freight close behind the wall; to be done when the trailer is empty"
    yield job.do(30, "stand-down", reason="freight-too-close", why=why)


def second_camera(job, other):
    """tracker-with-two-cameras: a spare goes on and the first one is never unlinked. Left open."""
    yield from until_linked(job)
    yield from jobs.linked(job)
    yield from jobs.set_up(job)
    yield from jobs.closed_up(job)
    yield from jobs.proof(job, bad=("lens-clear",), note="grey veil over the whole picture")
    yield job.check(160, "camera-screws", value=4, note="spare camera put on")
    yield job.check(10, "lens-untouched", ok=True)
    yield from jobs.scanned_camera(job, code=other)
    yield from jobs.linked(job, camera=other)


def corrected(job, other):
    """The first camera is taken off in the books too, and the job goes on with the spare: the finding clears."""
    yield job.do(60, "unlink", camera=job.camera, tracker=job.tracker, why="replaced by the spare; unlink was forgotten")
    yield from jobs.set_up(job, camera=other)
    yield from jobs.proof(job)
    yield from jobs.signed(job)


def walked_away(job):
    """trailer-opened-twice: opened, then found begun already, and left without a stand-down."""
    yield from jobs.opened(job)
    yield job.do(60, "note", text="There is a ladder and a fresh hole at this trailer already. Going on to the next.")


def misread(job, bad_code):
    """code-suspect: the label was typed, one character wrong, and never scanned; the link has the right code."""
    yield from jobs.opened(job)
    yield from jobs.looked_over(job)
    yield from list(jobs.fitted(job))[:-1]
    yield job.do(30, "scan", what="camera", code=bad_code, symbology="typed", note="scanner battery empty")
    yield from jobs.linked(job)
    yield from jobs.set_up(job)
    yield from proved(job)


def no_picture(job, following):
    """A camera properly replaced, and used on the next trailer: link, unlink, link elsewhere. No finding."""
    first, other = job.camera, following.camera
    yield from until_linked(job)
    yield from jobs.linked(job)
    yield from jobs.set_up(job)
    yield from jobs.closed_up(job)
    yield from jobs.asked(job)
    yield ("wait", 420)
    yield job.do(20, "job", camera=other, note="the first camera sends no picture")
    yield job.do(60, "unlink", camera=first, tracker=job.tracker, why="no picture came; trying another camera")
    yield job.check(160, "camera-screws", value=4)
    yield job.check(10, "lens-untouched", ok=True)
    yield from jobs.scanned_camera(job, code=other)
    yield from jobs.linked(job, camera=other)
    yield from jobs.set_up(job, camera=other)
    yield from jobs.proof(job)
    yield from jobs.signed(job)
    following.camera = first
    yield from jobs.clean(following)


def never_linked(job):
    """signed-without-link: everything but the link."""
    yield from until_linked(job)
    yield from jobs.set_up(job)
    yield from proved(job)


def not_reporting(job):
    """Stood down before anything was drilled. No finding."""
    yield from jobs.opened(job)
    yield from jobs.looked_over(job, reporting=False)
    yield job.do(30, "stand-down", reason="part-faulty", why="the tracker does not report; the office sends somebody")
