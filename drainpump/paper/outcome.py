"""What comes of a job: the choice, and all that is worked out of it."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, replace
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.choose.select import select
from drainpump.choose.selection import Selection
from drainpump.cycling.outage import Outage, outage
from drainpump.cycling.switching import Cycle, cycle
from drainpump.doubt.band import Band, band
from drainpump.doubt.doubt import INPUTS
from drainpump.doubt.sensitivity import sensitivity
from drainpump.errors import Heard, inside, listening, silent
from drainpump.findings import Finding
from drainpump.inflow.branch.gravity import gravity_check
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.inflow.rain.table import RainTable
from drainpump.inflow.storm import Hydrograph
from drainpump.paper.acceptance import Acceptance, acceptance
from drainpump.paper.document.answer import (
    ANSWER_VERSION,
    DryUpTo,
    candidate_rows,
    pair,
    rejection_row,
    storm_rows,
    swing_rows,
    told,
)
from drainpump.paper.document.asked import Asked
from drainpump.paper.document.json_text import shipped
from drainpump.paper.take_off import TakeOff, take_off
from drainpump.paper.words import two
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.results import plain
from drainpump.routing.route import Routing, route
from drainpump.units import FloatArray
from drainpump.why.side_checks import side_checks


@dataclass(frozen=True, eq=False, repr=False)
class Outcome:
    """What comes of a job.

    Attributes
    ----------
    job : Job
        Typed as what all of it reads of a job.
    selection : Selection
        Every candidate, judged.
    first : Candidate
        The best; where nothing serves, the first of the rejected. Its ``pit`` is the one it
        was judged in, with the floats in force.
    cycling : Cycle or None
        Its cycle at the steady inflow.
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
    dry : DryUpTo or None
        How rare a storm it keeps, where the storms have return periods.
    outage : Outage or None
        How long pit and pond hold without power at the steady inflow, and how long the
        battery lasts, where there is one.
    dark : Routing or None
        The rarest storm in which the limits must hold, the power out from its peak on.
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

    job: Asked = field(repr=False)
    selection: Selection
    first: Candidate
    cycling: Cycle | None
    band: Band | None
    swings: tuple[dict[str, Any], ...]
    gravity: Finding | None = None
    links: tuple[Finding, ...] = ()
    storms: Hydrograph | None = None
    routing: Routing | None = None
    dry: DryUpTo | None = None
    dark: Routing | None = None
    outage: Outage | None = None
    checks: tuple[Finding, ...] = ()
    take_off: TakeOff = field(kw_only=True)
    acceptance: Acceptance | None = None
    warnings: tuple[Heard, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, as ``paper/data/answer.schema.json`` says; no NaN, no infinity.

        Attributes
        ----------
        answer_version : int
            Of this document.
        name, needed, ranked_by, currency : str
            The job's name, what must be carried, the candidates' order, and the prices' money.
        need : float or None
            Flow needed at the pump-off level.
        certainty : float or None
            Probability with which it must be carried.
        chosen : object or None
            The best that keeps every limit.
        reported : object
            The best, or the nearest miss, of which all that follows is told.
        gravity : object or None
            Whether a gravity pipe would do.
        links : list
            Of each branch to the pit, whether it or the pump is the weaker.
        storms : list
            What each storm does to the pit.
        dry : object or None
            How rare a storm is kept.
        candidates : list
            Every pump on every line in every pit, best first.
        rejections : list
            Why the others are rejected, nearest miss first.
        cycle : object or None
            Its cycle at the steady inflow.
        band : object or None
            Its spread.
        outage, dark : object or None
            Without power at the steady inflow, and in the rarest storm asked.
        checks : list
            The side checks, rough.
        take_off : object
            What has to be bought and dug.
        acceptance : object or None
            What a watch has to show when the pump is first run.
        measure_next : list
            What to measure next, largest swing first.
        warnings : list
            Given while the job was read and run, each with its place.
        """
        job, chosen = self.job, self.selection
        # with storms a change is sought by many routings: that of the one reported alone
        told_change = [c for c in chosen.rejected if self.storms is None or c is self.first]
        return dict(plain({
            "answer_version": ANSWER_VERSION, "name": job.name, "needed": chosen.wanted,
            "need_gpm": job.need_gpm, "need_lps": job.need_lps, "ranked_by": chosen.rule,
            "certainty": chosen.certainty,
            "currency": "" if job.costs is None else job.costs.currency,
            "chosen": None if chosen.best is None else pair(chosen.best),
            "reported": pair(self.first),
            "gravity": None if self.gravity is None else self.gravity.to_dict(),
            "links": [link.to_dict() for link in self.links],
            "storms": list(storm_rows(self.storms, self.routing)),
            "dry": None if self.dry is None else asdict(self.dry),
            "candidates": list(candidate_rows(chosen)),
            "rejections": [rejection_row(c, solved=c in told_change) for c in chosen.rejected],
            "cycle": told(self.cycling), "band": told(self.band), "outage": told(self.outage),
            "dark": told(self.dark), "checks": [check.to_dict() for check in self.checks],
            "take_off": self.take_off.to_dict(), "acceptance": told(self.acceptance),
            "measure_next": swing_rows(self.swings), "warnings": [asdict(w) for w in self.warnings],
        }))  # fmt: skip

    @staticmethod
    def schema() -> dict[str, Any]:
        """Return the JSON Schema (2020-12) of `to_dict`: ``paper/data/answer.schema.json``."""
        return shipped("answer.schema.json")

    def __repr__(self) -> str:
        said = "".join(f"\n  warning: {heard}" for heard in self.warnings)
        return f"Outcome({self.selection!r}){said}"

    def _repr_html_(self) -> str:
        found = (self.selection, self.cycling, self.band)
        return "".join(part._repr_html_() for part in found if part is not None)


def outcome_of(job: Asked) -> Outcome:
    """Do the job, and keep the warnings that were given meanwhile."""
    with listening() as heard:
        found = _work(job)
    return replace(found, warnings=tuple(dict.fromkeys((*job.warnings, *heard))))


def _work(job: Asked) -> Outcome:
    """The job in the order of the work; gravity is asked of the way that was chosen."""
    storms = _storms(job)
    chosen = _choice(job, storms)
    first = chosen.candidates[0]
    pit, need = first.pit, _flow_asked(job, storms)
    inflow = _steady(job)
    turning = spread = out = None
    if pit is not None and inflow is not None:
        turning = cycle(first.pump, first.line, pit, **inflow)
        with inside("$.backup"):
            out = outage(pit, **inflow, **low_spot(job), **_battery(job, first))
    if job.doubt is not None:
        spread = band(
            first.pump, first.line, job.doubt, job.samples, job.seed, pit=pit, **(inflow or {}),
        )  # fmt: skip
    routed = dark = None
    if storms is not None and pit is not None and first.si.flow > 0:
        routed = route(first.pump, first.line, pit, storms, **low_spot(job))
        dark = _dark(job, first, storms)
    return Outcome(
        job, chosen, first, turning, spread, _swings(first, job),
        gravity=by_gravity(first.line, pit, need),
        links=_links(job, first), storms=storms, routing=routed, dry=_dry(first),
        dark=dark, outage=out,
        checks=side_checks(first.pump, first.line, ground=job.ground).checks,
        take_off=take_off(first.pump, first.line, pit, laying=job.laying, costs=job.costs),
        acceptance=acceptance(
            float(first.si.flow), first.si.shortest_run, pit,
            None if spread is None else (float(spread.si.flow[0]), float(spread.si.flow[2])),
        ),
    )  # fmt: skip


def _storms(job: Asked) -> Hydrograph | None:
    """What the rain brings to the pit: a storm a return period, or the one there is."""
    if job.water is None:
        return None
    with inside("$.water"):
        if isinstance(job.water.rain, Hyetograph):
            return job.water.hydrograph()
        rain = job.water.rain
        if not isinstance(rain, RainTable) or rain.return_year is None:
            return None
        return job.water.storms(return_year=job.return_year)


def _choice(job: Asked, storms: Hydrograph | None) -> Selection:
    return select(
        job.pumps, job.lines, pit=job.pit, storms=storms, annual_maxima=job.annual_maxima,
        **({} if storms is None else low_spot(job)),
        **({} if job._need is None else job._need.spelled("need")),
        limits=job.limits_in_force, doubt=job.doubt,
        certainty=None if job.doubt is None else job.certainty, objective=job.objective,
        costs=job.costs, floats=job.floats, samples=job.samples, seed=job.seed,
    )  # fmt: skip


def low_spot(job: Asked) -> dict[str, Any]:
    """The low spot around the pit, by the keywords of `route`."""
    found: dict[str, Any] = {"pond_storage": job.pond_storage}
    for name, measure in (("pond_area", job._pond_area), ("overflow", job._overflow)):
        found |= {} if measure is None else measure.spelled(name)
    return found


def _steady(job: Asked) -> dict[str, Any] | None:
    """The inflow of the cycle and the outage: the job's, else the water's steady part."""
    if job._inflow is not None:
        return job._inflow.spelled("inflow")
    if job.water is None or not job.water.si.steady > 0:
        return None
    return {"inflow_lps": job.water.steady_lps}


def _flow_asked(job: Asked, storms: Hydrograph | None) -> FloatArray:
    """The flow (m³/s) that would have to be carried off by gravity: the need, else a peak."""
    if job.si.need is not None or storms is None:
        return np.zeros(()) if job._need is None else job._need.si
    return np.asarray(storm_asked(job, storms).si.flow.max())


def storm_asked(job: Asked, storms: Hydrograph) -> Hydrograph:
    """The rarest of a job's storms in which the limits must hold."""
    if job.water is None or storms.return_year is None:
        return storms
    years, most = np.atleast_1d(storms.return_year), job.limits_in_force.dry_up_to_year
    asked = years if most is None else years[years <= most * (1 + 1e-9)]
    with silent():  # what is odd in the rain was said of all storms
        return job.water.storms(return_year=float(asked.max() if asked.size else years.min()))


def _links(job: Asked, first: Candidate) -> tuple[Finding, ...]:
    if job.water is None or not first.si.flow > 0:
        return ()
    return job.water.weakest_link(flow_lps=float(first.flow_lps))


def _dry(first: Candidate) -> DryUpTo | None:
    year, chance = first.dry_up_to_year, first.yearly_probability
    if year is None or chance is None:
        return None
    return DryUpTo(
        float(year), first.dry_up_to_low_year, first.dry_up_to_high_year, first.dry_status,
        chance, first.dry,
    )  # fmt: skip


def _battery(job: Asked, first: Candidate) -> dict[str, Any]:
    """What a battery carries, by the keywords of `outage`."""
    if job.backup is None or job.backup.battery_wh is None:
        return {}
    runs = job.backup.runs_on_it(first.pump)
    return {"battery_wh": job.backup.battery_wh, "pump": runs, "line": first.line}


def _dark(job: Asked, first: Candidate, storms: Hydrograph) -> Routing | None:
    """The rarest storm asked, the power out from its heaviest inflow on."""
    if job.backup is None or first.pit is None:
        return None
    storm = storm_asked(job, storms)
    start = float(u.from_si(storm.si.time[int(storm.si.flow.argmax())], "min"))
    battery = _battery(job, first)
    with inside("$.backup"):
        return route(
            first.pump, first.line, first.pit, storm, **low_spot(job),
            outages=[(start, start + job.backup.outage_min)],
            battery_wh=battery.get("battery_wh"), battery_pump=battery.get("pump"),
        )  # fmt: skip


def by_gravity(line: DischargeLine, pit: Pit | None, need: FloatArray) -> Finding | None:
    """Say whether the water would run from the pit's rim to the outlet without a pump."""
    if pit is None or not need > 0:
        return None
    fall = float(pit.si.depth - pit.si.off - line.si.lift)
    if fall > 0:
        # a way shorter than its fall goes straight down
        length = max(float(line.si.length), fall)
        return gravity_check(
            fall_m=fall, length_m=length, need_lps=float(u.from_si(need, "lps"))
        ).finding
    return Finding(
        code="gravity_short", where="the way to the outlet", verdict="fine", limit=0.0, unit="ft",
        value=float(u.from_si(fall, "ft")),
        text=f"the outlet lies {two(-fall, 'ft')} above the pit's rim: no pipe runs there by "
        "gravity",
    )  # fmt: skip


def _swings(first: Candidate, job: Asked) -> tuple[dict[str, Any], ...]:
    """What to measure next, largest swing first, in both units."""
    if job.doubt is None or not any(job.doubt.si.sigma(x) > 0 for x in INPUTS if x != "inflow"):
        return ()
    # a storm's peak is no need: what stands in the low spot need not be carried
    asked = {} if job._need is None else job._need.spelled("need")
    us, metric = (
        sensitivity(
            first.pump, first.line, job.doubt, job.samples, job.seed, **asked, units=units
        )
        for units in ("us", "metric")
    )  # fmt: skip
    columns = [c for c in metric.columns if str(c).endswith("_lps")]
    return tuple(us.join(metric[columns]).to_dict("records"))  # type: ignore[arg-type]
