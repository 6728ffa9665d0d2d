"""Changes to a line or pump that may bring more water, in words, and the pipes near a pipe."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, zip_longest
from typing import Any, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.outlet import FreeOutlet
from drainpump.parts.line.pipe import Pipe, pvc, pvc_metric
from drainpump.parts.line.run import Run
from drainpump.parts.pump.bank import Pump
from drainpump.physics.pipes import BORES, Convention, PipeSize, sizes
from drainpump.solve.changed_line import in_pipes

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


#: what is said of the sizes above the present one
_STEPS = ("", ", two sizes up", ", three sizes up")
#: so much wider is a step at least that one lays a pipe anew for; a size between may do too
_WIDER = 1.2
#: how much shorter a way is tried, as a share of its length
_SHORTER = 0.1
#: effort as a length of pipe laid (m): our judgement, no source
_VALVE, _LID, _ELBOW, _PIECE = 1.5, 1.5, 3.0, 1.0
#: valves that stand in the way open, and what stands in it less: K = (L/D)·f_T, see the table
_WRONG = {
    "globe_valve": "ball_valve", "angle_valve": "ball_valve", "butterfly_valve": "ball_valve",
    "check_valve_lift": "check_valve_swing", "check_valve_ball": "check_valve_swing",
    "foot_valve_poppet": "foot_valve_hinged",
}  # fmt: skip
#: K of a valve that is not a check, from which it is taken to be half shut
_HALF_SHUT = 1.0


class Idea(NamedTuple):
    """A change: in words, of what kind, what would stand there, what it asks of the site."""

    name: str
    kind: str
    pump: Pump
    line: DischargeLine
    asks: str
    single: bool = True
    effort: float = 0.0  # as a length of pipe laid, m
    relaid: tuple[Run, ...] = ()  # runs that are new
    bought: tuple[str, ...] = ()  # fittings that are new


def other_pumps(pump: Pump, line: DischargeLine, pumps: Sequence[Pump]) -> Iterator[Idea]:
    """The other pumps on the line as it is."""
    for other in pumps:
        if other is not pump:
            asks = "another pump, its supply and its size in the pit"
            yield Idea(f"another pump, {other.name}", "pump", other, line, asks, False)


def other_lines(pump: Pump, line: DischargeLine) -> Iterator[Idea]:
    """The line changed by one thing."""
    yield from _valves(pump, line)
    yield from _pipes(pump, line)
    shorter = line.variant(runs=[_shorter(run) for run in line.runs], name=None)
    saved = 1 - float(shorter.si.length) / max(float(line.si.length), 1e-9)
    if saved > 0.005:
        asks = "a straighter route, if the site has one"
        yield Idea(
            f"a way {saved:.0%} shorter", "length", pump, shorter, asks,
            effort=sum(map(_laid, shorter.runs, line.runs)), relaid=shorter.runs,
        )  # fmt: skip
    total = sum(sum(_elbows(run).values()) for run in line.runs)
    if total >= 1:
        fewer = max(total // 2, 1.0)
        name, asks = f"{total - fewer:g} elbows in place of {total:g}", "a route with fewer bends"
        made = _with_fewer_elbows(line, fewer)
        # at most the whole way is laid anew, straight
        effort = min(fewer * _ELBOW, float(line.si.length))
        yield Idea(name, "elbows", pump, made, asks, effort=effort)
    if np.any(line.outlet.si.least_head > 0) or np.any(line.outlet.si.orifice > 0):
        asks = "a wide grate in place of the lid, to keep animals out"
        bare = line.variant(outlet=FreeOutlet(), name=None)
        yield Idea("an open end without a lid", "lid", pump, bare, asks, effort=_LID)


def together(pump: Pump, line: DischargeLine, ideas: Sequence[Idea]) -> Iterator[Idea]:
    """Two changes of unlike kinds at once: a second one made on the line of the first."""
    for first, second in combinations([i for i in ideas if i.single], 2):
        if first.kind == second.kind:
            continue
        again = [x for x in other_lines(pump, first.line) if x.name == second.name]
        for x in again[:1]:
            yield Idea(
                f"{first.name}, and {x.name}", "both", pump, x.line,
                f"{first.asks}, and {x.asks}", effort=first.effort + x.effort,
                relaid=(*first.relaid, *x.relaid), bought=(*first.bought, *x.bought),
            )  # fmt: skip


def _valves(pump: Pump, line: DischargeLine) -> Iterator[Idea]:
    """A valve that is half shut, or of a kind that stands in the way."""
    for i, run in enumerate(line.runs):
        for loss in run.losses:
            if "valve" not in loss.name:
                continue
            better = _WRONG.get(loss.name)
            words = f"a {_plain(better or '')} in place of the {_plain(loss.name)}"
            if better is None and isinstance(run.fittings[loss.name], Fitting):
                if "check" in loss.name or not np.all(loss.k_each > _HALF_SHUT):
                    continue
                better, words = "ball_valve", f"the {_plain(loss.name)} wide open, or a ball valve"
            if better is None:
                continue
            fittings = {k: v for k, v in run.fittings.items() if k != loss.name}
            had = fittings.get(better, 0.0)
            if isinstance(had, Fitting):
                continue
            fittings[better] = had + float(loss.count)
            runs = [run.variant(fittings=fittings) if j == i else x
                    for j, x in enumerate(line.runs)]  # fmt: skip
            yield Idea(
                words, "valve", pump, line.variant(runs=runs, name=None),
                "one valve, and nothing dug", effort=_VALVE, bought=(better,),
            )  # fmt: skip


def _pipes(pump: Pump, line: DischargeLine) -> Iterator[Idea]:
    """The next sizes of pipe, in one run or in all."""
    runs, asks = line.runs, "the pipe to be laid anew"
    if len(runs) > 1:
        for i, run in enumerate(runs):
            widest = max(float(x.pipe.si.bore) for x in runs)
            for n, pipe in enumerate(above(run.pipe, len(_STEPS))):
                if n and pipe.si.bore > 1.02 * widest:
                    break  # wider than all the rest it is no throttle any more
                pipes = [pipe if j == i else x.pipe for j, x in enumerate(runs)]
                made = in_pipes(line, pipes)
                name = f"{_called(pipe)} in {run.name or f'run {i + 1}'}"
                yield Idea(
                    name, "pipe", pump, made, asks, effort=_laid(made.runs[i], run),
                    relaid=(made.runs[i],),
                )  # fmt: skip
    single = True
    for step, larger in enumerate(zip_longest(*(above(run.pipe, len(_STEPS)) for run in runs))):
        # a run that is already the widest stays
        pipes = [pipe or run.pipe for pipe, run in zip(larger, runs, strict=True)]
        name = " and ".join(dict.fromkeys(_called(p) for p in larger if p is not None))
        made = in_pipes(line, pipes)
        yield Idea(
            name + _STEPS[step], "pipe", pump, made, asks, single,
            sum(map(_laid, made.runs, runs)), made.runs,
        )  # fmt: skip
        grown = zip(pipes, runs, strict=True)
        single &= all(p.si.bore < _WIDER * run.pipe.si.bore for p, run in grown)


def _laid(new: Run, old: Run) -> float:
    """Effort of a run laid anew: its length, more where the pipe is wider, and its fittings."""
    pieces = sum(float(loss.count) for loss in new.losses)
    return float(new.si.length * new.pipe.si.bore / old.pipe.si.bore) + _PIECE * pieces


def _plain(name: str) -> str:
    """A valve as one says it: the kind before what it is."""
    for stem in ("check_valve", "foot_valve"):
        if name.startswith(f"{stem}_"):
            name = f"{name.removeprefix(f'{stem}_')} {stem}"
    return name.replace("_", " ")


def _shorter(run: Run) -> Run:
    """The run shorter by the share that is tried, but never shorter than it rises."""
    length, rise = float(run.si.length), abs(float(run.si.rise))
    share = min(1.0, max(1 - _SHORTER, rise / length)) if length > 0 else 1.0
    return run.variant(**{k: x * share for k, x in run.given.items() if k.startswith("length_")})


def _called(pipe: Pipe) -> str:
    unit = "mm" if str(pipe.nominal).endswith("mm") else "in"
    return f"{pipe.name} (bore {u.text(pipe.si.bore, unit)})"


def _elbows(run: Run) -> dict[str, float]:
    """How many of each elbow a run has."""
    return {x.name: float(x.count) for x in run.losses if x.name.startswith("elbow")}


def _with_fewer_elbows(line: DischargeLine, fewer: float) -> DischargeLine:
    runs = []
    for run in line.runs:
        fittings = run.fittings
        for name, pieces in _elbows(run).items():
            taken = min(fewer, pieces)
            fewer -= taken
            own = fittings[name]
            left = pieces - taken
            fittings[name] = own.variant(count=left) if isinstance(own, Fitting) else left
        runs.append(run.variant(fittings=fittings))
    return line.variant(runs=runs, name=None)
