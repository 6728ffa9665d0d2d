"""Problems of the lessons on pump and line together: curves, crossing, choice, decline."""

from __future__ import annotations

import numpy as np

from drainpump import units as u
from drainpump.field.bucket_and_drawdown import bucket_test
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.pipe import pvc
from drainpump.parts.line.straight import straight_line
from drainpump.solve.operating_point import operating_point
from drainpump.teach.lesson import TOLERANCE, Draft, Draw, with_ruler
from drainpump.units import FloatArray, Measure
from drainpump.why.losses import flow_at_head

__all__ = ["crossing", "curve", "pipe_or_pump", "trust"]

#: acceptance tolerance on head of pumps below 10 kW: ISO 9906 and HI 14.6, second-hand source
_HEAD_TOLERANCE = 0.08
#: a verdict lies so many standard deviations of the reading off its limit
_CLEAR = 1.2
_WIDER = {"1-1/4": "1-1/2", "1-1/2": "2", "2": "2-1/2"}
_POINTS = "the pump's points, in the table"
_EITHER = f"either is right, within ±{100 * TOLERANCE:g} %"


def curve(draw: Draw) -> Draft:
    """A pump has a curve: reading between the points, both ways."""
    pump, lift = draw.pump(), draw.lift()
    flows, heads = pump.si.flow, pump.si.head
    i, share = int(draw.rng.integers(1, 4)), draw.of(0.25, 0.5, 0.75)
    flow = flows[i] + share * (flows[i + 1] - flows[i])
    smooth, ruled = (float(p.si.head_at(flow)) for p in with_ruler(pump))
    draft = Draft(
        f"A pump is offered for {draw.place()}. Its box says {draw.say(flows[-1], 'gpm')}."
    )
    draft.table = draw.curve_table(pump)
    draft.given = [_POINTS]
    draft.questions = [
        f"What head does it make at {draw.say(flow, 'gpm')}?",
        "What head is left at the flow on the box?",
        f"What flow is left at a head of {draw.say(lift.si, 'ft')}, were there no line at all?",
    ]
    low, high = (draw.bare(h, "ft") for h in heads[i : i + 2])
    before, after, at = (draw.bare(q, "gpm") for q in (flows[i], flows[i + 1], flow))
    draft.step(
        f"Read between the two points around it; {_EITHER}.",
        "H = H1 + (H2 - H1) * (Q - Q1) / (Q2 - Q1)",
        f"{low} + ({high} - {low}) × ({at} - {before}) / ({after} - {before}): "
        + draw.answer(draft, "head", smooth, "ft", ruled),
    )
    draft.step(
        "The flow on the box is the last point; hardly any head is left there.",
        "H at the last point",
        draw.answer(draft, "last_head", heads[-1], "ft"),
    )
    j = int(np.flatnonzero(heads >= lift.si)[-1])
    level = straight_line(pipe=pvc("2"), length_m=0, lift_m=0)
    alone = np.ravel([flow_at_head(p, level, np.atleast_1d(lift.si))[0] for p in with_ruler(pump)])
    draft.step(
        f"Read between two heads the other way; {_EITHER}.",
        "Q = Q1 + (Q2 - Q1) * (H1 - H) / (H1 - H2)",
        f"{draw.bare(flows[j], 'gpm')} + ({draw.bare(flows[j + 1], 'gpm')} - "
        f"{draw.bare(flows[j], 'gpm')}) × ({draw.bare(heads[j], 'ft')} - "
        f"{draw.bare(lift.si, 'ft')}) / ({draw.bare(heads[j], 'ft')} - "
        f"{draw.bare(heads[j + 1], 'ft')}): " + draw.answer(draft, "flow", *_read(alone)),
    )
    return draft


def _read(flows: FloatArray) -> tuple[float, str, float]:
    """What `Draw.answer` takes of a flow by the smooth curve and by the ruler."""
    return float(flows[0]), "gpm", float(flows[1])


def crossing(draw: Draw) -> Draft:
    """Where they cross: pump and line in one table, and the flow between two of its rows."""
    pump, line, words = draw.working()
    draft = Draft(f"A pump and a line stand ready at {draw.place()}.")
    draft.given = [*words, _POINTS]
    draft.table = draw.curve_table(pump)
    draft.questions = [
        "What head does the line ask at each flow of the table?",
        "At which flow do pump and line agree?",
        "By how much is one wrong who reads the table at the lift?",
    ]
    flows, made = pump.si.flow, pump.si.head
    asked = np.asarray(line.head(flow_lps=flows * 1e3).si.head)
    rows = [
        f"{draw.bare(q, 'gpm')}: {draw.answer(draft, f'asked_{i}', h, 'ft')}"
        for i, (q, h) in enumerate(zip(flows, asked, strict=True))
    ]
    draft.step(
        f"Lift and losses at each flow ({u.UNITS[draw.unit('gpm')].label}), as in lesson 3.",
        "H line = lift + (f * L/D + K + 1) * V^2/(2g)",
        "; ".join(rows),
    )
    left = int(np.flatnonzero(made >= asked)[-1])
    ends = [draw.say(flows[i], "gpm") for i in (left, left + 1)]
    gaps = [draw.say(made[i] - asked[i], "ft") for i in (left, left + 1)]
    draft.step(
        "They cross where the pump is above the line for the last time.",
        "H pump(Q) - H line(Q)",
        f"{gaps[0]} at {ends[0]}, {gaps[1]} at {ends[1]}: between the two",
    )
    pumps = with_ruler(pump)
    op = operating_point(pumps, line)
    draft.step(
        f"Draw both and read the flow, or try flows between; {_EITHER}.",
        "H pump(Q) = H line(Q)",
        draw.answer(draft, "flow", *_read(op.si.flow)),
        more=True,
    )
    draft.step("The head there.", "H line(Q)",
               draw.answer(draft, "head", op.si.head[0], "ft", op.si.head[1]),
               more=True)  # fmt: skip
    alone = np.ravel([flow_at_head(p, line, np.atleast_1d(line.si.lift))[0] for p in pumps])
    draft.step(
        "Read at the lift alone the table promises more.",
        f"H pump(Q) = lift = {draw.say(line.si.lift, 'ft')}",
        draw.answer(draft, "guess", *_read(alone)),
    )
    draft.step(
        "What is promised too much.",
        "guess / truth - 1",
        f"{draw.bare(alone[0], 'gpm')} / {draw.bare(op.si.flow[0], 'gpm')} - 1 = "
        f"{100 * (alone[0] / op.si.flow[0] - 1):.0f} % too much",
        more=True,
    )
    return draft


def pipe_or_pump(draw: Draw) -> Draft:
    """Pipe against pump: which buys more water."""
    while True:
        pump, line, words = draw.working()
        run = line.runs[0]
        wider = pvc(_WIDER[str(run.pipe.nominal)])
        other = line.variant(pipe=wider)
        now, then = np.moveaxis(operating_point(with_ruler(pump), [line, other]).si.flow, 1, 0)
        faster = operating_point([p.at_speed(1.1) for p in with_ruler(pump)], line).si.flow
        gap = (then - faster) / now
        # the same winner, by more than two readings differ, whichever way the curve is read
        if np.abs(gap).min() > 2 * TOLERANCE and gap[0] * gap[1] > 0:
            break
    draft = Draft(
        f"The drain of {draw.place()} gives too little water. Money is there for one change: "
        f"{draw.wall(wider)}, or the same pump a tenth faster."
    )
    draft.given = [*words, _POINTS]
    draft.table = draw.curve_table(pump)
    draft.questions = [
        "What flows now?",
        "What flows in the larger pipe, at which velocity?",
        "What flows with the faster pump?",
        "Which change brings more?",
    ]
    _changes(draw, draft, (line, other), (now, then, faster))
    return draft


def _changes(
    draw: Draw,
    draft: Draft,
    lines: tuple[DischargeLine, DischargeLine],
    flows: tuple[FloatArray, FloatArray, FloatArray],
) -> None:
    now, then, faster = flows
    before, after = (line.runs[0].pipe.si.bore for line in lines)
    draft.step(
        f"What pump and line agree on as it stands; {_EITHER}.",
        "H pump(Q) = lift + (f * L/D + K + 1) * V^2/(2g)",
        draw.answer(draft, "flow", *_read(now)),
    )
    draft.step(
        "At one flow friction falls with nearly the fifth power of the bore.",
        "(D1/D2)^5",
        f"({draw.bare(before, 'in')} / {draw.bare(after, 'in')})^5 = "
        f"{float(before / after) ** 5:.2f} of the friction",
    )
    draft.step("So pump and line agree further out.", "H pump(Q) = H line(Q)",
               draw.answer(draft, "pipe_flow", *_read(then)), more=True)  # fmt: skip
    draw.velocity(draft, float(then[0]), float(after), more=True, stem="pipe_velocity")
    draft.step(
        "A pump a tenth faster moves each point by the affinity laws; solve again.",
        "Q ~ n, H ~ n^2",
        "flows × 1.1, heads × 1.21; then " + draw.answer(draft, "pump_flow", *_read(faster)),
    )
    more = draft.verdict("better", "the pipe" if then[0] > faster[0] else "the pump")
    draft.step(
        "Compare the gains.",
        "gain = new flow - old flow",
        f"pipe {draw.bare(then[0], 'gpm')} - {draw.bare(now[0], 'gpm')} = "
        f"{draw.say(then[0] - now[0], 'gpm')}, pump {draw.bare(faster[0], 'gpm')} - "
        f"{draw.bare(now[0], 'gpm')} = {draw.say(faster[0] - now[0], 'gpm')}: {more} brings more",
    )


def trust(draw: Draw) -> Draft:
    """Trust and decline: a bucket test beside the prediction, and the years to come."""
    while True:
        pump, line, words = draw.working(least=0.35)
        kept = np.array([1 - _HEAD_TOLERANCE, 1.0, 1 + _HEAD_TOLERANCE, 0.7])
        flows = operating_point([p.worn(head=kept) for p in with_ruler(pump)], line).si.flow
        left = float(draw.of(0.75, 0.8, 0.85, 1.0))
        true = float(operating_point(pump.worn(head=left), line).si.flow)
        barrel = draw.measure(("gal", 30, 55, 5), ("l", 120, 200, 20))
        seconds = round(float(barrel.si) / true, 1)
        test = bucket_test(**barrel.spelled("volume"), fill_s=seconds)
        measured, sigma = float(test.si.flow), float(test.si.sigma)
        off = np.abs(measured - flows[:, [0, 2]])
        if np.isfinite(flows).all() and (off > np.maximum(_CLEAR * sigma, TOLERANCE * true)).all():
            break
    draft = Draft(
        f"The drain of {draw.place()} has run for some years. At the outlet a barrel of "
        f"{draw.say(barrel.si, 'gal')} fills in {u.number(seconds)} s."
    )
    draft.table, unit = draw.curve_table(pump), draw.unit("gpm")
    draft.given = [
        *words,
        f"{_POINTS}; its maker's tolerance on head {100 * _HEAD_TOLERANCE:g} % either way (ISO "
        "9906 and HI 14.6, second-hand source)",
        "the measured flow is sure (one standard deviation) to about "
        f"{u.from_si(sigma, unit):.2g} {u.UNITS[unit].label}: barrel and stopwatch",
    ]
    draft.questions = [
        "What flow was measured?",
        "What flow is predicted, and between which bounds, by the tolerance on head alone?",
        "Is the measured flow within them?",
        "What will flow when the pump has lost 30 % of its head?",
    ]
    _believe(draw, draft, barrel, seconds, flows)
    return draft


def _believe(draw: Draw, draft: Draft, barrel: Measure, seconds: float, flows: FloatArray) -> None:
    measured = float(barrel.si) / seconds
    times = " × 60" if draw.us else ""
    draft.step(
        "Volume over time.",
        "Q = V / t * 60 s/min" if draw.us else "Q = V / t",
        f"{draw.bare(barrel.si, 'gal')} / {u.number(seconds)}{times} = "
        + draw.answer(draft, "measured", measured, "gpm"),
    )
    low, middle, high, worn = flows.T
    for name, words, factor, flow in (
        ("flow", "By the table as it stands", "", middle),
        ("low", "With the whole curve lowered by the tolerance", "0.92 * ", low),
        ("high", "With the whole curve raised by it", "1.08 * ", high),
    ):
        draft.step(
            f"{words}; {_EITHER}.",
            f"{factor}H pump(Q) = lift + (f * L/D + K + 1) * V^2/(2g)",
            draw.answer(draft, name, *_read(flow)),
            more=name != "flow",
        )
    inside = draft.verdict(
        "verdict", "within them" if low[0] <= measured else "below them: look for a cause"
    )
    least, read, most = (draw.bare(x, "gpm") for x in (low[0], measured, high[0]))
    draft.step(
        "Compare.",
        "low <= measured <= high",
        f"{least} <= {read} <= {most}: {inside}"
        if low[0] <= measured
        else f"{read} < {least}: {inside}",
    )
    draft.step("A worn pump makes less head at each flow.", "0.7 * H pump(Q) = H line(Q)",
               draw.answer(draft, "worn", *_read(worn)))  # fmt: skip
