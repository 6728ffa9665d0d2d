"""What is marked in the pictures besides the curves: tests, lines out of reach, ground, floats."""

from __future__ import annotations

import re

import numpy as np
import pytest
from matplotlib.axes import Axes

import drainpump as dp
from drainpump import plots
from tests.pictures import BUCKET, LINE, PIT
from tests.problems import PUMP_A, r1_line, r1_pit
from tests.test_profile import hump


def said(ax: Axes) -> list[str]:
    return [t.get_text().replace("\n", " ") for t in ax.texts]


def test_measured_points_stand_on_the_line_at_their_own_level() -> None:
    ax = plots.duty(PUMP_A, LINE, PIT, tests=[BUCKET], need_gpm=30)
    (mark,) = (x for x in ax.lines if x.get_marker() == "D")
    flow = BUCKET.flow_gpm
    assert mark.get_xdata()[0] == pytest.approx(flow)
    stands = LINE.head(flow_gpm=flow).head_ft - BUCKET.level_above_off_ft
    assert mark.get_ydata()[0] == pytest.approx(stands)
    (bar,) = (x for x in ax.lines if x.get_marker() == "|" and len(x.get_xdata()) == 2)
    assert np.ptp(np.asarray(bar.get_xdata())) == pytest.approx(2 * BUCKET.sigma_gpm)
    assert f"bucket: {flow:.3g} gpm" in said(ax)
    assert "30 gpm needed" in said(ax)


def test_a_line_that_no_pump_reaches_stays_in_sight_and_says_so() -> None:
    high = r1_line(lift_ft=60, name="sixty up")
    ax = plots.duty(PUMP_A, [LINE, high])
    assert "sixty up: no pump reaches it" in said(ax)
    assert "R1" in said(ax)
    assert ax.get_ylim()[1] > high.head(flow_gpm=0).head_ft


def test_profile_shows_ground_frost_and_levels() -> None:
    ground = [(0, 3), (30, 14), (150, 6)]
    ax = plots.profile(hump(), PUMP_A, pit=r1_pit(), ground_ft=ground, frost_depth_ft=2.5)
    drawn = [np.asarray(x.get_xydata()) for x in ax.lines]
    assert any(np.shape(x) == (3, 2) and np.allclose(x, ground) for x in drawn)
    assert any(np.shape(x) == (3, 2) and np.allclose(x, np.array(ground) - [0, 2.5]) for x in drawn)
    assert {"ground", "frost depth 2.5 ft", "pump-on level", "rim of the pit"} <= set(said(ax))
    metric = plots.profile(hump(), PUMP_A, ground_m=np.array(ground) * 0.3048)
    assert any(
        len(x.get_xdata()) == 3 and np.allclose(x.get_xydata(), ground) for x in metric.lines
    )


def test_profile_refuses_frost_without_ground_and_ground_that_turns_back() -> None:
    with pytest.raises(dp.InputError) as err:
        plots.profile(hump(), PUMP_A, frost_depth_ft=2)
    assert str(err.value) == ("profile: frost_depth needs ground_ft or ground_m; give the ground.")
    with pytest.raises(dp.InputError) as err:
        plots.profile(hump(), PUMP_A, ground_ft=[(9, 1), (3, 1)])
    assert str(err.value) == (
        "ground=[(9, 1), (3, 1)]: must be points (distance, height), going on; give [(0, 3), "
        "(150, 5)]."
    )


@pytest.mark.parametrize("siphon", [False, True])
def test_the_energy_line_never_rises(siphon: bool) -> None:
    ax = plots.profile(hump(siphon=siphon), PUMP_A)
    pipe, _, energy, _ = (np.asarray(x.get_ydata()) for x in ax.lines)
    assert (np.diff(energy) <= 1e-9).all()
    if not siphon:
        assert (energy >= pipe - 1e-9).all()


def test_storm_names_the_floats_of_lead_and_lag_and_the_alarm() -> None:
    bank = dp.parallel([PUMP_A, PUMP_A], lag_on_in=18, name="pair")
    flow = dp.Hydrograph(flow_gpm=[10, 60, 40, 5, 0], block_min=10)
    routed = dp.route(bank, LINE, r1_pit(alarm_in=22), flow, pond_area_ft2=500)
    ax = plots.storm(routed)
    _, _, below = ax.figure.axes[:3]
    legend = ax.get_legend()
    assert legend is not None
    assert [t.get_text() for t in legend.get_texts()] == ["inflow", "lead pump", "lag pumps too"]
    lead, lag = ax.collections
    widths = [sum(np.ptp(p.vertices[:, 0]) for p in x.get_paths()) for x in (lead, lag)]
    assert 0 < widths[1] < widths[0]
    named = {re.sub(r" [\d.]+ in$", "", words) for words in said(below)}
    assert {"off", "on", "lag on", "alarm", "rim"} <= named
