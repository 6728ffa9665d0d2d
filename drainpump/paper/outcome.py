"""What comes of a job: the choice, and all that is worked out of it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from drainpump.choose.candidate import Candidate
from drainpump.choose.select import select
from drainpump.choose.selection import Selection
from drainpump.cycling.switching import Cycle, cycle
from drainpump.doubt.band import Band, band
from drainpump.doubt.doubt import INPUTS
from drainpump.doubt.sensitivity import sensitivity
from drainpump.errors import Heard, listening

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
    chosen = select(
        job.pumps, job.lines, pit=job.pit, **job._need.spelled("need"),
        limits=job.limits, doubt=job.doubt, certainty=job.certainty,
        objective=job.objective, costs=job.costs, samples=job.samples, seed=job.seed,
    )  # fmt: skip
    first = chosen.candidates[0]
    inflow = None if job._inflow is None else job._inflow.spelled("inflow")
    turning = spread = None
    if job.pit is not None and inflow is not None:
        turning = cycle(first.pump, first.line, job.pit, **inflow)
    swings: tuple[dict[str, Any], ...] = ()
    if job.doubt is not None:
        spread = band(
            first.pump, first.line, job.doubt, job.samples, job.seed,
            pit=job.pit, **(inflow or {}),
        )  # fmt: skip
        swings = _swings(first, job)
    return Outcome(job, chosen, first, turning, spread, swings)


def _swings(first: Candidate, job: Any) -> tuple[dict[str, Any], ...]:
    """What to measure next, largest swing first, in both units."""
    assert job.doubt is not None
    if not any(job.doubt._sigma(name) > 0 for name in INPUTS if name != "inflow"):
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
