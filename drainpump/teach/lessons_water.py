"""Numbers of the lessons on the water: pits, storms, what reaches the pit, how often it floods."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.cycling.switching import cycle
from drainpump.inflow.branch.collector import CLOGGING
from drainpump.inflow.storm import Hydrograph
from drainpump.physics import open_channel, runoff
from drainpump.routing.route import route
from drainpump.solve.operating_point import operating_point
from drainpump.teach.lesson import TOLERANCE, Hangs, Yard, area_of, with_ruler
from drainpump.units import FloatArray

#: open share of a grate; how much smaller the least link is than the next, at least
_OPEN, _CLEAR = 0.5, 0.12
#: return periods, years; rain of each over that of the first, invented
_YEARS = (2, 5, 10, 25, 50, 100)
_GROWTH = (1.0, 1.28, 1.48, 1.74, 1.95, 2.16)
#: how much heavier rain may be than its table says; years of a plan
_HEAVIER, _PLAN = 1.2, 10
#: a number as it is, and for one whose figures are a little off
_NEAR = (1.0, 1 - TOLERANCE, 1 + TOLERANCE)
_YEAR = float(u.to_si(1.0, "year"))


def pits(yard: Yard) -> dict[str, Any]:
    """Pits and cycling: volume, rest, run, and the worst inflow."""
    pit = yard.pit()
    flow = yard.measure(("gpm", 25, 45, 5), ("lps", 1.6, 3.0, 0.2))
    inflow = yard.measure(("gpm", 4, 15, 1), ("lps", 0.2, 1.0, 0.1))
    cyc = cycle(pit=pit, **flow.spelled("flow"), **inflow.spelled("inflow")).si
    return {
        "across": pit.si.diameter, "off": pit.si.off, "on": pit.si.on,
        "travel": pit.si.on - pit.si.off, "inflow": inflow, "flow": flow, "volume": cyc.working,
        "rest": cyc.rest, "run": cyc.run, "starts": 1 / (cyc.run + cyc.rest),
        "worst_inflow": cyc.worst_inflow, "worst_starts": cyc.worst_rate,
    }  # fmt: skip


def storms(yard: Yard) -> dict[str, Any]:
    """Storms: rain to inflow, and what stands when the pump cannot keep up."""
    while True:
        pump, line, said = yard.working()
        pit, share = yard.pit(), float(yard.of(0.8, 0.85, 0.9))
        area = yard.measure(("ft2", 1500, 4000, 250), ("m2", 150, 400, 25))
        rain = yard.measure(("in_per_h", 2, 4.5, 0.25), ("mm_per_h", 50, 115, 5))
        minutes = int(yard.of(10, 15, 20))
        inflow = float(runoff.rational(share, rain.si, area.si))
        deep = float(pit.si.depth - pit.si.off)
        rim = operating_point(with_ruler(pump), line, level_above_off_m=deep)
        if np.all(rim.ok) and inflow > 1.2 * rim.si.flow.max():
            break
    burst = Hydrograph(flow_lps=[inflow * 1e3], block_min=minutes)
    ponds = np.ravel([route(p, line, pit, burst).si.peak_pond for p in with_ruler(pump)])
    travel, wide = float(pit.si.on - pit.si.off), float(pit.si.diameter)
    late, room = float(pit.si.working_volume) / inflow, area_of(wide) * deep
    flow = rim.si.flow
    # a small difference of large numbers: right is what any right flow leads to
    ends = np.outer(flow, _NEAR)
    left = np.maximum((inflow - ends) * 60 * minutes + ends * late - room, 0.0)
    time = 60.0 if yard.us else 1.0
    return said | {
        "area": area, "share": share, "rain": rain, "minutes": minutes, "wide": wide,
        "rim": pit.si.depth, "off": pit.si.off, "on": pit.si.on, "inflow": inflow,
        "lift": line.si.lift, "rim_lift": line.si.lift - deep, "flow": flow,
        "on_wide": wide, "on_tall": travel, "on_volume": area_of(wide) * travel,
        "rim_wide": wide, "rim_tall": deep, "rim_volume": room, "wait": late / time,
        "whole": 60 * minutes / time, "about": left[0, 0], "pond": Hangs(ponds, left),
    }  # fmt: skip


def reaches(yard: Yard) -> dict[str, Any]:
    """Where the water comes from, and whether it gets to the pit: the weakest link."""
    while True:
        area = yard.measure(("ft2", 1000, 4000, 250), ("m2", 100, 400, 25))
        rain = yard.measure(("in_per_h", 1.5, 4.5, 0.25), ("mm_per_h", 40, 110, 5))
        share, slope, n = yard.of(0.7, 0.8, 0.9), yard.of(0.005, 0.01, 0.02), yard.of(0.011, 0.02)
        deep = yard.measure(("in", 1, 3, 0.5), ("mm", 25, 75, 5)).si
        side = yard.measure(("in", 6, 14, 2), ("mm", 150, 350, 50)).si
        bore = float(yard.measure(("in", 3, 5, 1), ("mm", 75, 125, 25)).si)
        pump = float(yard.measure(("gpm", 30, 90, 5), ("lps", 2, 6, 0.2)).si)
        edge, hole = CLOGGING * 4 * side, CLOGGING * _OPEN * side**2
        weir = float(open_channel.sag_grate(deep, edge, math.inf))
        orifice = float(open_channel.sag_grate(deep, math.inf, hole))
        pipe = float(open_channel.full_flow(bore, slope, n))
        inflow = float(runoff.rational(share, rain.si, area.si))
        grate = min(weir, orifice)
        links = {"rain": inflow, "grate": grate, "pipe": pipe, "pump": pump}
        weakest, next_one, *_ = sorted(links, key=lambda name: links[name])
        if links[next_one] > (1 + _CLEAR) * links[weakest]:
            break
    return {
        "area": area, "share": share, "rain": rain, "side": side, "open": _OPEN,
        "clear": CLOGGING, "deep": deep, "bore": bore, "slope": slope, "n": n, "pump": pump,
        "gravity": yard.gravity(), "inflow": inflow, "edge": edge, "weir": weir, "hole": hole,
        "orifice": orifice, "grate": grate, "bore_area": area_of(bore), "radius": bore / 4,
        "pipe": pipe, "weakest": f"the {weakest}", "leaves": links[weakest],
    }  # fmt: skip


def floods(yard: Yard) -> dict[str, Any]:
    """How often it may flood: return period, chance, doubt, and what a flood spared costs."""
    while True:
        area = yard.measure(("ft2", 1000, 3000, 250), ("m2", 100, 300, 25)).si
        least = yard.measure(("in_per_h", 1.4, 2.4, 0.1), ("mm_per_h", 36, 60, 2))
        rates = np.round(np.array(_GROWTH) * least.typed, 2 if yard.us else 0)
        share, minutes = yard.of(0.7, 0.8, 0.9), int(yard.of(15, 20, 30))
        room = yard.measure(("gal", 150, 600, 50), ("l", 600, 2400, 200)).si
        small = yard.measure(("gpm", 20, 80, 5), ("lps", 1.2, 5, 0.2)).si
        large = yard.measure(("gpm", 25, 90, 5), ("lps", 1.6, 6, 0.2)).si
        dearer, damage = 10 * int(yard.rng.integers(4, 20)), 100 * int(yard.rng.integers(2, 40))
        now, then = (float((x + room / 60 / minutes) / (share * area)) for x in (small, large))
        rains = {"dry_up_to": now, "heavier": now / _HEAVIER, "larger": then}
        table, near = np.asarray(u.to_si(rates, least.unit)), np.outer([*rains.values()], _NEAR)
        # return periods, read by their logarithms between the table's rows
        years = np.exp(np.interp(near, table, np.log(_YEARS)))
        if table[0] < near.min() and near.max() < table[-1] and then > 1.08 * now:
            spared = dearer / (1 / years[0][:, None] - 1 / years[2]).ravel()
            # inside the table, and worth it or not, for all who are a little off
            if (damage > spared).all() or (damage < spared).all():
                break
    once, plan = (-np.expm1(-n / years[0]) for n in (1, _PLAN))
    said: dict[str, Any] = {}
    for name, rain, rare in zip(rains, rains.values(), years, strict=True):
        said |= {name: Hangs(rare[0] * _YEAR, rare * _YEAR)}
        said |= {f"rows_{name}": _between_rows(yard, rain, table)}
    heads = ("once in (years)", f"rain ({u.UNITS[least.unit].label})")
    return said | {
        "table": [heads, *zip(map(str, _YEARS), map(u.carried, rates), strict=True)],
        "area": area, "share": share, "minutes": minutes, "small_pump": small, "room": room,
        "large_pump": large, "dearer": dearer, "damage": damage,
        "time": minutes if yard.us else 60 * minutes, "borne": small + room / 60 / minutes,
        "rain": now, "once": years[0][0], "plan": _PLAN, "more": _HEAVIER - 1,
        "heavier_by": _HEAVIER, "yearly_probability": Hangs(once[0], once),
        "plan_probability": Hangs(plan[0], plan), "larger_rain": then,
        "once_larger": years[2][0], "fewer": 1 / years[0][0] - 1 / years[2][0],
        "spared_flood_cost": Hangs(spared[0], spared),
        "verdict": "worth it" if (damage > spared).all() else "not worth it",
    }  # fmt: skip


def _between_rows(yard: Yard, rain: float, table: FloatArray) -> str:
    """The numbers with which a return period is read between two rows."""
    i = int(np.searchsorted(table, rain)) - 1
    low, high = _YEARS[i : i + 2]
    at, least, most = (yard.said(x, "=in_per_h") for x in (rain, *table[i : i + 2]))
    return f"{low} × ({high}/{low})^(({at} - {least}) / ({most} - {least}))"
