"""Which doubt matters, and so what to measure next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import ndtr

from drainpump import units as u
from drainpump.doubt.doubt import Doubt, Samples, middle, sample
from drainpump.errors import InputError
from drainpump.parts.scalars import fact
from drainpump.physics.tables import read_table
from drainpump.results import Frame, check_units, frame_of
from drainpump.solve.grid import Grid, make_grid
from drainpump.solve.operating_point import OperatingPoint, solve
from drainpump.states import commonest
from drainpump.units import FloatArray

if TYPE_CHECKING:
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pump.bank import Pump


#: a uniform spread's standard deviation as a share of its half-width
_UNIFORM = 3**-0.5
#: share of a sigma over which the slope is taken
_SMALL = 0.01


@dataclass(frozen=True)
class _Input:
    """How one input is spoken of: its step in words, its size, and what would settle it."""

    name: str
    label: str
    step: float  # of the ratio, of ln K, or m of lift
    step_words: str
    measure: str


#: what two figures leave open: no sigma of the user's, but the doubt of every such pump
_SHAPE = "which"


def _inputs(units: u.System) -> list[_Input]:
    return [
        _Input(row["input"], row["label"], float(row[f"step_{units}"]), row[f"said_{units}"],
               row["measure"])
        for row in read_table("doubts.csv") if row["label"]
    ]  # fmt: skip


def sensitivity(
    pump: Pump,
    line: DischargeLine,
    doubt: Doubt,
    samples: int = 1024,
    seed: int = 0,
    *,
    need_gpm: u.Quantity | None = None,
    need_lps: u.Quantity | None = None,
    units: u.System = "us",
) -> Frame:
    """Rank the inputs by how far their doubt moves the flow: what to measure next.

    Parameters
    ----------
    pump, line : pump and DischargeLine
        One of each, their quantities scalars.
    doubt : Doubt
        One-sigma values; inputs without doubt are left out.
    samples, seed : int
        Of the samples behind the variance share, as in `band`.
    need_gpm, need_lps : float, optional
        Flow needed, >= 0: adds the column ``decides``. At most one.
    units : {"us", "metric"}, default "us"
        Unit system of columns and words.

    Returns
    -------
    pandas.DataFrame
        One row per doubted input, largest swing first: ``input``; ``swing`` between one
        sigma below and one above, the flows there (``flow_at_minus``, ``flow_at_plus``)
        and the flow moved by the step named in ``text`` (``moved``), each ending in the
        unit; ``variance_share`` of the flow over all samples; ``decides``, whether the need
        lies within the swing; ``text`` in words; what to ``measure``; and ``status``, ``ok``
        where every flow behind the row is, else the commonest other.

    Raises
    ------
    UnitError, InputError
        Lists, arrays, no doubt at all, or a bad unit system.

    Notes
    -----
    One at a time: every other input stays at its middle. The bore's sigma is its
    half-width over √3. ``moved`` is a central slope over a hundredth of a sigma, times
    the step. The variance share is the squared correlation of the input's samples with the
    flow; where the flow is nearly linear in its inputs the shares add up to about 1.
    Samples without an operating point count as in `band`. Of a pump told by two figures the
    shape of the curve is an input too.

    References
    ----------
    Saltelli et al., Global Sensitivity Analysis: The Primer (2008), ch. 1, for shares of
    variance by regression.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    >>> found = dp.sensitivity(pump, line, dp.Doubt(lift_ft=0.75, length_pct=5))
    >>> found.input.tolist(), found.text[0]
    (['lift', 'length'], 'lift: 1 ft moves the flow by 1.0 gpm')
    """
    check_units(units)
    grid = make_grid(pump, line, np.zeros(()))
    if grid.shape:
        raise InputError("sensitivity: give one pump and one line, without arrays.")
    sampled = sample(doubt, samples, seed)
    need = fact("need", "flow", "ask for one at a time", gpm=need_gpm, lps=need_lps)
    shaped = grid.pumps[0].two_figures
    known = [x for x in _inputs(units) if (shaped if x.name == _SHAPE else doubt._sigma(x.name))]
    if not known:
        raise InputError(f"{doubt}: no input of the flow is doubted; give one sigma of some.")
    ends, codes = _ends(grid, doubt, known)
    op = points_at(grid, sampled)
    flows = op.si.counted
    unit = "gpm" if units == "us" else "lps"
    label = u.UNITS[unit].label
    rows = []
    for (minus, plus, moved), code, x in zip(ends, codes, known, strict=True):
        row: dict[str, Any] = {"input": x.label}
        for name, flow in (
            ("swing", abs(plus - minus)),
            ("flow_at_minus", minus),
            ("flow_at_plus", plus),
            ("moved", moved),
        ):
            row[f"{name}_{unit}"] = u.from_si(flow, unit)
        row["variance_share"] = _explained(getattr(sampled, x.name), flows)
        if need is not None:
            row["decides"] = bool(min(minus, plus) < need.si <= max(minus, plus))
        row["text"] = (
            f"{x.label}: {x.step_words} moves the flow by {_short(abs(moved), unit)} {label}"
        )
        row["measure"] = x.measure
        row["status"] = str(commonest(np.concatenate([code, op.si.code])))
        rows.append(row)
    frame = frame_of(rows)
    return frame.sort_values(f"swing_{unit}", ascending=False, kind="stable", ignore_index=True)


def _ends(grid: Grid, doubt: Doubt, known: list[_Input]) -> tuple[FloatArray, Any]:
    """Flow one sigma below and above, and moved by a step (n, 3), m³/s; the codes behind."""
    share = np.array([-1.0, 1.0, -_SMALL, _SMALL])
    sigma = np.array([_sigma(doubt, x.name) for x in known])
    columns = middle(doubt, (len(known), share.size))
    columns["which"] = np.full((len(known), share.size), 0.5)
    for i, x in enumerate(known):
        if x.name == _SHAPE:  # by its rank; small steps would fall between the shapes sampled
            columns["which"][i] = ndtr([-1.0, 1.0, -1.0, 1.0])
            sigma[i] = 1.0 / _SMALL
            continue
        moved = columns[x.name][i] + share * sigma[i]
        columns[x.name][i] = np.exp(share * sigma[i]) if x.name == "k" else moved
    op = points_at(grid, Samples(**{name: c.ravel() for name, c in columns.items()}))
    minus, plus, below, above = op.si.counted.reshape(len(known), -1).T
    slope = (above - below) / (2 * _SMALL * sigma)
    flows = np.stack([minus, plus, slope * [x.step for x in known]], axis=-1)
    return flows, op.si.code.reshape(len(known), -1)


def _sigma(doubt: Doubt, name: str) -> float:
    if name == _SHAPE:
        return 1.0
    return doubt._sigma(name) * (_UNIFORM if name == "bore" else 1.0)


def points_at(grid: Grid, sampled: Samples) -> OperatingPoint:
    """Operating point of the grid's first pump on its first line at each sample."""
    pump, line = sampled.pump(grid.pumps[0]), sampled.line(grid.lines[0].si.arrays)
    return solve(make_grid(pump, line, np.zeros(sampled.count)))


def _explained(sampled: FloatArray, flow: FloatArray) -> float:
    """Squared correlation of an input's samples with the flow; 0 where the flow stays."""
    if np.ptp(flow) == 0:
        return 0.0
    return float(np.corrcoef(sampled, flow)[0, 1] ** 2)


def _short(flow: float, unit: str) -> str:
    value = u.from_si(flow, unit)
    return f"{value:.1f}" if value >= 0.095 else f"{value:.2g}"
