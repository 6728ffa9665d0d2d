"""Problems of the lessons on the site: high points, pits, storms, and what to believe."""

from __future__ import annotations

import numpy as np

from drainpump import units as u
from drainpump.cycling.switching import cycle
from drainpump.inflow.storm import Hydrograph
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.pipe import pvc
from drainpump.parts.line.run import Run
from drainpump.physics import runoff
from drainpump.routing.route import route
from drainpump.solve.operating_point import operating_point
from drainpump.teach.lesson import Draft, Draw

__all__ = ["high_points", "pits", "storms", "trust"]

#: acceptance tolerance on head of pumps below 10 kW: ISO 9906 and HI 14.6, second-hand source
_HEAD_TOLERANCE = 0.08


def high_points(draw: Draw) -> Draft:
    """High points and air: the high point counts, unless the line siphons."""
    while True:
        pump, pipe = draw.pump(), pvc(draw.of("1-1/2", "2"))
        up, down = draw.length(), draw.length()
        crest = draw.measure(("ft", 8, 16, 0.5), ("m", 2.4, 4.8, 0.1))
        fall = draw.measure(("ft", 4, 7, 0.5), ("m", 1.2, 2.1, 0.1))
        runs = [
            Run(pipe=pipe, k=3, **up.spelled("length"), **crest.spelled("rise")),
            Run(pipe=pipe, k=2, length_m=float(down.si), rise_m=-float(fall.si)),
        ]
        vented, siphon = (DischargeLine(runs=runs, siphon=s) for s in (False, True))
        ops = operating_point(pump, [vented, siphon])
        low, high = np.asarray(ops.flow_lps)
        if np.all(ops.ok) and high > 1.03 * low:
            break
    head = vented.head(flow_lps=low)
    draft = Draft(
        f"The line of {draw.place()} climbs a bank and falls to a ditch beyond it. Air can get in "
        "at the top."
    )
    draft.table = draw.curve_table(pump)
    draft.given = [
        f"up: {draw.say(up.si, 'ft')} of {pipe.name}, true bore {draw.say(pipe._bore.si, 'in')}, "
        f"rising {draw.say(crest.si, 'ft')}, K 3",
        f"down: {draw.say(down.si, 'ft')} of the same, falling {draw.say(fall.si, 'ft')}, K 2",
        "open outlet (K 1); the pump's points, in the table",
    ]
    draft.questions = [
        "Which lift counts where air gets in at the top?",
        "What flows then?",
        "What would flow if the line ran full and siphoned?",
    ]
    draft.step(
        "A vented top gives nothing back for the fall beyond it.",
        "H = max over all points of (elevation + losses up to there)",
        f"{draw.answer(draft, 'crest', head._static, 'ft')} to the point that governs, not "
        f"{draw.say(crest.si - fall.si, 'ft')} to the outlet",
    )
    draft.step("Pump and line agree at:", "H pump(Q) = H line(Q)",
               draw.answer(draft, "flow", ops._flow[0], "gpm"))  # fmt: skip
    draft.step(
        "A siphoning line counts the outlet alone, but must first be started over the top.",
        "H = elevation of the outlet + all losses",
        draw.answer(draft, "siphon_flow", ops._flow[1], "gpm"),
    )
    return draft


def pits(draw: Draw) -> Draft:
    """Pits and cycling: volume, rest, run, and the worst inflow."""
    pit = draw.pit()
    flow = draw.measure(("gpm", 25, 45, 5), ("lps", 1.6, 3.0, 0.2))
    inflow = draw.measure(("gpm", 4, 15, 1), ("lps", 0.2, 1.0, 0.1))
    cyc = cycle(pit=pit, **flow.spelled("flow"), **inflow.spelled("inflow"))
    draft = Draft(f"Water runs steadily into the round pit of {draw.place()}.")
    draft.given = [
        f"pit {draw.say(pit._diameter.si, 'in')} across"  # type: ignore[union-attr]
        f", off level {draw.say(pit._off.si, 'in')}, on level {draw.say(pit._on.si, 'in')}",
        f"inflow {draw.say(inflow.si, 'gpm')}, pump {draw.say(flow.si, 'gpm')}, taken as constant",
    ]
    draft.questions = [
        "How much water stands between the floats?",
        "How long does the pump rest and run, and how often does it start in an hour?",
        "At which inflow does it start most, and how often?",
    ]
    draft.step(
        "Area times the travel of the float.",
        "V = pi/4 * D^2 * (on - off)",
        draw.answer(draft, "volume", cyc._working, "gal"),
    )
    draft.step("The inflow fills it.", "rest = V / q", draw.answer(draft, "rest", cyc._rest, "s"))
    draft.step("The pump empties it against the inflow.", "run = V / (Q - q)",
               draw.answer(draft, "run", cyc._run, "s"), more=True)  # fmt: skip
    draft.step("One start a cycle.", "starts = 3600 s / (run + rest)",
               draw.answer(draft, "starts", 1 / (cyc._run + cyc._rest), "per_h"),
               more=True)  # fmt: skip
    draft.step(
        "The shortest cycle is at half the pump's flow.",
        "q = Q/2, cycle = 4 V / Q",
        f"{draw.answer(draft, 'worst_starts', cyc._worst_rate, 'per_h')} at "
        f"{draw.answer(draft, 'worst_inflow', cyc._worst_inflow, 'gpm')}",
    )
    return draft


def storms(draw: Draw) -> Draft:
    """Storms: rain to inflow, and what stands when the pump cannot keep up."""
    while True:
        pump, line, words = draw.working()
        pit, share = draw.pit(), float(draw.of(0.8, 0.85, 0.9))
        area = draw.measure(("ft2", 1500, 4000, 250), ("m2", 150, 400, 25))
        rain = draw.measure(("in_per_h", 2, 4.5, 0.25), ("mm_per_h", 50, 115, 5))
        minutes = int(draw.of(10, 15, 20))
        inflow = float(runoff.rational(share, rain.si, area.si))
        rim = operating_point(pump, line, level_above_off_m=float(pit._depth.si - pit._off.si))
        if rim.ok and inflow > 1.2 * rim._flow:
            break
    burst = Hydrograph(flow_lps=[inflow * 1e3], block_min=minutes)
    storm = route(pump, line, pit, burst)
    draft = Draft(f"A burst of rain falls on {draw.place()}; the pit starts at its off level.")
    draft.table = draw.curve_table(pump)
    draft.given = [
        f"area {draw.say(area.si, 'ft2')}, of whose rain {share:.0%} runs off at once",
        f"rain {draw.say(rain.si, 'in_per_h')} for {minutes} min",
        words,
        f"pit {draw.say(pit._diameter.si, 'in')} across"  # type: ignore[union-attr]
        f", {draw.say(pit._depth.si, 'in')} deep, off level {draw.say(pit._off.si, 'in')}, "
        f"on level {draw.say(pit._on.si, 'in')}; the pump's points, in the table",
    ]
    draft.questions = [
        "At what rate does water come in while it rains?",
        "What does the pump move with the water at the rim?",
        "How much water stands on the ground at worst?",
    ]
    draft.step("The rational formula.", "q = C * i * A",
               draw.answer(draft, "inflow", inflow, "gpm"))  # fmt: skip
    draft.step("With the water at the rim the lift is less by the pit's depth above off.",
               "H pump(Q) = H line(Q) - (rim - off)",
               draw.answer(draft, "flow", rim._flow, "gpm"))  # fmt: skip
    time = minutes * 60.0
    room = float(pit._volume_between(pit._off.si, pit._depth.si))
    start = float(pit._working_volume) / inflow
    rough = inflow * time - float(rim._flow) * (time - start) - room
    draft.step(
        "What comes in, less what is pumped once the on level is reached, less the pit's room.",
        "pond = q * T - Q * (T - V/q) - room",
        f"about {draw.say(max(rough, 0.0), 'gal')} with the rim's flow throughout; exactly, the "
        "flow changing with the level, " + draw.answer(draft, "pond", storm._peak_pond, "gal"),
    )
    return draft


def trust(draw: Draw) -> Draft:
    """Trust and decline: a bucket test beside the prediction, and the years to come."""
    pump, line, words = draw.working(least=0.35)
    span = np.array([1 - _HEAD_TOLERANCE, 1.0, 1 + _HEAD_TOLERANCE])
    low, middle, high = operating_point(pump.worn(head=span), line)._flow
    left = float(draw.of(0.8, 0.85, 0.9, 0.95, 1.0))
    true = float(operating_point(pump.worn(head=left), line)._flow)
    bucket = draw.measure(("gal", 5, 30, 5), ("l", 20, 120, 20))
    seconds = round(float(bucket.si) / true, 1)
    measured = float(bucket.si) / seconds
    worn = float(operating_point(pump.worn(head=0.7), line)._flow)
    draft = Draft(
        f"The drain of {draw.place()} has run for some years. At the outlet a barrel of "
        f"{draw.say(bucket.si, 'gal')} fills in {u.number(seconds)} s."
    )
    draft.table = draw.curve_table(pump)
    draft.given = [
        words,
        "the pump's points, in the table; its maker's tolerance on head "
        f"{100 * _HEAD_TOLERANCE:g} % either way (ISO 9906 and HI 14.6, second-hand source)",
    ]
    draft.questions = [
        "What flow was measured?",
        "What flow is predicted, and between which bounds, by the tolerance on head alone?",
        "Is the measured flow within them?",
        "What will flow when the pump has lost 30 % of its head?",
    ]
    draft.step("Volume over time.", "Q = V / t", draw.answer(draft, "measured", measured, "gpm"))
    draft.step(
        "Move the whole curve by the tolerance and solve again.",
        "H = (1 - 0.08) h(Q), h(Q), (1 + 0.08) h(Q)",
        f"{draw.answer(draft, 'low', low, 'gpm')}, {draw.answer(draft, 'flow', middle, 'gpm')}, "
        f"{draw.answer(draft, 'high', high, 'gpm')}",
    )
    inside = "within them" if low <= measured <= high else "below them: look for a cause"
    draft.step("Compare.", "low <= measured <= high", inside)
    draft.step("A worn pump makes less head at each flow.", "H = 0.7 h(Q)",
               draw.answer(draft, "worn", worn, "gpm"))  # fmt: skip
    return draft
