"""Problems of the lessons on the water: what reaches the pit, and how often it is too much."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.inflow.branch.collector import CLOGGING
from drainpump.physics import open_channel, runoff
from drainpump.physics.constants import GRAVITY
from drainpump.teach.lesson import TOLERANCE, Draft, Sample
from drainpump.teach.lessons_site import rainfall
from drainpump.units import FloatArray

#: open share of a grate; how much smaller the least link is than the next, at least
_OPEN, _CLEAR = 0.5, 0.12
#: return periods, years; rain of each over that of the first, invented
_YEARS = (2, 5, 10, 25, 50, 100)
_GROWTH = (1.0, 1.28, 1.48, 1.74, 1.95, 2.16)
#: how much heavier rain may be than its table says; years of a plan
_HEAVIER, _PLAN = 1.2, 10
#: a rain as it is, and for one whose figures are a little off
_NEAR = (1.0, 1 - TOLERANCE, 1 + TOLERANCE)
_READ = "N = N1 * (N2/N1)^((i - i1) / (i2 - i1))"
_YEAR = float(u.to_si(1.0, "year"))


def reaches(sample: Sample) -> Draft:
    """Where the water comes from, and whether it gets to the pit: the weakest link."""
    while True:
        area = sample.measure(("ft2", 1000, 4000, 250), ("m2", 100, 400, 25))
        rain = sample.measure(("in_per_h", 1.5, 4.5, 0.25), ("mm_per_h", 40, 110, 5))
        share, slope, n = (
            sample.of(0.7, 0.8, 0.9),
            sample.of(0.005, 0.01, 0.02),
            sample.of(0.011, 0.02),
        )
        deep = sample.measure(("in", 1, 3, 0.5), ("mm", 25, 75, 5)).si
        side = sample.measure(("in", 6, 14, 2), ("mm", 150, 350, 50)).si
        bore = sample.measure(("in", 3, 5, 1), ("mm", 75, 125, 25)).si
        pump = float(sample.measure(("gpm", 30, 90, 5), ("lps", 2, 6, 0.2)).si)
        weir = float(open_channel.sag_grate(deep, CLOGGING * 4 * side, math.inf))
        hole = float(open_channel.sag_grate(deep, math.inf, CLOGGING * _OPEN * side**2))
        pipe = float(open_channel.full_flow(bore, slope, n))
        inflow = float(runoff.rational(share, rain.si, area.si))
        links = {"rain": inflow, "grate": min(weir, hole), "pipe": pipe, "pump": pump}
        weakest, next_one, *_ = sorted(links, key=lambda name: links[name])
        if links[next_one] > (1 + _CLEAR) * links[weakest]:
            break
    say = sample.say
    draft = sample.draft(f"""Rain on {sample.place()} runs to one grate in a low spot, from there \
        through a drain to the pit, and the pump lifts it out.
        area {say(area.si, "ft2")}, of whose rain {share:.0%} runs off at once; rain \
        {say(rain.si, "in_per_h")}
        square grate of {say(side, "in")} a side, {_OPEN:.0%} of its area open; leaves leave \
        {CLOGGING:.0%} of its edge and of its opening clear; water may stand {say(deep, "in")} deep
        drain of {say(bore, "in")} true bore, slope {slope:g}, Manning's n {n:g}
        the pump moves {say(pump, "gpm")} through its line
        {sample.falls()}""")
    rainfall(draft, share, rain, area)
    _grate(draft, (side, deep), (weir, hole))
    _drain(draft, bore, slope, n)
    (gpm,), said = sample.bare("gpm"), draft.verdict("weakest", f"the {weakest}")
    draft.ask(f"""Which link is the weakest, and how much water leaves the yard at most?

        The least of the four rules; to enlarge any other changes nothing.
        q = min(rain, grate, pipe, pump)
        min({", ".join(gpm(links[name]) for name in ("rain", "grate", "pipe", "pump"))}): \
        {said}, {draft.answer("leaves", links[weakest], "gpm")}""")
    return draft


def _grate(draft: Draft, sizes: tuple[Any, Any], flows: tuple[float, float]) -> None:
    """What a half-clogged square grate in a sag takes in: the less of weir and orifice."""
    sample, (side, deep), (weir, hole), answer = draft.sample, sizes, flows, draft.answer
    (ft, inch, gpm), us = sample.bare("ft", "in", "gpm"), sample.us
    weir_by, times, unit = ("3.0", "448.8", "gpm/cfs") if us else ("1.656", "1000", "L/m³")
    area = sample.say(CLOGGING * _OPEN * side**2, "ft2")
    draft.ask(f"""What does the grate take in under {sample.say(deep, "in")} of water?

        The clear edge.
        P = clear * 4 * side / {sample.small} {sample.per}
        {CLOGGING:g} × 4 × {inch(side)} / {sample.small} = {sample.say(CLOGGING * 4 * side, "ft")}

        Shallow water falls over the edge as over a weir (FHWA HEC-22).
        Q = {weir_by} * P * d^1.5 * {times} {unit}
        {weir_by} × {ft(CLOGGING * 4 * side)} × ({inch(deep)} / {sample.small})^1.5 × {times} = \
        {answer("weir", weir, "gpm")}

        The clear opening.
        A = clear * open * (side / {sample.small} {sample.per})^2
        {CLOGGING:g} × {_OPEN:g} × ({inch(side)} / {sample.small})² = {area}

        Deep water shoots through the opening as through an orifice (FHWA HEC-22).
        Q = 0.67 * A * (2 g d)^0.5 * {times} {unit}
        0.67 × {area.split()[0]} × ({ft(2 * GRAVITY)} × {inch(deep)} / {sample.small})^0.5 × \
        {times} = {answer("orifice", hole, "gpm")}

        The less of the two holds.
        Q = min(weir, orifice)
        min({gpm(weir)}, {gpm(hole)}) = {answer("grate", min(flows), "gpm")}""")


def _drain(draft: Draft, bore: Any, slope: float, n: float) -> None:
    """What a round pipe carries just full, by Manning."""
    sample, flow = draft.sample, open_channel.full_flow(bore, slope, n)
    (ft, inch), us = sample.bare("ft", "in"), sample.us
    one, times, unit = ("1.486", "448.8", "gpm/cfs") if us else ("1", "1000", "L/m³")
    area = sample.say(0.25 * np.pi * bore**2, "ft2")
    draft.ask(f"""What does the drain carry, running just full?

        Its bore in the units of the formula.
        D / {sample.small} {sample.per}
        {inch(bore)} / {sample.small} = {sample.say(bore, "ft")}

        Its area; and a full round pipe has a quarter of its bore as hydraulic radius.
        A = pi/4 * D^2; R = D/4
        0.7854 × {ft(bore)}² = {area}; {ft(bore)} / 4 = {sample.say(bore / 4, "ft")}

        Manning's equation.
        Q = {one}/n * A * R^(2/3) * S^0.5 * {times} {unit}
        {one} / {n:g} × {area.split()[0]} × {ft(bore / 4)}^(2/3) × {slope:g}^0.5 × {times} = \
        {draft.answer("pipe", flow, "gpm")}""")


def floods(sample: Sample) -> Draft:
    """How often it may flood: return period, chance, doubt, and what a flood spared costs."""
    while True:
        area = sample.measure(("ft2", 1000, 3000, 250), ("m2", 100, 300, 25)).si
        least = sample.measure(("in_per_h", 1.4, 2.4, 0.1), ("mm_per_h", 36, 60, 2))
        rates = np.round(np.array(_GROWTH) * least.typed, 2 if sample.us else 0)
        share, minutes = sample.of(0.7, 0.8, 0.9), int(sample.of(15, 20, 30))
        room = sample.measure(("gal", 150, 600, 50), ("l", 600, 2400, 200)).si
        small = sample.measure(("gpm", 20, 80, 5), ("lps", 1.2, 5, 0.2)).si
        large = sample.measure(("gpm", 25, 90, 5), ("lps", 1.6, 6, 0.2)).si
        dearer, damage = 10 * int(sample.rng.integers(4, 20)), 100 * int(sample.rng.integers(2, 40))
        now, then = (float((x + room / 60 / minutes) / (share * area)) for x in (small, large))
        rains, table = (now, now / _HEAVIER, then), np.asarray(u.to_si(rates, least.unit))
        near = np.outer(rains, _NEAR)
        years = _years(near, table)
        if table[0] < near.min() and near.max() < table[-1] and then > 1.08 * now:
            spared = dearer / (1 / years[0][:, None] - 1 / years[2]).ravel()
            # inside the table, and worth it or not, for all who are a little off
            if (damage > spared).all() or (damage < spared).all():
                break
    say, (rate,) = sample.say, sample.bare("in_per_h")
    draft = sample.draft(f"""A pump keeps {sample.place()} dry in most years. In a burst of rain \
        the yard may hold some water; what is more floods the door.
        area {say(area, "ft2")}, of whose rain {share:.0%} runs off at once; the burst lasts \
        {minutes} min
        the pump moves {say(small, "gpm")} all the while; pit and yard hold {say(room, "gal")} \
        without harm
        the burst's rain, and once in how many years as much or more falls, in the table (of all \
        heavy rains, not of each year's heaviest alone); between two rows N is read by its \
        logarithm
        a larger pump would move {say(large, "gpm")} and cost {dearer} a year more; a flood costs \
        {damage}""")
    draft.table = [("once in (years)", f"rain ({u.UNITS[least.unit].label})")]
    draft.table += [(str(n), u.carried(x)) for n, x in zip(_YEARS, rates, strict=True)]
    _borne(draft, (small, room, minutes), (share, area), now)
    rows = [_between_rows(rain, table, rate) for rain in rains]
    said = [
        draft.answer(name, rare[0] * _YEAR, "year", *(rare * _YEAR))
        for name, rare in zip(("dry_up_to", "heavier", "larger"), years, strict=True)
    ]
    _chances(draft, rows, said, years)
    cost = draft.answer("spared_flood_cost", spared[0], "", *spared)
    worth = draft.verdict("verdict", "worth it" if damage > spared[0] else "not worth it")
    fewer = 1 / years[0][0] - 1 / years[2][0]
    draft.ask(f"""What does each flood cost that the larger pump spares, and is it worth it?

        The rain that it can bear, as above.
        i = (Q + V / T) / (C * A)
        {say(then, "in_per_h")}

        And how rare that is.
        {_READ}
        {rows[2]} = {said[2]}

        So many floods a year are spared.
        1/N - 1/N larger
        1 / {years[0][0]:.4g} - 1 / {years[2][0]:.4g} = {fewer:.3g}

        What they cost by the pump, beside what they cost by themselves.
        cost a year / floods spared a year
        {dearer} / {fewer:.3g} = {cost}, a flood {damage}: {worth}""")
    return draft


def _years(rain: FloatArray, table: FloatArray) -> FloatArray:
    """Return periods of rains (m/s), years: by their logarithms between the table's."""
    return np.exp(np.interp(rain, table, np.log(_YEARS)))


def _between_rows(rain: float, table: FloatArray, rate: Callable[[Any], str]) -> str:
    """The numbers of `_READ`."""
    i = int(np.searchsorted(table, rain)) - 1
    low, high = _YEARS[i : i + 2]
    return (
        f"{low} × ({high}/{low})^(({rate(rain)} - {rate(table[i])}) / "
        f"({rate(table[i + 1])} - {rate(table[i])}))"
    )


def _borne(
    draft: Draft, moved: tuple[Any, Any, int], ground: tuple[float, Any], rain: float
) -> None:
    """The rain that pump, pit and yard can just bear."""
    sample, (flow, room, minutes), (share, area) = draft.sample, moved, ground
    gpm, gal, ft2 = sample.bare("gpm", "gal", "ft2")
    time, by, per = str(60 * minutes), " * 3600 s/h", " × 3600"
    if sample.us:
        time, by = str(minutes), " * 60 min/h / 7.481 gal/ft³ * 12 in/ft"
        per = " × 60 / 7.481 × 12"
    q = flow + room / 60 / minutes
    draft.ask(f"""Which rain can pump, pit and yard just bear?

        What the pump moves, and what finds room in the time of the burst.
        q = Q + V / T
        {gpm(flow)} + {gal(room)} / {time} = {draft.answer("borne", q, "gpm")}

        The rational formula the other way.
        i = q / (C * A){by}
        {gpm(q)} / ({share:g} × {ft2(area)}){per} = {draft.answer("rain", rain, "in_per_h")}""")


def _chances(draft: Draft, rows: list[str], said: list[str], years: FloatArray) -> None:
    """How rare that rain is, the chance of more, and the same where rain is heavier."""
    rare = years[0]
    once, plan = (-np.expm1(-n / rare) for n in (1, _PLAN))
    draft.ask(f"""How rare is that rain, and how likely is a flood in any one year, and in \
        {_PLAN} years?

        Between two rows of the table.
        {_READ}
        {rows[0]} = {said[0]}

        The chance of one or more in a year.
        p = 1 - e^(-1/N)
        1 - e^(-1 / {rare[0]:.4g}) = {draft.answer("yearly_probability", once[0], "", *once)}

        And in {_PLAN}: once in N years is no promise of N dry years.
        p = 1 - e^(-{_PLAN}/N)
        1 - e^(-{_PLAN} / {rare[0]:.4g}) = \
        {draft.answer("plan_probability", plan[0], "", *plan)}""")
    draft.ask(f"""How rare is a flood if all rain is {_HEAVIER - 1:.0%} heavier than the table says?

        Then the same water comes with a rain that the table calls smaller by as much.
        i / {_HEAVIER:g}, then {_READ}
        {rows[1]} = {said[1]}""")
