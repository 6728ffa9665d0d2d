"""The standard pipes near a pipe: the same schedule and convention, wider or narrower."""

from __future__ import annotations

from typing import Any

from drainpump.parts.line.pipe import Pipe, pvc, pvc_metric
from drainpump.physics.pipes import BORES, Convention, PipeSize, sizes

#: bores closer than this (m) are the same size
_SAME_BORE = 1.5e-5


def above(pipe: Pipe, count: int = 3) -> list[Pipe]:
    """The next sizes of the same schedule, or of Schedule 40 where the bore is one's own."""
    return _others(pipe, wider=True)[:count]


def around(pipe: Pipe, wider: int = 3, narrower: int = 2) -> list[Pipe]:
    """The next sizes on both sides, the nearest first."""
    return [*_others(pipe, wider=True)[:wider], *_others(pipe, wider=False)[:narrower]]


def _others(pipe: Pipe, *, wider: bool) -> list[Pipe]:
    same, convention = _standard(pipe)
    schedule = "Sch 40" if same is None else same.schedule
    metric = same is not None and same.nominal.endswith("mm")
    bore = float(pipe.si.bore)
    wall: dict[str, Any] = {
        "bore": convention,
        "roughness_m": float(pipe.si.roughness),
        "hazen_williams_c": pipe.hazen_williams_c,
    }
    rows = [
        s
        for s in sizes()
        if (s.schedule, s.nominal.endswith("mm")) == (schedule, metric)
        and (s.bore(convention) > 1.02 * bore if wider else s.bore(convention) < bore / 1.02)
    ]
    return [
        pvc_metric(float(s.nominal.split()[0]), schedule, **wall)
        if metric
        else pvc(s.nominal, schedule, **wall)
        for s in sorted(rows, key=lambda s: abs(s.bore() - bore))
    ]


def _standard(pipe: Pipe) -> tuple[PipeSize | None, Convention]:
    """The standard pipe of this bore, and by which convention; None for a bore of one's own."""
    bore = float(pipe.si.bore)
    found = [
        (size, convention)
        for size in sizes()
        for convention in BORES
        if abs(size.bore(convention) - bore) < _SAME_BORE
    ]
    # the first table that has the bore is Schedule 40's, the commonest
    first: tuple[PipeSize | None, Convention] = found[0] if found else (None, "average")
    return next((pair for pair in found if pair[0].nominal == pipe.nominal), first)
