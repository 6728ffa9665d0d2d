"""Problems of the lessons on the site: pits and storms."""

from __future__ import annotations

import numpy as np

from drainpump import units as u
from drainpump.cycling.switching import cycle
from drainpump.inflow.storm import Hydrograph
from drainpump.parts.pit import Pit
from drainpump.physics import runoff
from drainpump.routing.route import route
from drainpump.solve.operating_point import operating_point
from drainpump.teach.lesson import EITHER, POINTS, Draft, Sample, with_ruler
from drainpump.units import FloatArray, Measure


def _between(sample: Sample, pit: Pit, top: str) -> str:
    """Formula and numbers of the water from the off level to another of a round pit."""
    wide, tall = float(pit.si.diameter), float(getattr(pit.si, top) - pit.si.off)
    volume = sample.say(0.25 * np.pi * wide**2 * tall, "gal")
    if sample.us:
        (inch,) = sample.bare("in")
        return f"""V = pi/4 * D^2 * h / 231 in³/gal
        0.7854 × {inch(wide)}² × {inch(tall)} / 231 = {volume}"""
    return f"""V = pi/4 * D^2 * h * 1000 L/m³
        0.7854 × {u.carried(wide)}² × {u.carried(tall)} × 1000 = {volume}"""


def pits(sample: Sample) -> Draft:
    """Pits and cycling: volume, rest, run, and the worst inflow."""
    pit = sample.pit()
    flow = sample.measure(("gpm", 25, 45, 5), ("lps", 1.6, 3.0, 0.2))
    inflow = sample.measure(("gpm", 4, 15, 1), ("lps", 0.2, 1.0, 0.1))
    cyc = cycle(pit=pit, **flow.spelled("flow"), **inflow.spelled("inflow")).si
    say, (gal, gpm, s) = sample.say, sample.bare("gal", "gpm", "s")
    draft = sample.draft(f"""Water runs steadily into the round pit of {sample.place()}.
        pit {say(pit.si.diameter, "in")} across, off level {say(pit.si.off, "in")}, on level \
        {say(pit.si.on, "in")}
        inflow {say(inflow.si, "gpm")}, pump {say(flow.si, "gpm")}, taken as constant""")
    answer, (per, sixty) = draft.answer, (" * 60 s/min", " × 60") if sample.us else ("", "")
    volume, q, most = gal(cyc.working), gpm(inflow.si), gpm(flow.si)
    draft.keep("volume", cyc.working, "gal")
    draft.ask(f"""How much water stands between the floats?

        Area times the travel of the float.
        {_between(sample, pit, "on")}""")
    draft.ask(f"""How long does the pump rest and run, and how often does it start in an hour?

        The inflow fills it.
        rest = V / q{per}
        {volume} / {q}{sixty} = {answer("rest", cyc.rest, "s")}

        The pump empties it against the inflow.
        run = V / (Q - q){per}
        {volume} / ({most} - {q}){sixty} = {answer("run", cyc.run, "s")}

        One start a cycle.
        starts = 3600 s/h / (run + rest)
        3600 / ({s(cyc.run)} + {s(cyc.rest)}) = \
        {answer("starts", 1 / (cyc.run + cyc.rest), "per_h")}""")
    draft.ask(f"""At which inflow does it start most, and how often?

        The shortest cycle is at half the pump's flow.
        q = Q / 2
        {most} / 2 = {answer("worst_inflow", cyc.worst_inflow, "gpm")}

        It lasts four times what the pump takes for the volume.
        starts = 3600 s/h / (4 V / Q{per})
        3600 / (4 × {volume} / {most}{sixty}) = \
        {answer("worst_starts", cyc.worst_rate, "per_h")}""")
    return draft


def rainfall(draft: Draft, share: float, rain: Measure, area: Measure) -> None:
    """Ask for the inflow of rain on an area, and work it out."""
    (rate, ground), us = draft.sample.bare("in_per_h", "ft2"), draft.sample.us
    formula, by, parts = "q = C * i * A / 3600 s/h", "", "/ 3600"
    if us:
        formula = "q = C * i / 12 in/ft * A * 7.481 gal/ft³ / 60 min/h"
        by, parts = " / 12", "× 7.481 / 60"
    inflow = draft.answer("inflow", runoff.rational(share, rain.si, area.si), "gpm")
    draft.ask(f"""At what rate does water come in while it rains?

        The rational formula.
        {formula}
        {share:g} × {rate(rain.si)}{by} × {ground(area.si)} {parts} = {inflow}""")


def storms(sample: Sample) -> Draft:
    """Storms: rain to inflow, and what stands when the pump cannot keep up."""
    while True:
        pump, line, words = sample.working()
        pit, share = sample.pit(), float(sample.of(0.8, 0.85, 0.9))
        area = sample.measure(("ft2", 1500, 4000, 250), ("m2", 150, 400, 25))
        rain = sample.measure(("in_per_h", 2, 4.5, 0.25), ("mm_per_h", 50, 115, 5))
        minutes = int(sample.of(10, 15, 20))
        inflow = float(runoff.rational(share, rain.si, area.si))
        above_off = float(pit.si.depth - pit.si.off)
        rim = operating_point(with_ruler(pump), line, level_above_off_m=above_off)
        if np.all(rim.ok) and inflow > 1.2 * rim.si.flow.max():
            break
    say, (ft, inch) = sample.say, sample.bare("ft", "in")
    draft = sample.draft(f"""A burst of rain falls on {sample.place()}; the pit starts at its \
        off level.
        area {say(area.si, "ft2")}, of whose rain {share:.0%} runs off at once
        rain {say(rain.si, "in_per_h")} for {minutes} min
        {words}
        pit {say(pit.si.diameter, "in")} across, {say(pit.si.depth, "in")} deep, off level \
        {say(pit.si.off, "in")}, on level {say(pit.si.on, "in")}; {POINTS}""")
    draft.show(pump)
    rainfall(draft, share, rain, area)
    draft.ask(f"""What does the pump move with the water at the rim?

        With the water at the rim the lift is less by the pit's depth above off.
        lift - (rim - off) / {sample.small} {sample.per}
        {ft(line.si.lift)} - ({inch(pit.si.depth)} - {inch(pit.si.off)}) / {sample.small} = \
        {say(line.si.lift - above_off, "ft")}

        Solve with that lift; {EITHER}.
        H pump(Q) = H line(Q)
        {draft.answer("flow", rim.si.flow, "gpm")}""")
    burst = Hydrograph(flow_lps=[inflow * 1e3], block_min=minutes)
    ponds = np.ravel([route(p, line, pit, burst).si.peak_pond for p in with_ruler(pump)])
    _ponds(draft, pit, (inflow, float(rim.si.flow[0]), minutes), ponds)
    return draft


def _ponds(draft: Draft, pit: Pit, rates: tuple[float, float, int], ponds: FloatArray) -> None:
    """Balance the water: what comes, what is pumped, what the pit holds, what stands."""
    sample, (inflow, flow, minutes) = draft.sample, rates
    late = float(pit.si.working_volume) / inflow
    room = float(pit.si.volume_between(pit.si.off, pit.si.depth))
    gal, gpm = sample.bare("gal", "gpm")
    time, unit = (60.0, "min") if sample.us else (1.0, "s")
    q, whole, wait = gpm(inflow), u.carried(60 * minutes / time), u.carried(late / time)

    def balance(pumped: float) -> float:
        return max(inflow * 60 * minutes - pumped * (60 * minutes - late) - room, 0.0)

    # a small difference of large numbers: right is what any right flow leads to
    name = sample.unit("gpm")
    ends = [balance(float(u.to_si(x, name))) for x in draft.accepted[f"flow_{name}"]]
    draft.keep("pond", ponds, "gal", *ends)
    draft.ask(f"""How much water stands on the ground at worst?

        First the inflow fills the pit to the on level, and nothing is pumped.
        {_between(sample, pit, "on")}

        That takes so long.
        t = V / q
        {gal(pit.si.working_volume)} / {q} = {wait} {unit}

        The pit's room, off level to rim.
        {_between(sample, pit, "depth")}

        What comes in, less what is pumped, less the pit's room; the pump's flow at the rim taken \
        throughout.
        pond = q * T - Q * (T - t) - room
        {q} × {whole} - {gpm(flow)} × ({whole} - {wait}) - {gal(room)}: about \
        {sample.say(balance(flow), "gal")}; exactly, the flow changing with the level, \
        {sample.say(ponds[0], "gal")}""")
