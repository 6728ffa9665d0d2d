"""The check-up: what the site should give, and what the tests say it gives."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.doubt.doubt import Doubt
from drainpump.errors import InputError
from drainpump.field.against_prediction import Verdict, verdict
from drainpump.field.reading import FieldTest, check_tests
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import fact
from drainpump.plots.frame import Frame, Style, frame_on, style
from drainpump.plots.margins import key_below
from drainpump.plots.page import Axes, letters
from drainpump.solve.one_case import one_case


def check_up(
    pump: PumpCurve,
    line: DischargeLine,
    tests: FieldTest | Sequence[FieldTest],
    *,
    doubt: Doubt | None = None,
    need_gpm: u.Quantity | None = None,
    need_lps: u.Quantity | None = None,
    ax: Axes | None = None,
    units: u.System = "us",
    twin: bool = True,
) -> Axes:
    """Draw each test's flow with its error beside the flow predicted at its water level.

    Parameters
    ----------
    pump, line : PumpCurve and DischargeLine
        As built.
    tests : FieldTest or sequence of FieldTest
        Flow tests; a gauge has no flow of its own and is refused.
    doubt : Doubt, default ``Doubt.usual()``
        Spread of the prediction: a bar from P10 to P90 with a tick at P50.
    need_gpm, need_lps : float, optional
        Flow needed, drawn as a line.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

    Returns
    -------
    matplotlib Axes
        One row a test: point at the flow, thick bar one sigma, thin bar two.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    >>> ax = dp.plots.check_up(pump, line, dp.field.bucket_test(volume_gal=5, fill_s=16.7))
    >>> ax.get_xlabel()
    'Flow (gpm)'
    """
    one_case("check_up", pump, line, banks=False)
    listed = check_tests(tests)
    if any(t.si.head is not None for t in listed):
        raise InputError("check_up: a gauge has no flow of its own; give flow tests only.")
    spread = Doubt.usual() if doubt is None else doubt
    need = fact("need", "flow", gpm=need_gpm, lps=need_lps)
    found = [verdict(pump, line, test, spread) for test in listed]
    # a prediction may be not known: then the reading alone is drawn
    flows = [float(np.nanmax([one.si.high, one.si.flow + 2 * one.si.sigma])) for one in found]
    frame = frame_on(
        ax, units, twin=twin, x="flow_gpm", size=(7.5, letters(1.9 + 0.8 * len(listed))), grid="x"
    )
    rows = [_row(frame, row, one) for row, one in enumerate(found)]
    key = rows[0]
    if need is not None:
        key.append(frame.need(need.si))
        flows.append(float(need.si))
    frame.ax.set_yticks(range(len(listed)), [f"{i + 1}. {t.kind}" for i, t in enumerate(listed)])
    frame.limits(x=(0.0, 1.06 * max(flows)))
    return key_below(frame, len(listed), key)


def _row(frame: Frame, row: int, found: Verdict) -> list[Any]:
    """Draw one test beside its prediction; return what the key explains."""
    low, middle, high = map(frame.x.shown, (found.si.low, found.si.middle, found.si.high))
    look = style(0)
    bar = frame.ax.barh(
        row - 0.17, high - low, left=low, height=0.26, color="0.82", edgecolor="0.35", hatch="////",
        lw=0.8, label="predicted, P10 to P90",
    )  # fmt: skip
    frame.ax.plot([middle] * 2, [row - 0.3, row - 0.04], color="0.2", lw=2)
    for times, width in ((2, 1.3), (1, 4.0)):
        ends = found.si.flow + times * found.si.sigma * np.array([-1.0, 1.0])
        frame.curve(ends, np.full(2, row + 0.17), Style(look.color), width, solid_capstyle="butt")
    point = frame.mark(found.si.flow, row + 0.17, mec=look.color, mew=1.8,
                       label="measured, one and two sigma")  # fmt: skip
    return [bar, point]
