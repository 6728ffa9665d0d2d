"""The storm, the starts and the outage, judged by what was drawn."""

from __future__ import annotations

from typing import Any

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.axes import Axes

import drainpump as dp
from drainpump import plots
from drainpump.errors import InputError
from tests.storms import BLOCKS, CATCHMENTS, LINE, POWERED, A, inflow, pit


def heights(ax: Axes) -> list[Any]:
    """Heights of the lines in the order drawn."""
    return [np.asarray(x.get_ydata()) for x in ax.lines]


def panels(ax: Axes) -> tuple[Axes, Axes]:
    """The panels of rain and level that hang on the flows'."""
    _, above, below = ax.figure.axes[:3]
    return above, below


def test_storm_shows_rain_flows_and_level_as_routed() -> None:
    result = dp.route(A, LINE, pit(), inflow(), pond_area_ft2=500)
    ax = plots.storm(result)
    above, below = panels(ax)
    assert ax.get_ylabel() == "Flow (gpm)"
    assert (above.get_ylabel(), below.get_ylabel()) == ("Rain (in/h)", "Water level (in)")
    assert below.get_xlabel() == "Time (min)"
    (rain,) = above.patches
    np.testing.assert_allclose(rain.get_data().values, 12 * np.array(BLOCKS), atol=1e-3)
    came, pumped = heights(ax)
    assert came.max() == pytest.approx(inflow().peak_gpm, rel=0.01)
    assert pumped.max() == pytest.approx(36.52, abs=0.01)
    level, rim, on, off = heights(below)
    assert level.max() == pytest.approx(result.peak_level_in, abs=0.01)
    assert [off[0], on[0], rim[0]] == pytest.approx([6, 16, 30])
    (pond,) = below.collections
    time = pond.get_paths()[0].vertices[:, 0]
    assert np.ptp(time) == pytest.approx(result.pond_min, abs=0.2)
    assert below.texts[0].get_text() == (
        "ponds (dotted) up to 1940 gal, 96.1 min long; 7 starts; longest run 103 min"
    )


def test_storm_marks_outages_and_counts_hours_when_long() -> None:
    day = dp.inflow.runoff_hydrograph(
        CATCHMENTS, dp.inflow.nrcs_storm("II", depth_in=1, block_min=5)
    )
    result = dp.route(A, LINE, pit(), day, pond_area_ft2=500, outages=[(700, 760)])
    ax = plots.storm(result, units="metric")
    _, below = panels(ax)
    assert (ax.get_ylabel(), below.get_xlabel()) == ("Flow (L/s)", "Time (h)")
    (band,) = below.patches
    assert (band.get_x(), band.get_width()) == pytest.approx((700 / 60, 1))
    (right,) = below.child_axes
    assert right.get_ylabel() == "Water level (in)"


def test_storm_draws_on_the_axes_given_and_changes_no_setting() -> None:
    import matplotlib.pyplot as plt

    before = dict(mpl.rcParams)
    _, ax = plt.subplots()
    result = dp.route(A, LINE, pit(), dp.Hydrograph(flow_gpm=[20], block_min=10))
    assert plots.storm(result, ax=ax) is ax
    assert dict(mpl.rcParams) == before
    assert panels(ax)[1].texts[0].get_text().startswith("no ponding; ")


def test_storm_refuses_several_cases() -> None:
    result = dp.route([A], LINE, pit(), inflow())
    with pytest.raises(InputError) as err:
        plots.storm(result)
    assert str(err.value) == (
        "storm: the inputs hold arrays or lists; a plot shows one case, give scalars."
    )


def test_starts_are_the_cycles_and_the_limit_lies_across() -> None:
    ax = plots.starts([A, POWERED], LINE, pit(), starts_max_per_h=20)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("Inflow (gpm)", "Starts (/h)")
    limit = ax.lines[-1]
    for pump, line, worst in zip((A, POWERED), ax.lines[0:4:2], ax.lines[1:4:2], strict=True):
        x, y = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
        at = 60
        wanted = dp.cycle(pump, LINE, pit(), inflow_gpm=x[at])
        assert y[at] == pytest.approx(wanted.starts_per_h)
        assert worst.get_ydata()[0] == pytest.approx(wanted.worst_starts_per_h)
        assert worst.get_xdata()[0] == pytest.approx(wanted.worst_inflow_gpm)
        assert y.max() <= wanted.worst_starts_per_h * (1 + 1e-9)
    assert limit.get_ydata()[0] == pytest.approx(20)
    assert ax.child_axes[0].get_xlabel() == "Inflow (L/s)"


def test_starts_refuses_a_pump_that_moves_nothing() -> None:
    high = dp.straight_line(pipe=dp.Pipe(bore_in=2), length_ft=50, lift_ft=25)
    with pytest.raises(InputError) as err:
        plots.starts(A, high, pit())
    assert str(err.value) == ("starts: no pump moves water through this line; see operating_point.")


def test_outage_minutes_from_both_levels() -> None:
    ax = plots.outage(pit(), inflow_most_gpm=40)
    names = {t.get_color(): t.get_text() for t in ax.texts}
    for name, level, line in zip(("on", "off"), (16, 6), ax.lines, strict=True):
        assert names[line.get_color()] == f"power fails at the {name} level"
        x, y = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
        wanted = dp.outage(pit(), inflow_gpm=x[7], level_in=level).overflow_min
        assert y[7] == pytest.approx(wanted)
    assert ax.get_ylabel() == "Time to overflow (min)"
