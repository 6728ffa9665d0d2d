"""A pupil who has the printed sheet, numpy and scipy: every answer of every lesson by other means.

Numbers come out of the sheet's words, by its units; curves are read both by straight lines and by
scipy's own shape-preserving interpolation, crossings are found by brentq, friction by Colebrook's
equation in Lambert's W. Nothing of the library is imported.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from math import log, pi
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from scipy.special import lambertw

#: worth of the units that sheets print, in SI
SI = {
    "ft": 0.3048,
    "in": 0.0254,
    "m": 1.0,
    "mm": 1e-3,
    "gpm": 231 * 0.0254**3 / 60,
    "L/s": 1e-3,
    "gal": 231 * 0.0254**3,
    "L": 1e-3,
    "ft/s": 0.3048,
    "m/s": 1.0,
    "psi": 6894.757293168,
    "kPa": 1e3,
    "ft²": 0.3048**2,
    "m²": 1.0,
    "in/h": 0.0254 / 3600,
    "mm/h": 1e-3 / 3600,
    "min": 60.0,
    "s": 1.0,
    "lb/ft³": 0.45359237 / 0.3048**3,
    "kg/m³": 1.0,
    "ft²/s": 0.3048**2,
    "m²/s": 1.0,
    "ft/s²": 0.3048,
    "m/s²": 1.0,
    "%": 0.01,
    "/h": 1.0,
    "years": 365.25 * 86400,
    "": 1.0,
}
G = 9.80665
_NUMBER = r"(\d+(?:\.\d+)?(?:e-?\d+)?)"

Pair = tuple[Any, Any]
Curve = Callable[[float], float]


def read(text: str, before: str, after: str = "") -> float:
    """The number between two words of a text, with its unit, in SI."""
    units = "|".join(re.escape(u) for u in sorted(SI, key=len, reverse=True) if u)
    found = re.search(rf"{before}\s*{_NUMBER}\s*(?:({units})(?![\w²³/]))?{after}", text)
    assert found, (before, text)
    return float(found[1]) * SI[found[2] or ""]


@dataclass(frozen=True)
class Pipeline:
    """A length of pipe as a sheet prints it."""

    length: float
    bore: float
    roughness: float
    nu: float
    k: float

    def velocity(self, flow: float) -> float:
        return flow / (pi / 4 * self.bore**2)

    def reynolds(self, flow: float) -> float:
        return self.velocity(flow) * self.bore / self.nu

    def velocity_head(self, flow: float) -> float:
        return self.velocity(flow) ** 2 / (2 * G)

    def factor(self, flow: float) -> float:
        """Colebrook solved in closed form (Keady 1998, by Lambert's W); 64/Re where smooth."""
        reynolds = self.reynolds(flow)
        if reynolds < 2000:
            return 64 / reynolds
        a, b = self.roughness / self.bore / 3.7, 2.51 / reynolds
        c = log(10) / (2 * b)
        x = float(lambertw(c * np.exp(a * c)).real) / c - a
        return (b / x) ** 2

    def pipe(self, flow: float) -> float:
        """Head the pipe takes, by Darcy and Weisbach."""
        if flow <= 0:
            return 0.0
        return self.factor(flow) * self.length / self.bore * self.velocity_head(flow)

    def loss(self, flow: float, more: float = 0.0) -> float:
        return self.pipe(flow) + (self.k + more) * self.velocity_head(flow)


class Sheet:
    """A worksheet's printed words and table, and what a pupil makes of them."""

    def __init__(self, words: str, questions: str, table: Any) -> None:
        self.words, self.questions = words, questions
        self.table = table
        if table and "head" in table[0][1]:
            columns = [re.search(r"\((.*)\)", name)[1] for name in table[0]]  # type: ignore[index]
            rows = np.array([[float(x) for x in row] for row in table[1:]])
            self.flows, self.heads = (rows * [SI[u] for u in columns]).T

    def pump(self, head: float = 1.0, flow: float = 1.0) -> tuple[Curve, Curve]:
        """The curve by straight lines and by the smooth one, its axes scaled."""
        x, y = self.flows * flow, self.heads * head
        return (lambda q: float(np.interp(q, x, y))), PchipInterpolator(x, y)

    def cross(self, line: Curve, head: float = 1.0, flow: float = 1.0) -> Pair:
        """Where each reading of the pump meets a line."""
        last = self.flows[-1] * flow
        return tuple(  # type: ignore[return-value]
            brentq(lambda q, p=p: p(q) - line(q), 0, last, xtol=1e-14)
            for p in self.pump(head, flow)
        )

    def pipeline(self, text: str | None = None) -> Pipeline:
        words = self.words if text is None else text
        bore = read(words, r"true bore")
        return Pipeline(
            length=read(words, "", r" of \S+ in Sch") if " of " in words else 0.0,
            bore=bore,
            roughness=read(words, "roughness"),
            nu=read(self.words, "viscosity"),
            k=float(re.search(rf"\bK {_NUMBER}", words)[1]),  # type: ignore[index]
        )

    def asked(self, pipe: Pipeline, lift: float | None = None) -> Curve:
        up = read(self.words, r"\blift") if lift is None else lift
        return lambda q: up + pipe.loss(q, 1.0)


def _one(value: float) -> Pair:
    return value, value


def head_is_height(s: Sheet) -> dict[str, Pair]:
    lift = read(s.words, "outlet") - read(s.words, "off level")
    return {
        "lift": _one(lift),
        "pressure": _one(read(s.words, "density") * G * lift),
        "left": _one(read(s.words, "shutoff head of the pump") - lift),
    }


def a_pump_has_a_curve(s: Sheet) -> dict[str, Pair]:
    at, left = read(s.questions, "make at"), read(s.questions, "head of")
    return {
        "head": tuple(p(at) for p in s.pump()),
        "last_head": _one(s.heads[-1]),
        "flow": s.cross(lambda q: left),
    }  # type: ignore[dict-item]


def the_line_pushes_back(s: Sheet) -> dict[str, Pair]:
    pipe, q = s.pipeline(), read(s.words, r"-?\bflow")
    fittings, jet = pipe.k * pipe.velocity_head(q), pipe.velocity_head(q)
    return {
        "velocity": _one(pipe.velocity(q)),
        "flows": _one("turbulently" if pipe.reynolds(q) > 4000 else "smoothly"),  # type: ignore[arg-type]
        "exit": _one(jet),
        "pipe": _one(pipe.pipe(q)),
        "fittings": _one(fittings),
        "head": _one(read(s.words, r"\blift") + pipe.pipe(q) + fittings + jet),
    }


def where_they_cross(s: Sheet) -> dict[str, Pair]:
    line = s.asked(s.pipeline())
    flow = s.cross(line)
    lift = read(s.words, r"\blift")
    return {
        **{f"asked_{i}": _one(line(q)) for i, q in enumerate(s.flows)},
        "flow": flow,
        "head": (line(flow[0]), line(flow[1])),
        "guess": s.cross(lambda q: lift),
    }


def pipe_against_pump(s: Sheet) -> dict[str, Pair]:
    story, given = s.words.split("\n", 1)
    pipe = s.pipeline(given)
    wide = Pipeline(pipe.length, read(story, "true bore"), pipe.roughness, pipe.nu, pipe.k)
    now, larger = s.cross(s.asked(pipe)), s.cross(s.asked(wide))
    faster = s.cross(s.asked(pipe), head=1.21, flow=1.1)
    return {
        "flow": now,
        "pipe_flow": larger,
        "pipe_velocity": tuple(wide.velocity(q) for q in larger),  # type: ignore[dict-item]
        "pump_flow": faster,
        "better": tuple(  # type: ignore[dict-item]
            "the pipe" if a > b else "the pump" for a, b in zip(larger, faster, strict=True)
        ),
    }


def fittings_and_valves(s: Sheet) -> dict[str, Pair]:
    count, k_elbow, k_valve = (
        read(s.words, r"\n"),
        read(s.words, "of K"),
        read(s.words, "valve of K"),
    )
    pipe = Pipeline(
        length=read(s.words, r"roughness[^)]*\),", " long"),
        bore=read(s.words, "true bore"),
        roughness=read(s.words, "roughness"),
        nu=read(s.words, "viscosity"),
        k=0,
    )
    q, each = read(s.words, r"\bflow"), read(s.questions, "", " of pipe an elbow")
    k = count * k_elbow + k_valve
    slope = pipe.pipe(q) / pipe.length
    return {
        "k": _one(k),
        "velocity": _one(pipe.velocity(q)),
        "fittings": _one(k * pipe.velocity_head(q)),
        "equivalent_length": _one(k * pipe.velocity_head(q) / slope),
        "guess": _one(count * each),
        "elbows_length": _one(count * k_elbow * pipe.velocity_head(q) / slope),
    }


def high_points_and_air(s: Sheet) -> dict[str, Pair]:
    up = s.pipeline(re.search(r"up: .*", s.words)[0])  # type: ignore[index]
    down_words = re.search(r"down: .*", s.words)[0]  # type: ignore[index]
    down_k = float(re.search(rf"\bK {_NUMBER}", down_words)[1])  # type: ignore[index]
    down = Pipeline(read(down_words, "down:"), up.bore, up.roughness, up.nu, down_k)
    crest, fall = read(s.words, "rising"), read(s.words, "falling")

    def siphon(q: float) -> float:
        return crest - fall + up.loss(q) + down.loss(q, 1.0)

    return {
        "top": _one(crest),
        "flow": s.cross(lambda q: max(crest + up.loss(q, 1.0), siphon(q))),
        "siphon_flow": s.cross(siphon),
    }


def pits_and_cycling(s: Sheet) -> dict[str, Pair]:
    area = pi / 4 * read(s.words, "pit", " across") ** 2
    volume = area * (read(s.words, "on level") - read(s.words, "off level"))
    q, most = read(s.words, "inflow"), read(s.words, "pump")
    rest, run = volume / q, volume / (most - q)
    found = {
        "volume": volume,
        "rest": rest,
        "run": run,
        "starts": 3600 / (rest + run),
        "worst_inflow": most / 2,
        "worst_starts": 3600 / (4 * volume / most),
    }
    return {k: _one(v) for k, v in found.items()}


def storms(s: Sheet) -> dict[str, Pair]:
    """The pond by integrating the level in time; the level stays at the rim while water stands."""
    area, runoff = read(s.words, r"\barea"), read(s.words, "whose rain")
    q = area * runoff * read(s.words, r"\brain", " for")
    lasts = read(s.words, r"rain \S+ \S+ for")
    wide = pi / 4 * read(s.words, "pit", " across") ** 2
    rim, off, on = (
        read(s.words, ",", " deep"),
        read(s.words, "off level"),
        read(s.words, "on level"),
    )
    pipe, lift = s.pipeline(), read(s.words, r"\blift")
    flows, ponds = [], []
    for pump in s.pump():

        def moved(level: float, pump: Curve = pump) -> float:
            line = s.asked(pipe, lift - (level - off))
            return brentq(lambda x: pump(x) - line(x), 0, s.flows[-1], xtol=1e-13)

        at_rim = moved(rim)

        def rise(t: float, y: Any, moved: Any = moved) -> list[float]:
            return [(q - moved(min(y[0], rim))) / wide]

        full: Any = lambda t, y: y[0] - rim  # noqa: E731
        full.terminal = True
        start = (on - off) * wide / q
        walk = solve_ivp(rise, (start, lasts), [on], events=full, rtol=1e-9, atol=1e-9)
        ponds.append((lasts - walk.t[-1]) * (q - at_rim))
        flows.append(at_rim)
    return {"inflow": _one(q), "flow": tuple(flows), "pond": tuple(ponds)}  # type: ignore[dict-item]


def trust_and_decline(s: Sheet) -> dict[str, Pair]:
    line, swing = s.asked(s.pipeline()), read(s.words, "tolerance on head")
    measured = read(s.words, "barrel of") / read(s.words, "fills in")
    lost = read(s.questions, "lost")
    low, high = s.cross(line, head=1 - swing), s.cross(line, head=1 + swing)
    said = (
        "below them: look for a fault" if measured < low[1]
        else "above them: look for a fault" if measured > high[1]
        else "within them"
    )  # fmt: skip
    return {
        "measured": _one(measured),
        "flow": s.cross(line),
        "low": low,
        "high": high,
        "verdict": _one(said),  # type: ignore[arg-type]
        "worn": s.cross(line, head=1 - lost),
    }


def where_the_water_comes_from(s: Sheet) -> dict[str, Pair]:
    """Rational formula, weir and orifice of HEC-22, Manning; all in SI."""
    rain = read(s.words, r"\barea") * read(s.words, "whose rain") * read(s.words, "; rain")
    side, deep = read(s.words, "grate of"), read(s.words, "stand")
    clear, opening = read(s.words, "leaves leave"), read(s.words, "side,")
    weir = 3.0 * 0.3048**0.5 * clear * 4 * side * deep**1.5
    orifice = 0.67 * clear * opening * side**2 * (2 * G * deep) ** 0.5
    bore = read(s.words, "drain of")
    area, radius = pi / 4 * bore**2, bore / 4
    pipe = area * radius ** (2 / 3) * read(s.words, "slope") ** 0.5 / read(s.words, "Manning's n")
    grate, pump = min(weir, orifice), read(s.words, "pump moves")
    links = {"the rain": rain, "the grate": grate, "the pipe": pipe, "the pump": pump}
    found = {
        "inflow": rain, "weir": weir, "orifice": orifice, "grate": grate, "pipe": pipe,
        "leaves": min(links.values()), "weakest": min(links, key=lambda name: links[name]),
    }  # fmt: skip
    return {name: _one(value) for name, value in found.items()}  # type: ignore[arg-type]


def how_often_it_may_flood(s: Sheet) -> dict[str, Pair]:
    """Poisson's law of rare events; the table read in ln N."""
    years, rates = np.array([[float(x) for x in row] for row in s.table[1:]]).T
    rates = rates * SI[re.search(r"\((.*)\)", s.table[0][1])[1]]  # type: ignore[index]
    area, lasts = read(s.words, r"\barea") * read(s.words, "whose rain"), read(s.words, "lasts")
    held, damage = read(s.words, "yard hold"), read(s.words, "a flood costs")

    def rare(rain: float) -> float:
        return float(np.exp(np.interp(rain, rates, np.log(years))))

    q, larger = (read(s.words, w) + held / lasts for w in ("pump moves", "would move"))
    now, then = rare(q / area), rare(larger / area)
    spared = read(s.words, "and cost") / (1 / now - 1 / then)
    found = {
        "borne": q, "rain": q / area, "dry_up_to": now * 365.25 * 86400,
        "heavier": rare(q / area / 1.2) * 365.25 * 86400, "larger": then * 365.25 * 86400,
        "yearly_probability": 1 - np.exp(-1 / now), "plan_probability": 1 - np.exp(-10 / now),
        "spared_flood_cost": spared, "verdict": "worth it" if damage > spared else "not worth it",
    }  # fmt: skip
    return {name: _one(value) for name, value in found.items()}  # type: ignore[arg-type]


LESSONS = {
    f.__name__.replace("_", " "): f
    for f in (
        head_is_height, a_pump_has_a_curve, the_line_pushes_back, where_they_cross,
        pipe_against_pump, fittings_and_valves, high_points_and_air, pits_and_cycling, storms,
        trust_and_decline, where_the_water_comes_from, how_often_it_may_flood,
    )
}  # fmt: skip
