"""The tests a candidate has to pass: each over the whole grid of pumps and lines at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.cycling.switching import Cycle
from drainpump.findings import Finding, found
from drainpump.limits.limits import Limits
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics import pipes
from drainpump.solve.operating_point import OperatingPoint
from drainpump.units import FloatArray

__all__ = ["Rule", "Sure", "rules", "velocities"]


@dataclass(frozen=True, eq=False)
class Sure:
    """How sure a flow has to be: probability of carrying the need (P, L), and the wish."""

    probability: FloatArray
    certainty: float


@dataclass(frozen=True, eq=False)
class Rule:
    """One test over the grid: where it fails, its numbers (SI), and how to say so."""

    limit_name: str  # "" for what no limit can leave out
    code: str
    fails: Any  # (P, L)
    value: Any  # (P, L) or scalar
    limit: Any
    unit: str
    words: str
    unknown: bool = False  # a fact that the pump does not tell: it warns, and never rejects

    def finding(self, at: tuple[int, ...], where: str, source: str) -> Finding:
        """What one pair breaks."""
        value, limit = (float(a[at] if np.ndim(a) else a) for a in (self.value, self.limit))
        said = (u.both(x, self.unit) if self.unit else u.number(x) for x in (value, limit))
        text = self.words.format(**dict(zip(("value", "limit"), said, strict=True)))
        return found(
            value, limit, self.unit, code=self.code, where=where, text=text, source=source,
            verdict="not_known" if np.isnan(value) else "look",
        )  # fmt: skip


def velocities(op: OperatingPoint) -> tuple[FloatArray, FloatArray]:
    """Velocity in the widest and the narrowest run, at the flow or its bound (P, L)."""
    area = op.si.grid.line.area
    return op.si.bounded / area.max(axis=0), op.si.bounded / area.min(axis=0)


def rules(
    op: OperatingPoint, still: Cycle | None, need: FloatArray, limits: Limits, sure: Sure | None
) -> list[Rule]:
    """Every test that applies, statuses first."""
    tests = [*_statuses(op, need), *_flows(op, need, sure), *_limits(op, still, limits)]
    tests += [*_best_flow(op, limits), *_solids(op, limits), *_voltage(op, limits)]
    tests += _outlet_size(op)
    return [r for r in tests if not r.limit_name or limits.applies(r.limit_name)]


def _known(op: OperatingPoint) -> Any:
    status = np.asarray(op.status)
    return (status == "ok") | (status == "beyond_curve")


def _statuses(op: OperatingPoint, need: FloatArray) -> Iterator[Rule]:
    status, unknown = np.asarray(op.status), np.asarray(np.nan)
    for code, value, limit, unit, words in (
        ("no_flow", op.si.zero_flow_head, op.si.shutoff, "ft",
         "the line asks {value} before any flow, the pump makes {limit} at most"),
        ("below_curve", op.si.bounded, need, "gpm",
         "flow at most {value}, less than the curve's points tell, {limit} needed"),
        ("multiple", unknown, need, "gpm",
         "the drooping curve crosses the line more than once: no steady flow"),
        ("bad_input", unknown, need, "gpm", "an input is NaN"),
    ):  # fmt: skip
        yield Rule("", code, status == code, value, limit, unit, words)


def _flows(op: OperatingPoint, need: FloatArray, sure: Sure | None) -> Iterator[Rule]:
    """Flow against need; with doubt, the probability of it against the wish."""
    known, flow = _known(op), op.si.bounded
    short = known & (flow < need)
    if sure is None:
        yield Rule("", "flow_short", short, flow, need, "gpm", "flow {value}, {limit} needed")
        return
    unsure = known & (sure.probability < sure.certainty)
    yield Rule("", "flow_short", unsure & short, flow, need, "gpm", "flow {value}, {limit} needed")
    yield Rule(
        "", "flow_uncertain", unsure & ~short, sure.probability, np.asarray(sure.certainty), "",
        "carries the need with probability {value}, {limit} wished",
    )  # fmt: skip


def _limits(op: OperatingPoint, still: Cycle | None, limits: Limits) -> Iterator[Rule]:
    known = _known(op)
    slowest, fastest = velocities(op)
    low, high = limits.si.velocity_min, limits.si.velocity_max
    yield Rule(
        "velocity_min", "velocity_low", known & (slowest < low), slowest, low, "fps",
        "velocity {value} in the widest run, at least {limit} wanted",
    )  # fmt: skip
    yield Rule(
        "velocity_max", "velocity_high", known & (fastest > high), fastest, high, "fps",
        "velocity {value} in the narrowest run, at most {limit} wanted",
    )  # fmt: skip
    if limits.si.range_share_max is not None:
        share = np.where(np.asarray(op.status) == "beyond_curve", 1.0, op.si.range_share)
        most = limits.si.range_share_max
        yield Rule(
            "range_share_max", "range_share_high", known & (share > most), share, most, "",
            "share {value} of the curve's last flow, at most {limit}",
        )  # fmt: skip
    if still is not None and limits.si.starts_max is not None:
        most, rate = limits.si.starts_max, still.si.worst_rate
        # what cannot be told is not taken for kept
        yield Rule(
            "starts_max", "starts_high", known & ~(rate <= most), rate, most,
            "per_h", "starts {value} in the worst case, at most {limit} wanted",
        )  # fmt: skip
    if still is not None and limits.si.run_min is not None:
        least = limits.si.run_min
        yield Rule(
            "run_min", "run_short", known & ~(still.si.run >= least), still.si.run, least, "s",
            "shortest run {value}, at least {limit} wanted",
        )  # fmt: skip


def _of_pumps(op: OperatingPoint, fact: Callable[[PumpCurve], Any]) -> FloatArray:
    """A fact of each pump (P, L), SI; NaN of a bank, and where a pump does not tell one."""
    facts = (fact(p) if isinstance(p, PumpCurve) else None for p in op.si.grid.pumps)
    values = [np.asarray(np.nan if x is None else x) for x in facts]
    # nor does one with a value for each element
    each = np.array([float(x) if x.ndim == 0 else np.nan for x in values])
    return np.broadcast_to(each[:, None], op.si.bounded.shape)


def _best_flow(op: OperatingPoint, limits: Limits) -> Iterator[Rule]:
    best = _of_pumps(op, lambda p: p.si.best_flow)
    low, high = limits.si.best_low, limits.si.best_high
    with np.errstate(invalid="ignore", divide="ignore"):
        share = op.si.bounded / best
    yield Rule(
        "best_flow", "best_flow_off", _known(op) & ((share < low) | (share > high)), share,
        np.where(share < low, low, high), "",
        f"flow at {{value}} of the best-efficiency flow, {u.number(low)} to {u.number(high)} "
        "preferred",
    )  # fmt: skip


def _solids(op: OperatingPoint, limits: Limits) -> Iterator[Rule]:
    if limits.si.solids_min is None:
        return
    has, want = _of_pumps(op, lambda p: p.si.solids), limits.si.solids_min
    yield Rule(
        "solids_min", "solids_small", has < want, has, want, "in",
        "passes solids of {value}, {limit} needed",
    )  # fmt: skip
    yield Rule(
        "solids_min", "solids_unknown", np.isnan(has), has, want, "in",
        "the pump does not say its solids; {limit} needed", unknown=True,
    )  # fmt: skip


def _voltage(op: OperatingPoint, limits: Limits) -> Iterator[Rule]:
    if limits.si.voltage is None:
        return
    has, want = _of_pumps(op, lambda p: p.si.voltage), limits.si.voltage
    yield Rule(
        "voltage", "voltage_other", np.abs(want / has - 1) > limits.si.tolerance_pct / 100, has,
        want, "v", "made for {value}, the supply is {limit}",
    )  # fmt: skip
    yield Rule(
        "voltage", "voltage_unknown", np.isnan(has), has, want, "v",
        "the pump does not say its voltage; {limit} needed", unknown=True,
    )  # fmt: skip


def _outlet_size(op: OperatingPoint) -> Iterator[Rule]:
    outlet = _of_pumps(op, lambda p: p.si.outlet)
    narrowest = [min(_inch_size(run.pipe) for run in x.runs) for x in op.si.grid.lines]
    size = np.broadcast_to(np.array(narrowest), outlet.shape)
    yield Rule(
        "outlet_size", "pipe_below_outlet", size < _nearest_size(outlet), size, outlet, "in",
        "narrowest pipe is of size {value}, the pump's outlet of {limit}",
    )  # fmt: skip


@cache
def _schedule_40() -> tuple[FloatArray, FloatArray]:
    """Bores and nominal sizes (m) of Schedule 40 pipe, by which sizes are told."""
    rows = [s for s in pipes.sizes() if s.schedule == "Sch 40"]
    return np.array([s.bore() for s in rows]), np.array([_inches(s.nominal) for s in rows])


def _inches(nominal: str) -> float:
    return float(u.to_si(float(sum(Fraction(part) for part in nominal.split("-"))), "in"))


def _nearest_size(bore: Any) -> FloatArray:
    """The nominal size (m) whose Schedule 40 bore is nearest; NaN stays."""
    bores, sizes = _schedule_40()
    near = np.abs(np.asarray(bore)[..., None] - bores).argmin(axis=-1)
    return np.asarray(np.where(np.isnan(bore), np.nan, sizes[near]))


def _inch_size(pipe: Any) -> float:
    """The nominal size (m) of a pipe; of a metric one or one's own, by its bore."""
    if pipe.nominal is not None and not pipe.nominal.endswith("mm"):
        return _inches(pipe.nominal)
    return float(_nearest_size(pipe.si.bore))
