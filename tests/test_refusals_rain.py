"""What rain, storms and catchments refuse, and in what words: one row a reason."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

import drainpump as dp
from drainpump.physics import rain as physics
from drainpump.physics import runoff
from tests import refused
from tests.storms import CATCHMENTS, RAIN, storm

TIMES = pd.date_range("2001-05-01", periods=3, freq="5min")
FLOW = dp.Hydrograph(flow_gpm=[0, 30, 0], time_min=[0, 20, 60])
STORMS = dp.Hydrograph(flow_gpm=[[0, 1], [0, 2], [0, 3]], block_min=5)

REFUSED: dict[str, list[tuple[Callable[[], Any], str]]] = {
    "rain, storms and records": [
        (
            lambda: RAIN.nested_storm(block_min=[5, 10]),
            "block_min=[5, 10]: must be one number; all blocks are alike.",
        ),
        (
            lambda: RAIN.nested_storm(block_min=np.nan),
            "block_min=nan: must be one number; all blocks are alike.",
        ),
        (
            lambda: RAIN.nested_storm(block_min=90),
            "block_min=90: must be at most 60 min, the storm's length; choose shorter blocks.",
        ),
        (
            lambda: RAIN.nested_storm(block_min=5, length_min=4),
            "block_min=5: must be at most 4 min, the storm's length; choose shorter blocks.",
        ),
        (
            lambda: RAIN.nested_storm(block_min=5, peak_block=True),
            "peak_block=True: must be a whole number, 1 to 12; count blocks from 1.",
        ),
        (
            lambda: RAIN.nested_storm(block_min=5, peak_block=2.0),
            "peak_block=2.0: must be a whole number, 1 to 12; count blocks from 1.",
        ),
        (
            lambda: RAIN.nested_storm(block_min=5, peak_block=0),
            "peak_block=0: must be a whole number, 1 to 12; count blocks from 1.",
        ),
        (
            lambda: dp.inflow.RainTable(duration_min=[5, 10]),
            "depth and intensity: give exactly one of depth_in, depth_mm, "
            "intensity_in_per_h, intensity_mm_per_h.",
        ),
        (
            lambda: dp.inflow.RainTable(
                duration_min=[5, 10], depth_in=[0.5, 0.8], intensity_in_per_h=[6, 5]
            ),
            "depth and intensity: give exactly one of depth_in, depth_mm, "
            "intensity_in_per_h, intensity_mm_per_h.",
        ),
        (
            lambda: dp.inflow.RainTable(duration_min=[5, 10], depth_in=[0.5, 0.8, 0.9]),
            "RainTable: durations of shape (2,), rain of shape (3,); give two lists of "
            "one length, two rows or more.",
        ),
        (
            lambda: dp.inflow.RainTable(duration_min=[5], depth_in=[0.5]),
            "RainTable: durations of shape (1,), rain of shape (1,); give two lists of "
            "one length, two rows or more.",
        ),
        (
            lambda: dp.inflow.RainTable(duration_min=[0.5, np.nan], depth_in=[0.5, 0.6]),
            "RainTable: a row is missing (NaN); leave the row out.",
        ),
        (
            lambda: dp.inflow.RainFit(a_in_per_h=5, b_min=[8, 9], n=0.8),
            "b_min=[8.0, 9.0]: must be one number; a formula has one of each.",
        ),
        (
            lambda: dp.inflow.RainFit(a_mm_per_h=[5, 6], b_min=8, n=0.8),
            "a_mm_per_h=[5.0, 6.0]: must be one number; a formula has one of each.",
        ),
        (
            lambda: dp.inflow.RainFit(a_in_per_h=5, b_min=8, n=[0.8, 0.9]),
            "n=[0.8, 0.9]: must be one number; a formula has one of each.",
        ),
        (
            lambda: dp.inflow.RainFit(a_in_per_h=5, b_min=8, n=0.8, length_min=np.nan),
            "length_min=nan: must be one number; a formula has one of each.",
        ),
        (
            lambda: dp.inflow.nrcs_storm("IV", depth_in=2),
            "kind='IV': must be one of I, IA, II, III; pick the region's.",
        ),
        (
            lambda: dp.inflow.nrcs_storm("II", depth_in=2, block_min=[15, 30]),
            "block_min=[15, 30]: must divide 24 hours; e.g. 5, 6 or 15 min.",
        ),
        (
            lambda: dp.inflow.nrcs_storm("II", depth_in=2, block_min=7),
            "block_min=7: must divide 24 hours; e.g. 5, 6 or 15 min.",
        ),
        (
            lambda: physics.nrcs_share("II", [-1.0, 0.0]),
            "time: the NRCS distributions span 0 to 24 h; give times within.",
        ),
        (
            lambda: physics.nrcs_share("II", 24 * 3600.0 + 2),
            "time: the NRCS distributions span 0 to 24 h; give times within.",
        ),
        (
            lambda: dp.inflow.Hyetograph(depth_in=0.1, block_min=5),
            "depth_in: must hold one value or more along time; give a list.",
        ),
        (
            lambda: dp.inflow.Hyetograph(depth_in=[], block_min=5),
            "depth_in: must hold one value or more along time; give a list.",
        ),
        (
            lambda: dp.inflow.Hyetograph(depth_in=[0.1, 0.2]),
            "block_min and time_min: give one of the two, the length of all blocks or "
            "the time each begins.",
        ),
        (
            lambda: dp.inflow.Hyetograph(depth_in=[0.1, 0.2], block_min=5, time_min=[0, 5]),
            "block_min and time_min: give one of the two, the length of all blocks or "
            "the time each begins.",
        ),
        (
            lambda: dp.inflow.Hyetograph(depth_in=[0.1], time_min=[0]),
            "block_min: no value given; one block alone needs its length.",
        ),
        (
            lambda: dp.inflow.Hyetograph(depth_in=[0.1, 0.2], block_min=[5, 6]),
            "block_min=[5, 6]: must be one number; all blocks are alike.",
        ),
        (
            lambda: dp.inflow.Hyetograph(depth_in=[0.1, 0.2], block_min=np.nan),
            "block_min=nan: must be one number; all blocks are alike.",
        ),
        (
            lambda: dp.inflow.Hyetograph(depth_in=[0.1, 0.2], time_min=[0, 5, 10]),
            "time_min: shape (3,) for 2 values; give one time for each value.",
        ),
        (
            lambda: dp.inflow.Hyetograph(depth_in=[0.1, 0.2], time_min=[0, 0]),
            "time_min[1]: 0 min does not come after 0 min; sort by time, each time once.",
        ),
        (
            lambda: dp.inflow.Hyetograph(depth_in=[0.1, 0.2], time_min=[np.nan, 5]),
            "time_min[0]: is missing (NaN); fill the gap, or give the stretches on its "
            "two sides as storms of their own.",
        ),
        (
            lambda: dp.inflow.Hyetograph(depth_in=[[0.1, 0.2], [0.1, np.nan]], block_min=5),
            "depth_in[1, 1]: is missing (NaN); fill the gap, or give the stretches on "
            "its two sides as storms of their own.",
        ),
        (
            lambda: dp.Hydrograph(flow_gpm=[1, 2]),
            "block_min and time_min: give one of the two, the length of steady blocks "
            "or the time of each flow.",
        ),
        (
            lambda: dp.Hydrograph(flow_gpm=[1, 2], block_min=5, time_min=[0, 5]),
            "block_min and time_min: give one of the two, the length of steady blocks "
            "or the time of each flow.",
        ),
        (
            lambda: dp.Hydrograph(flow_gpm=[1, 2], time_min=[5, 5]),
            "time_min=[5, 5]: must span some time; give two times or more.",
        ),
        (
            lambda: dp.Hydrograph(flow_gpm=[1, 2], time_min=[5, 4]),
            "time_min[1]: 4 min does not come after 5 min; sort by time, each time once.",
        ),
        (
            lambda: dp.Hydrograph(flow_gpm=[1, 2, 3], time_min=[0, 5, np.nan]),
            "time_min[2]: is missing (NaN); fill the gap, or give the stretches on its "
            "two sides as storms of their own.",
        ),
        (
            lambda: dp.Hydrograph(flow_lps=[1, np.nan], block_min=5),
            "flow_lps[1]: is missing (NaN); fill the gap, or give the stretches on its "
            "two sides as storms of their own.",
        ),
        (dp.inflow.recorded_rain, "depth: give exactly one of depth_in, depth_mm."),
        (
            lambda: dp.inflow.recorded_rain(
                depth_in=pd.Series([0.1], TIMES[:1]), depth_mm=pd.Series([0.1], TIMES[:1])
            ),
            "depth: give exactly one of depth_in, depth_mm.",
        ),
        (
            lambda: dp.inflow.recorded_rain(depth_in=[0.1, 0.2]),
            "depth_in: must be a pandas Series indexed by time (a DatetimeIndex); set the index.",
        ),
        (
            lambda: dp.inflow.recorded_rain(depth_in=pd.Series([0.1, 0.2])),
            "depth_in: must be a pandas Series indexed by time (a DatetimeIndex); set the index.",
        ),
        (
            lambda: dp.inflow.recorded_rain(
                depth_in=pd.Series(["a", "b", "c"], TIMES, dtype=object)
            ),
            "depth_in: must hold numbers, not object; convert the series.",
        ),
        (
            lambda: dp.inflow.recorded_rain(depth_mm=pd.Series([True, False, True], TIMES)),
            "depth_mm: must hold numbers, not bool; convert the series.",
        ),
        (
            lambda: dp.inflow.recorded_rain(depth_in=pd.Series([0.1], TIMES[:1])),
            "depth_in: 1 times; a record needs two or more.",
        ),
        (
            lambda: dp.inflow.recorded_rain(
                depth_in=pd.Series([0.1, 0.2, 0.0], TIMES[:2].append(pd.DatetimeIndex([pd.NaT])))
            ),
            "depth_in: a time is missing (NaT); correct the index.",
        ),
    ],
    "catchments, their time of concentration, and inflow": [
        (
            lambda: dp.inflow.Catchment(area_ft2=np.nan, runoff=0.5, tc_min=5),
            "area_ft2=nan: must be a number; a storm needs every one.",
        ),
        (
            lambda: dp.inflow.Catchment(area_m2=np.nan, runoff=0.5, tc_min=5),
            "area_m2=nan: must be a number; a storm needs every one.",
        ),
        (
            lambda: dp.inflow.Catchment(area_ft2=100, runoff=np.nan, tc_min=5),
            "runoff=nan: must be a number; a storm needs every one.",
        ),
        (
            lambda: dp.inflow.Catchment(area_ft2=100, runoff=0.5, tc_min=np.nan),
            "tc_min=nan: must be a number; a storm needs every one.",
        ),
        (
            lambda: dp.inflow.Catchment(area_ft2=100, runoff=-0.1, tc_min=5),
            "runoff=-0.1: must be from 0 to 1; give the share of the rain that runs off.",
        ),
        (
            lambda: dp.inflow.Catchment(area_ft2=[100, 200], runoff=[0.5, 0.6, 0.7], tc_min=5),
            "Catchment: arrays of shapes (2,), (3,), () do not broadcast; give arrays "
            "of one shape, or scalars.",
        ),
        (
            lambda: dp.inflow.roof(area_ft2=2400, downspouts=0, reaching=1),
            "downspouts=0: must be a whole number, 1 or more; count the downspouts.",
        ),
        (
            lambda: dp.inflow.roof(area_ft2=2400, downspouts=4, reaching=0),
            "reaching=0: must be a whole number, 1 or more; count the downspouts.",
        ),
        (
            lambda: dp.inflow.roof(area_ft2=2400, downspouts=4, reaching=True),
            "reaching=True: must be a whole number, 1 or more; count the downspouts.",
        ),
        (
            lambda: dp.inflow.roof(area_ft2=2400, downspouts=4.0, reaching=1),
            "downspouts=4.0: must be a whole number, 1 or more; count the downspouts.",
        ),
        (
            lambda: dp.inflow.Trench(length_ft=40, width_ft=2, depth_ft=3, voids=1.1),
            "voids=1.1: must be from 0 to 1; about 0.4 for clean stone.",
        ),
        (
            lambda: dp.inflow.Trench(length_ft=[40, 50], width_ft=2, depth_ft=[3, 4, 5], voids=0.4),
            "Trench: arrays of shapes (2,), (), (3,), () do not broadcast; give arrays "
            "of one shape, or scalars.",
        ),
        (
            lambda: dp.inflow.time_of_concentration("rational", length_ft=100, slope=0.01),
            "method='rational': must be one of sheet, shallow, nrcs_lag, kinematic, "
            "kirpich, faa; pick one.",
        ),
        (
            lambda: dp.inflow.time_of_concentration("sheet", length_ft=100, slope=0.01, rain_in=3),
            "n: is needed by 'sheet'; it takes length, n, rain, slope.",
        ),
        (
            lambda: dp.inflow.time_of_concentration("kirpich", length_ft=100, slope=0),
            "slope=0.0: must be more than 0 and at most 1; give fall over length, 0.01 for 1 %.",
        ),
        (
            lambda: dp.inflow.time_of_concentration("kirpich", length_ft=100, slope=1.5),
            "slope=1.5: must be more than 0 and at most 1; give fall over length, 0.01 for 1 %.",
        ),
        (
            lambda: dp.inflow.time_of_concentration("faa", length_ft=100, slope=0.01, runoff=0),
            "runoff=0.0: must be more than 0 and at most 1; give the share of the rain "
            "that runs off.",
        ),
        (
            lambda: dp.inflow.time_of_concentration("faa", length_ft=100, slope=0.01, runoff=1.01),
            "runoff=1.01: must be more than 0 and at most 1; give the share of the "
            "rain that runs off.",
        ),
        (
            lambda: dp.inflow.time_of_concentration(
                "sheet", length_ft=100, slope=0.01, rain_in=3, n=2.1
            ),
            "n=2.1: must be more than 0 and at most 2; give Manning's n of sheet flow, "
            "0.15 for short grass.",
        ),
        (
            lambda: dp.inflow.time_of_concentration(
                "sheet", length_ft=100, slope=0.01, rain_in=3, n="short gras"
            ),
            "n='short gras': not in the table of sheet flow; did you mean 'short grass'?",
        ),
        (
            lambda: dp.inflow.time_of_concentration(
                "nrcs_lag", length_ft=100, slope=0.01, curve_number=101
            ),
            "curve_number=101.0: must be more than 0 and at most 100; usually 40 to 98.",
        ),
        (
            lambda: dp.inflow.time_of_concentration(
                "nrcs_lag", length_ft=100, slope=[0.01, 0.02], curve_number=[70, 80, 90]
            ),
            "time_of_concentration: arrays of shapes (), (3,), (2,) do not broadcast; "
            "give arrays of one shape, or scalars.",
        ),
        (
            lambda: runoff.frequency_factor(101),
            "return_years=101: must be at most 100; the published factors end there.",
        ),
        (
            lambda: dp.inflow.runoff_hydrograph(3, storm()),
            "catchments[0]=3: must be a Catchment; make one with Catchment(...).",
        ),
        (
            lambda: dp.inflow.runoff_hydrograph([CATCHMENTS[0], 3], storm()),
            "catchments[1]=3: must be a Catchment; make one with Catchment(...).",
        ),
        (
            lambda: dp.inflow.runoff_hydrograph([], storm()),
            "catchments: none given; give one Catchment or more.",
        ),
        (
            lambda: dp.inflow.runoff_hydrograph(CATCHMENTS, 3),
            "storm=3: must be a Hyetograph; make one with Hyetograph(...).",
        ),
        (
            lambda: dp.inflow.held_back(3, flow_gpm=1),
            "inflow=3: must be a Hydrograph; make one with Hydrograph(...).",
        ),
        (
            lambda: dp.inflow.held_back(FLOW, flow_gpm=0),
            "flow_gpm=0: must be one number above 0; give what the pipe carries.",
        ),
        (
            lambda: dp.inflow.held_back(FLOW, flow_gpm=[5, 6]),
            "flow_gpm=[5.0, 6.0]: must be one number above 0; give what the pipe carries.",
        ),
        (
            lambda: dp.inflow.held_back(FLOW, flow_gpm=np.nan),
            "flow_gpm=nan: must be one number above 0; give what the pipe carries.",
        ),
        (
            lambda: dp.inflow.held_back(FLOW, flow_gpm=5, room_gal=np.nan),
            "room_gal=nan: must be known; a storm needs every one.",
        ),
        (
            lambda: dp.inflow.held_back(STORMS, flow_gpm=5, room_l=[1, 2]),
            "held_back: arrays of shapes (3,), (2,) do not broadcast; give arrays of "
            "one shape, or scalars.",
        ),
        (lambda: FLOW.plus(flow_lps=np.nan), "flow_lps=nan: must be known; leave it out."),
    ],
}


@refused.each(REFUSED)
def test_what_is_refused_and_how(call: Callable[[], Any], message: str) -> None:
    refused.check(call, message)
