"""The profile plot, judged by what it drew."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from matplotlib.axes import Axes

import drainpump as dp
from tests.problems import PUMP_A
from tests.test_profile import hump, line_of


def drawn(ax: Axes) -> tuple[Any, Any, Any]:
    """Distance, pipe and grade line, drawn in that order with the pump-off level after them."""
    pipe, grade, energy, level = ax.lines
    assert (np.diff(np.asarray(energy.get_ydata())) <= 1e-9).all()
    assert list(level.get_ydata()) == [0, 0]
    np.testing.assert_array_equal(pipe.get_xdata(), grade.get_xdata())
    return tuple(map(np.asarray, (pipe.get_xdata(), pipe.get_ydata(), grade.get_ydata())))


def test_pipe_is_the_profile() -> None:
    line = line_of([9, -4, 2, -1])
    ax = dp.plots.profile(line, PUMP_A)
    x, y, _ = drawn(ax)
    frame = line.profile()
    np.testing.assert_allclose(np.interp(frame["distance_ft"], x, y), frame["elevation_ft"])
    assert ax.get_ylabel() == "Elevation above the pump-off level (ft)"


def test_siphon_shows_the_crest_under_the_airs_pressure() -> None:
    ax = dp.plots.profile(hump(siphon=True), PUMP_A)
    x, pipe, grade = drawn(ax)
    crest = int(np.argmax(pipe))
    assert (grade - pipe)[crest] == pytest.approx(-4.56, abs=0.006)
    # at the outlet the jet is free: the grade line comes down to the pipe's end
    assert grade[-1] == pytest.approx(pipe[-1], abs=1e-9)
    (shaded,) = ax.collections
    assert shaded.get_hatch()
    assert x[crest] == pytest.approx(30)


def test_vented_line_runs_part_full_behind_its_crest() -> None:
    ax = dp.plots.profile(hump(), PUMP_A)
    x, pipe, grade = drawn(ax)
    np.testing.assert_allclose(grade[x > 30.1], pipe[x > 30.1])
    op = dp.operating_point(PUMP_A, hump())
    speed_head = op.velocity_mps**2 / (2 * 9.80665) / 0.3048
    assert grade[0] == pytest.approx(op.head_ft - speed_head, rel=1e-9)
    assert not ax.collections


def test_metric_labels_and_far_axes() -> None:
    ax = dp.plots.profile(hump(), PUMP_A, units="metric")
    assert ax.get_xlabel() == "Distance (m)"
    far = {a.get_xlabel() or a.get_ylabel() for a in ax.child_axes}
    assert far == {"Distance (ft)", "Elevation (ft)"}
    assert any("L/s" in t.get_text() for t in ax.texts)


def test_dip_and_crest_are_named() -> None:
    texts = [t.get_text() for t in dp.plots.profile(line_of([9, -4, 2, -1]), PUMP_A).texts]
    assert "high point, vented" in texts
    assert any(t.startswith("dip holds") for t in texts)


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.plots.profile(hump([1.59, 2.047]), PUMP_A)
    assert str(err.value) == (
        "profile: the inputs hold arrays or lists; a plot shows one case, give scalars."
    )
    with pytest.raises(dp.StatusError):
        dp.plots.profile(hump(crest_ft=25.0), PUMP_A)
