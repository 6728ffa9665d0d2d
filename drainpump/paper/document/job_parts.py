"""Parts out of a checked job document, and parts back into one, numbers as typed."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from drainpump import units as u
from drainpump.doubt.doubt import Doubt
from drainpump.errors import CatalogError, InputError, UnitError, wrong
from drainpump.limits.costs import Costs
from drainpump.limits.limits import Limits
from drainpump.paper.document.job_shape import (
    COSTS,
    DOUBT,
    FITTING,
    LIMIT,
    LINE,
    OUTLET,
    PIPE,
    PIT,
    RUN,
)
from drainpump.paper.document.shapes import Object, at
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.hand_off import GravityHandOff
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.outlet import (
    FreeOutlet,
    Outlet,
    PopUpOutlet,
    SubmergedOutlet,
)
from drainpump.parts.line.pipe import Pipe, pvc, pvc_metric
from drainpump.parts.line.run import Run
from drainpump.parts.pit import Pit
from drainpump.parts.pump.catalog import read_curves
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics import pipes

__all__ = [
    "OUTLETS",
    "build",
    "doubt_of",
    "line_from",
    "line_of",
    "others_from",
    "others_of",
    "outlet_from",
    "outlet_of",
    "pump_of",
    "pumps_from",
    "written",
]

T = TypeVar("T")
_SAME: Mapping[str, str] = {}

#: the name a refusal begins with
_KEYWORD = re.compile(r"[a-z0-9_]+(?=[=\[])")

OUTLETS: dict[str, type[Any]] = {
    "free": FreeOutlet,
    "submerged": SubmergedOutlet,
    "pop_up": PopUpOutlet,
    "gravity": GravityHandOff,
}


def build(
    make: Callable[..., T], path: str, given: Mapping[str, Any], spelled: Mapping[str, str] = _SAME
) -> T:
    """Build a part; a refusal that names one of its keys is given that key's place.

    ``spelled`` maps keywords to the keys that stand for them in the document.
    """
    try:
        return make(**given)
    except InputError as error:
        said = str(error)
        found = _KEYWORD.match(said)
        if found and found.group() in {*given, *spelled}:
            word = found.group()
            said = f"{path}.{spelled.get(word, word)}{said[len(word) :]}"
        else:
            said = f"{path}: {said}"
        # a unit error is one in a document, too
        raise (UnitError if isinstance(error, UnitError) else InputError)(said) from None


def pumps_from(given: Iterable[Mapping[str, Any]], folder: Path, path: str) -> list[PumpCurve]:
    """Build pumps from points, or read them from files beside the document."""
    pumps: list[PumpCurve] = []
    for i, one in enumerate(given):
        where = f"{path}[{i}]"
        if "curves" not in one:
            pumps.append(build(PumpCurve, where, one))
            continue
        below = Path(one["curves"])
        # a document from elsewhere must not have any file of this machine opened and quoted
        if below.anchor or ".." in below.parts:
            raise InputError(
                f"{where}.curves={one['curves']!r}: must be a path below the job's own folder; "
                "put the files there, or give the points."
            )
        try:
            pumps += read_curves(os.fspath(folder / below))
        except CatalogError as error:
            raise InputError(f"{where}.curves: {error}") from None
    return pumps


def pipe_from(given: Mapping[str, Any], path: str) -> Pipe:
    """Build a standard pipe, or one of the user's own."""
    for key, keyword, make in (("pvc", "nominal", pvc), ("pvc_metric", "od_mm", pvc_metric)):
        if key in given:
            said = {keyword if name == key else name: value for name, value in given.items()}
            return build(make, path, said, {keyword: key, "nominal": key})
    return build(Pipe, path, given)


def line_from(given: Mapping[str, Any], path: str) -> DischargeLine:
    """Build a line from its checked description."""
    parts = dict(given)
    parts["runs"] = [_run_from(run, f"{path}.runs[{i}]") for i, run in enumerate(given["runs"])]
    if "outlet" in parts:
        parts["outlet"] = outlet_from(parts["outlet"], f"{path}.outlet")
    return build(DischargeLine, path, parts)


def outlet_from(given: Mapping[str, Any], path: str) -> Outlet:
    """Build an outlet from its checked description."""
    said = dict(given)
    outlet: Outlet = build(OUTLETS[said.pop("kind")], path, said)
    return outlet


def _run_from(given: Mapping[str, Any], path: str) -> Run:
    parts = dict(given)
    parts["pipe"] = pipe_from(given["pipe"], f"{path}.pipe")
    if "fittings" in parts:
        parts["fittings"] = {
            name: _fitting_from(name, item, parts["pipe"], at(f"{path}.fittings", name))
            for name, item in parts["fittings"].items()
        }
    return build(Run, path, parts)


def _fitting_from(name: str, item: Any, pipe: Pipe, path: str) -> Any:
    """Build what was described, leave a bare count as typed, and refuse an unknown name here."""
    bare = not isinstance(item, Mapping)
    fitting = build(Fitting, path, {"count": item} if bare else item)
    if fitting.k is None and fitting.equivalent_length_m is None:
        build(pipe.fitting_k, path, {"name": name})
    return item if bare else fitting


# and back


def _plain(label: str, value: Any) -> Any:
    """A scalar as typed; an array, a NaN or an infinity cannot stand in a job."""
    array = np.asarray(value)
    if array.ndim:
        raise InputError(f"{label}: holds an array; a job describes one case, give scalars.")
    if array.dtype.kind == "f" and not np.isfinite(array):
        raise InputError(f"{label}: is not a finite number; a job holds none but finite ones.")
    return array.item()


def written(part: Any, shape: Object, label: str, without: Iterable[str] = ()) -> dict[str, Any]:
    """Write what a shape knows of a part, as typed; what was not given is left out."""
    # a part keeps a quantity where the view of its public name says
    sources = {v.name: v.source for v in u.views(type(part)) if v.unit is not None}
    found: dict[str, Any] = {}
    for key in shape.keys:
        if key.stem in without:
            continue
        name, value = key.stem, None
        if not key.units:
            value = getattr(part, key.stem)
        elif (known := getattr(part, sources[key.spellings[0]])) is not None:
            name, value = f"{key.stem}_{known.unit}", known.typed
        if isinstance(value, tuple | dict):
            found[name] = list(value) if isinstance(value, tuple) else dict(value)
        elif isinstance(value, str):
            found[name] = value
        elif value is not None:
            found[name] = _plain(f"{label}: {name}", value)
    return found


def pump_of(pump: Any) -> dict[str, Any]:
    """Write a pump as its points."""
    if not isinstance(pump, PumpCurve):
        name = getattr(pump, "name", pump)
        raise InputError(f"pump {name!r}: a job holds single pumps, no bank; give its curves.")
    return pump.to_dict()


def line_of(line: Any) -> dict[str, Any]:
    """Write a line of scalars."""
    if not isinstance(line, DischargeLine):
        raise wrong("lines", line, "must hold DischargeLine", "make one with DischargeLine(...)")
    label = f"line {line.name!r}"
    outlet = outlet_of(line.outlet, label)
    found = written(line, LINE, label, without=("runs", "outlet"))
    return found | {"runs": [_run_of(run, label) for run in line.runs], "outlet": outlet}


def outlet_of(outlet: Any, label: str) -> dict[str, Any]:
    """Write an outlet by its kind."""
    kinds = [kind for kind, cls in OUTLETS.items() if type(outlet) is cls]
    if not kinds:
        raise InputError(f"{label}: a job knows the outlets {', '.join(OUTLETS)}; use one of them.")
    shape = dict(OUTLET.variants)[kinds[0]]
    return {"kind": kinds[0], **written(outlet, shape, label, without=("kind",))}


def _run_of(run: Run, label: str) -> dict[str, Any]:
    fittings = {
        name: written(item, FITTING, label) if isinstance(item, Fitting) else _plain(label, item)
        for name, item in run.fittings.items()
    }
    found = written(run, RUN, label, without=("pipe", "fittings"))
    return found | {"pipe": _pipe_of(run.pipe, label), "fittings": fittings}


def _pipe_of(pipe: Pipe, label: str) -> dict[str, Any]:
    """A standard pipe by its size and convention, any other by its bore."""
    own = written(pipe, PIPE.variants[-1][1], label)
    if pipe.size is None:
        return own
    wall = {key: value for key, value in own.items() if key.startswith(("rough", "hazen"))}
    metric = pipe.size.nominal.endswith("mm")
    given: dict[str, Any] = {"pvc": pipe.size.nominal, "schedule": pipe.size.schedule}
    if metric:
        od = float(pipe.size.nominal.split()[0])
        given = {"pvc_metric": int(od) if od.is_integer() else od, "sdr": pipe.size.schedule}
    # a pipe does not keep its convention, but its bore tells which it was
    for convention in pipes.BORES:
        said = {**given, "bore": convention, **wall}
        if pipe_from(said, label).bore_mm == pipe.bore_mm:
            return said
    return own


def doubt_of(doubt: Doubt) -> dict[str, Any]:
    """A grade stands for its head and flow."""
    if doubt.grade is None:
        return written(doubt, DOUBT, "doubt", without=("grade",))
    found = written(doubt, DOUBT, "doubt", without=("grade", "head_pct", "flow_pct"))
    return found | {"grade": doubt.grade.name}


def _costs_of(costs: Costs) -> dict[str, Any]:
    found = {f"pipe_per_{costs._pipe_unit}": costs.pipe}
    found["energy_per_kwh"] = costs.energy_per_kwh
    return found | written(costs, COSTS, "costs", without=("pipe_per", "energy_per"))


#: parts of a job that may be missing: how each is built and how it is written
_OTHERS: dict[str, tuple[type, Callable[[Any], dict[str, Any]]]] = {
    "pit": (Pit, lambda pit: written(pit, PIT, "pit")),
    "limits": (Limits, lambda limits: written(limits, LIMIT, "limits")),
    "doubt": (Doubt, doubt_of),
    "costs": (Costs, _costs_of),
}


def others_from(given: Mapping[str, Any], path: str) -> dict[str, Any]:
    """Build the pit, the limits, the doubt and the costs that are given."""
    return {
        name: build(cls, f"{path}.{name}", given[name])
        for name, (cls, _) in _OTHERS.items()
        if name in given
    }


def others_of(parts: Mapping[str, Any]) -> dict[str, Any]:
    """Write them."""
    return {
        name: write(parts[name]) for name, (_, write) in _OTHERS.items() if parts[name] is not None
    }
