"""How far the flow may be from the plain answer, by the doubt of the inputs, and what holds."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property
from types import MappingProxyType
from typing import Any, ClassVar

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.cycling.switching import cycles_of
from drainpump.doubt.doubt import Doubt, Samples, sample
from drainpump.errors import InputError
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.parts.scalars import check_kind
from drainpump.results import Result, one_shape
from drainpump.solve.grid import Grid, make_grid
from drainpump.solve.operating_point import OperatingPoint, solve
from drainpump.states import BAD, MENDS, OK, commonest
from drainpump.units import FloatArray, View
from drainpump.work_budget import spend

#: what the mappings hold, and the share of samples at or below each
PERCENTILES: dict[str, float] = {"p10": 0.1, "p50": 0.5, "p90": 0.9}

#: samples times runs worked on at a time, so that memory stays bounded whatever the grid and
#: the samples; a pit's samples are solved at some 35 levels each
_CHUNK = 1 << 17
_PIT_CHUNK = 1 << 13


class _Spread(View[Mapping[str, u.Value] | None]):
    """A view of a quantity's three percentiles, as a read-only mapping of "p10", "p50", "p90"."""

    def __set_name__(self, owner: type, name: str) -> None:
        super().__set_name__(owner, name)
        self.kind = dict

    def __get__(self, obj: Any, owner: type | None = None) -> Any:
        if obj is None:
            return self
        value = getattr(obj, self.source)
        if value is None:
            return None
        assert self.unit is not None
        rows = (u.from_si(row, self.unit) for row in value)
        return MappingProxyType(dict(zip(PERCENTILES, rows, strict=True)))


class Band(Result):
    """The spread of the answer over all samples; each quantity maps "p10", "p50" and "p90".

    Attributes
    ----------
    flow_gpm, flow_lps : mapping of str to float or ndarray
        Flow at the pump-off level that 10, 50 and 90 % of the samples stay at or below.
    head_ft, head_m : mapping
        Head the line asks at each sample's flow.
    velocity_fps, velocity_mps : mapping
        Velocity in the last run.
    worst_starts_per_h, starts_per_h : mapping or None
        Most starts over all inflows, with a pit; and starts at the inflow, where given.
    ok_share : float or ndarray
        Share of the samples whose operating point is ``ok``.
    samples, seed : int
        Of the samples.
    doubt : Doubt
        From which they come.
    status : str or ndarray of str
        ``"ok"`` where every sample is; else the commonest status of those that are not.

    Notes
    -----
    Each sample has the flow that may be counted on, and the head at it: the curve's last
    point where it is ``beyond_curve``, none where it is ``below_curve``, ``multiple`` or
    ``no_flow``. Velocities and starts are those to be reckoned with: the first point
    where it is ``below_curve``, the greatest crossing where it is ``multiple``. A
    ``bad_input`` makes NaN of all. A percentile is one of the samples, never a mean of two.
    """

    _grid: Grid
    _flow: FloatArray  # (3, ...)
    _worst_rate: FloatArray | None
    _rate: FloatArray | None
    _flow_sampled: FloatArray  # (..., N)
    _code_sampled: npt.NDArray[np.int8]
    doubt: Doubt
    seed: int

    flow_gpm, flow_lps = _Spread("_flow"), _Spread("_flow")
    head_ft, head_m = _Spread("_head"), _Spread("_head")
    velocity_fps, velocity_mps = _Spread("_velocity"), _Spread("_velocity")
    worst_starts_per_h = _Spread("_worst_rate")
    starts_per_h = _Spread("_rate")
    ok_share = View("_ok_share")

    _mends: ClassVar[dict[str, str]] = {
        status: mend if status == "bad_input" else f"in some samples (see ok_share): {mend}"
        for status, mend in MENDS.items()
    }

    @property
    def samples(self) -> int:
        """Number of samples."""
        return int(self._flow_sampled.shape[-1])

    @cached_property
    def _head_and_velocity(self) -> tuple[FloatArray, FloatArray]:
        # worked out when first asked for: of a choice's band nobody does
        grid, sampled = self._grid, sample(self.doubt, self.samples, self.seed)

        def work(*block: Any) -> tuple[Any, Any]:
            op = _solved(grid, *block)
            return op.at_flow(op.si.counted).si.head, op.at_flow(op.si.reckoned).si.velocity

        head, velocity = np.empty((2, 3, len(grid.pumps), grid.count, *grid.inner))
        for p, k, (heads, speeds) in _in_turn(grid, sampled, _CHUNK, work):
            head[:, p, k], velocity[:, p, k] = percentiles(heads), percentiles(speeds)
        lone = (3, *grid.shape)
        return u.frozen(head.reshape(lone)), u.frozen(velocity.reshape(lone))

    @property
    def _head(self) -> FloatArray:
        return self._head_and_velocity[0]

    @property
    def _velocity(self) -> FloatArray:
        return self._head_and_velocity[1]

    @property
    def _ok_share(self) -> FloatArray:
        return np.asarray((self._code_sampled == OK).mean(axis=-1))

    @property
    def _status(self) -> Any:
        return commonest(self._code_sampled)

    def probability(
        self, *, need_gpm: u.Quantity | None = None, need_lps: u.Quantity | None = None
    ) -> Any:
        """Return the share of samples that carry the need.

        Parameters
        ----------
        need_gpm, need_lps : float or array_like
            Flow needed at the pump-off level, >= 0. Exactly one; broadcasts against the
            band's shape.

        Returns
        -------
        float or ndarray
            0 to 1; NaN where an input is.
        """
        need = u.take("need", guard="flow", gpm=need_gpm, lps=need_lps).si
        return u.out(share_carrying(self, need))

    def _columns(self, units: u.System) -> dict[str, Any]:
        columns: dict[str, Any] = {}
        for name, value in super()._columns(units).items():
            spread = value.item() if value.dtype == object else None
            if not isinstance(spread, Mapping):
                columns[name] = value
                continue
            unit = u.suffix_of(name)
            stem = name[: -len(unit) - 1] if unit else name
            columns |= {f"{stem}_{p}_{unit}": np.asarray(v) for p, v in spread.items()}
        return columns

    def __repr__(self) -> str:
        status = np.asarray(self.status)
        lines = [f"Band ({self.samples} samples of {self.doubt}; seed {self.seed})"]
        if status.size != 1:
            return f"{lines[0]}\n  shape {status.shape}; see to_frame()"
        lines += self._why()
        for view in u.views(type(self), "us"):
            if isinstance(view, _Spread) and (value := view.__get__(self)) is not None:
                assert view.unit is not None
                said = " / ".join(u.number(np.asarray(v).item()) for v in value.values())
                stem = view.name[: -len(view.unit) - 1].replace("_", " ")
                lines.append(f"  {stem}: {said} {u.UNITS[view.unit].label} (P10 / P50 / P90)")
        lines.append(f"  ok: {np.asarray(self.ok_share).item():.1%} of the samples")
        return "\n".join([*lines, *self._noted()])


def share_carrying(band: Band, need: FloatArray) -> FloatArray:
    """Share of a band's samples that carry a need (m³/s); NaN where an input is."""
    one_shape("need", need, np.empty(band._flow_sampled.shape[:-1]))
    share = np.asarray((band._flow_sampled >= need[..., None]).mean(axis=-1))
    bad = np.isnan(need) | (band._code_sampled == BAD).any(axis=-1)
    return np.where(bad, np.nan, share)


def carried_with(band: Band, certainty: float) -> FloatArray:
    """Flow (m³/s) that is carried with a certainty, 0 to 1: one of the samples."""
    sampled = band._flow_sampled
    return at_shares(sampled, [1 - certainty])[..., 0]


def starts_within(band: Band, pit: Pit, most: FloatArray, where: Any) -> FloatArray:
    """Share of the band's samples whose starts (1/s), at worst, keep to ``most``.

    Of lists of pumps and of lines, (P, L), only ``where`` it is asked: a sample costs some
    35 operating points. NaN elsewhere.
    """
    sampled = sample(band.doubt, band.samples, band.seed)
    grid = band._grid
    share = np.full(np.shape(where), np.nan)
    for p, pump in enumerate(grid.pumps):
        asked = np.flatnonzero(where[p])
        if not asked.size:
            continue
        lines = [sampled.line(grid.lines[k].si.arrays) for k in asked]
        found = cycles_of([sampled.pump(pump)], lines, pit, np.zeros(band.samples))
        # what cannot be told is not taken for kept
        share[p, asked] = (found._worst_rate <= most).mean(axis=-1)[0]
    return share


def band(
    pump: Pump | Sequence[Pump],
    line: DischargeLine | Sequence[DischargeLine],
    doubt: Doubt,
    samples: int = 1024,
    seed: int = 0,
    *,
    pit: Pit | None = None,
    inflow_gpm: u.Quantity | None = None,
    inflow_lps: u.Quantity | None = None,
) -> Band:
    """Sample the inputs by their doubt and return how the answer spreads.

    Parameters
    ----------
    pump, line : pump and DischargeLine, or sequences of them
        Every pair gets the same samples, so that two are compared under the same luck.
    doubt : Doubt
        One-sigma values of the inputs.
    samples : int, default 1024
        Number of samples; a power of two is spread most evenly.
    seed : int, default 0
        The same seed gives the same numbers.
    pit : Pit, optional
        Adds the starts per hour; its quantities are scalars.
    inflow_gpm, inflow_lps : float, optional
        Water coming in, >= 0, for ``starts_per_h``; needs a pit.

    Returns
    -------
    Band
        Arrays of shape (pumps, lines, *shape of the quantities).

    Raises
    ------
    UnitError, InputError
        Bad units or values; an inflow without a pit; a pit that holds arrays.

    Notes
    -----
    Memory is bounded by chunks, apart from the sampled flows that the answer keeps: 9 bytes
    a sample.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    >>> found = dp.band(pump, line, dp.Doubt(lift_ft=0.75, k_log=0.25))
    >>> found.flow_gpm["p10"] < found.flow_gpm["p50"] < found.flow_gpm["p90"]
    True
    """
    grid = make_grid(pump, line, np.zeros(()))
    inflow = u.maybe("inflow", gpm=inflow_gpm, lps=inflow_lps)
    if inflow is not None and (pit is None or inflow.si.ndim):
        raise InputError("inflow: give one number, together with pit=Pit(...).")
    if pit is not None:
        check_kind("pit", pit, Pit)
        if pit.shape:
            raise InputError("pit: holds arrays; a band is sampled for one pit, give scalars.")
    sampled = sample(doubt, samples, seed)
    samples = sampled.count
    shape, runs = (len(grid.pumps), grid.count, *grid.inner), len(grid.line.end)
    elements = math.prod(grid.inner)
    each = {"pumps": shape[0], "lines": shape[1], "elements": elements, "runs": runs}
    # the starts of a pit are solved at every level
    spend("band", **each, samples=samples, points_each=1 if pit is None else 20)
    flow, code = np.empty((*shape, samples)), np.empty((*shape, samples), dtype=np.int8)

    def flows(*block: Any) -> tuple[Any, Any]:
        op = _solved(grid, *block)
        return op.si.counted, op.si.code

    for p, k, (counted, codes) in _in_turn(grid, sampled, _CHUNK, flows):
        flow[p, k], code[p, k] = counted, codes
    rates: tuple[FloatArray | None, FloatArray | None] = (None, None)
    if pit is not None:
        rates = _starts(grid, sampled, pit, None if inflow is None else inflow.si)
    # lists that were single objects lose their axis
    worst, rate = (None if r is None else r.reshape(3, *grid.shape) for r in rates)
    return Band(
        _grid=grid,
        _flow=percentiles(flow).reshape(3, *grid.shape),
        _worst_rate=worst,
        _rate=rate,
        _flow_sampled=flow.reshape(*grid.shape, samples),
        _code_sampled=code.reshape(*grid.shape, samples),
        doubt=doubt,
        seed=int(seed),
    )


def _in_turn(
    grid: Grid, sampled: Samples, chunk: int, work: Callable[[slice, slice, Samples], Sequence[Any]]
) -> Iterator[tuple[slice, slice, list[FloatArray]]]:
    """Blocks of pumps and lines with all their samples, at most ``chunk`` worked on at a time."""
    each = max(1, math.prod(grid.inner) * len(grid.line.end))
    lines = max(1, min(grid.count, chunk // (each * sampled.count)))
    pumps = max(1, chunk // (each * sampled.count * lines))
    # few at a time would only pay for calling numpy
    size = max(512, chunk // each)
    for k in range(0, grid.count, lines):
        for p in range(0, len(grid.pumps), pumps):
            block = slice(p, p + pumps), slice(k, k + lines)
            parts = [slice(i, i + size) for i in range(0, sampled.count, size)]
            found = [work(*block, sampled.some(part)) for part in parts]
            yield *block, [np.concatenate(a, axis=-1) for a in zip(*found, strict=True)]


def _solved(grid: Grid, p: slice, k: slice, some: Samples) -> OperatingPoint:
    return solve(make_grid(*_laid(grid, some, p, k), np.zeros((*grid.inner, some.count))))


def _laid(grid: Grid, sampled: Samples, p: slice, k: slice) -> tuple[list[Any], list[Any]]:
    return [sampled.pump(x) for x in grid.pumps[p]], [
        sampled.line(x.si.arrays) for x in grid.lines[k]
    ]


def _starts(
    grid: Grid, sampled: Samples, pit: Pit, inflow: FloatArray | None
) -> tuple[FloatArray, FloatArray | None]:
    shape = (3, len(grid.pumps), grid.count, *grid.inner)
    worst, rate = np.empty(shape), None if inflow is None else np.empty(shape)

    def cycled(p: slice, k: slice, some: Samples) -> list[FloatArray]:
        coming = np.zeros(()) if inflow is None else inflow * some.inflow
        # the inflow alone would not bring the quantities' axes
        coming = np.broadcast_to(coming, (*grid.inner, some.count))
        found = cycles_of(*_laid(grid, some, p, k), pit, coming)
        return [found._worst_rate] if inflow is None else [found._worst_rate, found._rate]

    for p, k, found in _in_turn(grid, sampled, _PIT_CHUNK, cycled):
        worst[:, p, k] = percentiles(found[0])
        if rate is not None:
            rate[:, p, k] = percentiles(found[1])
    return worst, rate


def percentiles(sampled: FloatArray, *, known: bool = False) -> FloatArray:
    """P10, P50 and P90 on axis 0 of the samples on the last axis of ``sampled``, or the known ones.

    Each is one of the samples. A mean of two neighbours is smoother, but between a sample that
    runs and one that gives nothing it would be a flow of no site at all, and it makes NaN of
    what is endless.
    """
    shares = list(PERCENTILES.values())
    if known:
        return np.asarray(np.nanquantile(sampled, shares, axis=-1, method="inverted_cdf"))
    return np.moveaxis(at_shares(sampled, shares), -1, 0)


def at_shares(sampled: FloatArray, shares: Sequence[float]) -> FloatArray:
    """The samples, on the last axis, that so great shares of all stay at or below; NaN by any NaN.

    As numpy's quantile by ``inverted_cdf``, whose copies take longer than finding them.
    """
    count = sampled.shape[-1]
    at = [max(math.ceil(count * share - 1), 0) for share in shares]
    parted = np.partition(sampled, sorted({*at, count - 1}), axis=-1)
    return np.where(np.isnan(parted[..., -1:]), np.nan, parted[..., at])
