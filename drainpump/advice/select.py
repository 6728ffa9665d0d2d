"""Which pump on which line: every candidate judged, every rejection with its number."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.advice.limits import Limits
from drainpump.engine.cycling import Cycle, cycle
from drainpump.engine.operating import OperatingPoint, operating_point
from drainpump.errors import InputError, wrong
from drainpump.parts.pit import Pit
from drainpump.results import check_units
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    import pandas as pd

    from drainpump.parts.bank import Pump
    from drainpump.parts.line import DischargeLine

__all__ = ["Candidate", "Reason", "Selection", "select"]


_AT_LEAST = "flow is at least {}, the end of the pump's data; that bound is used"


@dataclass(frozen=True)
class Reason:
    """Why a candidate is rejected: a code, its number and the limit, both in ``unit``.

    Attributes
    ----------
    code : str
        ``flow_short``, ``velocity_low``, ``velocity_high``, ``starts_high``,
        ``run_short``, ``range_share_high``, ``no_flow``, ``below_curve``, ``multiple``
        or ``bad_input``.
    value, limit : float
        The candidate's number and what it had to keep, in ``unit``.
    unit : str
        Unit suffix of both numbers, "" for a bare ratio.
    text : str
        The same in words, in both unit systems.
    """

    code: str
    value: float
    limit: float
    unit: str
    text: str

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True, eq=False)
class Candidate:
    """One pump on one line, judged.

    Attributes
    ----------
    pump : PumpCurve
    line : DischargeLine
    rank : int
        1 for the best; rejected candidates come after all accepted ones.
    reasons : tuple of Reason
        Empty where accepted.
    notes : tuple of str
        What to know though it does not reject.
    flow_gpm, flow_lps, head_ft, head_m : float
        Operating point at the pump-off level; a flow known only by its bound is it.
    velocity_slowest_fps, velocity_fastest_fps : float (and ``_mps``)
        Over all runs.
    worst_starts_per_h, shortest_run_s : float or None
        Over all inflows, and with none; None without a pit.
    """

    pump: Pump
    line: DischargeLine
    rank: int
    status: str
    reasons: tuple[Reason, ...]
    notes: tuple[str, ...]
    _flow: float
    _head: float
    _slowest: float
    _fastest: float
    _worst_rate: float | None
    _shortest_run: float | None

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    head_ft, head_m = View("_head"), View("_head")
    velocity_slowest_fps, velocity_slowest_mps = View("_slowest"), View("_slowest")
    velocity_fastest_fps, velocity_fastest_mps = View("_fastest"), View("_fastest")
    worst_starts_per_h = View("_worst_rate")
    shortest_run_s = View("_shortest_run")

    @property
    def accepted(self) -> bool:
        """True where no limit is broken."""
        return not self.reasons

    def __repr__(self) -> str:
        verdict = "accepted" if self.accepted else "; ".join(r.text for r in self.reasons)
        return (
            f"Candidate({self.pump.name} on {self.line.name}: "
            f"{u.both(self._flow, 'gpm')}; {verdict})"
        )


@dataclass(frozen=True, eq=False)
class Selection:
    """Every candidate, ranked.

    Attributes
    ----------
    candidates : tuple of Candidate
        Accepted ones first, best first; then the rejected, nearest to the need first.
    need_gpm, need_lps : float
        The flow asked for, judged at the pump-off level.
    limits : Limits
        What was applied.
    rule : str
        How the ranking goes, in words.
    """

    candidates: tuple[Candidate, ...]
    limits: Limits
    rule: str
    _need: FloatArray
    operating: OperatingPoint = field(repr=False)
    cycling: Cycle | None = field(repr=False)

    need_gpm, need_lps = View("_need"), View("_need")

    @property
    def accepted(self) -> tuple[Candidate, ...]:
        """Candidates that keep every limit, best first."""
        return tuple(c for c in self.candidates if c.accepted)

    @property
    def rejected(self) -> tuple[Candidate, ...]:
        """Candidates that break a limit, each with its ``reasons``."""
        return tuple(c for c in self.candidates if not c.accepted)

    @property
    def best(self) -> Candidate | None:
        """The first accepted candidate, or None where nothing serves."""
        return self.accepted[0] if self.accepted else None

    def to_frame(self, units: str = "us") -> pd.DataFrame:
        """Return one row per candidate, best first, columns in one unit system."""
        import pandas as pd

        check_units(units)
        rows = []
        for c in self.candidates:
            row: dict[str, Any] = {
                "rank": c.rank,
                "pump": c.pump.name,
                "line": c.line.name,
                "accepted": c.accepted,
            }
            row |= {v.name: v.__get__(c) for v in u.views(Candidate, units)}
            row |= {
                "status": c.status,
                "codes": ", ".join(r.code for r in c.reasons),
                "reasons": "; ".join(r.text for r in c.reasons),
                "notes": "; ".join(c.notes),
            }
            rows.append(row)
        frame = pd.DataFrame(rows)
        return frame.dropna(axis="columns", how="all")

    def __repr__(self) -> str:
        best = "nothing serves" if self.best is None else repr(self.best)
        return (
            f"Selection for {u.both(self._need, 'gpm')}: {len(self.accepted)} of "
            f"{len(self.candidates)} accepted; best: {best}"
        )

    def _repr_html_(self) -> str:
        return str(self.to_frame().to_html(index=False, max_rows=40))


@dataclass(frozen=True, eq=False)
class _Rule:
    """One test over the whole (P, L) grid: where it fails, and how to say so."""

    code: str
    fails: Any
    value: FloatArray  # SI
    limit: FloatArray  # SI
    unit: str
    words: str  # "flow {value}, at least {limit} needed"

    def reason(self, at: tuple[int, ...]) -> Reason:
        value, limit = (float(a[at] if a.ndim else a) for a in (self.value, self.limit))
        if not self.unit:
            said = self.words.format(value=u.number(value), limit=u.number(limit))
            return Reason(self.code, value, limit, "", said)
        said = self.words.format(value=u.both(value, self.unit), limit=u.both(limit, self.unit))
        value, limit = (float(u.from_si(x, self.unit)) for x in (value, limit))
        return Reason(self.code, value, limit, self.unit, said)


def select(
    pumps: Pump | Sequence[Pump],
    lines: DischargeLine | Sequence[DischargeLine],
    *,
    pit: Pit | None = None,
    need_gpm: Any = None,
    need_lps: Any = None,
    limits: Limits | None = None,
) -> Selection:
    """Judge every pump on every line against a needed flow and the limits.

    Parameters
    ----------
    pumps, lines : PumpCurve and DischargeLine, or sequences of them
        All pairs are tried. Their quantities are scalars here.
    pit : Pit, optional
        Needed for limits on starts and runs.
    need_gpm, need_lps : float
        Flow needed at the pump-off level, the hardest, > 0. Exactly one.
    limits : Limits, optional
        Defaults to ``Limits()``: 2 to 8 ft/s.

    Returns
    -------
    Selection
        Accepted candidates ranked by most flow, then in the order given.

    Raises
    ------
    UnitError, InputError
        Bad units or values; a limit on starts or runs without a pit.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> lines = [dp.straight_line(pipe=dp.pvc(s), length_ft=150, lift_ft=6) for s in ("1-1/2", "2")]
    >>> sel = dp.select([pump], lines, need_gpm=30)
    >>> sel.best.line.name, [r.code for r in sel.rejected[0].reasons]
    ('2 in Schedule 40 PVC, 150 ft', ['flow_short'])
    """
    need = u.take("need", guard="flow", gpm=need_gpm, lps=need_lps)
    limits = Limits() if limits is None else limits
    if not isinstance(limits, Limits):
        raise wrong("limits", limits, "must be Limits", "make them with Limits(...)")
    many_pumps = list(pumps) if isinstance(pumps, Sequence) else [pumps]
    many_lines = list(lines) if isinstance(lines, Sequence) else [lines]
    op = operating_point(many_pumps, many_lines)
    if op._grid.inner or need.si.ndim or (pit is not None and pit.shape):
        raise InputError(
            "select: an input holds an array; a choice is made for one site, give scalars "
            "and put variants in the lists of pumps and lines."
        )
    if pit is None and (limits._starts_max is not None or limits._run_min is not None):
        raise InputError("limits on starts or runs: no pit given; give pit=Pit(...).")
    still = None if pit is None else cycle(many_pumps, many_lines, pit, inflow_gpm=0)
    rules = _rules(op, still, need.si, limits)
    rejected = np.any([r.fails for r in rules], axis=0)
    # accepted first, most flow first; a stable sort keeps the order given among equals
    flow = np.nan_to_num(op._bounded, nan=-1.0)
    order = np.lexsort((-flow.ravel(), rejected.ravel()))
    candidates = tuple(_candidates(op, still, rules, order))
    return Selection(candidates, limits, "most flow at the pump-off level", need.si, op, still)


def _rules(
    op: OperatingPoint, still: Cycle | None, need: FloatArray, limits: Limits
) -> list[_Rule]:
    status, flow = np.asarray(op.status), op._bounded
    slowest, fastest = _velocities(op)
    known = (status == "ok") | (status == "beyond_curve")
    rules = [
        _Rule(
            "no_flow", status == "no_flow", op._zero_flow_head, op._shutoff, "ft",
            "the line asks {value} before any flow, the pump makes {limit} at most",
        ),
        _Rule(
            "below_curve", status == "below_curve", flow, need, "gpm",
            "flow at most {value}, less than the curve's points tell, {limit} needed",
        ),
        _Rule(
            "multiple", status == "multiple", np.asarray(np.nan), need, "gpm",
            "the drooping curve crosses the line more than once: no steady flow",
        ),
        _Rule(
            "bad_input", status == "bad_input", np.asarray(np.nan), need, "gpm",
            "an input is NaN",
        ),
        _Rule(
            "flow_short", known & (flow < need), flow, need, "gpm",
            "flow {value}, {limit} needed",
        ),
    ]  # fmt: skip
    if limits._velocity_min is not None:
        low = limits._velocity_min.si
        rules.append(
            _Rule("velocity_low", known & (slowest < low), slowest, low, "fps",
                  "velocity {value} in the widest run, at least {limit} wanted")
        )  # fmt: skip
    if limits._velocity_max is not None:
        high = limits._velocity_max.si
        rules.append(
            _Rule("velocity_high", known & (fastest > high), fastest, high, "fps",
                  "velocity {value} in the narrowest run, at most {limit} wanted")
        )  # fmt: skip
    if limits._range_share_max is not None:
        share = np.where(status == "beyond_curve", 1.0, op._range_share)
        rules.append(
            _Rule("range_share_high", known & (share > limits._range_share_max), share,
                  limits._range_share_max, "",
                  "share {value} of the curve's last flow, at most {limit}")
        )  # fmt: skip
    if still is not None and limits._starts_max is not None:
        most = limits._starts_max.si
        rules.append(
            _Rule("starts_high", known & (still._worst_rate > most), still._worst_rate, most,
                  "per_h", "starts {value} in the worst case, at most {limit} wanted")
        )  # fmt: skip
    if still is not None and limits._run_min is not None:
        least = limits._run_min.si
        rules.append(
            _Rule("run_short", known & (still._run < least), still._run, least, "s",
                  "shortest run {value}, at least {limit} wanted")
        )  # fmt: skip
    return rules


def _velocities(op: OperatingPoint) -> tuple[FloatArray, FloatArray]:
    """Velocity in the widest and the narrowest run, at the flow or its bound (P, L)."""
    area = op._grid.line.area
    return op._bounded / area.max(axis=0), op._bounded / area.min(axis=0)


def _candidates(
    op: OperatingPoint, still: Cycle | None, rules: list[_Rule], order: Any
) -> Iterator[Candidate]:
    """Turn the grids into candidates, in the order of their ranks."""
    slowest, fastest = _velocities(op)
    status, flow, head = np.asarray(op.status), op._bounded, op._head
    rates, runs = (None, None) if still is None else (still._worst_rate, still._run)
    for rank, flat in enumerate(order, 1):
        at = tuple(int(i) for i in np.unravel_index(flat, flow.shape))
        pump, line = op._grid.pumps[at[0]], op._grid.lines[at[1]]
        notes = pump.notes
        if status[at] == "beyond_curve":
            notes = (_AT_LEAST.format(u.both(flow[at], "gpm")), *notes)
        yield Candidate(
            pump=pump,
            line=line,
            rank=rank,
            status=str(status[at]),
            reasons=tuple(rule.reason(at) for rule in rules if rule.fails[at]),
            notes=notes,
            _flow=float(flow[at]),
            _head=float(head[at]),
            _slowest=float(slowest[at]),
            _fastest=float(fastest[at]),
            _worst_rate=None if rates is None else float(rates[at]),
            _shortest_run=None if runs is None else float(runs[at]),
        )
