"""Catchments, the water they bring, and what holds it back."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump.errors import InputError
from drainpump.physics import runoff as runoff_tables
from tests.storms import CATCHMENTS, RAIN, inflow, storm

_GPM = 231 * 0.0254**3 / 60
_RATE = 0.0254 / 3600


def test_the_nested_hour_brings_the_stated_water() -> None:
    assert inflow().volume_gal == pytest.approx(3977.1, abs=0.05)
    assert inflow().peak_gpm == pytest.approx(185.66, abs=0.01)
    assert inflow().end_min == pytest.approx(70)


@pytest.mark.parametrize("tc", [5, 10, 15, 20, 30, 60])
def test_peak_of_one_catchment_under_a_nested_storm_is_c_i_a(tc: float) -> None:
    one = dp.inflow.Catchment(area_ft2=1000, runoff=0.8, tc_min=tc)
    rate = RAIN.at(duration_min=tc).intensity_in_per_h
    wanted = 0.8 * rate * _RATE * 1000 * 0.3048**2 / _GPM
    assert dp.inflow.runoff_hydrograph(one, storm()).peak_gpm == pytest.approx(wanted, rel=1e-12)


def test_storms_side_by_side_stay_on_their_axis() -> None:
    many = dp.inflow.nrcs_storm("II", depth_in=[1, 2, 4], block_min=5)
    together = dp.inflow.runoff_hydrograph(CATCHMENTS, many)
    assert together.peak_gpm.shape == (3,)
    for i, depth in enumerate((1, 2, 4)):
        alone = dp.inflow.runoff_hydrograph(
            CATCHMENTS, dp.inflow.nrcs_storm("II", depth_in=depth, block_min=5)
        )
        np.testing.assert_allclose(together.flow_gpm[i], alone.flow_gpm, atol=1e-9)


def test_roof_counts_the_downspouts_that_reach_the_pit() -> None:
    part = dp.inflow.roof(area_ft2=2400, downspouts=6, reaching=2, runoff=0.95)
    assert (part.name, part.tc_min) == ("roof", 5.0)
    assert dp.inflow.roof(area_ft2=9, downspouts=1, reaching=1, name="shed").name == "shed"
    assert part.area_ft2 == pytest.approx(800)
    assert dp.inflow.roof(area_m2=60, downspouts=2, reaching=1).runoff == pytest.approx(0.85)
    with pytest.raises(InputError) as err:
        dp.inflow.roof(area_ft2=2400, downspouts=2, reaching=3)
    assert str(err.value) == (
        "reaching=3: must be at most 2, the downspouts there are; count those that run to the pit."
    )


def test_unknown_surface_names_its_neighbours() -> None:
    with pytest.raises(InputError) as err:
        dp.inflow.Catchment(area_ft2=100, runoff="rooof", tc_min=5)
    assert str(err.value) == "runoff='rooof': not in the table of surfaces; did you mean 'roof'?"
    with pytest.raises(InputError) as err:
        dp.inflow.Catchment(area_ft2=100, runoff=1.1, tc_min=5)
    assert str(err.value) == (
        "runoff=1.1: must be from 0 to 1; give the share of the rain that runs off."
    )


def test_gravity_pipe_caps_what_arrives_and_the_rest_waits() -> None:
    pipe = dp.GravityHandOff(bore_in=4, slope=0.01, n=0.012)
    through = dp.inflow.held_back(inflow(), flow_gpm=pipe.capacity_gpm)
    assert through.peak_gpm == pytest.approx(pipe.capacity_gpm)
    assert through.volume_gal == pytest.approx(inflow().volume_gal)


def test_however_long_it_takes_all_that_waits_comes_through() -> None:
    two = dp.Hydrograph(flow_gpm=[[100, 20, 0], [0, 10, 0]], block_min=5)
    through = dp.inflow.held_back(two, flow_gpm=1e-4)
    np.testing.assert_allclose(through.volume_gal, [600, 50], rtol=1e-12)
    assert through.peak_gpm == pytest.approx(1e-4)
    # 600 gal at 1e-4 gpm, of which the first 5 min wait for nothing
    assert through.end_min == pytest.approx(600 / 1e-4)
    assert dp.inflow.held_back(two, flow_gpm=200).volume_gal == pytest.approx([600, 50])


def test_trench_holds_only_what_its_voids_hold() -> None:
    trench = dp.inflow.Trench(length_ft=20, width_ft=1, depth_ft=1.5, voids=0.4)
    assert trench.storage_gal == pytest.approx(20 * 1.5 * 0.4 * 1728 / 231)
    burst = dp.Hydrograph(flow_gpm=[100, 0], block_min=5)
    kept = dp.inflow.held_back(burst, flow_gpm=20, room_gal=trench.storage_gal)
    assert kept.volume_gal == pytest.approx(100 + trench.storage_gal)
    assert kept.peak_gpm == pytest.approx(20)


def test_hydrographs_add_whatever_their_times() -> None:
    both = inflow() + inflow()
    assert both.volume_gal == pytest.approx(2 * inflow().volume_gal)
    assert inflow().plus(flow_gpm=3).flow_gpm[0] == pytest.approx(3)
    ramp = dp.Hydrograph(flow_gpm=[0, 60], time_min=[0, 60])
    block = dp.Hydrograph(flow_gpm=[6, 0, 12], block_min=10)
    late = dp.Hydrograph(flow_gpm=[4, 4], time_min=[50, 80])
    total = ramp + block + late
    assert total.volume_gal == pytest.approx(1800 + 180 + 120, rel=1e-12)
    assert total.time_min.tolist() == [0, 10, 10, 20, 20, 30, 30, 50, 50, 60, 60, 80]
    assert total.flow_gpm == pytest.approx([6, 16, 10, 20, 32, 42, 30, 50, 54, 64, 4, 4])


def test_hydrograph_refuses_missing_flow() -> None:
    with pytest.raises(InputError) as err:
        dp.Hydrograph(flow_gpm=[1, np.nan], time_min=[0, 5])
    assert str(err.value) == (
        "flow_gpm[1]: is missing (NaN); fill the gap, or give the stretches on its two sides as "
        "storms of their own."
    )


def test_an_unknown_area_or_steady_flow_is_refused() -> None:
    with pytest.raises(InputError) as err:
        dp.inflow.Catchment(area_ft2=[100, np.nan], runoff=0.9, tc_min=5)
    assert str(err.value) == "area_ft2=nan: must be a number; a storm needs every one."
    with pytest.raises(InputError) as err:
        inflow().plus(flow_gpm=np.nan)
    assert str(err.value) == "flow_gpm=nan: must be known; leave it out."
    with pytest.raises(InputError) as err:
        dp.inflow.held_back(inflow(), flow_gpm=20, room_gal=np.nan)
    assert str(err.value) == "room_gal=nan: must be known; a storm needs every one."


def test_time_of_concentration_says_its_formula_and_refuses_what_it_does_not_use() -> None:
    way = dp.inflow.time_of_concentration("kirpich", length_ft=[500, 1000], slope=0.01)
    assert way.tc_min.round(2).tolist() == [5.5, 9.38]
    assert way.formula == (
        "t(min) = 0.0078 L^0.77 S^-0.385, ft (other print 0.007: NRCS NEH 630 ch. 15)"
    )
    with pytest.raises(InputError) as err:
        dp.inflow.time_of_concentration("kirpich", length_ft=500, slope=0.01, n=0.1)
    assert str(err.value) == "n: is not used by 'kirpich'; it takes length, slope."
    with pytest.raises(InputError) as err:
        dp.inflow.time_of_concentration("sheet", length_ft=100, slope=0.01, n="short grass")
    assert str(err.value) == "rain: is needed by 'sheet'; it takes length, n, rain, slope."


_DEPTHS = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=30)


@settings(max_examples=40, deadline=None)
@given(_DEPTHS, st.floats(0.5, 40.0), st.floats(1.0, 20.0))
def test_all_the_rain_that_runs_off_arrives(depth: list[float], tc: float, block: float) -> None:
    rain = dp.inflow.Hyetograph(depth_in=depth, block_min=block)
    one = dp.inflow.Catchment(area_ft2=1000, runoff=0.5, tc_min=tc)
    with warnings.catch_warnings():  # of blocks longer than tc
        warnings.simplefilter("ignore", dp.inflow.RainWarning)
        arrives = dp.inflow.runoff_hydrograph(one, rain)
        turned = dp.inflow.runoff_hydrograph(one, rain.reversed())
    assert arrives.volume_gal == pytest.approx(rain.total_in / 12 * 500 * 1728 / 231, abs=1e-8)
    assert turned.volume_gal == pytest.approx(arrives.volume_gal, abs=1e-8)


@settings(max_examples=25, deadline=None)
@given(_DEPTHS, st.floats(0.1, 10.0))
def test_more_area_scales_the_inflow(depth: list[float], factor: float) -> None:
    rain = dp.inflow.Hyetograph(depth_in=depth, block_min=5)
    small, large = (
        dp.inflow.runoff_hydrograph(
            dp.inflow.Catchment(area_ft2=a, runoff=0.5, tc_min=7), rain
        ).flow_gpm
        for a in (1000.0, 1000.0 * factor)
    )
    np.testing.assert_allclose(large, factor * small, rtol=1e-9, atol=1e-9)


def test_time_of_concentration_by_each_formula_worked_by_hand() -> None:
    # TR-55, 2nd ed., 1986, eq. 3-3: 0.007 (n L)^0.8 / (P2^0.5 s^0.4) h, ft and in
    sheet = dp.inflow.time_of_concentration(
        "sheet", length_ft=150, slope=0.02, n="short grass", rain_in=3, sheet_max_ft=300
    )
    by_hand = 60 * 0.007 * (0.15 * 150) ** 0.8 / (3**0.5 * 0.02**0.4)
    assert sheet.tc_min == pytest.approx(by_hand, rel=1e-12)
    # TR-55 appendix F: at 1 % water runs 1.61 ft/s unpaved; paved 20.3282 √s
    bare, paved = dp.inflow.time_of_concentration(
        "shallow", length_ft=161, slope=0.01, paved=[False, True]
    ).tc_min
    assert bare == pytest.approx(161 / 1.61345 / 60, rel=1e-5)
    assert paved == pytest.approx(161 / 2.03282 / 60, rel=1e-12)
    # FAA AC 150/5320-5 (second-hand): 1.8 (1.1 − C) √L / S^(1/3) min, ft and percent
    faa = dp.inflow.time_of_concentration("faa", length_ft=500, slope=0.0068, runoff=0.10)
    assert faa.tc_min == pytest.approx(1.8 * 1.0 * np.sqrt(500) / np.cbrt(0.68), rel=1e-12)
    # NEH 630 ch. 15, 2010, eq. 15-4: lag / 0.6; CN 80 holds S = 1000/80 − 10 = 2.5 in
    lag = dp.inflow.time_of_concentration("nrcs_lag", length_ft=400, slope=0.02, curve_number=80)
    by_hand = 60 * 400**0.8 * 3.5**0.7 / (1900 * np.sqrt(2)) / 0.6
    assert lag.tc_min == pytest.approx(by_hand, rel=1e-12)
    # HDS-2, 2002, ch. 2: 6.9 / i^0.4 (n L / √S)^0.6 min, mm/h and m
    wave = dp.inflow.time_of_concentration(
        "kinematic", length_m=40, slope=0.01, n=0.2, intensity_mm_per_h=60
    )
    assert wave.tc_min == pytest.approx(6.9 / 60**0.4 * (0.2 * 40 / 0.1) ** 0.6, rel=1e-12)


_NEEDS: dict[str, dict[str, Any]] = {
    "sheet": {"n": 0.15, "rain_in": 3},
    "shallow": {"paved": True},
    "nrcs_lag": {"curve_number": 80},
    "kinematic": {"n": 0.15, "intensity_in_per_h": 2},
    "kirpich": {},
    "faa": {"runoff": 0.5},
}


@pytest.mark.parametrize("method", _NEEDS)
def test_a_formula_takes_just_what_it_needs(method: str) -> None:
    more = _NEEDS[method]
    takes = {"length", "slope"} | {name.partition("_in")[0] for name in more}
    alien = {"runoff": 0.5} if method == "nrcs_lag" else {"curve_number": 80}
    with pytest.raises(InputError) as err:
        dp.inflow.time_of_concentration(method, length_ft=100, slope=0.01, **(more | alien))
    if method == "faa":
        assert str(err.value) == (
            "curve_number: is not used by 'faa'; it takes length, runoff, slope."
        )
    start, _, listed = str(err.value).removesuffix(".").partition("; it takes ")
    assert start == f"{next(iter(alien))}: is not used by {method!r}"
    assert set(listed.split(", ")) == takes


def test_a_surface_brings_its_range_and_source() -> None:
    part = dp.inflow.Catchment(area_ft2=100, runoff="roof", tc_min=5)
    assert part.runoff_range == (0.75, 0.95)
    assert part.runoff == pytest.approx(0.85)
    assert part.source == runoff_tables.coefficient("roof").source != ""
    plain = dp.inflow.Catchment(area_ft2=100, runoff=0.4, tc_min=5)
    assert (plain.runoff_range, plain.source, plain.name) == (None, "", "catchment")
    assert runoff_tables.coefficient(" Roof ") == runoff_tables.coefficient("roof")


def test_what_arrives_keeps_the_storm_and_its_note() -> None:
    rain = dp.inflow.Hyetograph(depth_in=[0.1, 0.4, 0.2], block_min=5, note="a wet hour")
    got = dp.inflow.runoff_hydrograph(CATCHMENTS, rain)
    assert got.rain is rain
    assert got.note == "a wet hour"
    more = got + dp.Hydrograph(flow_gpm=got.flow_gpm, time_min=got.time_min)
    assert (more.note, more.rain) == ("a wet hour", rain)
    np.testing.assert_allclose(more.flow_lps, 2 * got.flow_lps)
    assert got.plus(flow_gpm=3).note == "a wet hour"
    with pytest.raises(TypeError):
        got + 3  # type: ignore[operator]


@pytest.mark.parametrize(
    ("years", "factor"),
    [(2, 1.0), (10, 1.0), (11, 1.1), (25, 1.1), (26, 1.2), (50, 1.2), (51, 1.25), (100, 1.25)],
)
def test_rare_storms_run_off_more(years: float, factor: float) -> None:
    # NRCS training module 206D, rational method; between its steps the higher one holds
    assert runoff_tables.frequency_factor(years) == factor


TABLE = dp.inflow.RainTable(
    duration_min=[5, 10, 15, 30, 60, 120],
    depth_in=[[0.4, 0.63, 0.8, 1.1, 1.4, 1.7], [0.6, 0.93, 1.2, 1.7, 2.2, 2.6]],
    return_year=[2, 10],
)


def test_a_kinematic_time_is_that_of_its_own_rain() -> None:
    way: dict[str, Any] = {"length_ft": [60, 150], "slope": 0.01, "n": "short grass"}
    found = dp.inflow.time_of_concentration("kinematic", table=TABLE, **way)
    assert found.tc_min.shape == (2, 2)
    assert found.status.tolist() == [["ok", "ok"], ["ok", "ok"]]
    for row, depth in enumerate(TABLE.depth_in):
        one = dp.inflow.RainTable(duration_min=TABLE.duration_min, depth_in=depth)
        # by hand: the intensity again and again, until it stays
        tc = np.full(2, 10.0)
        for _ in range(80):
            rate = one.at(duration_min=tc).intensity_in_per_h
            tc = dp.inflow.time_of_concentration("kinematic", intensity_in_per_h=rate, **way).tc_min
        assert found.tc_min[row] == pytest.approx(tc, rel=1e-9)
    assert np.all(found.tc_min[0] > found.tc_min[1])
    fit = dp.inflow.RainFit(a_in_per_h=56.6, b_min=8.6, n=0.823)
    tc = dp.inflow.time_of_concentration("kinematic", table=fit, **way).tc_min
    rate = fit.at(duration_min=tc).intensity_in_per_h
    again = dp.inflow.time_of_concentration("kinematic", intensity_in_per_h=rate, **way)
    assert tc == pytest.approx(again.tc_min, rel=1e-9)


def test_what_lies_outside_the_table_is_said_and_nan_stays_in_its_cell() -> None:
    found = dp.inflow.time_of_concentration(
        "kinematic", table=TABLE, length_ft=[3, 80, 290, np.nan], slope=[0.05, 0.02, 1e-5, 0.01],
        n=[0.011, 0.15, 0.8, 0.1],
    )  # fmt: skip
    assert found.status[0].tolist() == ["below_table", "ok", "beyond_table", "bad_input"]
    assert np.isnan(found.tc_min[:, [0, 2, 3]]).all()
    with pytest.raises(dp.StatusError) as err:
        found.require()
    assert str(err.value) == (
        "Concentration at index (0, 0): below_table; shorter than the rain's shortest duration; "
        "take that as the least"
    )


def test_sheet_flow_ends_after_a_hundred_feet_by_default() -> None:
    way: dict[str, Any] = {"slope": 0.01, "n": 0.15, "rain_in": 3}
    found = dp.inflow.time_of_concentration("sheet", length_ft=[99, 100, 101, 250], **way)
    assert found.status.tolist() == ["ok", "ok", "too_long", "too_long"]
    longer = dp.inflow.time_of_concentration("sheet", length_ft=250, sheet_max_ft=300, **way)
    assert longer.tc_min == pytest.approx(found.tc_min[1] * 2.5**0.8)
    message = (
        r"^length: sheet flow over 350 ft \(107 m\); it gathers within 300 ft at most \(TR-55\), "
        r"take the rest as 'shallow'\.$"
    )
    with pytest.warns(dp.UnusualValueWarning, match=message):
        dp.inflow.time_of_concentration("sheet", length_ft=350, sheet_max_ft=400, **way)
    with pytest.warns(dp.UnusualValueWarning, match=message):
        dp.inflow.time_of_concentration(
            "kinematic", length_ft=350, slope=0.01, n=0.15, intensity_in_per_h=2
        )
    for change, said in (
        ({"method": "kirpich", "sheet_max_ft": 90},
         "sheet_max: is not used by 'kirpich'; leave it out."),
        ({"method": "kirpich", "table": TABLE}, "table: is not used by 'kirpich'; leave it out."),
        ({"method": "kinematic", "n": 0.1, "table": TABLE, "intensity_in_per_h": 2},
         "intensity and table: both given; give the one or the other."),
        ({"method": "kinematic", "n": 0.1, "table": 3},
         "table=3: must be a RainTable or a RainFit; or give intensity_in_per_h."),
    ):  # fmt: skip
        with pytest.raises(InputError) as err:
            dp.inflow.time_of_concentration(length_ft=80, slope=0.01, **change)
        assert str(err.value) == said
