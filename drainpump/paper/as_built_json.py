"""A site and its tests as plain values for JSON, and back, refusing what does not fit.

Every quantity is written under its name with its unit, as it was typed; a run's named
fittings are written as their sums, so that a later table of fittings changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

import numpy as np

from drainpump import units as u
from drainpump.doubt.doubt import Doubt
from drainpump.errors import InputError, closed, wrong
from drainpump.field.reading import FieldTest
from drainpump.foreign import nearest
from drainpump.paper.document import job_parts
from drainpump.paper.document.job_shape import DOUBT, OUTLET, PUMP
from drainpump.paper.document.shapes import Either, Flag, Listed, Named, Number, Shape, Text
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.pipe import Pipe
from drainpump.parts.line.run import Run
from drainpump.parts.pump.curve import PumpCurve
from drainpump.units import Measure

__all__ = [
    "ANYTHING",
    "doubt_from",
    "line_from",
    "line_of",
    "pump_from",
    "reading_from",
    "reading_of",
    "walk",
]

T = TypeVar("T")

_KINDS = ("drawdown", "bucket", "cycle log", "gauge", "gauge, valve shut", "meter")


class _Anything:
    """A place that whoever reads it checks by itself."""

    def check(self, value: Any, path: str) -> Any:
        return value

    def schema(self) -> dict[str, Any]:
        return {}


_number = Number()
ANYTHING: Shape = _Anything()
#: a number, or null where a reading has none; text goes on to the quantity's own check
_reading = Either((str, type(None)), ANYTHING, _number)

_LINE: dict[str, Shape] = {
    "name": Text(),
    "runs": Listed(ANYTHING, 1, 100),
    "outlet": ANYTHING,
    "friction": Text(),
    "water": _number,
    "siphon": Flag(),
    "check_valve": Flag(),
}
_RUN: dict[str, Shape] = {
    "pipe": ANYTHING,
    "length": _number,
    "rise": _number,
    "k": _number,
    "equivalent_length": _number,
}
_PIPE: dict[str, Shape] = {
    "name": Text(),
    "bore": _number,
    "roughness": _number,
    "hazen_williams_c": _number,
}
#: what a reading holds, each with the guard of what it may be
_QUANTITIES = {
    "flow": "flow",
    "sigma": "flow",
    "level_above_off": "lift",
    "inflow": "inflow",
    "head": "head",
    "head_sigma": "head",
}
_READING: dict[str, Shape] = {
    "kind": ANYTHING,
    "place": Text(),
    "shares": Named(_number, 20),
} | dict.fromkeys(_QUANTITIES, _reading)


def line_of(line: DischargeLine) -> dict[str, Any]:
    """Return a line of scalars as plain values."""
    return {
        "name": line.name,
        "runs": [_run(run) for run in line.runs],
        "outlet": job_parts.outlet_of(line.outlet, f"line {line.name!r}"),
        "friction": line.friction,
        **_typed(line, ("water",)),
        "siphon": line.siphon,
        "check_valve": line.check_valve,
    }


def _run(run: Run) -> dict[str, Any]:
    return {
        "pipe": {
            "name": run.pipe.name,
            **_typed(run.pipe, ("bore", "roughness")),
            "hazen_williams_c": run.pipe.hazen_williams_c,
        },
        **_typed(run, ("length", "rise")),
        "k": run.k_total,
        "equivalent_length_m": float(run._fitting_length),
    }


def _typed(part: Any, names: tuple[str, ...]) -> dict[str, Any]:
    """Measures of a part under name and unit, as typed."""
    found: dict[str, Any] = {}
    for name in names:
        measure: Measure = getattr(part, f"_{name}")
        found[f"{name}_{measure.unit}"] = float(measure.typed)
    return found


def line_from(plain: Any, path: str) -> DischargeLine:
    """Build the line again."""
    given = walk(plain, path, _LINE, needed=("runs", "outlet"))
    runs = []
    for i, one in enumerate(given.pop("runs")):
        where = f"{path}.runs[{i}]"
        run = walk(one, where, _RUN, needed=("pipe",))
        pipe = walk(run.pop("pipe"), f"{where}.pipe", _PIPE)
        runs.append(build(Run, where, pipe=build(Pipe, f"{where}.pipe", **pipe), **run))
    outlet, where = given.pop("outlet"), f"{path}.outlet"
    kind = outlet.get("kind") if isinstance(outlet, Mapping) else None
    if isinstance(kind, str) and kind not in job_parts.OUTLETS:
        raise wrong(f"{where}.kind", kind, nearest(kind, sorted(job_parts.OUTLETS)))
    outlet = job_parts.outlet_from(OUTLET.check(outlet, where), where)
    return build(DischargeLine, path, runs=runs, outlet=outlet, **given)


def pump_from(plain: Any, path: str) -> PumpCurve:
    """Build the pump again from `PumpCurve.to_dict`."""
    points = PUMP.variants[-1][1].check(plain, path)
    return job_parts.build(PumpCurve, path, points)


def doubt_from(plain: Any, path: str) -> Doubt:
    """Build the doubt again."""
    return job_parts.build(Doubt, path, DOUBT.check(plain, path))


def reading_of(test: FieldTest) -> dict[str, Any]:
    """Return a field test as plain values; NaN becomes None."""
    plain: dict[str, Any] = {"kind": test.kind, "place": test.place}
    for name in ("flow_lps", "sigma_lps", "level_above_off_m", "inflow_lps", "head_m",
                 "head_sigma_m"):  # fmt: skip
        value = getattr(test, name)
        if value is not None:
            plain[name] = None if np.isnan(value) else float(value)
    return plain | {"shares": test.shares}


def reading_from(plain: Any, path: str) -> FieldTest:
    """Build the field test again."""
    given = walk(plain, path, _READING, needed=("kind", "place", "shares"))
    if given["kind"] not in _KINDS:
        raise wrong(f"{path}.kind", given["kind"], nearest(given["kind"], [*_KINDS]))
    si: dict[str, Any] = {}
    for name, guard in _QUANTITIES.items():
        keys = [k for k in given if u.suffix_of(k) and k == f"{name}_{u.suffix_of(k)}"]
        if len(keys) != 1:
            if name in ("flow", "sigma", "level_above_off"):
                raise InputError(f"{path}: needs {name} in one unit; it has {keys}.")
            si[name] = None
            continue
        value = np.nan if given[keys[0]] is None else given[keys[0]]
        unit = u.suffix_of(keys[0])
        assert unit is not None
        with u.speaking_of(()):  # a number that the library wrote
            si[name] = u.measure(f"{path}.{keys[0]}", value, unit, guard).si
    whole = si["sigma"] if si["head"] is None else si["head_sigma"]
    mend = "give its share of the variance"
    parts = {
        k: u.plain(f"{path}.shares.{k}", x, low=0.0, high=1.0, mend=mend) * whole**2
        for k, x in given["shares"].items()
    }
    return FieldTest(
        given["kind"], given["place"], si["flow"], si["sigma"], si["level_above_off"], parts,
        si["inflow"], si["head"], si["head_sigma"],
    )  # fmt: skip


def walk(
    plain: Any, path: str, shapes: Mapping[str, Shape], needed: tuple[str, ...] = ()
) -> dict[str, Any]:
    """Return an object's members, each checked by the shape of its stem (with any unit).

    A key that is none of the stems, one that stands there twice and a missing one of those
    ``needed`` are refused.
    """
    if not isinstance(plain, Mapping):
        raise InputError(f"{path}: must be an object; it is {type(plain).__name__}.")
    if (twice := getattr(plain, "twice", None)) is not None:
        raise InputError(f"{path}.{twice}: stands there twice; keep one of them.")
    stems = {}
    for key in plain:
        unit = u.suffix_of(key)
        stems[key] = key if key in shapes or unit is None else key[: -len(unit) - 1]
        if stems[key] not in shapes:
            mend = nearest(key, sorted(shapes))
            raise InputError(closed(f"{path}.{key}: unknown key; {mend}"))
    if lacks := sorted(set(needed) - set(stems.values())):
        raise InputError(f"{path}: lacks {', '.join(lacks)}; give it.")
    return {key: shapes[stems[key]].check(value, f"{path}.{key}") for key, value in plain.items()}


def build(make: Callable[..., T], path: str, **given: Any) -> T:
    """Build a part, naming where in the document it stood when it is refused."""
    try:
        return make(**given)
    except (InputError, TypeError) as error:
        raise InputError(f"{path}: {error}") from None
