"""The duty to shop for: a pump of it keeps the limits, a weaker one does not, by plain routing."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import drainpump as dp
from tests.test_choose_storms import PIT, water

LINES = [dp.straight_line(pipe=dp.pvc(s), length_ft=200, lift_ft=7, k=3) for s in ("1-1/2", "2")]
DRY = dp.Limits(pond_depth_max_in=1.0, pond_max_min=45)


def kept(flow_gpm: float, line: dp.DischargeLine, storms: dp.Hydrograph) -> Any:
    """Whether a pump of one flow at any head keeps each storm."""
    pump = dp.PumpCurve(flow_gpm=[0, 0.9995 * flow_gpm, flow_gpm], head_ft=[300, 300, 0])
    found = dp.route(pump, line, PIT, storms, pond_area_ft2=800)
    return (found.peak_pond_in <= 1) & (found.pond_min <= 45)


@pytest.mark.parametrize("area", [900, 1800, 3200])
def test_the_limits_just_hold(area: float) -> None:
    storms = water(area)
    found = dp.size.least_pump(LINES, PIT, storms, DRY, pond_area_ft2=800)
    assert found.status.tolist() == ["ok", "ok"]
    for flow, head, line in zip(found.flow_gpm, found.head_ft, LINES, strict=True):
        assert kept(1.002 * flow, line, storms).all()
        assert not kept(0.99 * flow, line, storms).all()
        assert head == pytest.approx(line.head(flow_gpm=flow).head_ft)
    # a pump bought for that duty serves, and more: high water asks less lift of it
    flow, head = found.flow_gpm[1], found.head_ft[1]
    for share, serves in ((1.03, True), (0.6, False)):
        bought = dp.PumpCurve(
            name="bought", flow_gpm=[0, share * flow, 1.5 * share * flow],
            head_ft=[1.3 * head, head, 0.2 * head],
        )  # fmt: skip
        lax = DRY.replace(without=["velocity_min", "velocity_max", "range_share_max"])
        sel = dp.select(bought, LINES[1], pit=PIT, storms=storms, limits=lax, pond_area_ft2=800)
        assert (sel.best is not None) == serves


def test_only_the_storms_up_to_a_return_period_count() -> None:
    storms = water(1800)
    found = [
        float(dp.size.least_pump(LINES[1], PIT, storms, DRY.replace(dry_up_to_year=most),
                                 pond_area_ft2=800).flow_gpm)
        for most in (2, 10, 100)
    ]  # fmt: skip
    assert (np.diff(found) > 0).all()


def test_none_needed_is_said_and_a_stricter_limit_asks_for_more() -> None:
    drop = dp.Hydrograph(flow_gpm=[1, 1], time_min=[0, 5])
    one = dp.size.least_pump(LINES[0], PIT, drop, DRY, pond_area_ft2=800)
    assert (one.status, one.flow_gpm) == ("none_needed", 0)
    # the pump starts at the rim, where all that stands above is over the overflow's level
    late = PIT.replace(on_in=41.99)
    burst = dp.Hydrograph(flow_gpm=[500, 500], time_min=[0, 5])
    never = dp.Limits(pond_max_min=0)
    found = dp.size.least_pump([LINES[1]], late, burst, never, pond_area_ft2=10)
    assert found.status.tolist() == ["ok"]
    weir = dp.size.least_pump([LINES[1]], late, burst, dp.Limits(pond_depth_max_in=0.5),
                              pond_area_ft2=10)  # fmt: skip
    assert weir.flow_gpm[0] <= found.flow_gpm[0]
    with pytest.raises(dp.InputError) as err:
        dp.size.least_pump(LINES, PIT, drop, 3)  # type: ignore[arg-type]
    assert str(err.value) == "limits=3: must be a Limits; make one with Limits(...)."


def test_a_greater_flow_keeps_the_limits_too() -> None:
    # at 33.6 gpm the pit happens to be low when the burst comes, at 34 gpm it does not
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6)
    pit = dp.Pit(diameter_in=24, depth_in=42, off_in=8, on_in=20)
    burst = dp.Hydrograph(flow_gpm=[10, 90, 30, 5, 0], block_min=10)
    limits = dp.Limits(pond_depth_max_in=1)
    least = dp.size.least_pump(line, pit, burst, limits, pond_area_ft2=800).flow_gpm
    flows = least * np.linspace(1.0002, 1.5, 40)
    pumps = [dp.PumpCurve(flow_gpm=[0, 0.9995 * q, q], head_ft=[50, 50, 0]) for q in flows]
    found = dp.route(pumps, [line], pit, burst, pond_area_ft2=800)
    assert (found.peak_pond_in <= 1).all()
