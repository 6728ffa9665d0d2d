"""Problems of the lessons on pump and line together: curves, crossing, choice, decline."""

from __future__ import annotations

import numpy as np

from drainpump import units as u
from drainpump.field.bucket_and_drawdown import bucket_test
from drainpump.parts.line.line import straight_line
from drainpump.parts.line.pipe import pvc
from drainpump.parts.pump.curve import PumpCurve
from drainpump.solve.operating_point import operating_point
from drainpump.teach.lesson import EITHER, POINTS, TOLERANCE, Draft, Sample, with_ruler
from drainpump.units import FloatArray
from drainpump.why.losses import flow_at_head

#: acceptance tolerance on head of pumps below 10 kW: ISO 9906 and HI 14.6, second-hand source
_HEAD_TOLERANCE = 0.08
#: what is left of a worn pump's head
_WORN = 0.7
#: a verdict lies so many standard deviations of the reading off its limit
_CLEAR = 1.2
_WIDER = {"1-1/4": "1-1/2", "1-1/2": "2", "2": "2-1/2"}
_AGREE = "H pump(Q) = lift + (f * L/D + K + 1) * V^2/(2g)"


def curve(sample: Sample) -> Draft:
    """A pump has a curve: reading between the points, both ways."""
    pump, lift = sample.pump(), sample.lift().si
    flows, heads = pump.si.flow, pump.si.head
    i, share = int(sample.rng.integers(1, 4)), sample.of(0.25, 0.5, 0.75)
    typed = u.from_si(flows[i] + share * (flows[i + 1] - flows[i]), sample.unit("gpm"))
    flow = u.to_si(np.round(typed, 2), sample.unit("gpm"))
    say, (gpm, ft) = sample.say, sample.bare("gpm", "ft")
    draft = sample.draft(f"""A pump is offered for {sample.place()}. Its box says \
        {say(flows[-1], "gpm")}.
        {POINTS}""")
    draft.show(pump)
    made = [p.si.head_at(flow) for p in with_ruler(pump)]
    draft.ask(f"""What head does it make at {say(flow, "gpm")}?

        Read between the two points around it; {EITHER}.
        H = H1 + (H2 - H1) * (Q - Q1) / (Q2 - Q1)
        {ft(heads[i])} + ({ft(heads[i + 1])} - {ft(heads[i])}) × ({gpm(flow)} - \
        {gpm(flows[i])}) / ({gpm(flows[i + 1])} - {gpm(flows[i])}): \
        {draft.answer("head", made, "ft")}""")
    draft.ask(f"""What head is left at the flow on the box?

        The flow on the box is the last point; hardly any head is left there.
        H at the last point
        {draft.answer("last_head", heads[-1], "ft")}""")
    j = int(np.flatnonzero(heads >= lift)[-1])
    draft.ask(f"""What flow is left at a head of {say(lift, "ft")}, were there no line at all?

        Read between two heads the other way; {EITHER}.
        Q = Q1 + (Q2 - Q1) * (H1 - H) / (H1 - H2)
        {gpm(flows[j])} + ({gpm(flows[j + 1])} - {gpm(flows[j])}) × ({ft(heads[j])} - \
        {ft(lift)}) / ({ft(heads[j])} - {ft(heads[j + 1])}): \
        {draft.answer("flow", _at_head(pump, lift), "gpm")}""")
    return draft


def _at_head(pump: PumpCurve, head: FloatArray) -> FloatArray:
    """The flow at a head (m) by both readings of a curve, with no line at all."""
    level = straight_line(pipe=pvc("2"), length_m=0, lift_m=0)
    return np.ravel([flow_at_head(p, level, np.atleast_1d(head))[0] for p in with_ruler(pump)])


def crossing(sample: Sample) -> Draft:
    """Where they cross: pump and line in one table, and the flow between two of its rows."""
    pump, line, words = sample.working()
    draft = sample.draft(f"""A pump and a line stand ready at {sample.place()}.
        {words}
        {POINTS}""")
    draft.show(pump)
    say, answer, (gpm,) = sample.say, draft.answer, sample.bare("gpm")
    flows, made = pump.si.flow, pump.si.head
    asked = np.asarray(line.head(flow_lps=flows * 1e3).si.head)
    rows = [
        f"{gpm(q)}: {answer(f'asked_{i}', h, 'ft')}"
        for i, (q, h) in enumerate(zip(flows, asked, strict=True))
    ]
    draft.ask(f"""What head does the line ask at each flow of the table?

        Lift and losses at each flow ({u.UNITS[sample.unit("gpm")].label}), as in lesson 3.
        H line = lift + (f * L/D + K + 1) * V^2/(2g)
        {"; ".join(rows)}""")
    left = int(np.flatnonzero(made >= asked)[-1])
    gaps = [f"{say(made[i] - asked[i], 'ft')} at {say(flows[i], 'gpm')}" for i in (left, left + 1)]
    op, alone = operating_point(with_ruler(pump), line), _at_head(pump, line.si.lift)
    truth = op.si.flow
    draft.ask(f"""At which flow do pump and line agree?

        They cross where the pump is above the line for the last time.
        H pump(Q) - H line(Q)
        {", ".join(gaps)}: between the two

        Draw both and read the flow, or try flows between; {EITHER}.
        H pump(Q) = H line(Q)
        {answer("flow", truth, "gpm")}

        The head there.
        H line(Q)
        {answer("head", op.si.head, "ft")}""")
    draft.ask(f"""By how much is one wrong who reads the table at the lift?

        Read at the lift alone the table promises more.
        H pump(Q) = lift = {say(line.si.lift, "ft")}
        {answer("guess", alone, "gpm")}

        What is promised too much.
        guess / truth - 1
        {gpm(alone[0])} / {gpm(truth[0])} - 1 = {100 * (alone[0] / truth[0] - 1):.0f} % too much""")
    return draft


def pipe_or_pump(sample: Sample) -> Draft:
    """Pipe against pump: which buys more water."""
    while True:
        pump, line, words = sample.working()
        wider = pvc(_WIDER[str(line.runs[0].pipe.nominal)])
        lines = [line, line.variant(pipe=wider)]
        now, then = np.moveaxis(operating_point(with_ruler(pump), lines).si.flow, 1, 0)
        faster = operating_point([p.at_speed(1.1) for p in with_ruler(pump)], line).si.flow
        gap = (then - faster) / now
        # the same winner, by more than two readings differ, whichever way the curve is read
        if np.abs(gap).min() > 2 * TOLERANCE and gap[0] * gap[1] > 0:
            break
    draft = sample.draft(f"""The drain of {sample.place()} gives too little water. Money is there \
        for one change: {sample.wall(wider)}, or the same pump a tenth faster.
        {words}
        {POINTS}""")
    draft.show(pump)
    answer, (gpm, inch) = draft.answer, sample.bare("gpm", "in")
    before, after = (float(one.runs[0].pipe.si.bore) for one in lines)
    draft.ask(f"""What flows now?

        What pump and line agree on as it stands; {EITHER}.
        {_AGREE}
        {answer("flow", now, "gpm")}""")
    draft.ask(f"""What flows in the larger pipe, at which velocity?

        At one flow friction falls with nearly the fifth power of the bore.
        (D1/D2)^5
        ({inch(before)} / {inch(after)})^5 = {(before / after) ** 5:.2f} of the friction

        So pump and line agree further out.
        H pump(Q) = H line(Q)
        {answer("pipe_flow", then, "gpm")}
        {draft.velocity(then, after, "pipe_velocity")[1]}""")
    draft.ask(f"""What flows with the faster pump?

        A pump a tenth faster moves each point by the affinity laws; solve again.
        Q ~ n, H ~ n^2
        flows × 1.1, heads × 1.21: {answer("pump_flow", faster, "gpm")}""")
    gains = [
        f"{name} {gpm(new[0])} - {gpm(now[0])} = {sample.say(new[0] - now[0], 'gpm')}"
        for name, new in (("pipe", then), ("pump", faster))
    ]
    draft.ask(f"""Which change brings more?

        Compare the gains.
        gain = new flow - old flow
        {", ".join(gains)}: \
        {draft.verdict("better", "the pipe" if then[0] > faster[0] else "the pump")} brings more""")
    return draft


def trust(sample: Sample) -> Draft:
    """Trust and decline: a bucket test beside the prediction, and the years to come."""
    while True:
        pump, line, words = sample.working(least=0.35)
        kept = np.array([1 - _HEAD_TOLERANCE, 1.0, 1 + _HEAD_TOLERANCE, _WORN])
        flows = operating_point([p.worn(head=kept) for p in with_ruler(pump)], line).si.flow
        left = float(sample.of(0.75, 0.8, 0.85, 1.0))
        true = float(operating_point(pump.worn(head=left), line).si.flow)
        barrel = sample.measure(("gal", 30, 55, 5), ("l", 120, 200, 20))
        seconds = round(float(barrel.si) / true, 1)
        test = bucket_test(**barrel.spelled("volume"), fill_s=seconds)
        measured, sigma = float(test.si.flow), float(test.si.sigma)
        off = np.abs(measured - flows[:, [0, 2]])
        if np.isfinite(flows).all() and (off > np.maximum(_CLEAR * sigma, TOLERANCE * true)).all():
            break
    unit, (gpm, gal) = sample.unit("gpm"), sample.bare("gpm", "gal")
    draft = sample.draft(f"""The drain of {sample.place()} has run for some years. At the outlet a \
        barrel of {sample.say(barrel.si, "gal")} fills in {u.carried(seconds)} s.
        {words}
        {POINTS}; its maker's tolerance on head {100 * _HEAD_TOLERANCE:g} % either way (ISO 9906 \
        and HI 14.6, second-hand source)
        the measured flow is sure (one standard deviation) to about \
        {u.from_si(sigma, unit):.2g} {u.UNITS[unit].label}: barrel and stopwatch""")
    draft.show(pump)
    answer, (low, middle, high, worn) = draft.answer, flows.T
    per, times = (" * 60 s/min", " × 60") if sample.us else ("", "")
    draft.ask(f"""What flow was measured?

        Volume over time.
        Q = V / t{per}
        {gal(barrel.si)} / {u.carried(seconds)}{times} = {answer("measured", measured, "gpm")}""")
    draft.ask(f"""What flow is predicted, and between which bounds, by the tolerance on head alone?

        By the table as it stands; {EITHER}.
        {_AGREE}
        {answer("flow", middle, "gpm")}

        With the whole curve lowered by the tolerance; {EITHER}.
        {1 - _HEAD_TOLERANCE:g} * {_AGREE}
        {answer("low", low, "gpm")}

        With the whole curve raised by it; {EITHER}.
        {1 + _HEAD_TOLERANCE:g} * {_AGREE}
        {answer("high", high, "gpm")}""")
    inside = low[0] <= measured
    said = f"<= {gpm(measured)} <= {gpm(high[0])}" if inside else f"> {gpm(measured)}"
    verdict = draft.verdict("verdict", "within them" if inside else "below them: look for a fault")
    draft.ask(f"""Is the measured flow within them?

        Compare.
        low <= measured <= high
        {gpm(low[0])} {said}: {verdict}""")
    draft.ask(f"""What will flow when the pump has lost {100 * (1 - _WORN):.0f} % of its head?

        A worn pump makes less head at each flow.
        {_WORN:g} * H pump(Q) = H line(Q)
        {answer("worn", worn, "gpm")}""")
    return draft
