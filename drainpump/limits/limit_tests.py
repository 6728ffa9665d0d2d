"""The tests a candidate has to pass, over a whole grid of pumps and lines, and what it breaks."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache, cached_property
from typing import Any

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.cycling.switching import Cycle, cycles_of
from drainpump.doubt.band import Band, carried_with, share_carrying, starts_within
from drainpump.findings import Finding, found
from drainpump.limits.limits import Limits
from drainpump.parts.line.hand_off import GravityHandOff
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics import pipes
from drainpump.physics.tables import read_table
from drainpump.solve.operating_point import OperatingPoint, operating_point
from drainpump.units import FloatArray


@dataclass(frozen=True, eq=False)
class Sure:
    """How sure a flow has to be: its spread over pumps and lines, and the certainty wished."""

    band: Band
    need: FloatArray
    certainty: float

    @property
    def probability(self) -> FloatArray:
        """Of carrying the need (P, L)."""
        return share_carrying(self.band, self.need)

    @property
    def carried(self) -> FloatArray:
        """What is carried with the certainty (P, L), m³/s."""
        return carried_with(self.band, self.certainty)


#: which limit each test is of ("" of what no limit can leave out), its unit and its words
_TESTS = {row["code"]: row for row in read_table("limit_tests.csv")}


@dataclass(frozen=True, eq=False)
class Rule:
    """One test over the grid: where it fails, and its numbers (SI)."""

    code: str
    fails: Any  # (P, L)
    value: Any  # (P, L) or scalar
    limit: Any
    more: Any = False  # (P, L) where the value is a bound, and the truth may be more
    less: Any = False  # or less
    open: Any = False  # (P, L) where such a bound cannot decide: not taken for kept
    miss: Any = None  # (P, L) how far off, as a share; by the value and the limit if not told
    said: Mapping[str, str] = field(default_factory=dict)  # what its words name besides

    @property
    def limit_name(self) -> str:
        """The limit it is of; "" for what no limit can leave out."""
        return _TESTS[self.code]["limit"]

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
        unit, words = _TESTS[self.code]["unit"], _TESTS[self.code]["words"]
        said, kept = u.apart(value, limit, unit)
        if here(self.more) != here(self.less):
            said = f"{'at least' if here(self.more) else 'at most'} {said}"
        is_open = bool(here(self.open)) or np.isnan(value)
        return found(
            value, limit, unit, code=self.code, where=where,
            text=words.format(value=said, limit=kept, **self.said), source=source,
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
    tests = _Tests(op, limits)
    found = [*tests.statuses(need), tests.starting(), *tests.flows(need, sure), *tests.of_limits()]
    if still is not None:
        found += tests.turns(still)
    found += [*tests.best_flow(), *tests.solids(), *tests.voltage(), tests.outlet_size()]
    return [r for r in found if not r.limit_name or limits.applies(r.limit_name)]


@dataclass(frozen=True, eq=False)
class Judged:
    """Operating points (P, L), the pit's cycles with no inflow, and every test over them."""

    op: OperatingPoint
    still: Cycle | None  # its shortest runs, and its starts in the worst case
    sure: Sure | None
    rules: list[Rule]
    limits: Limits

    @cached_property
    def rejected(self) -> Any:
        """True where a pair breaks a hard limit (P, L)."""
        return np.any([rule.fails for rule in self.rules if self.hard(rule)], axis=0)

    def hard(self, rule: Rule) -> bool:
        """True where breaking the rule rejects."""
        return not {rule.limit_name, rule.code} & {*self.limits.soft}

    @property
    def missed(self) -> FloatArray:
        """How far each pair is from being accepted: its misses, each a share, added up."""
        off = [rule.missed for rule in self.rules if self.hard(rule)]
        return np.asarray(np.sum(np.broadcast_arrays(*off), axis=0))

    def findings(self, at: tuple[int, ...], hard: bool) -> tuple[Finding, ...]:
        """The hard limits that one pair breaks, or the soft ones, which only warn."""
        pump, line = self.op.si.grid.pumps[at[0]], self.op.si.grid.lines[at[1]]
        return tuple(
            rule.finding(
                at, f"{pump.name} on {line.name}", self.limits.sources.get(rule.limit_name, "")
            )
            for rule in self.rules
            if rule.fails[at] and self.hard(rule) == hard
        )


def judge(
    pumps: Sequence[Pump],
    lines: Sequence[DischargeLine],
    pit: Pit | None,
    need: FloatArray,
    limits: Limits,
    sure: Sure | None = None,
    more: Sequence[Rule] = (),
) -> Judged:
    """Solve every pump on every line and hold it against the limits; ``need`` in m³/s.

    ``more`` are rules of others, over the same pumps and lines.
    """
    op = operating_point(pumps, lines)
    still = None if pit is None else cycles_of(pumps, lines, pit, np.zeros(()))
    plain = Judged(op, still, sure, [*rules(op, still, need, limits, sure), *more], limits)
    if still is None or pit is None or sure is None or not limits.applies("starts_max"):
        return plain
    # samples of starts are dear: only where nothing else rejects
    most, wish = limits.si.starts_max, np.asarray(sure.certainty)
    rare = starts_within(sure.band, pit, most, ~plain.rejected)
    said = {"most": u.text(most, "per_h")}
    kept = still.si.worst_rate <= most
    unsure = Rule("starts_uncertain", kept & (rare < wish), rare, wish, said=said)
    return replace(plain, rules=[*plain.rules, unsure])


class _Tests:
    """The tests over one grid, by what its statuses tell of the flows."""

    def __init__(self, op: OperatingPoint, limits: Limits) -> None:
        self.op, self.limits = op, limits
        self.runs = states.has_flow(op.si.code)
        self.bounds = states.may_be_more(op.si.code), states.may_be_less(op.si.code)

    def kept(
        self, code: str, value: Any, limit: Any, *, most: bool, where: Any = True,
        bounds: tuple[Any, Any] | None = None,
    ) -> Rule:  # fmt: skip
        """One limit from above (``most``) or below, on a number that may be more or less."""
        more, less = bounds or self.bounds
        broken, open_ = (states.over if most else states.under)(value, limit, more, less)
        fails = self.runs & where & (broken | open_)
        return Rule(code, fails, value, limit, more=more, less=less, open=open_)

    def statuses(self, need: FloatArray) -> Iterator[Rule]:
        """Where no flow may be counted on."""
        op = self.op
        told = {
            states.NO_FLOW: (op.si.zero_flow_head, op.si.shutoff),
            states.BELOW: (op.si.reckoned, need),
        }
        for code, state in enumerate(states.STATES):
            if states.counts(np.asarray(code)):
                continue
            value, limit = told.get(code, (np.asarray(np.nan), need))
            # farther off than any that runs
            far = np.nan_to_num(np.abs(value / np.maximum(limit, 1e-9) - 1), posinf=0.0)
            said = {"mend": state.mend}
            yield Rule(state.name, op.si.code == code, value, limit, miss=1.0 + far, said=said)

    def starting(self) -> Rule:
        """Whether a siphon is filled over its high point, where the curve does not tell."""
        unknown, asked = self.op.si.may_not_start, self.op.si.zero_flow_head
        return Rule("start_not_known", unknown, asked, np.nan, open=True)

    def flows(self, need: FloatArray, sure: Sure | None) -> Iterator[Rule]:
        """Flow against need; with doubt, the probability of it against the wish."""
        flow, more = self.op.si.counted, self.bounds[0]
        known = states.counts(self.op.si.code)
        short = known & (flow < need)
        unsure = known & (True if sure is None else sure.probability < sure.certainty)
        miss = None if sure is None else 1 - sure.carried / np.maximum(need, 1e-12)
        yield Rule("flow_short", unsure & short, flow, need, more=more, open=more, miss=miss)
        if sure is not None:
            wish = np.asarray(sure.certainty)
            yield Rule("flow_uncertain", unsure & ~short, sure.probability, wish, miss=miss)
        share = self.limits.si.need_max_share
        ample = self.runs & (flow > share * need) & (need > 0)
        yield Rule("flow_ample", ample, flow, share * need, said={"share": u.number(share)})

    def of_limits(self) -> Iterator[Rule]:
        """Velocities, the share of the curve's range, and what a gravity pipe carries."""
        op, limits = self.op, self.limits.si
        slowest, fastest = velocities(op)
        yield self.kept("velocity_low", slowest, limits.velocity_min, most=False)
        yield self.kept("velocity_high", fastest, limits.velocity_max, most=True)
        share = op.at_flow(op.si.reckoned).si.range_share
        capped = self.limits.caps_every_pump | np.isnan(best_shares(op)[0])
        yield self.kept(
            "range_share_high", share, limits.range_share_max, most=True,
            where=capped & ~np.isnan(share),
        )  # fmt: skip
        outlets = [line.outlet for line in op.si.grid.lines]
        ends = [float(x.si.capacity) if isinstance(x, GravityHandOff) else np.inf for x in outlets]
        carried = np.broadcast_to(np.array(ends), op.si.code.shape)
        yield self.kept(
            "hand_off_short", op.si.reckoned, carried, most=True, where=np.isfinite(carried)
        )

    def turns(self, still: Cycle) -> Iterator[Rule]:
        """What runs back, starts, and the shortest run."""
        back, room = still.si.returned, still.si.room
        yield Rule("returned_overflows", self.runs & (back > room), back, room)
        most, shortest = self.limits.si.starts_max, self.limits.si.run_min
        bounds = still.si.more, still.si.less
        if most is not None:
            yield self.kept("starts_high", still.si.worst_rate, most, most=True, bounds=bounds)
        if shortest is not None:
            # a greater flow makes it shorter
            yield self.kept("run_short", still.si.run, shortest, most=False, bounds=bounds[::-1])

    def best_flow(self) -> Iterator[Rule]:
        """Flow as a share of the best-efficiency flow, of a bank the share of each pump."""
        least, greatest = best_shares(self.op)
        limits, told = self.limits, np.zeros(least.shape, dtype=bool)
        more, less = self.bounds
        for code, low, high in (
            ("best_flow_off", limits.si.best_low, limits.si.best_high),
            ("best_flow_not_preferred", *limits.best_flow_preferred),
        ):
            ends = states.under(least, low, more, less), states.over(greatest, high, more, less)
            off, open_ = (a | b for a, b in zip(*ends, strict=True))
            known, under = self.runs & ~np.isnan(least) & ~told, least < low
            rule = Rule(
                code, known & (off | open_), np.where(under, least, greatest),
                np.where(under, low, high), more=more, less=less, open=open_ & ~off,
                said={"low": u.number(low), "high": u.number(high)},
            )  # fmt: skip
            told = told | ((off | open_) & limits.applies(rule.limit_name))  # once is enough
            yield rule

    def solids(self) -> Iterator[Rule]:
        """What each pump passes, of a bank the least."""
        want = self.limits.si.solids_min
        if want is not None:
            has = _of_pumps(self.op, lambda p: p.si.solids, np.min)
            yield Rule("solids_small", has < want, has, want)
            yield Rule("solids_unknown", np.isnan(has), has, want)

    def voltage(self) -> Iterator[Rule]:
        """What each pump is made for, of a bank the one farthest from the supply."""
        want, within = self.limits.si.voltage, self.limits.si.tolerance_pct / 100

        def farthest(each: FloatArray) -> Any:
            return each[np.argmax(np.abs(want / each - 1))]

        if want is not None:
            has = _of_pumps(self.op, lambda p: p.si.voltage, farthest)
            yield Rule("voltage_other", np.abs(want / has - 1) > within, has, want)
            yield Rule("voltage_unknown", np.isnan(has), has, want)

    def outlet_size(self) -> Rule:
        """The narrowest pipe against the pump's outlet; a bank's pumps have pipes of their own."""
        # of a bank none is told
        outlet = _of_pumps(
            self.op, lambda p: p.si.outlet, lambda v: v[0] if v.size == 1 else np.nan
        )
        narrowest = [min(inch_size(run.pipe) for run in x.runs) for x in self.op.si.grid.lines]
        size = np.broadcast_to(np.array(narrowest), outlet.shape)
        return Rule("pipe_below_outlet", size < _nearest_size(outlet), size, outlet)


def _told(fact: Any) -> float:
    """A pump's fact, SI; NaN where it does not tell one, or has one for each element."""
    return float(fact) if fact is not None and np.ndim(fact) == 0 else np.nan


def _of_pumps(
    op: OperatingPoint, fact: Callable[[PumpCurve], Any], of_bank: Callable[[FloatArray], Any]
) -> FloatArray:
    """A fact of each pump (P, L), SI, of a bank that of one of its pumps; NaN where not told."""
    rows = [np.array([_told(fact(c)) for c in pump.si.curves]) for pump in op.si.grid.pumps]
    each = np.array([of_bank(row) for row in rows])
    return np.broadcast_to(each[:, None], op.si.code.shape)


def best_shares(op: OperatingPoint) -> tuple[FloatArray, FloatArray]:
    """Flow as a share of the best-efficiency flow (P, L), the least and the greatest of a bank.

    NaN where one of its pumps does not tell that flow.
    """
    least, greatest = np.empty(op.si.code.shape), np.empty(op.si.code.shape)
    parts = op.at_flow(op.si.reckoned).si.shares
    for p, (pump, part) in enumerate(zip(op.si.grid.pumps, parts, strict=True)):
        members = pump.pumps if isinstance(pump, PumpBank) else (pump,)
        shares = [
            flow / _told(curve.si.best_flow)
            for one, flow in zip(members, part.flow, strict=True)
            for curve in one.si.curves  # a bank within the bank is in series: all carry the whole
        ]
        least[p], greatest[p] = np.min(shares, axis=0), np.max(shares, axis=0)
    return least, greatest


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


def inch_size(pipe: Any) -> float:
    """The nominal size (m) of a pipe; of a metric one or one's own, by its bore."""
    if pipe.nominal is not None and not pipe.nominal.endswith("mm"):
        return _inches(pipe.nominal)
    return float(_nearest_size(pipe.si.bore))
