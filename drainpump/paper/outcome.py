"""What comes of a job: the choice, and all that is worked out of it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.choose.select import select
from drainpump.choose.selection import Selection
from drainpump.cycling.outage import Outage, outage
from drainpump.cycling.switching import Cycle, cycle
from drainpump.doubt.band import Band, band
from drainpump.doubt.doubt import INPUTS
from drainpump.doubt.sensitivity import sensitivity
from drainpump.errors import Heard, listening
from drainpump.findings import Finding
from drainpump.inflow.branch.gravity import gravity_check
from drainpump.inflow.rain.table import RainTable
from drainpump.inflow.storm import Hydrograph
from drainpump.paper.acceptance import Acceptance, acceptance
from drainpump.paper.take_off import TakeOff, take_off
from drainpump.paper.words import two
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.routing.route import Routing, route
from drainpump.units import FloatArray
from drainpump.why.side_checks import side_checks

__all__ = ["Outcome", "outcome_of"]


@dataclass(frozen=True, eq=False, repr=False)
class Outcome:
    """What comes of a job.

    Attributes
    ----------
    job : Job
    selection : Selection
        Every candidate, judged.
    first : Candidate
        The best; where nothing serves, the first of the rejected.
    cycling : Cycle or None
        Its cycle at the job's inflow.
    band : Band or None
        Its spread, where the job has a doubt.
    swings : tuple of dict
        What to measure next, by how far each input's doubt moves its flow.
    gravity : Finding or None
        Whether a gravity pipe would do; None where the outlet lies above the pit's rim.
    links : tuple of Finding
        Of each branch to the pit, whether it or the pump is the weaker.
    storms, routing : Hydrograph and Routing, or None
        The water's storms, and what each does to the pit.
    outage : Outage or None
        How long the pit holds without power, at the job's inflow.
    checks : tuple of Finding
        The side checks, rough.
    take_off : TakeOff
        What has to be bought and dug.
    acceptance : Acceptance or None
        What a watch has to show when the pump is first run.
    warnings : tuple of Heard
        Warnings given while the job was read and run, each with the path of what it is
        about; all of them, however often the same was said before.
    """

    job: Any = field(repr=False)
    selection: Selection
    first: Candidate
    cycling: Cycle | None
    band: Band | None
    swings: tuple[dict[str, Any], ...]
    gravity: Finding | None = None
    links: tuple[Finding, ...] = ()
    storms: Hydrograph | None = None
    routing: Routing | None = None
    outage: Outage | None = None
    checks: tuple[Finding, ...] = ()
    take_off: TakeOff = field(kw_only=True)
    acceptance: Acceptance | None = None
    warnings: tuple[Heard, ...] = ()

    def __repr__(self) -> str:
        said = "".join(f"\n  warning: {heard}" for heard in self.warnings)
        return f"Outcome({self.selection!r}){said}"

    def _repr_html_(self) -> str:
        found = (self.selection, self.cycling, self.band)
        return "".join(part._repr_html_() for part in found if part is not None)


def outcome_of(job: Any) -> Outcome:
    """Do the job, and keep the warnings that were given meanwhile."""
    with listening() as heard:
        found = _work(job)
    return replace(found, warnings=tuple(dict.fromkeys((*job.warnings, *heard))))


def _work(job: Any) -> Outcome:
    """The job in the order of the work: gravity, choice, cycle, outage, checks, take-off."""
    chosen = select(
        job.pumps, job.lines, pit=job.pit, **job._need.spelled("need"),
        limits=job.limits, doubt=job.doubt, certainty=None if job.doubt is None else job.certainty,
        objective=job.objective, costs=job.costs, samples=job.samples, seed=job.seed,
    )  # fmt: skip
    first = chosen.candidates[0]
    pit = first.pit  # with the pump's own floats where the job leaves them open
    inflow = None if job._inflow is None else job._inflow.spelled("inflow")
    turning = spread = out = None
    if pit is not None and inflow is not None:
        turning = cycle(first.pump, first.line, pit, **inflow)
        out = outage(pit, **inflow)
    swings: tuple[dict[str, Any], ...] = ()
    if job.doubt is not None:
        spread = band(
            first.pump, first.line, job.doubt, job.samples, job.seed,
            pit=pit, **(inflow or {}),
        )  # fmt: skip
        swings = _swings(first, job)
    storms, routed = _in_storms(job, first)
    links: tuple[Finding, ...] = ()
    if job.water is not None and first.si.flow > 0:
        links = job.water.weakest_link(flow_lps=float(first.flow_lps))
    return Outcome(
        job, chosen, first, turning, spread, swings, links=links, storms=storms, routing=routed,
        gravity=by_gravity(first.line, pit, job.si.need),
        outage=out,
        checks=side_checks(first.pump, first.line).checks,
        take_off=take_off(first.pump, first.line, pit, laying=job.laying, costs=job.costs),
        acceptance=acceptance(first, pit, spread),
    )  # fmt: skip


def _in_storms(job: Any, first: Candidate) -> tuple[Hydrograph | None, Routing | None]:
    """The water's storms, one a return period, and what each does to the pit."""
    rain = None if job.water is None else job.water.rain
    many = isinstance(rain, RainTable) and rain.return_year is not None
    if not many or first.pit is None or not first.si.flow > 0:
        return None, None
    storms = job.water.storms()
    return storms, route(first.pump, first.line, first.pit, storms)


def by_gravity(line: DischargeLine, pit: Pit | None, need: FloatArray) -> Finding | None:
    """Say whether the water would run from the pit's rim to the outlet without a pump."""
    if pit is None or not need > 0:
        return None
    fall = float(pit.si.depth - pit.si.off - line.si.lift)
    length = float(line.si.length)
    if fall > 0 and length > fall:
        asked = {"fall_m": fall, "length_m": length, "need_lps": float(u.from_si(need, "lps"))}
        return gravity_check(**asked).finding
    return Finding(
        code="gravity_short", where="the way to the outlet", verdict="fine", limit=0.0, unit="ft",
        value=float(u.from_si(fall, "ft")),
        text=f"the outlet lies {two(-fall, 'ft')} above the pit's rim: no pipe runs there by "
        "gravity",
    )  # fmt: skip


def _swings(first: Candidate, job: Any) -> tuple[dict[str, Any], ...]:
    """What to measure next, largest swing first, in both units."""
    assert job.doubt is not None
    if not any(job.doubt.si.sigma(name) > 0 for name in INPUTS if name != "inflow"):
        return ()
    us, metric = (
        sensitivity(
            first.pump, first.line, job.doubt, job.samples, job.seed,
            **job._need.spelled("need"), units=units,
        )
        for units in ("us", "metric")
    )  # fmt: skip
    columns = [c for c in metric.columns if str(c).endswith("_lps")]
    return tuple(us.join(metric[columns]).to_dict("records"))  # type: ignore[arg-type]
