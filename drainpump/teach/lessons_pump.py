"""Numbers of the lessons on pump and line together: curves, crossing, choice, decline."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.field.bucket_and_drawdown import bucket_test
from drainpump.parts.line.line import straight_line
from drainpump.parts.line.pipe import pvc
from drainpump.parts.pump.curve import PumpCurve
from drainpump.solve.operating_point import operating_point
from drainpump.teach.lesson import TOLERANCE, Yard, with_ruler
from drainpump.units import FloatArray
from drainpump.why.losses import flow_at_head

#: acceptance tolerance on head of pumps below 10 kW: ISO 9906 and HI 14.6, second-hand source
_HEAD_TOLERANCE = 0.08
#: what is left of a worn pump's head
_WORN = 0.7
#: a verdict lies so many standard deviations of the reading off its limit
_CLEAR = 1.2
_WIDER = {"1-1/4": "1-1/2", "1-1/2": "2", "2": "2-1/2"}


def curve(yard: Yard) -> dict[str, Any]:
    """A pump has a curve: reading between the points, both ways."""
    pump, lift = yard.pump(), yard.lift().si
    flows, heads = pump.si.flow, pump.si.head
    i, share = int(yard.rng.integers(1, 4)), yard.of(0.25, 0.5, 0.75)
    typed = u.from_si(flows[i] + share * (flows[i + 1] - flows[i]), yard.unit("gpm"))
    flow = u.to_si(np.round(typed, 2), yard.unit("gpm"))
    j = int(np.flatnonzero(heads >= lift)[-1])
    return {
        "table": yard.points(pump), "run_out": flows[-1], "at": flow,
        "q_1": flows[i], "q_2": flows[i + 1], "h_1": heads[i], "h_2": heads[i + 1],
        "head": [p.si.head_at(flow) for p in with_ruler(pump)], "last_head": heads[-1],
        "lift": lift, "q_above": flows[j], "q_below": flows[j + 1],
        "h_above": heads[j], "h_below": heads[j + 1], "flow": _at_head(pump, lift),
    }  # fmt: skip


def _at_head(pump: PumpCurve, head: FloatArray) -> FloatArray:
    """The flow at a head (m) by both readings of a curve, with no line at all."""
    level = straight_line(pipe=pvc("2"), length_m=0, lift_m=0)
    return np.ravel([flow_at_head(p, level, np.atleast_1d(head))[0] for p in with_ruler(pump)])


def crossing(yard: Yard) -> dict[str, Any]:
    """Where they cross: pump and line in one table, and the flow between two of its rows."""
    pump, line, said = yard.working()
    flows, made = pump.si.flow, pump.si.head
    asked = np.asarray(line.head(flow_lps=flows * 1e3).si.head)
    left = int(np.flatnonzero(made >= asked)[-1])
    op, alone = operating_point(with_ruler(pump), line), _at_head(pump, line.si.lift)
    rows = {f"q_{i}": q for i, q in enumerate(flows)}
    rows |= {f"asked_{i}": h for i, h in enumerate(asked)}
    for side, i in (("above", left), ("below", left + 1)):
        rows |= {f"gap_{side}": made[i] - asked[i], f"q_{side}": flows[i]}
    return said | rows | {
        "flow_unit": u.UNITS[yard.unit("gpm")].label, "flow": op.si.flow, "head": op.si.head,
        "lift": line.si.lift, "guess": alone, "too_much": 100 * (alone[0] / op.si.flow[0] - 1),
    }  # fmt: skip


def pipe_or_pump(yard: Yard) -> dict[str, Any]:
    """Pipe against pump: which buys more water."""
    while True:
        pump, line, said = yard.working()
        wider = pvc(_WIDER[str(line.runs[0].pipe.nominal)])
        lines = [line, line.variant(pipe=wider)]
        now, then = np.moveaxis(operating_point(with_ruler(pump), lines).si.flow, 1, 0)
        faster = operating_point([p.at_speed(1.1) for p in with_ruler(pump)], line).si.flow
        gap = (then - faster) / now
        # the same winner, by more than two readings differ, whichever way the curve is read
        if np.abs(gap).min() > 2 * TOLERANCE and gap[0] * gap[1] > 0:
            break
    before, after = (float(one.runs[0].pipe.si.bore) for one in lines)
    return said | yard.speed(then, after, "pipe_") | {
        "wider": yard.wall(wider), "flow": now, "bore": before, "fifth": (before / after) ** 5,
        "pump_flow": faster, "pipe_gain": then[0] - now[0], "pump_gain": faster[0] - now[0],
        "better": "the pipe" if then[0] > faster[0] else "the pump",
    }  # fmt: skip


def trust(yard: Yard) -> dict[str, Any]:
    """Trust and decline: a bucket test beside the prediction, and the years to come."""
    while True:
        pump, line, said = yard.working(least=0.35)
        kept = np.array([1 - _HEAD_TOLERANCE, 1.0, 1 + _HEAD_TOLERANCE, _WORN])
        flows = operating_point([p.worn(head=kept) for p in with_ruler(pump)], line).si.flow
        left = float(yard.of(0.75, 0.8, 0.85, 1.0))
        true = float(operating_point(pump.worn(head=left), line).si.flow)
        barrel = yard.measure(("gal", 30, 55, 5), ("l", 120, 200, 20))
        seconds = round(float(barrel.si) / true, 1)
        test = bucket_test(**barrel.spelled("volume"), fill_s=seconds)
        measured, sigma = float(test.si.flow), float(test.si.sigma)
        off = np.abs(measured - flows[:, [0, 2]])
        if np.isfinite(flows).all() and (off > np.maximum(_CLEAR * sigma, TOLERANCE * true)).all():
            break
    low, middle, high, worn = flows.T
    unit, inside = yard.unit("gpm"), low[0] <= measured
    shown = yard.said(measured, "=gpm")
    return said | {
        "barrel": barrel, "filled": seconds, "makers": 100 * _HEAD_TOLERANCE,
        "sure": u.from_si(sigma, unit), "flow_unit": u.UNITS[unit].label, "measured": measured,
        "flow": middle, "lowered": kept[0], "low": low, "raised": kept[2], "high": high,
        "compared": f"<= {shown} <= {yard.said(high, '=gpm')}" if inside else f"> {shown}",
        "verdict": "within them" if inside else "below them: look for a fault",
        "lost": 100 * (1 - _WORN), "left": _WORN, "worn": worn,
    }  # fmt: skip
