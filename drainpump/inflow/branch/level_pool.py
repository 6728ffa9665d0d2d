"""Water on its way through a branch: what its pipe and grate pass, and what stands meanwhile."""

from __future__ import annotations

import math
from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.inflow.branch.collector import Collector
from drainpump.inflow.storm import Hydrograph, merged
from drainpump.parts.scalars import check_kind, known, one_measure
from drainpump.results import Result, one_shape
from drainpump.units import FloatArray, View
from drainpump.work_budget import spend

#: longest block (s) of what a branch brings, and steps of the balance within one
_BLOCK, _WITHIN = 60.0, 6
#: first stage of a step, as a share of it
_STAGE = 1 - math.sqrt(0.5)
#: change of flow within a block (as a share of the greatest) that counts as none
_EVEN = 0.02
#: depths at which storage and intake are tabulated
_DEPTHS = 2000
#: depth (m) of the film that is left to run off in one block: our judgement, no source
_FILM = 0.002
#: longest time (s) after the storm that is followed step by step: a week
_LONGEST = 7 * 86400.0
#: water (m) that a grate needs to take anything in is not yet a pond: our judgement, no source
_STANDS = 0.0127


class BranchFlow(Result):
    """What a storm does at the low spot of a branch.

    Attributes
    ----------
    name : str
        The branch.
    arrives_gal, arrives_l, passes_gal, passes_l, overflow_gal, overflow_l : float or ndarray
        Water that comes to the low spot, gets to the pit, and runs elsewhere.
    peak_depth_in, peak_depth_mm : float or ndarray
        Deepest water there; NaN where its area is not known.
    pond_min : float or ndarray
        How long it stands deeper than half an inch (our judgement, no source), or waits at
        all where the depth is not known.
    weakest : str or ndarray of str
        ``"grate"`` or ``"pipe"`` where one of them held water back, else ``""``.
    status : str or ndarray of str
        ``ok``; ``beyond_pond`` (deeper than the table of storage tells); ``no_low_spot``
        (water waits, and how deep it stands is not known).
    """

    _mends: ClassVar[dict[str, str]] = {
        "beyond_pond": "deeper than the pond's table; the depth is at least its last row",
        "no_low_spot": "water waits, and how deep is not known; give pond_area or pond_storage",
    }

    name: str
    _arrives: FloatArray
    _passes: FloatArray
    _overflow: FloatArray
    _peak_depth: FloatArray
    _pond: FloatArray
    _weakest: Any
    _status: Any

    arrives_gal, arrives_l = View("_arrives"), View("_arrives")
    passes_gal, passes_l = View("_passes"), View("_passes")
    overflow_gal, overflow_l = View("_overflow"), View("_overflow")
    peak_depth_in, peak_depth_mm = View("_peak_depth"), View("_peak_depth")
    pond_min = View("_pond")
    weakest = View("_weakest")


def through(branch: Collector, arrives: Hydrograph) -> tuple[Hydrograph, BranchFlow]:
    """Let a hydrograph through a branch: what reaches the pit, and what stands at its low spot.

    Without a grate and without a known low spot the pipe alone holds water back, which is
    solved exactly (`through_pipe`). Otherwise storage over depth is balanced in short implicit
    steps; what passes is what came less what stands and what ran over, so no water is lost.
    """
    branch.si.one()
    if not branch.si.pond_known:
        if branch.has_grate:
            raise InputError(
                f"collector {branch.name!r}: a grate takes in more the deeper the water stands; "
                "give pond_area_ft2 or pond_storage of its low spot."
            )
        out = through_pipe(arrives, float(branch.si.pipe))
        waits = (arrives.si.peak > branch.si.pipe * (1 + 1e-12)).astype(float)
        return out, BranchFlow(
            branch.name, arrives.si.volume, out.si.volume, np.zeros_like(waits),
            np.where(waits > 0, np.nan, 0.0), waits * _full_time(out, branch.si.pipe),
            np.where(waits > 0, "pipe", ""), np.where(waits > 0, "no_low_spot", "ok"),
        )  # fmt: skip
    return _Pool(branch, arrives).run()


def _full_time(out: Hydrograph, pipe: FloatArray) -> FloatArray:
    """How long (s) the pipe runs full."""
    flow, time = out.si.flow, out.si.time
    full = (flow[..., 1:] >= pipe * (1 - 1e-9)) & (flow[..., :-1] >= pipe * (1 - 1e-9))
    return np.asarray((full * np.diff(time)).sum(axis=-1))


class _Pool:
    """The low spot of one branch, storms side by side on the leading axes."""

    def __init__(self, branch: Collector, arrives: Hydrograph) -> None:
        self.branch, self.arrives = branch, arrives
        rain = arrives.rain
        self.block = _BLOCK if rain is None else min(_BLOCK, float(rain.si.block))
        self.step = self.block / _WITHIN
        pond, overflow = branch.si.pond, branch.si.overflow
        whole = float(np.max(arrives.si.volume))
        depth = pond.si.depth_at(np.asarray(whole))  # or the table's last
        self.limit = np.inf if overflow is None else float(pond.si.volume_at(overflow))
        deepest = float(depth) if overflow is None else min(float(depth), float(overflow))
        # closer together where it is shallow: a weir's intake rises with the depth's 1.5th power
        self.depths = max(deepest, 1e-4) * np.linspace(0.0, 1.0, _DEPTHS) ** 2
        self.stored = pond.si.volume_at(self.depths)
        self.taken = np.minimum(branch.si.capacity(self.depths), branch.si.pipe)
        # what stands at the end of a stage and what passes in it, by what stands; deeper than
        # is tabulated the intake is that of the last depth
        stands = self.stored + _STAGE * self.step * self.taken
        beyond = np.append(stands, stands[-1] + whole)
        self.settles = beyond, np.append(self.stored, self.stored[-1] + whole)

    def settled(self, water: FloatArray) -> FloatArray:
        """What of some water still stands at the end of a stage (implicit Euler)."""
        return np.asarray(np.interp(water, *self.settles))

    def run(self) -> tuple[Hydrograph, BranchFlow]:
        """Balance step by step until the low spot is empty.

        Two implicit stages a step, of second order and never unstable (SDIRK2, the stage
        1 - 1/√2: R. Alexander, SIAM J. Numer. Anal. 14, 1977, from memory).
        """
        arrives, step = self.arrives, self.step
        time, shape = arrives.si.time, arrives.si.flow.shape[:-1]
        count = _WITHIN * int(np.ceil((time[-1] - time[0]) / self.block - 1e-9))
        spend("low spot", steps=count, storms=math.prod(shape), points_each=10)
        came = np.diff(_arrived(arrives, time[0] + step * np.arange(count + 1)), axis=-1)
        film = np.interp(_FILM, self.depths, self.stored)
        held, levels, left, over = np.zeros(shape), [], [], []
        last, k = int((count * step + _LONGEST) / step), 0
        while k < count or k % _WITHIN or ((held > film).any() and k < last):
            more = came[..., k] if k < count else np.zeros(shape)
            half = self.settled(held + _STAGE * more)
            rise = (half - held) / _STAGE
            after = self.settled(held + (1 - _STAGE) * rise + _STAGE * more)
            left.append(held + more - after)
            held = np.minimum(after, self.limit)
            over.append(after - held)
            levels.append(held)
            k += 1
        stood, passed = np.stack(levels, axis=-1), np.stack(left, axis=-1)
        ends, flow = self._blocks(passed)
        if (held > 0).any():
            # a weir takes in the last film ever more slowly, a mere hole all: one long block
            rate = np.interp(held, self.stored, self.taken)
            lasts = float(np.max(np.divide(held, rate, out=np.zeros_like(held), where=rate > 0)))
            flow = np.concatenate([flow, (held / lasts)[..., None]], axis=-1)
            ends = np.append(ends, ends[-1] + lasts)
        out = Hydrograph._of(
            np.repeat(flow, 2, axis=-1), np.repeat(ends, 2)[1:-1], arrives.note, arrives.rain
        )
        depth = np.interp(stood, self.stored, self.depths)
        peak, ponded = depth.max(axis=-1), step * (depth > _STANDS).sum(axis=-1)
        lost = np.stack(over, axis=-1).sum(axis=-1)
        waits = (ponded > 0) | (lost > 0)
        # the grate rules where at the deepest it takes in less than the pipe carries
        grate = np.interp(peak, self.depths, self.taken) < self.branch.si.pipe
        # at the deepest depth tabulated: past the table, or held by the overflow
        past = (peak >= self.depths[-1] * (1 - 1e-9)) & np.isinf(self.limit)
        total = came.sum(axis=-1)
        return out, BranchFlow(
            self.branch.name, np.asarray(total), np.asarray(total - lost), np.asarray(lost),
            np.asarray(peak), np.asarray(ponded),
            np.where(waits, np.where(grate, "grate", "pipe"), ""),
            np.where(past, "beyond_pond", "ok"),
        )  # fmt: skip

    def _blocks(self, passed: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Ends of blocks and the flow in each: a block where it is even, else its steps."""
        steps = passed.reshape(*passed.shape[:-1], -1, _WITHIN)
        most = steps.max(axis=(-2, -1), keepdims=True)[..., 0]
        uneven = np.ptp(steps, axis=-1) > _EVEN * most
        parted = uneven.any(axis=tuple(range(uneven.ndim - 1)))
        begins = np.flatnonzero(
            np.repeat(parted, _WITHIN) | (np.arange(passed.shape[-1]) % _WITHIN == 0)
        )
        edges = self.step * np.append(begins, passed.shape[-1])
        flow = np.add.reduceat(passed, begins, axis=-1) / np.diff(edges)
        return self.arrives.si.time[0] + edges, flow


def _arrived(flow: Hydrograph, at: FloatArray) -> FloatArray:
    """Volume (m³) arrived by each time, exact for flow that is linear between its points."""
    time, q = flow.si.time, flow.si.flow
    volume = np.concatenate([np.zeros_like(q[..., :1]), np.cumsum(flow.si.volumes, axis=-1)], -1)
    t = np.minimum(at, time[-1])
    i = np.clip(np.searchsorted(time, t, side="right") - 1, 0, time.size - 2)
    span, part = np.diff(time)[i], t - time[i]
    slope = np.diff(q, axis=-1)[..., i] / np.where(span > 0, span, 1.0)
    return np.asarray(volume[..., i] + (q[..., i] + 0.5 * slope * part) * part)


def held_back(
    inflow: Hydrograph,
    *,
    flow_gpm: u.Quantity | None = None,
    flow_lps: u.Quantity | None = None,
    room_gal: u.Quantity | None = None,
    room_l: u.Quantity | None = None,
) -> Hydrograph:
    """Return what gets through a pipe that carries only so much.

    Parameters
    ----------
    inflow : Hydrograph
        What would arrive.
    flow_gpm, flow_lps : float
        What the pipe carries, > 0: for a gravity pipe its full flow by Manning
        (``GravityHandOff.capacity_gpm``), for a drain the flow of its perforations.
    room_gal, room_l : float, optional
        Water that can wait upstream, >= 0: the voids of a gravel trench
        (``Trench.storage_gal``). Without it all that does not get through waits.

    Returns
    -------
    Hydrograph
        What arrives, until the last of the waiting water is through.
        What finds no room goes elsewhere: the volume is smaller by that much.

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Notes
    -----
    The moments at which the inflow crosses what the pipe carries, the room fills and the last
    of the waiting water has gone are found exactly; between them the flow is linear.

    Examples
    --------
    >>> import drainpump as dp
    >>> inflow = dp.Hydrograph(flow_gpm=[100, 20, 0], block_min=5)
    >>> dp.inflow.held_back(inflow, flow_gpm=50).flow_gpm.round(6).tolist()
    [50.0, 50.0, 50.0, 50.0, 0.0, 0.0]
    """
    check_kind("inflow", inflow, Hydrograph)
    said = u.Typed(locals())
    carried = said.take("flow", "inflow")
    cap = float(one_measure("flow", carried, "give what the pipe carries", above_zero=True).si)
    given = said.maybe("room", "not_negative")
    room = np.inf if given is None else known("room", given, "a storm needs every one")
    return through_pipe(inflow, cap, room)


def through_pipe(inflow: Hydrograph, cap: float, room: FloatArray | float = np.inf) -> Hydrograph:
    """The same in SI: a pipe that carries ``cap`` (m³/s), room for so much (m³) before it."""
    shape = one_shape("held_back", inflow._peak, room)
    source = Hydrograph._of(
        np.broadcast_to(inflow._flow.si, (*shape, inflow._time.size)), inflow._time
    )
    # between these the inflow is all above what the pipe carries, or all below it
    stretches = np.unique(np.append(inflow._time, _meets(inflow, cap)))
    until = _waits_until(source, stretches, cap, room)
    edges = np.unique(np.append(stretches, until))
    of = np.searchsorted(stretches, edges[:-1], side="right") - 1
    waits = 0.5 * (edges[1:] + edges[:-1]) < until[..., of]
    through = np.where(np.repeat(waits, 2, axis=-1), cap, source.si.on_both_sides(edges))
    flow, time = merged(np.minimum(through, cap), np.repeat(edges, 2)[1:-1])
    return Hydrograph._of(flow, time, inflow.note, inflow.rain, inflow._return, inflow.branches)


def _meets(inflow: Hydrograph, cap: float) -> FloatArray:
    """When the inflow crosses what the pipe carries."""
    time, past = inflow._time, inflow._flow.si - cap
    crosses = past[..., :-1] * past[..., 1:] < 0
    share = past[..., :-1] / np.where(crosses, past[..., :-1] - past[..., 1:], 1.0)
    return np.asarray((time[:-1] + share * np.diff(time))[crosses])


def _waits_until(
    source: Hydrograph, stretches: FloatArray, cap: float, room: FloatArray | float
) -> FloatArray:
    """Until when water waits in each stretch, and in the last behind them all (..., n).

    In a stretch what waits is a parabola that only rises or only falls: held at the room
    where it rises above it, and gone at its root where it falls below nothing.
    """
    past = source.si.on_both_sides(stretches) - cap
    first, last, span = past[..., ::2], past[..., 1::2], np.diff(stretches)
    until = np.array(np.broadcast_to(stretches, (*past.shape[:-1], stretches.size)))
    more = (np.maximum(first, last) > 0).reshape(-1, span.size).any(axis=0)
    waits, any_waits = np.zeros(past.shape[:-1]), False
    for i in range(span.size):
        if not (any_waits or more[i]):
            continue
        a, b, long = first[..., i], last[..., i], span[i]
        after = waits + 0.5 * (a + b) * long
        # the root of waits + a t + (b - a) / long t² / 2, without cancellation
        inside = np.maximum(a**2 - 2 * (b - a) / long * waits, 0.0)
        fall = np.sqrt(inside) - a
        root = np.divide(2 * waits, fall, out=np.zeros_like(fall), where=fall > 0)
        until[..., i] = stretches[i] + np.where(after > 0, long, np.minimum(root, long))
        waits = np.clip(after, 0.0, room)
        any_waits = bool(waits.any())
    until[..., -1] = stretches[-1] + waits / cap
    return until
