"""The tests a candidate has to pass: each over the whole grid of pumps and lines at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.cycling.switching import Cycle
from drainpump.doubt.band import Band, share_carrying
from drainpump.doubt.surely import carried_with
from drainpump.findings import Finding, found
from drainpump.limits.limits import Limits
from drainpump.parts.line.hand_off import GravityHandOff
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics import pipes
from drainpump.solve.operating_point import OperatingPoint
from drainpump.units import FloatArray

__all__ = ["Rule", "Sure", "best_share", "rules", "velocities"]


@dataclass(frozen=True, eq=False)
class Sure:
    """How sure a flow has to be: its spread over pumps and lines, and the certainty wished.

    ``rare_starts`` is the probability (P, L) of starts within their limit, NaN where it was
    not asked.
    """

    band: Band
    need: FloatArray
    certainty: float
    rare_starts: FloatArray | None = None

    @property
    def probability(self) -> FloatArray:
        """Of carrying the need (P, L)."""
        return share_carrying(self.band, self.need)

    @property
    def carried(self) -> FloatArray:
        """What is carried with the certainty (P, L), m³/s."""
        return carried_with(self.band, self.certainty)


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
    more: Any = False  # (P, L) where the value is a bound, and the truth may be more
    less: Any = False  # or less
    open: Any = False  # (P, L) where such a bound cannot decide: not taken for kept
    miss: Any = None  # (P, L) how far off, as a share; by the value and the limit if not told

    @property
    def missed(self) -> FloatArray:
        """How far each pair is off, as a share of the limit; 0 where the rule is kept."""
        miss = self.miss
        if miss is None:
            with np.errstate(divide="ignore", invalid="ignore"):
                miss = np.abs(self.value - self.limit) / np.abs(self.limit)
        # what is not known, or has no measure, is off by all of it
        miss = np.where(np.isfinite(miss) & ~np.asarray(self.open), miss, 1.0)
        return np.where(self.fails, miss, 0.0)

    def finding(self, at: tuple[int, ...], where: str, source: str) -> Finding:
        """What one pair breaks, or what of it is not known."""

        def here(array: Any) -> Any:
            return array[at] if np.ndim(array) else array

        value, limit = float(here(self.value)), float(here(self.limit))
        said, kept = (u.both(x, self.unit) if self.unit else u.number(x) for x in (value, limit))
        if here(self.more) != here(self.less):
            said = f"{'at least' if here(self.more) else 'at most'} {said}"
        is_open = bool(here(self.open)) or np.isnan(value)
        return found(
            value, limit, self.unit, code=self.code, where=where,
            text=self.words.format(value=said, limit=kept), source=source,
            verdict="not_known" if is_open else "look",
        )  # fmt: skip


def velocities(op: OperatingPoint) -> tuple[FloatArray, FloatArray]:
    """Velocity to be reckoned with in the widest and the narrowest run (P, L)."""
    area = op.si.grid.line.area
    return op.si.reckoned / area.max(axis=0), op.si.reckoned / area.min(axis=0)


def rules(
    op: OperatingPoint, still: Cycle | None, need: FloatArray, limits: Limits, sure: Sure | None
) -> list[Rule]:
    """Every test that applies, statuses first."""
    tests = [*_statuses(op, need), *_flows(op, need, sure), *_much(op, need, limits)]
    tests += [*_limits(op, limits), *_turns(op, still, limits, sure), *_hand_off(op)]
    tests += [*_best_flow(op, limits), *_solids(op, limits), *_voltage(op, limits)]
    tests += _outlet_size(op)
    return [r for r in tests if not r.limit_name or limits.applies(r.limit_name)]


def _runs(op: OperatingPoint) -> Any:
    """Where there is one flow or a bound of it: the rest is rejected by its status alone."""
    return np.isin(op.si.code, (states.OK, states.BEYOND, states.BELOW))


def _statuses(op: OperatingPoint, need: FloatArray) -> Iterator[Rule]:
    code, unknown = op.si.code, np.asarray(np.nan)
    for one, value, limit, unit, words in (
        (states.NO_FLOW, op.si.zero_flow_head, op.si.shutoff, "ft",
         "the line asks {value} before any flow, the pump makes {limit} at most"),
        (states.BELOW, op.si.reckoned, need, "gpm",
         "flow at most {value}, less than the curve's points tell, {limit} needed"),
        (states.MULTIPLE, unknown, need, "gpm",
         "the drooping curve crosses the line more than once: no steady flow"),
        (states.BAD, unknown, need, "gpm", "an input is NaN"),
    ):  # fmt: skip
        yield Rule(
            "", states.STATES[one].name, code == one, value, limit, unit, words,
            # farther off than any that runs
            miss=1.0 + np.nan_to_num(np.abs(value / np.maximum(limit, 1e-9) - 1), posinf=0.0),
        )  # fmt: skip


def _flows(op: OperatingPoint, need: FloatArray, sure: Sure | None) -> Iterator[Rule]:
    """Flow against need; with doubt, the probability of it against the wish."""
    # what is before the curve is short by its status
    known = np.isin(op.si.code, (states.OK, states.BEYOND))
    flow, beyond = op.si.counted, states.may_be_more(op.si.code)
    short = known & (flow < need)
    unsure = known & (True if sure is None else sure.probability < sure.certainty)
    miss = None if sure is None else 1 - sure.carried / np.maximum(need, 1e-12)
    yield Rule(
        "", "flow_short", unsure & short, flow, need, "gpm", "flow {value}, {limit} needed",
        more=beyond, open=beyond, miss=miss,
    )  # fmt: skip
    if sure is None:
        return
    yield Rule(
        "", "flow_uncertain", unsure & ~short, sure.probability, np.asarray(sure.certainty), "",
        "carries the need with probability {value}, {limit} wished", miss=miss,
    )  # fmt: skip


def _much(op: OperatingPoint, need: FloatArray, limits: Limits) -> Iterator[Rule]:
    """More flow than is needed: too much pump."""
    most = limits.si.need_max_share * need
    yield Rule(
        "need_max_share", "flow_ample", _runs(op) & (op.si.counted > most) & (need > 0),
        op.si.counted, most, "gpm",
        f"flow {{value}}, more than {{limit}}, {u.number(limits.si.need_max_share)} of the need",
    )  # fmt: skip


def _kept(
    name: str, code: str, where: Any, value: Any, limit: Any, unit: str, words: str,
    *, most: bool, more: Any, less: Any,
) -> Rule:  # fmt: skip
    """One limit from above (``most``) or below, on a number that may be more or less."""
    broken, open_ = (states.over if most else states.under)(value, limit, more, less)
    return Rule(
        name, code, where & (broken | open_), value, limit, unit, words, more=more, less=less,
        open=open_,
    )  # fmt: skip


def _limits(op: OperatingPoint, limits: Limits) -> Iterator[Rule]:
    runs = _runs(op)
    more, less = states.may_be_more(op.si.code), states.may_be_less(op.si.code)
    slowest, fastest = velocities(op)
    low, high = limits.si.velocity_min, limits.si.velocity_max
    yield _kept(
        "velocity_min", "velocity_low", runs, slowest, low, "fps",
        "velocity {value} in the widest run, at least {limit} wanted",
        most=False, more=more, less=less,
    )  # fmt: skip
    yield _kept(
        "velocity_max", "velocity_high", runs, fastest, high, "fps",
        "velocity {value} in the narrowest run, at most {limit} wanted",
        most=True, more=more, less=less,
    )  # fmt: skip
    capped = limits.caps_every_pump | np.isnan(best_share(op))
    share = np.where(op.si.code == states.BEYOND, 1.0, op.si.range_share)
    yield _kept(
        "range_share_max", "range_share_high", runs & capped & ~np.isnan(share), share,
        limits.si.range_share_max, "",
        "share {value} of the curve's last flow, at most {limit}",
        most=True, more=more, less=less,
    )  # fmt: skip


def _turns(
    op: OperatingPoint, still: Cycle | None, limits: Limits, sure: Sure | None
) -> Iterator[Rule]:
    """Starts, and the shortest run."""
    runs = _runs(op)
    if still is not None and limits.si.starts_max is not None:
        yield _kept(
            "starts_max", "starts_high", runs, still.si.worst_rate, limits.si.starts_max, "per_h",
            "starts {value} in the worst case, at most {limit} wanted",
            most=True, more=still.si.more, less=still.si.less,
        )  # fmt: skip
        if sure is not None and sure.rare_starts is not None:
            kept = still.si.worst_rate <= limits.si.starts_max
            yield Rule(
                "starts_max", "starts_uncertain", kept & (sure.rare_starts < sure.certainty),
                sure.rare_starts, np.asarray(sure.certainty), "",
                "starts keep to " + u.text(limits.si.starts_max, "per_h") + " with probability "
                "{value}, {limit} wished",
            )  # fmt: skip
    if still is not None and limits.si.run_min is not None:
        # a greater flow makes it shorter
        yield _kept(
            "run_min", "run_short", runs, still.si.run, limits.si.run_min, "s",
            "shortest run {value}, at least {limit} wanted",
            most=False, more=still.si.less, less=still.si.more,
        )  # fmt: skip


def _of_pumps(op: OperatingPoint, fact: Callable[[PumpCurve], Any]) -> FloatArray:
    """A fact of each pump (P, L), SI; NaN of a bank, and where a pump does not tell one."""
    facts = (fact(p) if isinstance(p, PumpCurve) else None for p in op.si.grid.pumps)
    values = [np.asarray(np.nan if x is None else x) for x in facts]
    # nor does one with a value for each element
    each = np.array([float(x) if x.ndim == 0 else np.nan for x in values])
    return np.broadcast_to(each[:, None], op.si.code.shape)


def best_share(op: OperatingPoint) -> FloatArray:
    """Flow as a share of the best-efficiency flow (P, L), NaN where that is not known."""
    best = _of_pumps(op, lambda p: p.si.best_flow)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(op.si.reckoned / best)


def _best_flow(op: OperatingPoint, limits: Limits) -> Iterator[Rule]:
    share = best_share(op)
    known, told = _runs(op) & ~np.isnan(share), np.zeros(share.shape, dtype=bool)
    more, less = states.may_be_more(op.si.code), states.may_be_less(op.si.code)
    for name, code, word, low, high in (
        ("best_flow", "best_flow_off", "wanted", limits.si.best_low, limits.si.best_high),
        ("best_flow_preferred", "best_flow_not_preferred", "preferred",
         *limits.best_flow_preferred),
    ):  # fmt: skip
        ends = states.under(share, low, more, less), states.over(share, high, more, less)
        off, open_ = (a | b for a, b in zip(*ends, strict=True))
        known = known & ~told
        told = (off | open_) & limits.applies(name)  # once is enough
        yield Rule(
            name, code, known & (off | open_), share, np.where(share < low, low, high), "",
            f"flow at {{value}} of the best-efficiency flow, {u.number(low)} to "
            f"{u.number(high)} {word}", more=more, less=less, open=open_ & ~off,
        )  # fmt: skip


def _hand_off(op: OperatingPoint) -> Iterator[Rule]:
    """What the pump gives against what a gravity pipe behind the outlet carries."""
    outlets = [line.outlet for line in op.si.grid.lines]
    carried = np.array(
        [float(x.si.capacity) if isinstance(x, GravityHandOff) else np.inf for x in outlets]
    )
    carried = np.broadcast_to(carried, op.si.code.shape)
    more, less = states.may_be_more(op.si.code), states.may_be_less(op.si.code)
    yield _kept(
        "hand_off", "hand_off_short", _runs(op) & np.isfinite(carried), op.si.reckoned, carried,
        "gpm", "gives {value}, the gravity pipe it hands over to carries {limit} just full",
        most=True, more=more, less=less,
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
        "the pump does not say its solids; {limit} needed",
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
        "the pump does not say its voltage; {limit} needed",
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
