"""The check-up plot, judged by what it drew."""

from __future__ import annotations

import matplotlib as mpl
import pytest
from matplotlib.axes import Axes

import drainpump as dp
from drainpump import plots
from tests.problems import PUMP_A, r1_line

LINE = r1_line()
PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
TESTS = [
    dp.field.bucket_test(volume_gal=5, fill_s=16.7),
    dp.field.drawdown_test(PIT, from_in=13, to_in=6, run_s=21, inflow_gpm=2),
]


def drawn(ax: Axes) -> list[list[float]]:
    """Flows of the lines in the order drawn: of each row middle, two sigma, one sigma, measured."""
    return [list(map(float, x.get_xdata())) for x in ax.lines]


def test_each_test_is_drawn_with_its_error_beside_its_prediction() -> None:
    ax = plots.check_up(PUMP_A, LINE, TESTS)
    for i, test in enumerate(TESTS):
        middle, two, one, measured = drawn(ax)[4 * i : 4 * i + 4]
        assert measured == pytest.approx([test.flow_gpm])
        for times, bar in ((1, one), (2, two)):
            ends = [test.flow_gpm + s * times * test.sigma_gpm for s in (-1, 1)]
            assert bar == pytest.approx(ends)
        found = dp.field.verdict(PUMP_A, LINE, test, dp.Doubt.usual())
        (predicted,) = ax.containers[i]
        assert predicted.get_x() == pytest.approx(found.low_gpm)
        assert predicted.get_x() + predicted.get_width() == pytest.approx(found.high_gpm)
        assert middle == pytest.approx([found.middle_gpm] * 2)
    assert [t.get_text() for t in ax.get_yticklabels()] == ["1. bucket", "2. drawdown"]


def test_metric_and_the_need() -> None:
    ax = plots.check_up(PUMP_A, LINE, TESTS[0], need_gpm=20, units="metric")
    assert ax.get_xlabel() == "Flow (L/s)"
    _, _, _, measured, need = drawn(ax)
    assert measured == pytest.approx([TESTS[0].flow_lps])
    assert need == pytest.approx([20 * 0.0630901964] * 2)
    assert ax.get_xlim()[1] > TESTS[0].flow_lps


def test_prediction_and_reading_differ_without_colour() -> None:
    ax = plots.check_up(PUMP_A, LINE, TESTS[0])
    ((predicted,),) = ax.containers
    assert predicted.get_hatch()
    legend = ax.get_legend()
    assert legend is not None
    assert {t.get_text() for t in legend.get_texts()} == {
        "predicted, P10 to P90", "measured, one and two sigma",
    }  # fmt: skip


def test_draws_on_the_axes_given_and_changes_no_setting() -> None:
    import matplotlib.pyplot as plt

    before = dict(mpl.rcParams)
    _, ax = plt.subplots()
    assert plots.check_up(PUMP_A, LINE, TESTS, ax=ax) is ax
    assert dict(mpl.rcParams) == before


def test_a_gauge_is_refused() -> None:
    gauge = dp.field.gauge_test(PUMP_A, pressure_psi=5, gauge_above_water_ft=2)
    with pytest.raises(dp.InputError) as err:
        plots.check_up(PUMP_A, LINE, gauge)
    assert str(err.value) == "check_up: a gauge has no flow of its own; give flow tests only."
