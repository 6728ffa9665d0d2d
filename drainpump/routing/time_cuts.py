"""Time cut into pieces over which the inflow is constant and the power does not change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from drainpump.routing.asked import Asked
from drainpump.units import FloatArray

#: water (as a share of the working volume) by which a step of inflow may stray from a slope
_STRAY = 5e-4


@dataclass(frozen=True, eq=False)
class Pieces:
    """Pieces of time, those of one storm after those of another; flat but for ``first``."""

    end: FloatArray  # s; infinite of a last one, which ends with the last run
    inflow: FloatArray  # m³/s
    supply: npt.NDArray[np.intp]
    first: npt.NDArray[np.intp]  # (K + 1,) where each storm's begin
    over: npt.NDArray[np.intp]  # (K,) the first one behind the inflow's end
    came: FloatArray  # (K,) m³ that come in altogether

    @classmethod
    def joined(cls, parts: Sequence[Pieces]) -> Pieces:
        """Those of all parts, one part's storms after another's."""
        if len(parts) == 1:
            return parts[0]
        before = np.cumsum([0, *(part.first[-1] for part in parts)])
        first = [part.first[:-1] + n for part, n in zip(parts, before, strict=False)]
        over = [part.over + n for part, n in zip(parts, before, strict=False)]
        flat = (
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("end", "inflow", "supply", "came")
        )
        end, inflow, supply, came = flat
        return cls(end, inflow, supply, np.append(np.concatenate(first), before[-1]),
                   np.concatenate(over), came)  # fmt: skip

    def one(self, storm: int) -> list[tuple[float, float, int]]:
        """End, inflow and supply of each piece of a storm, in plain numbers."""
        part = slice(self.first[storm], self.first[storm + 1])
        columns = (x[part].tolist() for x in (self.end, self.inflow, self.supply))
        return list(zip(*columns, strict=True))


def cut_inflow(
    time: FloatArray,
    flow: FloatArray,
    working: FloatArray,
    asked: Asked,
    samples: FloatArray | None = None,
) -> Pieces:
    """Cut the time of K storms (K, n) where the inflow, the power or a sample asks for it.

    What happens in a stretch is the same wherever it is cut. Without an end a last piece has
    none: the walk ends with the run that it finds. ``working`` (K,) is as for `_steps`.
    """
    row, begin, rate = _steps(time, flow, working)
    last, stop = (time[-1], np.inf) if asked.until is None else (asked.until, asked.until)
    cuts = np.asarray([*asked.changes, *([] if samples is None else samples)], dtype=np.float64)
    cuts = np.unique(cuts[(cuts > 0) & np.isfinite(cuts)])
    if cuts.size:
        # before a step that begins at the same time, so that it is the cut that has no length
        each = np.repeat(np.arange(len(flow)), cuts.size), np.tile(cuts, len(flow))
        row, begin = np.append(each[0], row), np.append(each[1], begin)
        order = np.lexsort((begin, row))
        step = np.append(np.full(each[0].size, -1), np.arange(rate.size))[order]
        # the step that a cut falls into goes on behind it
        row, begin, rate = row[order], begin[order], rate[np.maximum.accumulate(step)]
    some = (_ends(row, begin, stop) > begin) & (begin < stop)
    row, begin, rate = row[some], begin[some], rate[some]
    water = rate * (_ends(row, begin, last) - begin)
    came = np.bincount(row, water, len(flow)).astype(np.float64)
    supply = asked.supply_at(begin)
    # the inflow's end stays a cut though nothing changes there: up to it all time counts
    keep = begin == last
    if samples is not None:
        keep |= np.isin(begin, samples)
    keep[0] = True
    keep[1:] |= np.diff(rate) != 0
    keep[1:] |= (np.diff(supply) != 0) | (np.diff(row) != 0)
    row, begin = row[keep], begin[keep]
    first = np.searchsorted(row, np.arange(len(flow) + 1))
    over = first[:-1] + np.bincount(row[begin < last], minlength=len(flow))
    return Pieces(_ends(row, begin, stop), rate[keep], supply[keep], first, over, came)


def _ends(row: npt.NDArray[np.intp], begin: FloatArray, stop: float) -> FloatArray:
    """Where each piece ends: where the next of its row begins, or at the stop."""
    behind = np.append(row[1:] == row[:-1], False)
    return np.where(behind, np.append(begin[1:], stop), stop)


def _steps(
    time: FloatArray, flow: FloatArray, working: FloatArray
) -> tuple[npt.NDArray[np.intp], FloatArray, FloatArray]:
    """Steps of K storms' inflow: their rows, begins and rates; at each end one of no inflow.

    A sloping stretch is cut so finely that at no moment a step has brought more than a
    small share of the working volume (K,) more or less than the slope itself; at the ends of
    the steps it has brought exactly the same.
    """
    span = np.diff(time)
    some = span > 0
    low, rise, span = flow[:, :-1][:, some], np.diff(flow)[:, some], span[some]
    # between the slope and its mean stands at most a triangle of half the rise by half the span
    stray = np.abs(rise) * span / 8
    count = np.ceil(np.sqrt(stray / (_STRAY * working[:, None]))).astype(np.intp)
    count = np.where(stray <= 1e-9 * working[:, None], 1, np.maximum(count, 1))
    # behind the last stretch a step of nothing
    count = np.append(count, np.ones((len(flow), 1), dtype=np.intp), axis=1)
    low, rise = (np.append(x, np.zeros((len(flow), 1)), axis=1) for x in (low, rise))
    stretch = np.repeat(np.arange(count.size), count.ravel())
    i = np.arange(stretch.size) - (np.cumsum(count) - count.ravel())[stretch]
    share = 1.0 / count.ravel()[stretch]
    row = np.repeat(np.arange(len(flow)), count.sum(axis=1))
    column = stretch - row * count.shape[1]
    rate = low.ravel()[stretch] + rise.ravel()[stretch] * (i + 0.5) * share
    begin = np.append(time[:-1][some], time[-1])[column]
    return row, begin + np.append(span, 0.0)[column] * i * share, rate
