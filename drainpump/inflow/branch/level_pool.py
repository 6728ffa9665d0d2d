"""Water on its way through a branch: what its pipe and grate pass, and what stands meanwhile."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.inflow.branch.collector import Collector, needs_low_spot
from drainpump.inflow.branch.waiting import held_back
from drainpump.inflow.storm import Hydrograph
from drainpump.results import Result
from drainpump.units import FloatArray, View

__all__ = ["BranchFlow", "through"]

#: longest block (s) of what a branch brings, and steps of the balance within one
_BLOCK, _WITHIN = 60.0, 6
#: depths at which storage and intake are tabulated
_DEPTHS = 2000
#: water (m) that a grate needs to take anything in is not yet a pond: our judgement, no source
_STANDS = 0.0127


@dataclass(frozen=True, eq=False, repr=False)
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
        ``ok``, or ``beyond_pond``: deeper than the table of storage tells.
    """

    _mends: ClassVar[dict[str, str]] = {
        "beyond_pond": "deeper than the pond's table; the depth is at least its last row",
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
    solved exactly (`held_back`). Otherwise storage over depth is balanced in short implicit
    steps; what passes is what came less what stands and what spilled, so no water is lost.
    """
    if not branch.si.pond_known:
        if branch.has_grate:
            raise needs_low_spot(branch)
        out = held_back(arrives, flow_lps=u.from_si(branch.si.pipe, "lps"))
        waits = (arrives.si.peak > branch.si.pipe * (1 + 1e-12)).astype(float)
        longer = out.si.end - arrives.si.time[0]
        return out, BranchFlow(
            branch.name, arrives.si.volume, out.si.volume, np.zeros_like(waits),
            np.where(waits > 0, np.nan, 0.0), waits * _full_time(out, branch.si.pipe, longer),
            np.where(waits > 0, "pipe", ""), np.full(waits.shape, "ok"),
        )  # fmt: skip
    return _Pool(branch, arrives).run()


def _full_time(out: Hydrograph, pipe: FloatArray, longer: FloatArray) -> FloatArray:
    """How long (s) the pipe runs full."""
    flow, time = out.si.flow, out.si.time
    full = (flow[..., 1:] >= pipe * (1 - 1e-9)) & (flow[..., :-1] >= pipe * (1 - 1e-9))
    return np.asarray((full * np.diff(time)).sum(axis=-1))


class _Pool:
    """The low spot of one branch, storms side by side on the leading axes."""

    def __init__(self, branch: Collector, arrives: Hydrograph) -> None:
        self.branch, self.arrives = branch, arrives
        time = arrives.si.time
        spans = np.diff(time)
        self.block = float(min(_BLOCK, spans[spans > 0].min()))
        self.step = self.block / _WITHIN
        pond, spill = branch.si.pond, branch.si.spill
        whole = float(np.max(arrives.si.volume))
        depth = pond.si.depth_at(np.asarray(whole))
        if np.isnan(depth):
            depth = pond.si.rows[0][-1]  # the table ends before all of it could stand
        self.limit = np.inf if spill is None else float(pond.si.volume_at(spill))
        deepest = float(depth) if spill is None else min(float(depth), float(spill))
        # closer together where it is shallow: a weir's intake rises with the depth's 1.5th power
        self.depths = max(deepest, 1e-4) * np.linspace(0.0, 1.0, _DEPTHS) ** 2
        self.stored = pond.si.volume_at(self.depths)
        self.taken = np.minimum(branch.si.capacity(self.depths), branch.si.pipe)
        self.beyond = self.stored[-1] * (1 + 1e-9) if spill is None else np.inf

    def run(self) -> tuple[Hydrograph, BranchFlow]:
        """Balance block by block until the low spot is empty."""
        arrives, step = self.arrives, self.step
        time, shape = arrives.si.time, arrives.si.flow.shape[:-1]
        total = _cumulated(arrives)
        standing = self.stored + step * self.taken
        held, spilled = np.zeros(shape), np.zeros(shape)
        peak, ponded = np.zeros(shape), np.zeros(shape)
        by_grate = np.zeros(shape, dtype=bool)
        passes: list[FloatArray] = []
        blocks = int(np.ceil((time[-1] - time[0]) / self.block - 1e-9))
        k, came = 0, np.zeros(shape)
        while k < blocks or (held > 1e-9 * self.stored[-1]).any():
            passed = np.zeros(shape)
            for i in range(1, _WITHIN + 1):
                now = total(time[0] + k * self.block + i * step)
                water = held + now - came
                came = now
                after = np.interp(water, standing, self.stored)
                # deeper than is tabulated the intake is that of the last depth
                after = np.where(water > standing[-1], water - step * self.taken[-1], after)
                over = np.maximum(after - self.limit, 0.0)
                passed += water - after
                held, spilled = after - over, spilled + over
                depth = np.interp(held, self.stored, self.depths)
                peak = np.maximum(peak, depth)
                ponded += step * (depth > _STANDS)
                full = held > 0
                by_grate |= full & (np.interp(held, self.stored, self.taken) < self.branch.si.pipe)
            passes.append(passed / self.block)
            k += 1
            if k > 50 * blocks + 10_000:  # a last film that a weir hardly takes in
                passes[-1] = passes[-1] + held / self.block
                held = np.zeros(shape)
        flow = np.repeat(np.stack(passes, axis=-1), 2, axis=-1)
        edges = time[0] + self.block * np.arange(k + 1)
        out = Hydrograph._of(flow, np.repeat(edges, 2)[1:-1], arrives.note, arrives.rain)
        stood = ponded > 0
        weakest = np.where(stood, np.where(by_grate & self._grate_rules(peak), "grate", "pipe"), "")
        status = np.where(peak >= self.depths[-1] * (1 - 1e-9), self._past(), "ok")
        return out, BranchFlow(
            self.branch.name, np.asarray(came), np.asarray(came - spilled), spilled, peak, ponded,
            weakest, status,
        )  # fmt: skip

    def _grate_rules(self, depth: FloatArray) -> FloatArray:
        """Whether at the deepest the grate takes in less than the pipe carries."""
        return np.asarray(np.interp(depth, self.depths, self.taken) < self.branch.si.pipe)

    def _past(self) -> str:
        """The status at the deepest depth tabulated: past the table, or held by the spill."""
        return "ok" if np.isfinite(self.limit) else "beyond_pond"


def _cumulated(flow: Hydrograph) -> Any:
    """Volume arrived by a time, as a function of it, exact for linear flow."""
    time, q = flow.si.time, flow.si.flow
    volume = np.concatenate([np.zeros_like(q[..., :1]), np.cumsum(flow.si.volumes, axis=-1)], -1)

    def at(t: float) -> FloatArray:
        t = min(t, float(time[-1]))
        i = int(np.clip(np.searchsorted(time, t, side="right") - 1, 0, time.size - 2))
        span, part = time[i + 1] - time[i], t - time[i]
        slope = (q[..., i + 1] - q[..., i]) / span if span > 0 else 0.0
        return np.asarray(volume[..., i] + (q[..., i] + 0.5 * slope * part) * part)

    return at
