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
from drainpump.teach.lesson import TOLERANCE, Draft, Draw, with_ruler

__all__ = ["pits", "storms"]


def _between(draw: Draw, pit: Pit, low: float, high: float) -> tuple[str, str]:
    """Formula and numbers of the water between two levels of a round pit."""
    wide, tall = float(pit.si.diameter), high - low
    volume = draw.say(0.25 * np.pi * wide**2 * tall, "gal")
    if draw.us:
        inner = f"0.7854 × {draw.bare(wide, 'in')}² × {draw.bare(tall, 'in')} / 231 = {volume}"
        return "V = pi/4 * D^2 * h / 231 in³/gal", inner
    inner = f"0.7854 × {u.number(wide)}² × {u.number(tall)} × 1000 = {volume}"
    return "V = pi/4 * D^2 * h * 1000 L/m³", inner


def pits(draw: Draw) -> Draft:
    """Pits and cycling: volume, rest, run, and the worst inflow."""
    pit = draw.pit()
    flow = draw.measure(("gpm", 25, 45, 5), ("lps", 1.6, 3.0, 0.2))
    inflow = draw.measure(("gpm", 4, 15, 1), ("lps", 0.2, 1.0, 0.1))
    cyc = cycle(pit=pit, **flow.spelled("flow"), **inflow.spelled("inflow")).si
    draft = Draft(f"Water runs steadily into the round pit of {draw.place()}.")
    draft.given = [
        f"pit {draw.say(pit.si.diameter, 'in')} across, off level {draw.say(pit.si.off, 'in')}, "
        f"on level {draw.say(pit.si.on, 'in')}",
        f"inflow {draw.say(inflow.si, 'gpm')}, pump {draw.say(flow.si, 'gpm')}, taken as constant",
    ]
    draft.questions = [
        "How much water stands between the floats?",
        "How long does the pump rest and run, and how often does it start in an hour?",
        "At which inflow does it start most, and how often?",
    ]
    draw.answer(draft, "volume", cyc.working, "gal")
    draft.step("Area times the travel of the float.",
               *_between(draw, pit, float(pit.si.off), float(pit.si.on)))  # fmt: skip
    sixty, per = (" × 60", " * 60 s/min") if draw.us else ("", "")
    volume, q, most = (draw.bare(x, y) for x, y in
                       ((cyc.working, "gal"), (inflow.si, "gpm"), (flow.si, "gpm")))  # fmt: skip
    rest, run = draw.bare(cyc.rest, "s"), draw.bare(cyc.run, "s")
    draft.step("The inflow fills it.", f"rest = V / q{per}",
               f"{volume} / {q}{sixty} = {draw.answer(draft, 'rest', cyc.rest, 's')}")  # fmt: skip
    draft.step(
        "The pump empties it against the inflow.",
        f"run = V / (Q - q){per}",
        f"{volume} / ({most} - {q}){sixty} = {draw.answer(draft, 'run', cyc.run, 's')}",
        more=True,
    )
    draft.step(
        "One start a cycle.",
        "starts = 3600 s/h / (run + rest)",
        f"3600 / ({run} + {rest}) = "
        + draw.answer(draft, "starts", 1 / (cyc.run + cyc.rest), "per_h"),
        more=True,
    )
    worst = draw.answer(draft, "worst_inflow", cyc.worst_inflow, "gpm")
    draft.step("The shortest cycle is at half the pump's flow.", "q = Q / 2",
               f"{most} / 2 = {worst}")  # fmt: skip
    draft.step(
        "It lasts four times what the pump takes for the volume.",
        f"starts = 3600 s/h / (4 V / Q{per})",
        f"3600 / (4 × {volume} / {most}{sixty}) = "
        + draw.answer(draft, "worst_starts", cyc.worst_rate, "per_h"),
        more=True,
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
        above_off = float(pit.si.depth - pit.si.off)
        rim = operating_point(with_ruler(pump), line, level_above_off_m=above_off)
        if np.all(rim.ok) and inflow > 1.2 * rim.si.flow.max():
            break
    draft = Draft(f"A burst of rain falls on {draw.place()}; the pit starts at its off level.")
    draft.table = draw.curve_table(pump)
    draft.given = [
        f"area {draw.say(area.si, 'ft2')}, of whose rain {share:.0%} runs off at once",
        f"rain {draw.say(rain.si, 'in_per_h')} for {minutes} min",
        *words,
        f"pit {draw.say(pit.si.diameter, 'in')} across, {draw.say(pit.si.depth, 'in')} deep, off "
        f"level {draw.say(pit.si.off, 'in')}, on level {draw.say(pit.si.on, 'in')}; the pump's "
        "points, in the table",
    ]
    draft.questions = [
        "At what rate does water come in while it rains?",
        "What does the pump move with the water at the rim?",
        "How much water stands on the ground at worst?",
    ]
    fell = f"{share:g} × {draw.bare(rain.si, 'in_per_h')}"
    if draw.us:
        formula = "q = C * i / 12 in/ft * A * 7.481 gal/ft³ / 60 min/h"
        worked = f"{fell} / 12 × {draw.bare(area.si, 'ft2')} × 7.481 / 60"
    else:
        formula, worked = "q = C * i * A / 3600 s/h", f"{fell} × {draw.bare(area.si, 'ft2')} / 3600"
    draft.step("The rational formula.", formula,
               f"{worked} = {draw.answer(draft, 'inflow', inflow, 'gpm')}")  # fmt: skip
    per = (12, "in/ft") if draw.us else (1000, "mm/m")
    draft.step(
        "With the water at the rim the lift is less by the pit's depth above off.",
        f"lift - (rim - off) / {per[0]} {per[1]}",
        f"{draw.bare(line.si.lift, 'ft')} - ({draw.bare(pit.si.depth, 'in')} - "
        f"{draw.bare(pit.si.off, 'in')}) / {per[0]} = " + draw.say(line.si.lift - above_off, "ft"),
    )
    draft.step(
        f"Solve with that lift; either is right, within ±{100 * TOLERANCE:g} %.",
        "H pump(Q) = H line(Q)",
        draw.answer(draft, "flow", rim.si.flow[0], "gpm", rim.si.flow[1]),
        more=True,
    )
    storm = route(pump, line, pit, Hydrograph(flow_lps=[inflow * 1e3], block_min=minutes))
    _ponds(draw, draft, pit, (inflow, float(rim.si.flow[0]), minutes), float(storm.si.peak_pond))
    return draft


def _ponds(
    draw: Draw, draft: Draft, pit: Pit, rates: tuple[float, float, int], pond: float
) -> None:
    """Balance the water: what comes, what is pumped, what the pit holds, what stands."""
    inflow, flow, minutes = rates
    off, on, rim = (float(x) for x in (pit.si.off, pit.si.on, pit.si.depth))
    late = float(pit.si.working_volume) / inflow
    room = float(pit.si.volume_between(pit.si.off, pit.si.depth))
    draft.step("First the inflow fills the pit to the on level, and nothing is pumped.",
               *_between(draw, pit, off, on))  # fmt: skip
    q, most = draw.bare(inflow, "gpm"), draw.bare(flow, "gpm")
    volume = draw.bare(pit.si.working_volume, "gal")
    time, unit = (60.0, "min") if draw.us else (1.0, "s")
    whole, wait = u.number(60 * minutes / time), u.number(late / time)
    draft.step("That takes so long.", "t = V / q", f"{volume} / {q} = {wait} {unit}",
               more=True)  # fmt: skip
    draft.step("The pit's room, off level to rim.", *_between(draw, pit, off, rim), more=True)

    def balance(pumped: float) -> float:
        return max(inflow * 60 * minutes - pumped * (60 * minutes - late) - room, 0.0)

    said = draw.answer(draft, "pond", pond, "gal")
    gal, gpm = draw.unit("gal"), draw.unit("gpm")
    # a small difference of large numbers: right is what any right flow leads to
    ends = [balance(float(u.to_si(q, gpm))) for q in draft.accepted[f"flow_{gpm}"]]
    least, most_right = (float(u.from_si(x, gal)) for x in (min(ends), max(ends)))
    low, high = draft.accepted[f"pond_{gal}"]
    draft.accepted[f"pond_{gal}"] = (min(low, least), max(high, most_right))
    draft.step(
        "What comes in, less what is pumped, less the pit's room; the pump's flow at the rim "
        "taken throughout.",
        "pond = q * T - Q * (T - t) - room",
        f"{q} × {whole} - {most} × ({whole} - {wait}) - {draw.bare(room, 'gal')}: about "
        f"{draw.say(balance(flow), 'gal')}; exactly, the flow changing with the level, {said}",
        more=True,
    )
