"""What a discharge line takes from its pump, cause by cause: each can be switched off.

A line is cut into causes (lift, pipe, each kind of fitting, exit, lid). A subset of them
is again a line, so all subsets are one array of lines for the solver.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import reduce
from math import factorial
from typing import Any

import numpy as np
import numpy.typing as npt

from drainpump import states
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.run import Run
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.physics import system
from drainpump.solve.grid import make_grid
from drainpump.solve.operating_point import solve_arrays
from drainpump.units import FloatArray

#: causes at most: all 2ⁿ subsets are solved, and a picture of more cannot be read
MOST = 12

_ELBOWS, _JOINTS, _FURTHER = "elbows", "adapters", "further K"
#: what fittings are called together, by how their names begin; others keep their own name
_FAMILIES = {
    "elbow": _ELBOWS,
    "tee": "tees",
    "check_valve": "check valve",
    "foot_valve": "foot valve",
    "adapter": _JOINTS,
    "union": _JOINTS,
    "coupling": _JOINTS,
}
#: friction factor by which an equivalent length is weighed against a K, only to sort
_USUAL_F = 0.02


@dataclass(frozen=True, eq=False)
class LossCause:
    """One thing that takes flow: what it switches on in a line."""

    name: str
    #: (R + M,) loss coefficients on the velocity head of each run, then of each riser of a bank
    k: FloatArray
    fitting_length: FloatArray  # (R + M,) m
    takes: str = ""  # "lift", "pipe", "exit" or "lid" where it is that, too


def loss_causes(pump: Pump, line: DischargeLine) -> tuple[LossCause, ...]:
    """Cut a line into its causes, a bank's risers among them.

    Parameters
    ----------
    pump, line : pump or bank, and DischargeLine
        Of scalars.

    Returns
    -------
    tuple of LossCause
        In order: lift, pipe, elbows, other fittings in the order they were given, valves,
        adapters and exit, lid. Adapters, unions, couplings and the further K are one cause
        with the exit where together they take no more than the exit does.
    """
    plain = line.si.arrays
    bores = np.concatenate([plain.diameter, *(r.diameter for r in _risers(pump, line))])
    none = np.zeros(bores.size)
    fittings = _fittings([*line.runs, *_riser_runs(pump)])
    outlet = LossCause("exit", none, none, "exit")
    small = [fittings[name] for name in (_JOINTS, _FURTHER) if name in fittings]
    exit_size = float(plain.exit_k / plain.area[-1] ** 2)
    if small and sum(_size(c, bores) for c in small) <= exit_size:
        outlet = replace(reduce(_joined, small), name="adapters and exit", takes="exit")
        fittings = {n: c for n, c in fittings.items() if n not in (_JOINTS, _FURTHER)}
    last = [] if exit_size == 0 and outlet.name == "exit" else [outlet]
    if (plain.lid > 0) or (plain.orifice > 0):
        name = "lid and its gap" if plain.orifice > 0 else "lid"
        last.append(LossCause(name, none, none, "lid"))
    first = [LossCause(x, none, none, x) for x in ("lift", "pipe")]
    room = MOST - len(first) - len(last)
    return (*first, *sorted(_fewer(list(fittings.values()), bores, room), key=_place), *last)


def _riser_runs(pump: Pump) -> tuple[Run | None, ...]:
    """A bank's risers, where any pump has one."""
    risers = pump.risers if isinstance(pump, PumpBank) else ()
    return risers if any(risers) else ()


def _risers(pump: Pump, line: DischargeLine) -> list[system.LineArrays]:
    """The same as the solver takes them, of scalars."""
    grid = make_grid(pump, line, np.zeros(()))
    return [grid.riser(run).take(0) for run in _riser_runs(pump)]


def _fittings(runs: Sequence[Run | None]) -> dict[str, LossCause]:
    """Gather the local losses of all runs by kind; kinds that take nothing are left out."""
    kinds: dict[str, LossCause] = {}
    for unit, run in zip(np.eye(len(runs)), runs, strict=True):
        if run is None:
            continue
        found = [(_family(loss.name, run), loss.k, loss.length) for loss in run.losses]
        found.append((_FURTHER, run.si.extra_k, run.si.extra_length))
        for name, k, length in found:
            if k > 0 or length > 0:
                cause = LossCause(name, unit * k, unit * length)
                kinds[name] = _joined(kinds[name], cause) if name in kinds else cause
    return kinds


def _family(name: str, run: Any) -> str:
    given = run.fittings.get(name)
    if isinstance(given, Fitting) and given.name:
        return given.name
    for start, family in _FAMILIES.items():
        if name.startswith(start):
            return family
    return name.replace("_", " ")


def _joined(a: LossCause, b: LossCause) -> LossCause:
    return replace(a, k=a.k + b.k, fitting_length=a.fitting_length + b.fitting_length)


def _size(cause: LossCause, bores: FloatArray) -> float:
    """Loss per velocity head of one flow, only to compare causes with each other."""
    k = cause.k + _USUAL_F * cause.fitting_length / bores
    return float((k / (0.25 * np.pi * bores**2) ** 2).sum())


def _fewer(causes: list[LossCause], bores: FloatArray, room: int) -> list[LossCause]:
    """Gather the smallest kinds into one where there are more than can be told apart."""
    if len(causes) <= room:
        return causes
    by_size = sorted(causes, key=lambda c: _size(c, bores), reverse=True)
    rest = replace(reduce(_joined, by_size[room - 1 :]), name="other fittings")
    return [c for c in causes if c in by_size[: room - 1]] + [rest]


def _place(cause: LossCause) -> int:
    """Elbows come first among the fittings, then the others, valves, and adapters last."""
    if cause.name == _ELBOWS:
        return 0
    if cause.name in (_JOINTS, _FURTHER):
        return 3
    return 2 if "valve" in cause.name else 1


def switched(
    plain: system.LineArrays,
    causes: tuple[LossCause, ...],
    on: npt.NDArray[np.bool_],
    first: int = 0,
) -> system.LineArrays:
    """Return a line or riser with only some causes at work.

    Parameters
    ----------
    plain : LineArrays
        Of scalars; its runs are those of the causes from ``first`` on.
    causes : tuple of LossCause
        All of the line's, n of them.
    on : ndarray of bool, shape (n, N)
        Which causes are at work in each of N lines.

    Returns
    -------
    LineArrays
        Of shape (N,).
    """
    runs = slice(first, first + len(plain.end))
    plain, share = plain.aligned(1), on.astype(np.float64)

    def at_work(kind: str) -> FloatArray:
        return np.asarray(sum(s for c, s in zip(causes, share, strict=True) if c.takes == kind))

    def total(losses: list[FloatArray]) -> FloatArray:
        return np.asarray(
            sum(np.multiply.outer(a[runs], s) for a, s in zip(losses, share, strict=True))
        )

    changed: dict[str, Any] = {
        "end": plain.end * at_work("lift"),
        "tail": plain.tail * at_work("lift"),
        "length": plain.length * at_work("pipe"),
        "k": total([c.k for c in causes]),
        "fitting_length": total([c.fitting_length for c in causes]),
        "exit_k": plain.exit_k * at_work("exit"),
        "high_point_k": plain.high_point_k * at_work("exit"),
        "lid": plain.lid * at_work("lid"),
        "orifice": plain.orifice * at_work("lid"),
    }
    return replace(plain, **changed)


def _switched_risers(
    pump: Pump, line: DischargeLine, causes: tuple[LossCause, ...], on: npt.NDArray[np.bool_]
) -> list[system.LineArrays]:
    return [
        switched(riser, causes, on, len(line.runs) + i)
        for i, riser in enumerate(_risers(pump, line))
    ]


def by_subset(
    pump: Pump, line: DischargeLine, causes: tuple[LossCause, ...]
) -> tuple[FloatArray, Any]:
    """Solve every subset of the causes in one call.

    Returns
    -------
    flow : ndarray, shape (2ⁿ,)
        Flow in m³/s to be reckoned with; bit i of the index is set where cause i is at work.
    status : ndarray of str, shape (2ⁿ,)
    """
    subsets = np.arange(1 << len(causes))
    on = (subsets >> np.arange(len(causes))[:, None] & 1).astype(bool)
    risers = _switched_risers(pump, line, causes, on)
    op = solve_arrays(pump, switched(line.si.arrays, causes, on), risers=risers)
    return op.si.reckoned.copy(), np.asarray(op.status)


def least_of(ends: Any) -> str:
    """Word before a loss between flows of these statuses, which may be bounds or not known."""
    bounds = {states.bound(s) for s in ends}
    return "perhaps " if "not known" in bounds else "at least " if any(bounds) else ""


def shapley(value: FloatArray) -> FloatArray:
    """Divide ``value[none] - value[all]`` among n causes, whatever the order.

    Parameters
    ----------
    value : ndarray, shape (2ⁿ,)
        What is left with each subset of causes at work, by bits.

    Returns
    -------
    ndarray, shape (n,)
        Each cause's loss, averaged over all n! orders of taking the causes in.

    Notes
    -----
    φ_i = Σ over S without i of |S|! (n − |S| − 1)! / n! · (v(S) − v(S ∪ i)).

    References
    ----------
    L. S. Shapley, "A value for n-person games", *Contributions to the Theory of Games II*,
    1953 (from memory).

    Examples
    --------
    >>> shapley(np.array([10.0, 6.0, 8.0, 5.0])).tolist()
    [3.5, 1.5]
    """
    n = value.size.bit_length() - 1
    subset = np.arange(value.size)
    size = (subset >> np.arange(n)[:, None] & 1).sum(axis=0)
    weight = np.array([factorial(s) * factorial(n - s - 1) / factorial(n) for s in range(n)])
    without = [subset[(subset >> i & 1) == 0] for i in range(n)]
    return np.array(
        [
            np.sum(weight[size[s]] * (value[s] - value[s | 1 << i]))
            for i, s in enumerate(without)
        ]
    )  # fmt: skip


def head_by_cause(line: DischargeLine, causes: tuple[LossCause, ...], flow: float) -> FloatArray:
    """Head (m) each cause takes at ``flow`` (m³/s) up to the point that governs, (n,)."""
    plain = line.si.arrays
    last = len(line.runs)
    point = int(system.head_parts(np.asarray(flow), plain).point)
    if point == 0:
        return np.zeros(len(causes))
    each = switched(plain, causes, np.eye(len(causes), dtype=bool))
    # up to the governing point alone, whose grade is then the head itself
    cut = each.map(lambda name, a: a[:point] if name in system.RUN_FIELDS else a)
    cut = replace(cut, siphon=np.asarray(True))
    if point < last:
        exit_k = each.high_point_k * system.high_points(plain.end)[point - 1]
        cut = replace(cut.open_ended(), exit_k=exit_k)
    return system.head(np.full(len(causes), flow), cut)


def riser_by_cause(
    pump: Pump, line: DischargeLine, causes: tuple[LossCause, ...], flow: float
) -> FloatArray:
    """Head (m) each cause takes in the lead pump's riser at its ``flow`` (m³/s), (n,)."""
    each = _switched_risers(pump, line, causes, np.eye(len(causes), dtype=bool))
    if not each:
        return np.zeros(len(causes))
    return system.head(np.full(len(causes), flow), replace(each[0], siphon=np.asarray(True)))


def flow_at_head(pump: Pump, line: DischargeLine, head: FloatArray) -> tuple[FloatArray, Any]:
    """Flows (m³/s) and statuses of the pump against heads (m) that do not change with flow."""
    causes = loss_causes(pump, line)
    off = np.zeros((len(causes), head.size), dtype=bool)
    bare = switched(line.si.arrays, causes, off)
    flat = replace(bare, end=bare.end + head, siphon=np.asarray(True))
    op = solve_arrays(pump, flat, risers=_switched_risers(pump, line, causes, off))
    return op.si.reckoned, np.asarray(op.status)
