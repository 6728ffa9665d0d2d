"""A site and its tests as plain values for JSON, and back, refusing what does not fit.

Every quantity is written under its name with its unit, as it was typed; a run's named
fittings are written as their sums, so that a later table of fittings changes nothing.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np

from drainpump import units as u
from drainpump.advice.doubt import Doubt
from drainpump.engine.fieldtest import FieldTest
from drainpump.errors import InputError, nearest
from drainpump.parts.curve import PumpCurve
from drainpump.parts.line import DischargeLine
from drainpump.parts.outlet import FreeOutlet, GravityHandOff, PopUpOutlet, SubmergedOutlet
from drainpump.parts.pipe import Pipe
from drainpump.parts.run import Run
from drainpump.units import Measure

__all__ = [
    "doubt_from",
    "doubt_of",
    "line_from",
    "line_of",
    "pump_from",
    "reading_from",
    "reading_of",
    "walk",
]

T = TypeVar("T")

#: what each kind of outlet is made of: measures, then plain numbers
_OUTLETS: dict[str, tuple[type, tuple[str, ...], tuple[str, ...]]] = {
    "free": (FreeOutlet, ("lid",), ()),
    "submerged": (SubmergedOutlet, ("depth",), ()),
    "pop_up": (PopUpOutlet, ("opening_head", "gap", "body"), ("discharge_coefficient",)),
    "gravity": (GravityHandOff, ("bore",), ("slope", "n")),
}
_DOUBT = ("length_pct", "bore_pct", "friction_pct", "k_log", "inflow_pct")
_KINDS = ("drawdown", "bucket", "cycle log", "gauge", "gauge, valve shut", "meter")


def line_of(line: DischargeLine) -> dict[str, Any]:
    """Return a line of scalars as plain values."""
    for kind, (cls, measures, plain) in _OUTLETS.items():
        if type(line.outlet) is cls:
            outlet = {"kind": kind} | _typed(line.outlet, measures)
            outlet |= {name: getattr(line.outlet, name) for name in plain}
            break
    else:
        raise InputError(
            f"outlet {line.outlet!r}: cannot be recorded; use one of {sorted(_OUTLETS)}."
        )
    return {
        "name": line.name,
        "runs": [_run(run) for run in line.runs],
        "outlet": outlet,
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
    given = walk(plain, path, {"name", "runs", "outlet", "friction", "water", "siphon",
                               "check_valve"})  # fmt: skip
    runs = []
    for i, one in enumerate(given.pop("runs")):
        where = f"{path}.runs[{i}]"
        run = walk(one, where, {"pipe", "length", "rise", "k", "equivalent_length"})
        pipe = walk(
            run.pop("pipe"), f"{where}.pipe", {"name", "bore", "roughness", "hazen_williams_c"}
        )
        runs.append(build(Run, where, pipe=build(Pipe, f"{where}.pipe", **pipe), **run))
    outlet = dict(given.pop("outlet"))
    kind = outlet.pop("kind", None)
    if kind not in _OUTLETS:
        raise InputError(f"{path}.outlet.kind={kind!r}: {nearest(kind, sorted(_OUTLETS))}.")
    cls, measures, numbers = _OUTLETS[kind]
    outlet = walk(outlet, f"{path}.outlet", {*measures, *numbers})
    return build(
        DischargeLine, path, runs=runs, outlet=build(cls, f"{path}.outlet", **outlet), **given
    )


def pump_from(plain: Any, path: str) -> PumpCurve:
    """Build the pump again from `PumpCurve.to_dict`."""
    if not isinstance(plain, dict):
        raise InputError(f"{path}: must be an object; it is {type(plain).__name__}.")
    return build(PumpCurve, path, **plain)


def doubt_of(doubt: Doubt) -> dict[str, Any]:
    """Return a doubt as plain values."""
    found = {name: getattr(doubt, name) for name in _DOUBT} | _typed(doubt, ("lift",))
    if doubt.grade is not None:
        return found | {"grade": doubt.grade.name}
    return found | {"head_pct": doubt.head_pct, "flow_pct": doubt.flow_pct}


def doubt_from(plain: Any, path: str) -> Doubt:
    """Build the doubt again."""
    if not isinstance(plain, dict):
        raise InputError(f"{path}: must be an object; it is {type(plain).__name__}.")
    return build(Doubt, path, **plain)


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
    given = walk(plain, path, {"kind", "place", "flow", "sigma", "level_above_off", "inflow",
                               "head", "head_sigma", "shares"})  # fmt: skip
    if given["kind"] not in _KINDS:
        raise InputError(f"{path}.kind={given['kind']!r}: {nearest(given['kind'], [*_KINDS])}.")
    si: dict[str, Any] = {}
    for name in ("flow", "sigma", "level_above_off", "inflow", "head", "head_sigma"):
        keys = [k for k in given if u.suffix_of(k) and k == f"{name}_{u.suffix_of(k)}"]
        if len(keys) != 1:
            if name in ("flow", "sigma", "level_above_off"):
                raise InputError(f"{path}: needs {name} in one unit; it has {keys}.")
            si[name] = None
            continue
        value = np.nan if given[keys[0]] is None else given[keys[0]]
        unit = u.suffix_of(keys[0])
        assert unit is not None
        si[name] = u.measure(f"{path}.{keys[0]}", value, unit, "any").si
    whole = si["sigma"] if si["head"] is None else si["head_sigma"]
    parts = {k: np.asarray(x * whole**2) for k, x in given["shares"].items()}
    return FieldTest(
        given["kind"], given["place"], si["flow"], si["sigma"], si["level_above_off"], parts,
        si["inflow"], si["head"], si["head_sigma"],
    )  # fmt: skip


def walk(plain: Any, path: str, stems: set[str]) -> dict[str, Any]:
    """Return an object's members, refusing a key that is none of ``stems`` (with any unit)."""
    if not isinstance(plain, dict):
        raise InputError(f"{path}: must be an object; it is {type(plain).__name__}.")
    for key in plain:
        unit = u.suffix_of(key)
        stem = key if key in stems or unit is None else key[: -len(unit) - 1]
        if stem not in stems:
            raise InputError(f"{path}.{key}: unknown key; {nearest(key, sorted(stems))}.")
    return dict(plain)


def build(cls: Callable[..., T], path: str, **given: Any) -> T:
    """Build a part, naming where in the document it stood when it is refused."""
    known = inspect.signature(cls).parameters
    for key in given:
        if key not in known:
            raise InputError(f"{path}.{key}: unknown key; {nearest(key, list(known))}.")
    try:
        return cls(**given)
    except (InputError, TypeError) as error:
        raise InputError(f"{path}: {error}") from None
