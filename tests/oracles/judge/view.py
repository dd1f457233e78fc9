"""What somebody knew: a set of facts that is closed under "had seen", and what can be read from it about jobs.

Fields are multi-value registers; the pair of a job is made of its live links (docs/contract/findings.md, The pair of a job).
"""

from functools import cached_property

from facts import JOB_FIELDS, first, latest
from keys import amount
from withdrawn import out_of_force

ACTIVITY = {"scan", "check", "link", "unlink", "settings", "proof", "sign-off"}


class About:
    """What a job's fields say at one moment; None where nobody wrote, or two wrote differently."""

    def __init__(self, view, job):
        self.purpose = view.one(job, "purpose") or ("fit" if not view.values(job, "purpose") else None)
        self.wall, self.load = view.one(job, "wall"), view.one(job, "load")
        self.thickness_mm = view.thickness(job)


class View:
    def __init__(self, facts, standard, depot, withdrawn=None, memo=None):
        self._views = {} if memo is None else memo  # shared by all views of what somebody had seen, by vector
        self.known, self.standard, self.depot = list(facts), standard, depot
        self.withdrawn = out_of_force(self.known, standard) if withdrawn is None else withdrawn
        self.facts = [f for f in self.known if f not in self.withdrawn]
        self._cache = {}

    def before(self, fact, inclusive=False):
        """What the recorder of a fact had in view when recording it, or right after that."""
        vector = dict(fact.seen)
        if inclusive:
            vector[fact.device] = fact.seq + 1
        key = tuple(sorted((device, n) for device, n in vector.items() if n))
        if key not in self._views:
            facts = [f for f in self.known if f.seq < vector.get(f.device, 0)]
            self._views[key] = View(facts, self.standard, self.depot, memo=self._views)
        return self._views[key]

    def behind(self, sign):
        """What a sign-off had in view, without what is withdrawn by now: a sign-off is judged by what counts now."""
        key = ("behind", sign)
        if key not in self._cache:
            facts = [f for f in self.facts if sign.saw(f)]
            self._cache[key] = View(facts, self.standard, self.depot, withdrawn={}, memo=self._views)
        return self._cache[key]

    # --- facts by what they are ---

    @cached_property
    def jobs(self):
        return sorted({f.job for f in self.facts if f.job})

    @cached_property
    def _by_job_kind(self):
        found = {}
        for f in self.facts:
            found.setdefault((f.job, f.kind), []).append(f)
        return found

    def of(self, job, kind):
        return self._by_job_kind.get((job, kind), [])

    def kind(self, kind):
        return [f for f in self.facts if f.kind == kind]

    def checks(self, job, name):
        return [f for f in self.of(job, "check") if f.check == name]

    def judged(self, job):
        return [f for f in self.of(job, "proof") if f.data["state"] == "judged"]

    def cuts(self, job):
        """The first facts that show that the camera hole was cut; a hole that was not made is no cut."""
        names = self.standard.clearance["cut-shown-by"]
        shown = first(f for f in self.of(job, "check") if f.check in names and not
                      (f.check == "hole-cut" and f.data.get("ok") is False))
        # Who only measured the hole beside whoever says that it was cut cut nothing.
        return [f for f in shown if f.check == "hole-cut"] or shown

    # --- fields ---

    def writers(self, job, field):
        """The facts whose values of a field stand: nobody who had seen one wrote again."""
        facts = [f for f in self.of(job, "job") if field in f.data]
        if field == "thickness":
            facts = [f for f in self.facts if f.job == job and
                     (f.kind == "job" and field in f.data or f.check == field and f.data.get("value") is not None)]
        return [f for f in facts if not any(g.saw(f) for g in facts)]

    def values(self, job, field):
        """The different values that stand, by key."""
        return {value_of(f, field) for f in self.writers(job, field)}

    def one(self, job, field):
        """The value, or None when there is none or more than one."""
        values = self.values(job, field)
        return next(iter(values)) if len(values) == 1 else None

    def thickness(self, job):
        return self.one(job, "thickness")

    def about(self, job):
        return About(self, job)

    def trailers(self, job):
        return self.values(job, "trailer")

    def purpose(self, job):
        return self.about(job).purpose

    @cached_property
    def trailer_jobs(self):
        """The jobs on each trailer."""
        found = {}
        for job in self.jobs:
            for trailer in self.trailers(job):
                found.setdefault(trailer, []).append(job)
        return found

    def jobs_beside(self, job):
        """The other jobs on the trailer of this one."""
        return sorted({other for t in self.trailers(job) for other in self.trailer_jobs[t]} - {job})

    # --- life of a job ---

    def openings(self, job):
        """The facts that opened a job: the first that name its trailer without a plan; of a planned one its first work."""
        opening = [f for f in self.of(job, "job") if "trailer" in f.data and "planned" not in f.data]
        if any("planned" in f.data for f in self.of(job, "job")):
            opening += [f for f in self.facts if f.job == job and f.kind in ACTIVITY]
        return first(opening)

    def stood_down(self, job):
        """Given up, and nobody who knew that signed it off afterwards."""
        signs = self.of(job, "sign-off")
        return any(not any(s.saw(down) for s in signs) for down in self.of(job, "stand-down"))

    def all_signs(self, job):
        return self.of(job, "sign-off")

    def signs(self, job):
        """The latest sign-offs, unless the job was given up."""
        return [] if self.stood_down(job) else latest(self.all_signs(job))

    def purpose_at(self, job, sign):
        """The purpose of a job as whoever signed it had it in view."""
        return self.behind(sign).purpose(job)

    def signs_for(self, job, *purposes):
        """The latest sign-offs that were made for one of these purposes."""
        return [s for s in self.signs(job) if self.purpose_at(job, s) in purposes]

    # --- links ---

    @cached_property
    def links(self):
        return self.kind("link")

    @cached_property
    def unlinks(self):
        return self.kind("unlink")

    def unlinked_by(self, link):
        return [u for u in self.unlinks if u.pair == link.pair and u.saw(link)]

    @cached_property
    def live(self):
        """The links that are live now."""
        return [link for link in self.links if not self.unlinked_by(link)]

    def own_links(self, job):
        """Links that carry the job, and those without a job whose tracker is the job's tracker."""
        trackers = self.values(job, "tracker")
        return [link for link in self.links if link.job == job or link.job is None and link.tracker in trackers]

    def pair_links(self, job):
        """All links that make or made the pair: of a `prove` or `take-off` job those of the other jobs on the trailer."""
        if self.purpose(job) in ("prove", "take-off"):
            found = [link for other in self.jobs_beside(job) for link in self.own_links(other)]
            return [link for link in self.links if link in found]
        return self.own_links(job)

    def live_pair(self, job):
        return [link for link in self.pair_links(job) if link in self.live]

    def signed_links(self, job, sign):
        """The links of the pair that were live as of a sign-off: seen by it, and not taken off but after it."""
        links = self.behind(sign).pair_links(job)
        return [link for link in links if all(u.saw(sign) for u in self.unlinked_by(link))]


def value_of(fact, field):
    """The value of a field as it is compared."""
    if field == "thickness":
        raw = fact.data["value"] if fact.kind == "check" else fact.data["thickness"]
        return amount(raw, fact.data.get("unit"))
    return fact.field(field)


def disagreeing(view, job):
    """The fields of a job that have different concurrent values: {field: the facts that wrote them}."""
    found = {}
    for field in JOB_FIELDS:
        writers = view.writers(job, field)
        if len({value_of(f, field) for f in writers}) > 1:
            found[field] = writers
    return found
