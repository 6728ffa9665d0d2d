"""Problems of the lessons on the line: height, losses, fittings, high points."""

from __future__ import annotations

import math

import numpy as np

from drainpump import units as u
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.line import DischargeLine, straight_line
from drainpump.parts.line.pipe import pvc
from drainpump.parts.line.run import Run
from drainpump.physics import friction, water
from drainpump.physics.constants import GRAVITY
from drainpump.solve.operating_point import operating_point
from drainpump.teach.lesson import POINTS, Draft, Sample, with_ruler

#: a common guess: pipe an elbow is worth, m, in US and metric yards (common practice, no source)
_PER_ELBOW = {"us": 8 * 0.3048, "metric": 2.4}
#: where the search for a friction factor starts: a usual one of plastic pipe
_FIRST_FACTOR = 0.02


def height(sample: Sample) -> Draft:
    """Head is height: from levels to lift, pressure, and whether the pump reaches."""
    off = sample.measure(("in", 4, 10, 1), ("mm", 100, 250, 25)).si
    outlet = sample.measure(("ft", 5, 14, 0.5), ("m", 1.5, 4.2, 0.1)).si
    pump, pipe = sample.pump(), sample.pipe()
    lift, shutoff = float(outlet - off), pump.si.head[0]
    line = straight_line(pipe=pipe, length_m=60, lift_m=lift, **sample.cold)
    say, (ft, inch) = sample.say, sample.bare("ft", "in")
    draft = sample.draft(f"""At {sample.place()} a pit drains to a higher ditch.
        outlet {say(outlet, "ft")} above the pit's floor
        pump-off level {say(off, "in")} above the floor
        shutoff head of the pump {say(shutoff, "ft")}
        {sample.wet(line)}""")
    draft.ask(f"""What is the static lift?

        Bring the off level to the outlet's unit.
        off / {sample.small} {sample.per}
        {inch(off)} / {sample.small} = {say(off, "ft")}

        The lift is from the water at the off level, not from the floor, to the outlet.
        lift = outlet level - off level
        {ft(outlet)} - {ft(off)} = {draft.answer("lift", lift, "ft")}""")
    heavy = float(water.density(line.si.water))
    # a pound of mass weighs a pound of force
    by, g, per = ("", "", "144 in²/ft²") if sample.us else (" * g", " × 9.807", "1000 Pa/kPa")
    draft.ask(f"""What pressure does a full, standing line put on the pump?

        Standing water presses with its height alone, whatever the bore.
        p = rho{by} * h / {per}
        {sample.density(heavy)}{g} × {ft(lift)} / {per.split()[0]} = \
        {draft.answer("pressure", heavy * GRAVITY * lift, "psi")}""")
    draft.ask(f"""How much head is left at no flow for pipe and fittings to take?

        What the pump makes at no flow, less the lift, is left for losses.
        left = shutoff head - lift
        {ft(shutoff)} - {ft(lift)} = {draft.answer("left", shutoff - lift, "ft")}""")
    return draft


def line_head(sample: Sample) -> Draft:
    """The line pushes back: the head a line asks at a flow, part by part."""
    pump, line, words = sample.working()
    unit = sample.unit("gpm")
    flowing = u.from_si(operating_point(pump, line).si.flow, unit)
    flow = float(u.to_si(np.round(flowing, 0 if sample.us else 1), unit))
    draft = sample.draft(f"""A line leads from the pit of {sample.place()}.
        {words}
        flow {sample.say(flow, "gpm")}""")
    run, plain, lift = line.runs[0], line.si.arrays, float(line.si.lift)
    bore, rough, k = float(plain.diameter[0]), float(plain.roughness[0]), float(run.si.k)
    speed, worked = draft.velocity(flow, bore)
    ft, fps = sample.bare("ft", "fps")
    reynolds = float(friction.reynolds(speed, bore, plain.viscosity))
    draft.ask(f"""What velocity has the water, and does it flow smoothly or turbulently?
        {worked}

        The Reynolds number tells how: turbulent from about 4000, smooth below about 2000.
        Re = V * D / nu
        {fps(speed)} × {ft(bore)} / {sample.viscosity(plain.viscosity)} = {reynolds:.0f}: \
        {draft.verdict("flows", _flows(reynolds))}""")
    factor = float(friction.friction_factor(reynolds, rough / bore))
    square = speed**2 / (2 * GRAVITY)
    pipe = factor * float(plain.length[0]) / bore * square
    parts, answer = (lift, pipe, k * square, square), draft.answer
    draft.ask(f"""What head does the line ask at this flow, and what is it made of?

        The friction factor is Colebrook's, found by trial: put a guess in on the right, and what \
        comes out in again, until it stands still.
        1/sqrt(f) = -2 log10(e/D/3.7 + 2.51/(Re sqrt(f)))
        e/D = {ft(rough)} / {ft(bore)} = {u.carried(rough / bore)}; f = \
        {", ".join(_trials(reynolds, rough / bore))}

        The velocity head.
        V^2/(2g)
        {fps(speed)}² / {ft(2 * GRAVITY)} = {answer("exit", square, "ft")}

        Darcy and Weisbach give the pipe's loss.
        h = f * L/D * V^2/(2g)
        {factor:.4f} × {ft(run.si.length)} / {ft(bore)} × {ft(square)} = \
        {answer("pipe", pipe, "ft")}

        Fittings cost so many velocity heads.
        h = K * V^2/(2g)
        {k:g} × {ft(square)} = {answer("fittings", k * square, "ft")}

        All parts together are the head; the jet takes one velocity head along.
        H = lift + pipe + fittings + exit
        {" + ".join(map(ft, parts))} = {answer("head", sum(parts), "ft")}""")
    return draft


def _flows(reynolds: float) -> str:
    if reynolds >= 4000:
        return "turbulently"
    return "smoothly" if reynolds <= 2000 else "between the two"


def _trials(reynolds: float, ratio: float) -> list[str]:
    """Colebrook's factor by trial, to four decimals, until it repeats."""
    factor, tried = _FIRST_FACTOR, [f"{_FIRST_FACTOR:.4f}"]
    while len(tried) < 2 or tried[-1] != tried[-2]:
        factor = (-2 * math.log10(ratio / 3.7 + 2.51 / (reynolds * math.sqrt(factor)))) ** -2
        tried.append(f"{factor:.4f}")
    return tried


def fittings(sample: Sample) -> Draft:
    """Fittings and valves: K, the head it takes, and the length of pipe it is worth."""
    elbows, pipe = int(sample.rng.integers(3, 9)), sample.pipe()
    k_elbow, k_valve = sample.of(0.6, 0.7, 0.8, 0.9), sample.of(1.5, 2.0, 2.5)
    length = sample.length()
    valve = Fitting(count=1, k=k_valve)
    fitted = {"elbow_90": Fitting(count=elbows, k=k_elbow), "check_valve_swing": valve}
    line = straight_line(
        pipe=pipe, lift_m=0, fittings=fitted, **length.spelled("length"), **sample.cold
    )
    flow = sample.measure(("gpm", 20, 45, 5), ("lps", 1.2, 3.0, 0.2)).si
    say, (ft, fps) = sample.say, sample.bare("ft", "fps")
    draft = sample.draft(f"""The line of {sample.place()} has more bends than the drawing shows.
        {elbows} elbows of K {k_elbow:g} and a check valve of K {k_valve:g}
        {sample.wall(pipe)}, {say(length.si, "ft")} long
        flow {say(flow, "gpm")}
        {sample.wet(line)}""")
    plain, each, answer = line.si.arrays, _PER_ELBOW[sample.units], draft.answer
    bore, total = float(plain.diameter[0]), elbows * k_elbow + k_valve
    k, (speed, worked) = answer("k", total, ""), draft.velocity(flow, bore)
    square = speed**2 / (2 * GRAVITY)
    draft.ask(f"""What is K in all, and what head do the fittings take?

        Add up K.
        K = n * K elbow + K valve
        {elbows} × {k_elbow:g} + {k_valve:g} = {k}
        {worked}

        Their head.
        h = K * V^2/(2g)
        {k} × {fps(speed)}² / {ft(2 * GRAVITY)} = {answer("fittings", total * square, "ft")}""")
    slope = float(friction.darcy_slope(speed, bore, plain.roughness[0], plain.viscosity))
    draft.ask(f"""What length of this pipe takes as much?

        What the pipe takes on its way, by Darcy and Weisbach with Colebrook's factor.
        f * L/D * V^2/(2g)
        f = {slope * bore / square:.4f}: {say(slope * length.si, "ft")} over \
        {say(length.si, "ft")}

        The fittings' head, by what a length of one takes.
        L = h fittings / (h pipe / length)
        {ft(total * square)} / {u.carried(slope)} = \
        {answer("equivalent_length", total * square / slope, "ft")}""")
    worth = elbows * k_elbow * square / slope
    draft.ask(f"""{say(each, "ft")} of pipe an elbow is a common guess: how far off is it for the \
        elbows alone?

        The guess, without the valve.
        n * guess
        {elbows} × {ft(each)} = {answer("guess", each * elbows, "ft")}

        The truth: the elbows' own head in pipe. The guess is common practice, no source.
        n * K elbow * V^2/(2g) / (h pipe / length)
        {elbows} × {k_elbow:g} × {ft(square)} / {u.carried(slope)} = \
        {answer("elbows_length", worth, "ft")}; the guess is \
        {each * elbows / worth:.3g} times the truth""")
    return draft


def high_points(sample: Sample) -> Draft:
    """High points and air: the high point counts, unless the line siphons."""
    while True:
        pump, pipe = sample.pump(), pvc(sample.of("1-1/2", "2"))
        up, down = sample.length(), sample.length()
        crest = sample.measure(("ft", 8, 16, 0.5), ("m", 2.4, 4.8, 0.1))
        fall = sample.measure(("ft", 4, 7, 0.5), ("m", 1.2, 2.1, 0.1)).si
        runs = [
            Run(pipe=pipe, k=3, **up.spelled("length"), **crest.spelled("rise")),
            Run(pipe=pipe, k=2, length_m=float(down.si), rise_m=-float(fall)),
        ]
        lines = [DischargeLine(runs=runs, siphon=s, **sample.cold) for s in (False, True)]
        ops = operating_point(pump, lines)
        low, high = ops.si.flow
        if np.all(ops.ok) and high > 1.1 * low:
            break
    vented, siphoning = operating_point(with_ruler(pump), lines).si.flow.T
    say, (ft,) = sample.say, sample.bare("ft")
    draft = sample.draft(f"""The line of {sample.place()} climbs a bank and falls to a ditch \
        beyond it. Air can get in at the top.
        up: {say(up.si, "ft")} of {sample.wall(pipe)}, rising {say(crest.si, "ft")}, K 3
        down: {say(down.si, "ft")} of the same, falling {say(fall, "ft")}, K 2
        open outlet (its exit takes K 1 more, as does an open top)
        {POINTS}
        {sample.wet(lines[0])}""")
    draft.show(pump)
    draft.ask(f"""Which lift counts where air gets in at the top?

        A vented top gives nothing back for the fall beyond it.
        H = max over all points of (elevation + losses up to there)
        {draft.answer("crest", crest.si, "ft")} to the top, not {ft(crest.si)} - {ft(fall)} = \
        {say(crest.si - fall, "ft")} to the outlet""")
    draft.ask(f"""What flows then?

        Crest and losses up to it (pipe, K 3 + 1) take all the pump makes; by trial, as in \
        lesson 4.
        H pump(Q) = crest + h up(Q)
        {draft.answer("flow", vented, "gpm")}""")
    draft.ask(f"""What would flow if the line ran full and siphoned?

        A siphon counts the outlet and all losses, but must first be started over the top.
        H pump(Q) = crest - fall + h up(Q) + h down(Q)
        {draft.answer("siphon_flow", siphoning, "gpm")}""")
    return draft
