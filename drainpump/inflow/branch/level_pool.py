"""Water on its way through a branch: what its pipe and grate pass, and what stands meanwhile."""

from __future__ import annotations

import math
from typing import Any, ClassVar

import numpy as np

from drainpump.errors import InputError
from drainpump.inflow.branch.collector import Collector
from drainpump.inflow.branch.waiting import through_pipe
from drainpump.inflow.storm import Hydrograph
from drainpump.results import Result
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
        #: what is stored at the end of a stage and passes in it, by what is stored
        self.part = _STAGE * self.step * self.taken
        self.standing = self.stored + self.part

    def settled(self, water: FloatArray) -> FloatArray:
        """What of some water still stands at the end of a stage (implicit Euler)."""
        after = np.interp(water, self.standing, self.stored)
        # deeper than is tabulated the intake is that of the last depth
        return np.asarray(np.where(water > self.standing[-1], water - self.part[-1], after))

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
        spilled = np.stack(over, axis=-1).sum(axis=-1)
        waits = (ponded > 0) | (spilled > 0)
        # the grate rules where at the deepest it takes in less than the pipe carries
        grate = np.interp(peak, self.depths, self.taken) < self.branch.si.pipe
        # at the deepest depth tabulated: past the table, or held by the spill
        past = (peak >= self.depths[-1] * (1 - 1e-9)) & np.isinf(self.limit)
        total = came.sum(axis=-1)
        return out, BranchFlow(
            self.branch.name, np.asarray(total), np.asarray(total - spilled), np.asarray(spilled),
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
