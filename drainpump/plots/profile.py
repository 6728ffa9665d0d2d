"""The line from the side: the pipe, the hydraulic grade line, and where the air stands."""

from __future__ import annotations

from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.parts.line import profile as shape
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.parts.scalars import fact
from drainpump.physics import system
from drainpump.physics.constants import GRAVITY
from drainpump.plots.frame import Frame, Label, Style, frame_on, refuse_arrays, said
from drainpump.plots.labels import label_points
from drainpump.plots.page import Axes
from drainpump.solve.high_point import high_point
from drainpump.solve.operating_point import operating_point
from drainpump.units import FloatArray, System

#: points a run is drawn with
_STEPS = 24
_BLUE, _RED = "#004488", "#aa3344"


class _Side(NamedTuple):
    """The line from the side (m), `_STEPS` points to a run."""

    distance: FloatArray
    pipe: FloatArray
    grade: FloatArray
    energy: FloatArray

    def label(self, at: int, height: FloatArray, text: str, color: str = "black") -> Label:
        return Label(self.distance[at], height[at], text, color)


def profile(
    line: DischargeLine,
    pump: Pump,
    ax: Axes | None = None,
    *,
    pit: Pit | None = None,
    ground_ft: Any = None,
    ground_m: Any = None,
    frost_depth_ft: u.Quantity | None = None,
    frost_depth_m: u.Quantity | None = None,
    units: System = "us",
    twin: bool = True,
) -> Axes:
    """Draw the pipe's elevation and the hydraulic grade line at the operating point.

    Parameters
    ----------
    line : DischargeLine
        Drawn as it runs: vented at its high points, or siphoning.
    pump : PumpCurve or bank
        Both scalar: a plot shows one case.
    pit : Pit, optional
        Its on level and rim are drawn too.
    ground_ft, ground_m : array_like, optional
        Points (distance along the line, height above the pump-off level) of the ground.
    frost_depth_ft, frost_depth_m : float, optional
        Drawn that far under the ground, which has to be given.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        The line or the pump holds arrays, or they have no operating point.

    Notes
    -----
    The energy line never rises: it is the head at the pump less the losses.
    The grade line is the height to which water would stand in a tube on the pipe: the
    head at the pump less the losses and the velocity head. Past a vented high point that
    governs, the water runs down part full and its surface is the pipe itself. Where the
    grade line passes under the pipe, the pressure is below that of the air. K of a run is
    spread along it.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6)
    >>> ax = dp.plots.profile(line, pump)
    >>> ax.get_xlabel(), ax.get_ylabel()
    ('Distance (ft)', 'Elevation above the pump-off level (ft)')
    """
    op = operating_point(pump, line)
    refuse_arrays("profile", np.ndim(op.si.flow))
    op.require()
    flow = float(op.si.flow)
    sunk = fact("frost_depth", "not_negative", ft=frost_depth_ft, m=frost_depth_m)
    ground = _ground(ground_ft, ground_m, sunk)
    frost = None if sunk is None else float(sunk.si)
    start = float(np.ravel(pump.si.rise)[0]) if isinstance(pump, PumpBank) else 0.0
    side = _side(line, flow, start)
    distance, pipe, grade, _ = side
    frame = frame_on(ax, units, twin=twin, x="distance_ft", y="elevation_ft")
    frame.ax.set_ylabel(frame.y.label.replace(" (", " above the pump-off level ("))
    frame.curve(distance, pipe, Style("0.15"), lw=3.2, solid_capstyle="round")
    frame.curve(distance, grade, Style(_BLUE, (0, (6, 2))))
    frame.curve(distance, side.energy, Style(_BLUE), lw=0.8)
    low = grade < pipe - 1e-9
    if low.any():
        frame.area(distance, grade, pipe, where=low, facecolor=_RED, alpha=0.25, hatch="....",
                   edgecolor=_RED, lw=0.0)  # fmt: skip
    labels = _labels(line, pump, flow, side, units)
    labels += _around(frame, pit, ground, frost, float(distance[-1]))
    frame.across(0.0, color="0.5", lw=1.0, ls=(0, (1, 2)))
    every = [*pipe, *side.energy, *grade, 0.0, *(label.y for label in labels)]
    height, floor = float(np.ptp(every)), float(min(every))
    frame.limits(
        x=(0.0, 1.02 * float(distance[-1]) or 1.0),
        y=(floor - 0.12 * height, floor + 1.25 * height),
    )
    label_points(frame, labels)
    return frame.done()


def _side(line: DischargeLine, flow: float, start: float) -> _Side:
    """Pipe and grade line along the runs, ``start`` above the pump-off level."""
    arrays, q = line.si.arrays, np.asarray(flow)
    distance, z = shape.points(arrays)
    lost = np.concatenate([[0.0], system.losses(q, arrays)])
    share = np.linspace(0.0, 1.0, _STEPS)

    def along(ends: FloatArray) -> FloatArray:
        return np.concatenate([a + share * (b - a) for a, b in pairwise(ends)])

    pipe = along(z)
    # what each run's end asks, and the outlet; the highest still to come rules each run
    alone = arrays.map(lambda name, a: np.asarray(True) if name == "siphon" else a)
    asks = z[1:] + lost[1:] + arrays.exits * (flow / arrays.area) ** 2 / (2 * GRAVITY)
    asks[-1] = system.head(q, alone)
    rules = np.full(asks.shape, asks[-1])
    if not line.siphon:
        rules = np.maximum.accumulate(asks[::-1])[::-1]
    fast = np.repeat(flow / arrays.area, _STEPS) ** 2 / (2 * GRAVITY)
    energy = np.repeat(rules, _STEPS) - along(lost)
    grade = energy - fast
    if not line.siphon:
        # where air is let in the pipe runs part full, and the water's surface is in it
        grade = np.maximum(grade, pipe)
        energy = np.maximum(energy, pipe)
    return _Side(along(distance), pipe + start, grade + start, energy + start)


def _around(
    frame: Frame, pit: Pit | None, ground: FloatArray | None, frost: float | None, end: float
) -> list[Label]:
    """Draw the pit's levels, the ground and the depth of frost; return their names."""
    labels = []
    if pit is not None:
        for word, level in (("pump-on level", pit.si.on), ("rim of the pit", pit.si.depth)):
            at = float(level - pit.si.off)
            frame.across(at, color="0.5", lw=0.8, ls=(0, (4, 3)))
            labels.append(Label(0.6 * end, at, word, "0.35"))
    for word, depth in (("ground", 0.0), ("frost", frost)):
        if ground is not None and depth is not None:
            look = Style("#7a5f00", "solid" if word == "ground" else (0, (2, 2)))
            frame.curve(ground[:, 0], ground[:, 1] - depth, look, lw=1.4)
            words = word if word == "ground" else f"frost depth {frame.y.said(depth)}"
            labels.append(Label(ground[-1, 0], ground[-1, 1] - depth, words, look.color))
    return labels


def _ground(ft: Any, m: Any, frost: u.Measure | None) -> FloatArray | None:
    """Points of the ground (m), each place behind the one before."""
    if ft is None and m is None:
        if frost is not None:
            raise InputError("profile: frost_depth needs ground_ft or ground_m; give the ground.")
        return None
    given = u.take("ground", guard="any", ft=ft, m=m).si
    known = given.ndim == 2 and given.shape[1] == 2 and not np.isnan(given).any()
    if not known or (np.diff(given[:, 0]) < 0).any():
        raise wrong(
            "ground", ft if m is None else m, "must be points (distance, height), going on",
            "give [(0, 3), (150, 5)]",
        )  # fmt: skip
    return given


def _labels(
    line: DischargeLine, pump: Pump, flow: float, side: _Side, units: System
) -> list[Label]:
    _, pipe, grade, _ = side
    # far along, where the grade line stands apart from the pipe there
    far = int(0.75 * len(pipe))
    apart = abs(grade[far] - pipe[far]) > 0.04 * np.ptp([*pipe, *grade])
    words = f"hydraulic grade line at {said(flow, 'gpm', units)}; thin: energy line"
    labels = [side.label(far if apart else 0, grade, words, _BLUE)]
    kinds = shape.kinds(shape.points(line.si.arrays)[1])
    water = shape.dips(line.si.arrays)
    for run in range(1, len(line.runs)):
        last = run * _STEPS - 1
        held = water[run - 1 : run + 1].sum()
        if kinds[run] == "high point":
            pressure = _pressure(line, pump, run, units)
            labels.append(side.label(last, pipe, f"high point{pressure}"))
        elif kinds[run] == "low point" and held > 1e-9:
            labels.append(side.label(last, pipe, f"dip holds {said(held, 'gal', units)}"))
    labels.append(side.label(-1, pipe, "outlet"))
    labels.append(side.label(len(pipe) // 2, np.zeros_like(pipe), "pump-off level", "0.35"))
    gap = pipe - grade
    if gap.max() > 1e-9:
        words = "pressure below the air's"
        labels.append(side.label(int(np.argmax(gap)), 0.5 * (pipe + grade), words, "#882255"))
    return labels


def _pressure(line: DischargeLine, pump: Pump, run: int, units: System) -> str:
    """Pressure head at the high point of a siphoning line, in words."""
    if not line.siphon:
        return ", vented"
    point = high_point(pump, line)
    if point.high_point_run != run:
        return ""
    return f", {said(point.si.high_point_head, 'ft', units)} of pressure head"
