"""Rules about links that clash, and about a sign-off without its link. Each follows its row of docs/contract/findings.md."""

from facts import standing, standing_of
from finding import Cause, joined


def grouped(facts, key):
    found = {}
    for f in facts:
        found.setdefault(key(f), []).append(f)
    return found


def camera_on_two_trackers(view):
    """Row `camera-on-two-trackers`: a camera has live links to two or more trackers."""
    for camera, links in grouped(view.live, lambda f: f.camera).items():
        yield from clash("camera-on-two-trackers", camera, links, grouped(links, lambda f: f.tracker))


def tracker_with_two_cameras(view):
    """Row `tracker-with-two-cameras`: a tracker has live links to two or more cameras."""
    for tracker, links in grouped(view.live, lambda f: f.tracker).items():
        yield from clash("tracker-with-two-cameras", tracker, links, grouped(links, lambda f: f.camera))


def tracker_on_two_trailers(view):
    """Row `tracker-on-two-trailers`: live links of one tracker were made in jobs on different trailers."""
    made = {}
    for trailer, jobs in view.trailer_jobs.items():
        for link in linked_on(view, jobs):
            made.setdefault(link.tracker, {}).setdefault(trailer, []).append(link)
    for tracker, sides in made.items():
        yield from clash("tracker-on-two-trailers", tracker, [f for side in sides.values() for f in side], sides)


def trailer_with_two_pairs(view):
    """Row `trailer-with-two-pairs`: live links of two trackers were made in jobs on one trailer."""
    for trailer, jobs in view.trailer_jobs.items():
        links = linked_on(view, jobs)
        yield from clash("trailer-with-two-pairs", trailer, links, grouped(links, lambda f: f.tracker))


def linked_on(view, jobs):
    """The live links that were made in these jobs, those without a job by the job's tracker."""
    made = {link for job in jobs for link in view.own_links(job)}
    return [link for link in view.live if link in made]


def clash(rule, subject, facts, sides):
    if len(sides) > 1:
        yield Cause(rule, "stop", subject, facts, standing_of(sides.values()), {f.job for f in facts if f.job})


def planned_not_linked(view):
    """Row `planned-not-linked`: a sign-off, and the pair differs from the camera or tracker that the job names.

    Quiet where nothing is linked; what the job names is read as the signer had it in view, unless two wrote differently.
    """
    for job in view.jobs:
        found = [(s, link) for s in view.signs(job) for link in other_than_planned(view, job, s)]
        if found:
            facts = [f for pair in found for f in pair]
            yield Cause("planned-not-linked", "ask", job, facts, "aware", [job], "pair")


def other_than_planned(view, job, sign):
    links, then = view.signed_links(job, sign), view.behind(sign)
    for field in ("camera", "tracker"):
        planned = then.one(job, field)
        if links and planned is not None and planned not in {getattr(link, field) for link in links}:
            return links
    return []


def signed_without_link(view):
    """Row `signed-without-link`: a sign-off with no live link of the job's pair that it had seen.

    An unlink that is concurrent with the sign-off makes it, unaware. A `take-off`: a link of the trailer's trackers is
    still live now.
    """
    for job in view.jobs:
        if view.signs_for(job, "take-off"):
            yield from taken_off_but_linked(view, job)
            continue
        bad = [(s, taken_off_links(view, job, s)) for s in view.signs(job) if not view.signed_links(job, s)]
        if bad:
            facts = [s for s, _ in bad] + [u for _, us in bad for u in us]
            # A link that the signer did not know does not count, but the two clash unaware.
            stands = joined({standing([s], us or unseen(view, job, s)) for s, us in bad})
            yield Cause("signed-without-link", "stop", job, facts, stands, [job], "pair")


def unseen(view, job, sign):
    return [link for link in view.pair_links(job) if not sign.saw(link)]


def taken_off_links(view, job, sign):
    """The unlinks, not after the sign-off, of the links that it had seen."""
    links = [link for link in view.behind(sign).pair_links(job)]
    return [u for link in links for u in view.unlinked_by(link) if not u.saw(sign)]


def taken_off_but_linked(view, job):
    trackers = trailer_trackers(view, job)
    for_all = []
    for sign in view.signs_for(job, "take-off"):
        still = [link for link in view.live if link.tracker in trackers and not (link.job and link.saw(sign))]
        for_all += [(sign, link) for link in still]
    if for_all:
        stands = joined({standing([s], [link]) for s, link in for_all})
        yield Cause("signed-without-link", "stop", job, [f for pair in for_all for f in pair], stands, [job], "pair")


def trailer_trackers(view, job):
    """The trailer's trackers: the job's field, the listed one, those linked by jobs on it."""
    from rules_lists import listed_trackers
    found = set(view.values(job, "tracker"))
    for trailer in view.trailers(job):
        found |= listed_trackers(view, trailer)
        found |= {link.tracker for link in view.links if link.job in view.trailer_jobs[trailer]}
    return found


RULES = [camera_on_two_trackers, tracker_with_two_cameras, tracker_on_two_trailers, trailer_with_two_pairs,
         planned_not_linked, signed_without_link]
