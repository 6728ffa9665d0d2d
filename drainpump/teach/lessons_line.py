"""Problems of the lessons on pump and line: head, curves, friction, crossing, fittings."""

from __future__ import annotations

import numpy as np

from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.pipe import pvc
from drainpump.parts.line.straight import straight_line
from drainpump.physics import friction, water
from drainpump.physics.constants import GRAVITY
from drainpump.solve.operating_point import operating_point
from drainpump.teach.lesson import Draft, Draw, area_of

__all__ = ["crossing", "curve", "fittings", "height", "line_head", "pipe_or_pump"]


def height(draw: Draw) -> Draft:
    """Head is height: from levels to lift, pressure, and whether the pump reaches."""
    off = draw.measure(("in", 4, 10, 1), ("mm", 100, 250, 25))
    outlet = draw.measure(("ft", 5, 14, 0.5), ("m", 1.5, 4.2, 0.1))
    pump, pipe = draw.pump(), draw.pipe()
    lift = outlet.si - off.si
    line = straight_line(pipe=pipe, length_m=60, lift_m=float(lift))
    op = operating_point(pump, line)
    draft = Draft(f"At {draw.place()} a pit drains to a higher ditch.")
    draft.given = [
        f"outlet {draw.say(outlet.si, 'ft')} above the pit's floor",
        f"pump-off level {draw.say(off.si, 'in')} above the floor",
        f"shutoff head of the pump {draw.say(op._shutoff, 'ft')}",
        f"water at {draw.say(line._water.si, 'f')}",
    ]
    draft.questions = [
        "What is the static lift?",
        "What pressure does a full, standing line put on the pump?",
        "How much head is left at no flow for pipe and fittings to take?",
    ]
    draft.step(
        "The lift is from the water at the off level, not from the floor, to the outlet.",
        "lift = outlet level - off level",
        f"{draw.say(outlet.si, 'ft')} - {draw.say(off.si, 'ft')} = "
        + draw.answer(draft, "lift", op._zero_flow_head, "ft"),
    )
    weight = water.density(line._water.si) * GRAVITY
    draft.step(
        "Standing water presses with its height alone, whatever the bore.",
        "p = rho * g * h",
        draw.answer(draft, "pressure", weight * lift, "psi"),
    )
    draft.step(
        "What the pump makes at no flow, less the lift, is left for losses.",
        "left = shutoff head - lift",
        draw.answer(draft, "left", op._shutoff - op._zero_flow_head, "ft"),
    )
    return draft


def curve(draw: Draw) -> Draft:
    """A pump has a curve: reading between the points, both ways."""
    pump = draw.pump()
    i = int(draw.rng.integers(1, 4))
    share = draw.of(0.25, 0.5, 0.75)
    flow = pump.si.flow[i] + share * (pump.si.flow[i + 1] - pump.si.flow[i])
    head = float(pump.si.head_at(flow))
    lift = draw.lift()
    level = straight_line(pipe=pvc("6"), length_m=0, **lift.spelled("lift"))
    op = operating_point(pump, level)
    draft = Draft(f"A pump is offered for {draw.place()}. Its box says {_box(draw, pump)}.")
    draft.table = draw.curve_table(pump)
    draft.given = ["the pump's points, in the table"]
    draft.questions = [
        f"What head does it make at {draw.say(flow, 'gpm')}?",
        "What head is left at the flow on the box?",
        f"What flow is left at a head of {draw.say(lift.si, 'ft')}, were there no line at all?",
    ]
    straight = pump.si.head[i] + share * (pump.si.head[i + 1] - pump.si.head[i])
    draft.step(
        "Read between the two points on either side, in a straight line.",
        "H = H1 + (H2 - H1) * (Q - Q1) / (Q2 - Q1)",
        f"{draw.say(straight, 'ft')} by the straight line; by the smooth curve through all points "
        + draw.answer(draft, "head", head, "ft"),
    )
    draft.step(
        "The flow on the box is the last point; hardly any head is left there.",
        "H at the last point",
        draw.answer(draft, "last_head", pump.si.head[-1], "ft"),
    )
    draft.step(
        "Read the table the other way: the flow whose head is the one asked.",
        "Q where H(Q) = lift (the exit of a very wide pipe takes next to nothing)",
        draw.answer(draft, "flow", op._flow, "gpm"),
    )
    return draft


def _box(draw: Draw, pump: object) -> str:
    return draw.say(pump.si.flow[-1], "gpm")  # type: ignore[attr-defined]


def line_head(draw: Draw) -> Draft:
    """The line pushes back: the head a line asks at a flow, part by part."""
    pump, line, words = draw.working()
    op = operating_point(pump, line)
    unit = draw.unit("gpm")
    flow = float(np.round(op.flow_gpm if draw.us else op.flow_lps, 0 if draw.us else 1))
    head = line.head(**{f"flow_{unit}": flow})
    draft = Draft(f"A line leads from the pit of {draw.place()}.")
    draft.given = [words, f"flow {draw.say(head._flow, 'gpm')}"]
    draft.questions = ["What head does the line ask at this flow, and what is it made of?"]
    _losses(draw, draft, line, float(head._flow))
    draft.step(
        "All parts together are the head.",
        "H = lift + pipe + fittings + exit",
        f"{draw.say(head._static, 'ft')} + {draw.say(head._pipe, 'ft')} + "
        f"{draw.say(head._fittings, 'ft')} + {draw.say(head._outlet, 'ft')} = "
        + draw.answer(draft, "head", head._head, "ft"),
        more=True,
    )
    return draft


def _losses(draw: Draw, draft: Draft, line: DischargeLine, flow: float) -> None:
    """Work out velocity, friction and local losses of a plain line, step by step."""
    run, plain = line.runs[0], line.si.arrays
    bore, length = float(plain.diameter[0]), float(plain.length[0])
    speed = flow / area_of(plain.diameter[0])
    reynolds = float(friction.reynolds(speed, bore, plain.viscosity))
    factor = float(friction.friction_factor(reynolds, plain.roughness[0] / bore))
    square = speed**2 / (2 * GRAVITY)
    draft.step("The true bore sets the velocity.", "V = Q / (pi/4 * D^2)",
               draw.answer(draft, "velocity", speed, "fps"))  # fmt: skip
    draft.step(
        "The Reynolds number tells how the water flows.",
        "Re = V * D / nu",
        f"{reynolds:.0f}, turbulent" if reynolds > 4000 else f"{reynolds:.0f}",
        more=True,
    )
    draft.step(
        "The friction factor is Colebrook's, found by trial.",
        "1/sqrt(f) = -2 log10(e/D/3.7 + 2.51/(Re sqrt(f)))",
        f"{factor:.4f}",
        more=True,
    )
    pipe = factor * length / bore * square
    draft.step("Darcy and Weisbach give the pipe's loss.", "h = f * L/D * V^2/(2g)",
               draw.answer(draft, "pipe", pipe, "ft"), more=True)  # fmt: skip
    draft.step("Fittings cost so many velocity heads.", "h = K * V^2/(2g)",
               draw.answer(draft, "fittings", float(run._k) * square, "ft"), more=True)  # fmt: skip
    draft.step("The jet leaves with its velocity head.", "h = 1 * V^2/(2g)",
               draw.answer(draft, "exit", square, "ft"), more=True)  # fmt: skip


def crossing(draw: Draw) -> Draft:
    """Where they cross: pump and line in one table, and the flow between two of its rows."""
    pump, line, words = draw.working()
    op = operating_point(pump, line)
    draft = Draft(f"A pump and a line stand ready at {draw.place()}.")
    draft.given = [words, "the pump's points, in the table"]
    draft.table = draw.curve_table(pump)
    draft.questions = [
        "What head does the line ask at each flow of the table?",
        "At which flow do pump and line agree?",
        "By how much is one wrong who reads the table at the lift?",
    ]
    asked = np.asarray(line.head(flow_lps=pump.si.flow * 1e3)._head)
    rows = zip(pump.si.flow, pump.si.head, asked, strict=True)
    draft.step(
        "Put the head the line asks beside the head the pump makes.",
        "H line = lift + pipe + fittings + exit",
        "; ".join(
            f"{draw.say(q, 'gpm')}: pump {draw.say(h, 'ft')}, line {draw.say(a, 'ft')}"
            for q, h, a in rows
        ),
    )
    left = int(np.flatnonzero(pump.si.head >= asked)[-1])
    draft.step(
        "They cross where the pump is above the line for the last time.",
        "H pump(Q) = H line(Q)",
        f"between {draw.say(pump.si.flow[left], 'gpm')} and "
        f"{draw.say(pump.si.flow[left + 1], 'gpm')}; by the smooth curve at "
        f"{draw.answer(draft, 'flow', op._flow, 'gpm')} and "
        f"{draw.answer(draft, 'head', op._head, 'ft')}",
    )
    wide = straight_line(pipe=pvc("6"), length_m=0, lift_m=float(line._lift))
    alone = float(operating_point(pump, wide)._flow)
    draft.step(
        "Read at the lift alone the table promises more.",
        "guess / truth - 1",
        f"{draw.answer(draft, 'guess', alone, 'gpm')}, {100 * (alone / op._flow - 1):.0f} % too "
        "much",
    )
    return draft


def pipe_or_pump(draw: Draw) -> Draft:
    """Pipe against pump: which buys more water."""
    pump, line, words = draw.working()
    sizes = {"1-1/4": "1-1/2", "1-1/2": "2", "2": "2-1/2"}
    run = line.runs[0]
    wider = pvc(sizes[str(run.pipe.nominal)])
    other = draw.line(wider, run._rise, run._length, float(run._k))
    strong = pump.at_speed(1.1)
    now, pipe = (operating_point(pump, x) for x in (line, other))
    faster = operating_point(strong, line)
    draft = Draft(
        f"The drain of {draw.place()} gives too little water. Money is there for one change: "
        f"{wider.name} (true bore {draw.say(wider._bore.si, 'in')}), or the same pump a tenth "
        "faster."
    )
    draft.given = [words, "the pump's points, in the table"]
    draft.table = draw.curve_table(pump)
    draft.questions = [
        "What flows now?",
        "What flows in the larger pipe, at which velocity?",
        "What flows with the faster pump?",
        "Which change brings more?",
    ]
    draft.step("As it stands pump and line agree at:", "H pump(Q) = H line(Q)",
               draw.answer(draft, "flow", now._flow, "gpm"))  # fmt: skip
    draft.step(
        "At one flow friction falls with nearly the fifth power of the bore.",
        "(D1/D2)^5",
        f"{float(run.pipe._bore.si / wider._bore.si) ** 5:.2f} of the friction; then "
        f"{draw.answer(draft, 'pipe_flow', pipe._flow, 'gpm')} at "
        f"{draw.answer(draft, 'pipe_velocity', pipe._velocity, 'fps')}",
    )
    draft.step(
        "A pump a tenth faster moves each point by the affinity laws.",
        "Q ~ n, H ~ n^2",
        f"flows × 1.1, heads × 1.21; then {draw.answer(draft, 'pump_flow', faster._flow, 'gpm')}",
    )
    more = "the pipe" if pipe._flow > faster._flow else "the pump"
    draft.step(
        "Compare the gains.",
        "gain = new flow - old flow",
        f"pipe {draw.say(pipe._flow - now._flow, 'gpm')}, pump "
        f"{draw.say(faster._flow - now._flow, 'gpm')}: {more} brings more",
    )
    return draft


def fittings(draw: Draw) -> Draft:
    """Fittings and valves: K, the head it takes, and the length of pipe it is worth."""
    elbows, pipe = int(draw.rng.integers(3, 9)), draw.pipe()
    k_elbow, k_valve = draw.of(0.6, 0.7, 0.8, 0.9), draw.of(1.5, 2.0, 2.5)
    length = draw.length()
    line = straight_line(
        pipe=pipe,
        lift_m=0,
        fittings={
            "elbow_90": Fitting(count=elbows, k=k_elbow),
            "check_valve_swing": Fitting(count=1, k=k_valve),
        },
        **length.spelled("length"),
    )
    flow = draw.measure(("gpm", 20, 45, 5), ("lps", 1.2, 3.0, 0.2))
    head = line.head(**flow.spelled("flow"))
    total = float(line.runs[0]._k)
    draft = Draft(f"The line of {draw.place()} has more bends than the drawing shows.")
    draft.given = [
        f"{elbows} elbows of K {k_elbow:g} and a check valve of K {k_valve:g}",
        f"{pipe.name}, true bore {draw.say(pipe._bore.si, 'in')}, {draw.say(length.si, 'ft')} long",
        f"flow {draw.say(flow.si, 'gpm')}, water at {draw.say(line._water.si, 'f')}",
    ]
    draft.questions = [
        "What is K in all, and what head do the fittings take?",
        "What length of this pipe takes as much?",
        f"What would {draw.say(8 * 0.3048, 'ft')} of head an elbow, a common guess, come to?",
    ]
    speed = flow.si / area_of(pipe._bore.si)
    draft.step("Add up K.", "K = n * K elbow + K valve",
               f"{elbows} × {k_elbow:g} + {k_valve:g} = {total:g}")  # fmt: skip
    draft.answers["k"] = total
    draft.step("Velocity in the true bore.", "V = Q / (pi/4 * D^2)",
               draw.answer(draft, "velocity", speed, "fps"), more=True)  # fmt: skip
    draft.step("Their head.", "h = K * V^2/(2g)",
               draw.answer(draft, "fittings", head._fittings, "ft"), more=True)  # fmt: skip
    slope = float(head._pipe) / float(length.si)
    draft.step(
        "Divide by what the pipe takes on its way.",
        "L = h / (h pipe / length)",
        f"{draw.say(head._pipe, 'ft')} over {draw.say(length.si, 'ft')}; so "
        + draw.answer(draft, "equivalent_length", float(head._fittings) / slope, "ft"),
    )
    guess = 8 * 0.3048 * elbows
    draft.step(
        "The guess (common practice, no source) takes the length an elbow is worth for its head.",
        "n * guess",
        f"{draw.answer(draft, 'guess', guess, 'ft')}, {guess / float(head._fittings):.0f} times "
        "the truth",
    )
    return draft
