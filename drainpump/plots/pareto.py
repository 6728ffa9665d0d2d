"""Cost against flow, or against dry years: which candidates no other beats in both."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np

from drainpump.choose.candidate import Candidate
from drainpump.choose.selection import Selection
from drainpump.errors import InputError, wrong
from drainpump.foreign import is_among
from drainpump.parts.scalars import check_kind
from drainpump.plots.frame import Frame, Label, frame_on, style
from drainpump.plots.labels import MANY, label_points
from drainpump.plots.margins import key_column, legend
from drainpump.plots.page import Axes
from drainpump.units import System

#: marks of candidates against each: what the key says, the mark and its face, and whose it is;
#: against dry years a mark points on where the storms given end
_MARKS: dict[str, tuple[tuple[str, str, str, Callable[[Candidate], bool]], ...]] = {
    "flow": (
        ("accepted", "o", "black", lambda c: c.accepted),
        ("rejected", "o", "white", lambda c: not c.accepted),
    ),
    "dry": (
        ("dry up to so many years", "o", "black", lambda c: c.wet_alone and c.dry_status == "ok"),
        ("dry in the rarest storm given", ">", "black",
         lambda c: c.wet_alone and c.dry_status == "beyond"),
        ("not dry in the most frequent", "<", "black",
         lambda c: c.wet_alone and c.dry_status == "below"),
        ("rejected for another limit", "o", "white", lambda c: not c.wet_alone),
    ),
}  # fmt: skip


def pareto(
    selection: Selection,
    ax: Axes | None = None,
    *,
    against: Literal["flow", "dry"] = "flow",
    units: System = "us",
    twin: bool = True,
) -> Axes:
    """Draw every priced candidate's cost against what it gives, and the front none beats.

    Parameters
    ----------
    selection : Selection
        Made with ``costs``.
    against : {"flow", "dry"}
        Its flow; or the return period up to which it keeps the ground dry, where the
        selection has storms with theirs: what each further dry year costs.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

    Returns
    -------
    matplotlib Axes
        Accepted candidates filled, rejected ones hollow, the front joined by a line. Against
        dry years those filled keep all limits but, it may be, those on pond and overflow;
        pointed marks stand where the storms given end before.

    Raises
    ------
    InputError
        The selection has no costs or no return periods, or no candidate has a price and a
        flow.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0], price=200)
    >>> lines = [dp.straight_line(pipe=dp.pvc(s), length_ft=150, lift_ft=6) for s in ("1-1/2", "2")]
    >>> sel = dp.select(pump, lines, need_gpm=20, costs=dp.Costs(pipe_per_ft={"1-1/2": 2, "2": 3}))
    >>> dp.plots.pareto(sel).get_xlabel()
    'Flow (gpm)'
    """
    if not is_among(against, ("flow", "dry")):
        raise wrong("against", against, "must be 'flow' or 'dry'", "pick one of the two")
    check_kind("selection", selection, Selection, "select(...)")
    dry = against == "dry"
    front = selection.dry_pareto if dry else selection.pareto
    known = [c for c in selection.candidates if c.cost is not None and np.isfinite(c.cost)]
    shown = [c for c in known if dry or np.isfinite(c.si.flow)]
    if not shown:
        raise InputError("pareto: no candidate has both a price and a flow; give the pumps prices.")
    need = None if dry else selection.si.need
    frame = frame_on(ax, units, twin=twin, x="dry_up_to_year" if dry else "flow_gpm")
    ax = frame.ax
    # of a word without candidates the key still says what its mark means
    key = [
        frame.mark(*_spots([c for c in shown if whose(c)], dry), marker=mark, mfc=face,
                   ms=6, mew=1.0, label=word, zorder=2)
        for word, mark, face, whose in _MARKS[against]
    ]  # fmt: skip
    better = "no other is both cheaper and " + ("drier" if dry else "stronger")
    steps = {"drawstyle": "steps-pre"} if dry else {}  # to be drier one pays for the next
    key.append(frame.curve(*_spots(front, dry), style(0), lw=1.6, zorder=1, label=better, **steps))
    if need is not None:
        key.append(frame.need(float(need)))
    currency = selection.costs.currency if selection.costs is not None else ""
    ax.set_ylabel(f"Cost over the years ({currency or 'your currency'})", parse_math=False)
    across, up = _room(*_spots(shown, dry), need)
    frame.limits(x=_along_the_years(frame, selection) if dry else across, y=up)
    legend(frame, key, "lower left")
    _name(frame, front, shown, dry)
    return frame.done((200.0, 150.0))


def _spots(some: Sequence[Candidate], dry: bool) -> tuple[np.ndarray, np.ndarray]:
    """What each of some candidates gives, and its cost."""
    given = [float(c.si.dry_up_to if dry else c.si.flow) for c in some]
    return np.array(given), np.array([float(c.cost or 0.0) for c in some])


def _room(
    gain: np.ndarray, cost: np.ndarray, need: float | None
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Ranges of the axes: the costs fill the upper part, the key stands below them."""
    low, high = float(cost.min()), float(cost.max())
    spread = max(high - low, 0.1 * high) or 1.0
    floor = max(low - 0.9 * spread, min(low, 0.0))
    return (0.0, 1.08 * max(float(gain.max()), float(need or 0.0))), (floor, high + 0.3 * spread)


def _name(frame: Frame, front: Sequence[Candidate], among: Sequence[Candidate], dry: bool) -> None:
    """Write the names of the front's candidates beside them; of many, numbers and a list."""
    names = [_called(c, among, dry) for c in front]
    labels = [Label(*one) for one in zip(*_spots(front, dry), names, strict=True)]
    if len(front) > MANY:
        key_column(frame, labels)
        labels = [x._replace(text=str(i)) for i, x in enumerate(labels, 1)]
    label_points(frame, labels)


def _along_the_years(frame: Frame, selection: Selection) -> tuple[float, float]:
    """Read the return periods by the storms given, each as far on as it is rarer."""
    period = selection.si.storm_period
    years = frame.x.shown(period)
    frame.ax.set_xscale("log")
    frame.ax.set_xticks(years, [f"{year:g}" for year in years])
    frame.ax.set_xticks([], minor=True)
    return 0.7 * period[0], 2.5 * period[-1]


def _called(c: Candidate, among: Sequence[Candidate], dry: bool) -> str:
    """The pump and the line, and the pit's place among those given where there are several."""
    pit = f", pit {c.number}" if len({x.number for x in among}) > 1 else ""
    over = "over " if c.dry_status == "beyond" else ""
    years = f": {over}{c.dry_up_to_year:.3g} years" if dry else ""
    return f"{c.pump.name}, {c.line.name}{pit}{years}"
