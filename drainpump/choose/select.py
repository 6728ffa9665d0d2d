"""Which pump on which line: every candidate judged, every rejection with its number."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import product
from os import PathLike
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from drainpump import units as u
from drainpump.choose.admit import with_found_floats
from drainpump.choose.candidate import Candidate
from drainpump.choose.question import (
    OBJECTIVES,
    Question,
    RankedBy,
    in_words,
    priced,
    ranked,
    refuse_unknown,
)
from drainpump.choose.selection import Selection, check_one_need
from drainpump.choose.storms import Storms, asked_storms
from drainpump.doubt.doubt import Doubt, sample_count
from drainpump.errors import InputError, UnitError, wrong
from drainpump.foreign import is_among
from drainpump.inflow.storm import Hydrograph
from drainpump.limits.costs import Costs
from drainpump.limits.limits import OF_STORMS, Limits, needs_pit
from drainpump.parts.pit import Pit
from drainpump.parts.pond import PondStorage, take_pond
from drainpump.parts.scalars import check_kinds, one_plain, yes_or_no
from drainpump.solve.grid import listed, make_grid
from drainpump.work_budget import spend

if TYPE_CHECKING:
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pump.bank import Pump

#: the doubt of a paced yard and a catalogue curve, where no other is given
USUAL = Doubt.usual()

#: so many of the nearest misses are asked what would admit them beyond the list; the rest
#: only what on the list does
_ASKED = 40

#: probability with which a need must be carried where none is told: our judgement, no source
CERTAINTY = 0.9


def select(
    pumps: Pump | Sequence[Pump],
    lines: DischargeLine | Sequence[DischargeLine],
    *,
    pit: Pit | Sequence[Pit] | None = None,
    need_gpm: u.Quantity | None = None,
    need_lps: u.Quantity | None = None,
    limits: Limits | None = None,
    doubt: Doubt | None = USUAL,
    certainty: float | None = None,
    objective: RankedBy = "least",
    costs: Costs | None = None,
    storms: Hydrograph | None = None,
    pond_area_ft2: float | None = None,
    pond_area_m2: float | None = None,
    pond_storage: PondStorage | None = None,
    overflow_in: float | None = None,
    overflow_mm: float | None = None,
    annual_maxima: bool = False,
    floats: Literal["given", "find"] = "given",
    samples: int = 512,
    seed: int = 0,
) -> Selection:
    """Judge every pump on every line against a needed flow and the limits.

    Parameters
    ----------
    pumps, lines : PumpCurve and DischargeLine, or sequences of them
        All pairs are tried. Their quantities are scalars here.
    pit : Pit or sequence of Pit, optional
        Several are candidates like pumps and lines. Needed for storms, for limits on starts
        and runs, and for the objective "starts". Without a limit on starts, many of them
        are noted.
    need_gpm, need_lps : float
        Flow needed at the pump-off level, the hardest, >= 0. Exactly one; with storms and
        limits on the pond it may be left out: the need is that they hold.
    limits : Limits, optional
        Defaults to ``Limits()``: 2 to 8 ft/s, 0.5 to 1.3 of the best-efficiency flow, what
        the outlet carries, and warnings.
    doubt : Doubt or None, default ``Doubt.usual()``
        The need must be carried, and a limit on starts kept, with the wished ``certainty``,
        over so many ``samples`` from ``seed``, the same for every candidate. None: nothing is
        doubted.
    certainty : float, default 0.9
        0 <= certainty <= 1; our judgement, no source. Refused where nothing is doubted.
    objective : {"least", "flow", "cost", "starts", "energy"}
        The least that surely serves (see Notes); most flow; least cost, which needs
        ``costs`` and a price for every pump; fewest starts in the worst case; least energy
        for the water moved, by the curve's power.
    costs : Costs, optional
        Prices; without them no cost is said.
    storms : Hydrograph, optional
        Storms on its leading axis, each routed through every candidate. The limits on pond
        and overflow must hold in every one, or in those up to their ``dry_up_to_year``.
    pond_area_ft2, pond_area_m2, pond_storage, overflow_in, overflow_mm : optional
        The low spot around the pit, as in `route`.
    annual_maxima : bool, default False
        True where the storms' return periods are of annual maxima: the probability in any
        year is then 1/N, and 1 - exp(-1/N) for partial-duration series.
    floats : {"given", "find"}
        "find" leaves the on level to the choice: for each candidate the lowest that keeps
        the limit on starts, 15 an hour where none is set, below inlet, alarm and rim; the
        off level is the pit's, else the pump's own, else the top of what stands in the pit.
    samples, seed : int
        Of the samples.

    Returns
    -------
    Selection
        Accepted candidates ranked by the objective, then in the order given; then the
        rejected, nearest miss first.

    Raises
    ------
    UnitError, InputError
        Bad units or values; a limit on starts or runs without a pit; a missing price or
        power where the objective needs it, by name.

    Notes
    -----
    "least" ranks by the cost over the years where all that are accepted are priced, else by
    the power put into the water, flow × head. What all pay alike (trench, pit, lump sums) is
    left out of the comparison. The least and all within ``alike_pct`` of it
    go by their distance outside ``best_flow_preferred``, then by nearness to the
    best-efficiency flow, unknown last, then as given; and so on with the rest. The figures
    are those of the limits: our judgement, where they say so.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> lines = [dp.straight_line(pipe=dp.pvc(s), length_ft=150, lift_ft=6) for s in ("1-1/2", "2")]
    >>> sel = dp.select([pump], lines, need_gpm=30)
    >>> sel.best.line.name, [r.code for r in sel.rejected[0].reasons]
    ('2 in Sch 40 PVC, 150 ft', ['flow_short'])
    """
    if isinstance(pumps, str | PathLike):
        raise wrong("pumps", str(pumps), "must be pumps", "read a file with read_curves(...)")
    said = u.Typed(locals())
    need = said.maybe("need", "flow")
    check_kinds({"limits": Limits, "costs": Costs}, locals())
    limits = Limits() if limits is None else limits
    if doubt is None and certainty is not None:
        raise wrong("certainty", certainty, "must stand beside a doubt",
                    "give doubt=Doubt.usual(), or leave the certainty out")  # fmt: skip
    wish = one_plain("certainty", CERTAINTY if certainty is None else certainty,
                     "give a probability", high=1.0)  # fmt: skip
    pits: list[Any] = [None] if pit is None else list(listed("pit", pit, Pit)[0])
    _check(limits, pits[0], costs, objective, floats)
    yes_or_no("annual_maxima", annual_maxima)
    pond = take_pond(pond_area_ft2, pond_area_m2, pond_storage)
    overflow = said.maybe("overflow", "level")
    rain = _rain(storms, pond, overflow, limits, annual_maxima, pits[0])
    _check_need(need, limits, rain)
    asked = Question(need, limits, doubt, wish, samples, seed, costs, rain)
    grid = make_grid(pumps, lines, np.zeros(()))
    refuse_unknown(objective, grid.pumps, costs)
    pairs = {"pumps": len(grid.pumps), "lines": grid.count, "pits": len(pits)}
    if doubt is not None:
        spend("select", **pairs, runs=len(grid.line.end), samples=sample_count(samples))
    if rain is not None:
        spend("select", **pairs, storms=len(rain.inflow.si.flow), points_each=500)
    if grid.inner or any(one is not None and one.shape for one in pits):
        raise InputError(
            "select: an input holds an array; a choice is made for one site, give scalars "
            "and put variants in the lists of pumps and lines."
        )
    return _chosen(list(grid.pumps), list(grid.lines), pits, floats, objective, asked)


def _chosen(
    pumps: Sequence[Any],
    lines: Sequence[Any],
    pits: Sequence[Any],
    floats: Literal["given", "find"],
    objective: RankedBy,
    asked: Question,
) -> Selection:
    """Hold everything against a question, rank it, and say what would admit the rejected."""
    tried = [
        asked.tried(some, laid, own, number)
        for number, pit in enumerate(pits, 1)
        for some, laid, own in _by_float(pumps, lines, pit, floats, asked)
    ]
    order = enumerate(ranked(objective, tried), 1)
    found = [Candidate(rank, tried[j], (p, k)) for rank, (j, p, k) in order]
    judged = tried[0].judged
    if len(tried) > 1:  # of all pumps, whatever the pit
        judged = asked.tried(pumps, lines, None).judged
    return Selection(
        candidates=tuple(_with_changes(found)),
        objective=objective,
        rule=in_words(objective, asked.limits, priced(tried)),
        operating=judged.op,
        cycling=judged.still,
        band=None if judged.sure is None else judged.sure.band,
        pit=pits[0] if len(pits) == 1 else tuple(pits),
        floats=floats,
        _asked=asked,
        _again=partial(_chosen, pumps, lines, pits, floats, objective),
    )


def _by_float(
    pumps: Sequence[Any], lines: Sequence[Any], pit: Any, floats: str, asked: Question
) -> Iterator[tuple[Sequence[Any], Sequence[Any], Pit | None]]:
    """Pumps and lines over one pit, or each over its own where the floats differ."""
    if floats == "find":
        for pump, line in product(pumps, lines):
            yield [pump], [line], with_found_floats(asked, pump, line, pit)
    elif pit is None or not pit.open:
        yield pumps, lines, pit
    else:
        for pump in pumps:
            yield [pump], lines, pit.floats_of(pump)


def _with_changes(candidates: Sequence[Candidate]) -> Iterator[Candidate]:
    """Give each rejected candidate what on the list would take its place.

    The same pump on another line first, the nearest in the water it holds; else another
    pump on the same line, the weakest that serves.
    """
    by_pump: dict[int, list[Candidate]] = defaultdict(list)
    by_line: dict[int, list[Candidate]] = defaultdict(list)
    for c in candidates:
        if c.accepted:
            by_pump[id(c.pump)].append(c)
            by_line[id(c.line)].append(c)
    asked = 0
    for c in candidates:
        if c.accepted:
            yield c
            continue
        asked += 1
        like = partial(_on_the_list, c, by_pump[id(c.pump)], by_line[id(c.line)])
        yield replace(c, _listed=like, _solves=asked <= _ASKED)


def _on_the_list(c: Candidate, lines: Sequence[Candidate], pumps: Sequence[Candidate]) -> str:
    if lines:
        own = float(c.line.si.volume)
        # runs may differ in bore: what a line holds tells the next size up from the one after
        near = min(lines, key=lambda x: abs(float(x.line.si.volume) - own))
        return f"the same pump on {near.line.name} gives {near.si.asked.said(near.si.flow, 'gpm')}"
    if pumps:
        near = min(pumps, key=lambda x: float(x.si.flow))
        return f"{near.pump.name} on the same line gives {near.si.asked.said(near.si.flow, 'gpm')}"
    return ""


def _rain(
    storms: Hydrograph | None, pond: Any, overflow: Any, limits: Limits, annual: bool, pit: Any
) -> Storms | None:
    """The storms to be routed, checked; limits on water that none brings are refused."""
    if storms is None:
        if asks := [name for name in OF_STORMS if limits.applies(name)]:
            raise InputError(f"{asks[0]}: no storms given; give storms=Hydrograph(...).")
        return None
    if pit is None:
        raise InputError("storms: no pit given; give pit=Pit(...).")
    return asked_storms(storms, pond, overflow, limits, annual)


def _check_need(need: u.Measure | None, limits: Limits, rain: Storms | None) -> None:
    if need is not None:
        check_one_need(need)
    elif rain is None or not any(limits.applies(name) for name in OF_STORMS):
        raise UnitError(
            "need: missing; give need_gpm or need_lps, or storms with limits on the pond, such "
            "as Limits(pond_depth_max_in=1)."
        )


def _check(limits: Limits, pit: Any, costs: Any, objective: RankedBy, floats: str) -> None:
    if not is_among(objective, OBJECTIVES):
        raise wrong("objective", objective, f"must be one of {tuple(OBJECTIVES)}", "pick one")
    if not is_among(floats, ("given", "find")):
        raise wrong("floats", floats, "must be 'given' or 'find'", "pick one of the two")
    given = {"": True, "pit": pit is not None, "costs": costs is not None}
    wants = {
        "floats='find'": "pit" if floats == "find" else "",
        "limits on starts or runs": "pit" if needs_pit(limits) else "",
        "cost_max": "costs" if limits.applies("cost_max") else "",
        f"objective={objective!r}": OBJECTIVES[objective].needs,
    }
    for what, name in wants.items():
        if not given[name]:
            raise InputError(f"{what}: no {name} given; give {name}={name.capitalize()}(...).")
