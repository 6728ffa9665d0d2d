"""Problems of the lessons on the line: height, losses, fittings, high points."""

from __future__ import annotations

import numpy as np

from drainpump import units as u
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.pipe import pvc
from drainpump.parts.line.run import Run
from drainpump.parts.line.straight import straight_line
from drainpump.physics import friction, water
from drainpump.physics.constants import GRAVITY
from drainpump.solve.operating_point import operating_point
from drainpump.teach.lesson import Draft, Draw, with_ruler

__all__ = ["fittings", "height", "high_points", "line_head"]

#: a common guess: pipe an elbow is worth, m, in US and metric yards (common practice, no source)
_PER_ELBOW = {"us": 8 * 0.3048, "metric": 2.4}


def height(draw: Draw) -> Draft:
    """Head is height: from levels to lift, pressure, and whether the pump reaches."""
    off = draw.measure(("in", 4, 10, 1), ("mm", 100, 250, 25))
    outlet = draw.measure(("ft", 5, 14, 0.5), ("m", 1.5, 4.2, 0.1))
    pump, pipe = draw.pump(), draw.pipe()
    lift, shutoff = float(outlet.si - off.si), pump.si.head[0]
    line = straight_line(pipe=pipe, length_m=60, lift_m=lift, **draw.cold)
    draft = Draft(f"At {draw.place()} a pit drains to a higher ditch.")
    draft.given = [
        f"outlet {draw.say(outlet.si, 'ft')} above the pit's floor",
        f"pump-off level {draw.say(off.si, 'in')} above the floor",
        f"shutoff head of the pump {draw.say(shutoff, 'ft')}",
        draw.wet(line),
    ]
    draft.questions = [
        "What is the static lift?",
        "What pressure does a full, standing line put on the pump?",
        "How much head is left at no flow for pipe and fittings to take?",
    ]
    per, small = (12, "in/ft") if draw.us else (1000, "mm/m")
    draft.step(
        "Bring the off level to the outlet's unit.",
        f"off / {per} {small}",
        f"{draw.bare(off.si, 'in')} / {per} = {draw.say(off.si, 'ft')}",
    )
    draft.step(
        "The lift is from the water at the off level, not from the floor, to the outlet.",
        "lift = outlet level - off level",
        f"{draw.bare(outlet.si, 'ft')} - {draw.bare(off.si, 'ft')} = "
        + draw.answer(draft, "lift", lift, "ft"),
        more=True,
    )
    heavy = float(water.density(line.si.water))
    pressure = draw.answer(draft, "pressure", heavy * GRAVITY * lift, "psi")
    if draw.us:  # a pound of mass weighs a pound of force
        formula, weight = "p = rho * h / 144 in²/ft²", draw.density(heavy)
        worked = f"{weight} × {draw.bare(lift, 'ft')} / 144"
    else:
        formula = "p = rho * g * h / 1000 Pa/kPa"
        worked = f"{draw.density(heavy)} × {u.number(GRAVITY)} × {draw.bare(lift, 'ft')} / 1000"
    draft.step(
        "Standing water presses with its height alone, whatever the bore.",
        formula,
        f"{worked} = {pressure}",
    )
    draft.step(
        "What the pump makes at no flow, less the lift, is left for losses.",
        "left = shutoff head - lift",
        f"{draw.bare(shutoff, 'ft')} - {draw.bare(lift, 'ft')} = "
        + draw.answer(draft, "left", shutoff - lift, "ft"),
    )
    return draft


def line_head(draw: Draw) -> Draft:
    """The line pushes back: the head a line asks at a flow, part by part."""
    pump, line, words = draw.working()
    unit = draw.unit("gpm")
    drawn = u.from_si(operating_point(pump, line).si.flow, unit)
    flow = float(u.to_si(np.round(drawn, 0 if draw.us else 1), unit))
    draft = Draft(f"A line leads from the pit of {draw.place()}.")
    draft.given = [*words, f"flow {draw.say(flow, 'gpm')}"]
    draft.questions = [
        "What velocity has the water, and does it flow smoothly or turbulently?",
        "What head does the line ask at this flow, and what is it made of?",
    ]
    losses(draw, draft, line, flow)
    return draft


def losses(draw: Draw, draft: Draft, line: DischargeLine, flow: float) -> None:
    """Work out the head a plain line asks: two questions, velocity and head."""
    run, plain = line.runs[0], line.si.arrays
    bore, rough = float(plain.diameter[0]), float(plain.roughness[0])
    speed = draw.velocity(draft, flow, bore, more=False)
    reynolds = float(friction.reynolds(speed, bore, plain.viscosity))
    draft.step(
        "The Reynolds number tells how: turbulent from about 4000, smooth below about 2000.",
        "Re = V * D / nu",
        f"{draw.bare(speed, 'fps')} × {draw.bare(bore, 'ft')} / {draw.viscosity(plain.viscosity)} "
        f"= {reynolds:.0f}: " + draft.verdict("flows", _flows(reynolds)),
        more=True,
    )
    factor = float(friction.friction_factor(reynolds, rough / bore))
    draft.step(
        "The friction factor is Colebrook's, found by trial.",
        "1/sqrt(f) = -2 log10(e/D/3.7 + 2.51/(Re sqrt(f)))",
        f"e/D = {draw.bare(rough, 'ft')} / {draw.bare(bore, 'ft')} = {u.number(rough / bore)}; "
        f"f = {factor:.4f}",
    )
    square = speed**2 / (2 * GRAVITY)
    draft.step(
        "The velocity head.",
        "V^2/(2g)",
        f"{draw.bare(speed, 'fps')}² / {draw.bare(2 * GRAVITY, 'ft')} = "
        + draw.answer(draft, "exit", square, "ft"),
        more=True,
    )
    pipe = factor * float(plain.length[0]) / bore * square
    head = draw.bare(square, "ft")
    draft.step(
        "Darcy and Weisbach give the pipe's loss.",
        "h = f * L/D * V^2/(2g)",
        f"{factor:.4f} × {draw.bare(run.si.length, 'ft')} / {draw.bare(bore, 'ft')} × {head} = "
        + draw.answer(draft, "pipe", pipe, "ft"),
        more=True,
    )
    k = float(run.si.k)
    local = draw.answer(draft, "fittings", k * square, "ft")
    draft.step("Fittings cost so many velocity heads.", "h = K * V^2/(2g)",
               f"{k:g} × {head} = {local}", more=True)  # fmt: skip
    lift = float(line.si.lift)
    parts = [draw.bare(part, "ft") for part in (lift, pipe, k * square, square)]
    draft.step(
        "All parts together are the head; the jet takes one velocity head along.",
        "H = lift + pipe + fittings + exit",
        " + ".join(parts)
        + " = "
        + draw.answer(draft, "head", lift + pipe + (k + 1) * square, "ft"),
        more=True,
    )


def _flows(reynolds: float) -> str:
    if reynolds >= 4000:
        return "turbulently"
    return "smoothly" if reynolds <= 2000 else "between the two"


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
        **draw.cold,
    )
    flow = draw.measure(("gpm", 20, 45, 5), ("lps", 1.2, 3.0, 0.2))
    draft = Draft(f"The line of {draw.place()} has more bends than the drawing shows.")
    draft.given = [
        f"{elbows} elbows of K {k_elbow:g} and a check valve of K {k_valve:g}",
        f"{draw.wall(pipe)}, {draw.say(length.si, 'ft')} long",
        f"flow {draw.say(flow.si, 'gpm')}",
        draw.wet(line),
    ]
    draft.questions = [
        "What is K in all, and what head do the fittings take?",
        "What length of this pipe takes as much?",
        f"{draw.say(_PER_ELBOW[draw.units], 'ft')} of pipe an elbow is a common guess: how far "
        "off is it for the elbows alone?",
    ]
    _fittings_worked(draw, draft, line, float(flow.si), (elbows, k_elbow, k_valve))
    return draft


def _fittings_worked(
    draw: Draw, draft: Draft, line: DischargeLine, flow: float, count: tuple[int, float, float]
) -> None:
    elbows, k_elbow, k_valve = count
    total = elbows * k_elbow + k_valve
    draft.answers["k"] = total
    plain, length = line.si.arrays, float(line.si.length)
    bore = float(plain.diameter[0])
    draft.step("Add up K.", "K = n * K elbow + K valve",
               f"{elbows} × {k_elbow:g} + {k_valve:g} = {total:g}")  # fmt: skip
    speed = draw.velocity(draft, flow, bore, more=True)
    square = speed**2 / (2 * GRAVITY)
    draft.step(
        "Their head.",
        "h = K * V^2/(2g)",
        f"{total:g} × {draw.bare(speed, 'fps')}² / {draw.bare(2 * GRAVITY, 'ft')} = "
        + draw.answer(draft, "fittings", total * square, "ft"),
        more=True,
    )
    slope = float(friction.darcy_slope(speed, bore, plain.roughness[0], plain.viscosity))
    draft.step(
        "What the pipe takes on its way, by Darcy and Weisbach with Colebrook's factor.",
        "f * L/D * V^2/(2g)",
        f"f = {slope * bore / square:.4f}: {draw.say(slope * length, 'ft')} over "
        f"{draw.say(length, 'ft')}",
    )
    each = u.number(slope)
    draft.step(
        "The fittings' head, by what a length of one takes.",
        "L = h fittings / (h pipe / length)",
        f"{draw.bare(total * square, 'ft')} / {each} = "
        + draw.answer(draft, "equivalent_length", total * square / slope, "ft"),
        more=True,
    )
    guess, worth = _PER_ELBOW[draw.units] * elbows, elbows * k_elbow * square / slope
    draft.step(
        "The guess, without the valve.",
        "n * guess",
        f"{elbows} × {draw.bare(_PER_ELBOW[draw.units], 'ft')} = "
        + draw.answer(draft, "guess", guess, "ft"),
    )
    draft.step(
        "The truth: the elbows' own head in pipe. The guess is common practice, no source.",
        "n * K elbow * V^2/(2g) / (h pipe / length)",
        f"{elbows} × {k_elbow:g} × {draw.bare(square, 'ft')} / {each} = "
        f"{draw.answer(draft, 'elbows_length', worth, 'ft')}; the guess is "
        f"{guess / worth:.3g} times the truth",
        more=True,
    )


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
        vented, siphon = (DischargeLine(runs=runs, siphon=s, **draw.cold) for s in (False, True))
        ops = operating_point(pump, [vented, siphon])
        low, high = ops.si.flow
        if np.all(ops.ok) and high > 1.1 * low:
            break
    ruled, ruled_high = operating_point(with_ruler(pump)[1], [vented, siphon]).si.flow
    draft = Draft(
        f"The line of {draw.place()} climbs a bank and falls to a ditch beyond it. Air can get in "
        "at the top."
    )
    draft.table = draw.curve_table(pump)
    draft.given = [
        f"up: {draw.say(up.si, 'ft')} of {draw.wall(pipe)}, rising {draw.say(crest.si, 'ft')}, K 3",
        f"down: {draw.say(down.si, 'ft')} of the same, falling {draw.say(fall.si, 'ft')}, K 2",
        "open outlet (its exit takes K 1 more, as does an open top)",
        "the pump's points, in the table",
        draw.wet(vented),
    ]
    draft.questions = [
        "Which lift counts where air gets in at the top?",
        "What flows then?",
        "What would flow if the line ran full and siphoned?",
    ]
    draft.step(
        "A vented top gives nothing back for the fall beyond it.",
        "H = max over all points of (elevation + losses up to there)",
        f"{draw.answer(draft, 'crest', crest.si, 'ft')} to the top, not "
        f"{draw.bare(crest.si, 'ft')} - {draw.bare(fall.si, 'ft')} = "
        f"{draw.say(crest.si - fall.si, 'ft')} to the outlet",
    )
    draft.step(
        "Crest and losses up to it (pipe, K 3 + 1) take all the pump makes; by trial, as in "
        "lesson 4.",
        "H pump(Q) = crest + h up(Q)",
        draw.answer(draft, "flow", low, "gpm", ruled),
    )
    draft.step(
        "A siphon counts the outlet and all losses, but must first be started over the top.",
        "H pump(Q) = crest - fall + h up(Q) + h down(Q)",
        draw.answer(draft, "siphon_flow", high, "gpm", ruled_high),
    )
    return draft
