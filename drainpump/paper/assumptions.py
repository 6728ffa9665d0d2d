"""What an answer rests on: every assumption, whether it was left to its default, its source."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.doubt.doubt import INPUTS
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.inflow.rain.table import RainFit, RainTable
from drainpump.limits.limits import Limits
from drainpump.paper.laying import Laying
from drainpump.paper.words import TEXTS
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.outlet import PopUpOutlet
from drainpump.parts.line.run import GRANTED, missing_valve
from drainpump.parts.pump.curve_shown import ORIGINS

if TYPE_CHECKING:
    from drainpump.paper.document.asked import Asked
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.part import Part

_OWN = "given in the job"
_RAIN = {
    RainTable: "depth by duration and return period",
    RainFit: "intensity by a formula of duration",
    Hyetograph: "one storm",
}


@dataclass(frozen=True)
class Assumption:
    """One assumption.

    Attributes
    ----------
    name, value : str
    defaulted : bool
        True where the job left it to the library.
    source : str
    where : tuple of str
        Lines it holds for; empty for the whole job.
    """

    name: str
    value: str
    defaulted: bool
    source: str
    where: tuple[str, ...] = ()


def assumptions(job: Asked) -> tuple[Assumption, ...]:
    """List what a job's answer rests on; what several lines share stands once."""
    shared: dict[Assumption, list[str]] = {}
    for line in job.lines:
        for one in _line(line):
            shared.setdefault(one, []).append(line.name)
    of_lines = (replace(one, where=tuple(names)) for one, names in shared.items())
    found = [*_physics(), *_origins(job), *_water(job), *of_lines]
    found += [*_limits(job), *_doubt(job), *_site(job)]
    return tuple(dict.fromkeys(found))


def _physics() -> Iterator[Assumption]:
    yield Assumption(
        "need", "judged at the pump-off level, the hardest", True, "our own careful choice"
    )
    yield Assumption(
        "pump curve", "shape-preserving cubic between its points, never beyond them", True,
        "F. N. Fritsch, J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) (from memory)",
    )  # fmt: skip


def _origins(job: Asked) -> Iterator[Assumption]:
    """Where each curve comes from, but for points that the job itself holds."""
    curves = [curve for pump in job.pumps for curve in pump.si.curves]
    for name, origin in dict.fromkeys((c.name, c.origin) for c in curves):
        if origin != ORIGINS["points"]:
            yield Assumption(f"curve of {name}", origin, False, _OWN)


def _water(job: Asked) -> Iterator[Assumption]:
    """Where the rain comes from, and what of it runs off."""
    if job.water is None:
        return
    rain = job.water.rain
    if rain is not None:
        source = f"{_OWN}; {rain.note or 'its source is not told'}"
        yield Assumption("rain", _RAIN[type(rain)], False, source)
    every = [*job.water.catchments, *(c for b in job.water.collectors for c in b.catchments)]
    for one in every:
        source = f"{_OWN}; {one.source}" if one.source else _OWN
        yield Assumption(f"runoff of {one.name}", one.si.sheds, False, source)


def _line(line: DischargeLine) -> Iterator[Assumption]:
    def row(name: str, key: str, value: Any, source: str) -> Assumption:
        default = not _given(line, key)
        said = ("yes" if value else "no") if isinstance(value, bool) else str(value)
        return Assumption(name, said, default, source if default else f"{_OWN}; {source}")

    friction = {"darcy": "Darcy-Weisbach, factor by Colebrook-White", "hazen_williams": (
        "Hazen-Williams")}  # fmt: skip
    yield row("friction", "friction", friction[line.friction],
              "textbook equations; the two differ by some percent")  # fmt: skip
    yield row(
        "water temperature", "water", line.si.typed("water"), "60 °F: common practice, no source"
    )
    yield row("siphon credited", "siphon", line.siphon,
              "air enters at a high point: the careful assumption")  # fmt: skip
    missing = missing_valve(line.runs) if line.check_valve else "it drains back at each stop"
    held = row("line holds its water", "check_valve", line.check_valve,
               missing or "a check valve is among the fittings")  # fmt: skip
    # who states it takes nothing for granted
    granted = held.defaulted and missing
    yield replace(held, source=f"{GRANTED}; {missing}") if granted else held
    yield Assumption(
        "exit", f"K = {u.number(float(line.outlet.exit_k))} on the last run's bore", True,
        "Hydraulic Institute, Engineering Data Library: the whole velocity head is lost",
    )  # fmt: skip
    if isinstance(line.outlet, PopUpOutlet):
        yield Assumption(
            "gap's discharge coefficient", str(line.outlet.discharge_coefficient),
            not _given(line.outlet, "discharge_coefficient"),
            "0.6, a sharp-edged opening: Munson, Young & Okiishi, ch. 3 (from memory)",
        )  # fmt: skip
    for run in line.runs:
        pipe, typed = run.pipe, run.pipe.si.typed
        said = (
            f"bore {typed('bore')}, roughness {typed('roughness')}, C {u.number(float(pipe.si.c))}"
        )
        wall = _given(pipe, "roughness") and _given(pipe, "hazen_williams_c")
        yield Assumption(f"pipe {pipe.name}", said, not wall, pipe.source)
        for loss in run.losses:
            item = run.fittings[loss.name]
            own = isinstance(item, Fitting) and (
                _given(item, "k") or _given(item, "equivalent_length")
            )
            each = f"K {u.number(float(loss.k_each))} each"
            if np.any(loss.length_each > 0):
                each = f"equivalent length {u.both(loss.length_each, 'ft')} each"
            yield Assumption(f"{loss.name} in {pipe.name}", each, not own, loss.source)


def _given(part: Part, name: str) -> bool:
    """Whether a keyword was typed, a quantity in whatever unit."""
    return any(key == name or key.startswith(f"{name}_") for key in part.given)


def _limits(job: Asked) -> Iterator[Assumption]:
    limits, typed = job.limits_in_force, Limits() if job.limits is None else job.limits
    for name, value in limits.in_words().items():
        soft = " (only warns)" if name in limits.soft else ""
        label = f"limit {name.replace('_', ' ')}"
        yield Assumption(label, value + soft, not _given(typed, name), limits.sources[name])


def _doubt(job: Asked) -> Iterator[Assumption]:
    if job.doubt is None:
        given = _given(job, "doubt")
        why = "given as none" if given else "the first version of the document doubted nothing"
        yield Assumption("doubt", "none: each result is one number, without a band", not given, why)
        return
    given = _given(job, "doubt")
    for name in INPUTS:
        if job.doubt.si.sigma(name) > 0:
            measure = job.doubt.si.typed(name)
            unit = "" if name in ("lift", "k") else " %"
            said = str(measure) if name == "lift" else u.number(float(measure)) + unit
            label = "doubt of ln K" if name == "k" else f"doubt of {name}"
            source = _OWN if given else job.doubt.sources.get(_key(name), _OWN)
            if name in ("head", "flow") and job.doubt.grade is not None:
                source = f"{job.doubt.grade}, taken as two sigma"
            kind = ", half-width" if name == "bore" else ", one sigma"
            yield Assumption(label, said + kind, not given, source)
    yield Assumption(
        "certainty wished", u.number(job.certainty), not _given(job, "certainty"),
        "0.9: our judgement, no source",
    )  # fmt: skip


def _key(name: str) -> str:
    """The keyword of an input in doubt, as `Doubt.sources` has it."""
    return {"lift": "lift_ft", "k": "k_log"}.get(name, f"{name}_pct")


def _site(job: Asked) -> Iterator[Assumption]:
    """What is taken for granted of the site and its prices, row by row of a table."""
    grates = () if job.water is None else (x for x in job.water.collectors if x.has_grate)
    parts: dict[str, list[Part | None]] = {
        "job": [job], "costs": [job.costs], "backup": [job.backup], "collector": [*grates],
        "laying": [job.laying or Laying()],
    }  # fmt: skip
    for of, key, name, default, source in TEXTS["assumed"]:
        for part in filter(None, parts[of]):
            given = u.spellings(key, part.given)
            value = _typed(given[0], part.given[given[0]]) if given else default
            why = f"{_OWN}; by default {default}: {source}" if given else source
            yield Assumption(name, value, not given, why)


def _typed(key: str, value: Any) -> str:
    if key.endswith("_pct"):
        return f"{u.number(value)} %"
    unit = u.suffix_of(key)
    return str(value) if unit is None else u.both(u.to_si(value, unit), unit)
