"""Units: exact factors, one spelling of two, what is refused, what is warned about."""

from __future__ import annotations

import datetime
import re
import warnings
from decimal import Decimal
from fractions import Fraction as F

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump import foreign
from drainpump import units as u
from drainpump.foreign import nearest

INCH, FOOT = F(254, 10000), F(3048, 10000)
GALLON = 231 * INCH**3
POUND_FORCE = F("4.4482216152605")

# NIST Special Publication 811 (2008), appendix B.8, and SI prefixes
EXACT = {
    "ft": FOOT,
    "m": F(1),
    "in": INCH,
    "mm": F(1, 1000),
    "ft2": FOOT**2,
    "m2": F(1),
    "ft3": FOOT**3,
    "m3": F(1),
    "gal": GALLON,
    "l": F(1, 1000),
    "gpm": GALLON / 60,
    "lps": F(1, 1000),
    "fps": FOOT,
    "mps": F(1),
    "psi": POUND_FORCE / INCH**2,
    "kpa": F(1000),
    "in_per_h": INCH / 3600,
    "mm_per_h": F(1, 3_600_000),
    "in_per_min": INCH / 60,
    "mm_per_min": F(1, 60_000),
    "f": F(5, 9),
    "c": F(1),
    "s": F(1),
    "min": F(60),
    "h": F(3600),
    "per_h": F(1, 3600),
    "year": F(31_557_600),
    "per_year": F(1, 31_557_600),
    "in_per_year": INCH / 31_557_600,
    "mm_per_year": F(1, 31_557_600_000),
    "w": F(1),
    "wh": F(3600),
    "kwh": F(3_600_000),
    "v": F(1),
    "a": F(1),
}


@pytest.mark.parametrize("suffix", u.UNITS)
def test_each_factor_is_its_definition(suffix):
    assert suffix in EXACT, "a new unit needs its definition here"
    assert u.UNITS[suffix].factor == pytest.approx(float(EXACT[suffix]), rel=4e-16)


def test_twins_point_at_each_other_and_split_the_systems():
    for unit in u.UNITS.values():
        twin = u.UNITS[unit.twin]
        assert twin.twin == unit.suffix
        if twin is not unit:
            assert {unit.system, twin.system} == {"us", "metric"}
        else:
            assert unit.system == "both"


@given(st.floats(-1e6, 1e6), st.sampled_from(sorted(u.UNITS)))
@settings(max_examples=200)
def test_there_and_back_is_the_same_number(number, suffix):
    # the offset of a temperature costs a few bits near zero
    assert u.from_si(u.to_si(number, suffix), suffix) == pytest.approx(number, rel=1e-14, abs=1e-13)


def test_temperatures_have_an_offset():
    assert u.to_si([32.0, 68.0, 104.0, -40.0], "f").tolist() == pytest.approx(
        [0, 20, 40, -40], abs=1e-13
    )


@pytest.mark.parametrize(
    ("name", "suffix"),
    [
        ("length_ft", "ft"),
        ("starts_per_h", "per_h"),
        ("rain_mm_per_h", "mm_per_h"),
        ("rain_in_per_min", "in_per_min"),
        ("worst_starts_per_h", "per_h"),
        ("flow", None),
        ("ft", None),
        ("k_total", None),
        ("", None),
    ],
)
def test_suffix_is_the_longest_unit_at_the_end(name, suffix):
    assert u.suffix_of(name) == suffix


# -- exactly one of two


def test_no_unit_names_both_spellings():
    with pytest.raises(dp.UnitError) as err:
        dp.straight_line(pipe=dp.pvc("2"), lift_ft=6)
    assert str(err.value) == ("length: no value given; give exactly one of length_ft, length_m.")


def test_both_units_echo_what_came():
    with pytest.raises(dp.UnitError) as err:
        dp.straight_line(pipe=dp.pvc("2"), lift_ft=6, length_ft=150, length_m=45.72)
    assert str(err.value) == (
        "length_ft=150 and length_m=45.72: more than one unit given; give exactly one of "
        "length_ft, length_m."
    )


@pytest.mark.parametrize(
    ("call", "mend"),
    [
        (
            dp.operating_point,
            "; known: pump, line, level_above_off_ft, level_above_off_m",
        ),
        (dp.drain_back, "; known: pump, line, pit, inflow_gpm, inflow_lps"),
        (dp.pvc, "; known: nominal, schedule, bore, roughness_ft, roughness_m, hazen_williams_c"),
        (dp.Pit, "; ft: multiply by 12 and call it 'length_in'"),
        (dp.Run, "; did you mean 'length_ft'?"),
        (dp.Fitting, "; known: count, k, name, equivalent_length_ft, equivalent_length_m"),
    ],
)
def test_a_misspelt_keyword_is_a_type_error(call, mend):
    with pytest.raises(TypeError) as err:
        call(lenght_ft=3)
    assert str(err.value) == (
        f"{call.__name__}() got an unexpected keyword argument 'lenght_ft'{mend}"
    )


def test_a_quantity_without_its_unit_is_a_type_error():
    with pytest.raises(TypeError) as err:
        dp.Run(pipe=dp.pvc("2"), length=3)
    assert str(err.value) == (
        "Run() got an unexpected keyword argument 'length'; has no unit; give 'length_ft' or "
        "'length_m'"
    )


def test_mixing_units_is_allowed_and_each_is_echoed_as_typed():
    pipe = dp.Pipe(bore_mm=40, roughness_ft=5e-6)
    run = dp.Run(pipe=pipe, length_ft=60, rise_m=1.1)
    assert (run.length_ft, run.rise_m, pipe.bore_mm, pipe.roughness_ft) == (60, 1.1, 40, 5e-6)
    assert run.length_m == pytest.approx(18.288, rel=1e-15)
    assert str(run) == "Run(40 mm bore, length 60 ft (18.3 m), rise 1.1 m (3.61 ft))"


def test_a_default_holds_only_where_nothing_is_given():
    assert u.take("x", guard="any", default=("ft", 2.0), ft=None, m=None).get("ft") == 2.0
    assert u.take("x", guard="any", default=("ft", 2.0), ft=0.0, m=None).get("ft") == 0.0
    assert u.maybe("x", guard="any", ft=None, m=None) is None


# -- what is no number


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("30", "'30'"),
        (True, "True"),
        (1 + 2j, "(1+2j)"),
        (object, "<class 'object'>"),
        (Decimal("1.5"), "Decimal('1.5')"),
        (F(1, 3), "Fraction(1, 3)"),
        ({"a": 1}, "{'a': 1}"),
        ([1, None], "[1, None]"),
        (["1", "2"], "['1', '2']"),
        (b"1", "b'1'"),
        (10**400, str(10**400)),
        (datetime.date(2020, 1, 1), "datetime.date(2020, 1, 1)"),
    ],
)
def test_what_is_no_number_is_refused(value, shown):
    with pytest.raises(dp.InputError) as err:
        dp.Run(pipe=dp.pvc("2"), length_ft=value)
    assert str(err.value) == (
        f"length_ft={shown}: must be a number or an array of numbers; "
        "give the length measured along the pipe."
    )


def test_a_ragged_list_is_refused():
    with pytest.raises(dp.InputError) as err:
        dp.Run(pipe=dp.pvc("2"), length_ft=[[1, 2], [3]])
    assert str(err.value) == (
        "length_ft=[[1, 2], [3]]: must be a number or an even array of numbers; "
        "give the length measured along the pipe."
    )


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"length_ft": -3}, "length_ft=-3: must be from 0 ft to 328084 ft"),
        ({"length_m": -0.5}, "length_m=-0.5: must be from 0 m to 100000 m"),
        ({"length_ft": float("inf")}, "length_ft=inf: must be from 0 ft to 328084 ft"),
        ({"length_m": float("-inf")}, "length_m=-inf: must be from 0 m to 100000 m"),
        ({"length_ft": [1, 2, -4]}, "length_ft[2]=-4: must be from 0 ft to 328084 ft"),
        ({"length_ft": [[1, 2], [-1, -4]]}, "length_ft[1, 0]=-1: must be from 0 ft to 328084 ft"),
    ],
)
def test_an_impossible_number_is_refused_with_its_index(given, said):
    with pytest.raises(dp.InputError) as err:
        dp.Run(pipe=dp.pvc("2"), **given)
    assert str(err.value) == f"{said}; give the length measured along the pipe."


def test_an_open_bound_is_worded_as_one():
    with pytest.raises(dp.InputError) as err:
        dp.Pipe(bore_in=0)
    assert str(err.value) == (
        "bore_in=0: must be more than 0 in and at most 196.9 in; give the true inside diameter."
    )
    with pytest.raises(dp.InputError) as err:
        u.measure("size_in", 0, "in", "positive")
    assert str(err.value) == "size_in=0: must be finite and more than 0 in; give a positive number."
    with pytest.raises(dp.InputError) as err:
        u.measure("size_in", float("inf"), "in", "any")
    assert str(err.value) == "size_in=inf: must be finite; give a finite number."


@pytest.mark.parametrize(
    ("spelling", "low", "high", "unit"), [("water_f", 32, 104, "°F"), ("water_c", 0, 40, "°C")]
)
def test_the_bounds_themselves_are_allowed(spelling, low, high, unit):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", dp.UnusualValueWarning)
        for water in (low, high):
            line = dp.straight_line(pipe=dp.pvc("2"), length_ft=9, lift_ft=6, **{spelling: water})
            assert line.head(flow_gpm=20).status == "ok"
    for water in (low - 0.01, high + 0.01):
        with pytest.raises(dp.InputError) as err:
            dp.straight_line(pipe=dp.pvc("2"), length_ft=9, lift_ft=6, **{spelling: water})
        assert str(err.value) == (
            f"{spelling}={water}: must be from {low} {unit} to {high} {unit}; give the water's "
            "temperature, 0 to 40 °C."
        )


def test_nan_passes_and_stays_where_it_is():
    run = dp.Run(pipe=dp.pvc("2"), length_ft=[1, np.nan, 3])
    assert np.isnan(run.length_m).tolist() == [False, True, False]


@pytest.mark.parametrize("kind", [int, float])
def test_a_masked_cell_is_nan_and_no_number(kind):
    lengths = np.ma.array(np.array([1, 2, 3], dtype=kind), mask=[False, True, False])
    run = dp.Run(pipe=dp.pvc("2"), length_ft=lengths)
    assert run.length_ft[[0, 2]].tolist() == [1, 3]
    assert np.isnan(run.length_ft[1])


@pytest.mark.parametrize(
    "array",
    [
        [1, 2],
        (1, 2),
        np.array([1, 2], dtype=np.int8),
        np.array([1, 2], dtype=np.uint64),
        np.array([1, 2], dtype=np.float32),
        np.array([[9, 1], [9, 2]])[:, 1],
    ],
)
def test_any_array_of_numbers_will_do(array):
    length = dp.Run(pipe=dp.pvc("2"), length_ft=array).length_ft
    assert length.tolist() == [1, 2]
    assert length.dtype == np.float64


# -- what is unusual


def test_metres_that_read_like_feet_are_warned_about_once_at_the_callers_line():
    with pytest.warns(dp.UnusualValueWarning) as seen:
        dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_m=26)
    assert [str(w.message) for w in seen] == ["lift_m=26 is 85.3 ft; did you mean lift_ft=26?"]
    assert seen[0].filename == __file__


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (
            lambda: dp.Pipe(bore_in=40),
            "bore_in=40 is 1020 mm; did you mean bore_mm=40?",
        ),
        (
            lambda: dp.Pipe(bore_mm=1.59),
            "bore_mm=1.59 is 0.0626 in; did you mean bore_in=1.59?",
        ),
        (
            lambda: dp.Run(pipe=dp.pvc("2"), length_m=[10, 3000]),
            "length_m[1]=3000 is 9840 ft; did you mean length_ft=3000?",
        ),
        (
            lambda: dp.Run(pipe=dp.pvc("2"), length_ft=90_000),
            "length_ft=90000 is 27400 m, unusually large for yard drainage; is it right?",
        ),
        (
            lambda: dp.PumpCurve(flow_lps=[0, 60], head_ft=[20, 0]),
            "flow_lps[1]=60 is 951 gpm; did you mean flow_gpm=60, or 60 L/min, which is "
            "flow_lps=1?",
        ),
        (
            lambda: dp.PumpCurve(flow_gpm=[0, 3600], head_ft=[20, 0]),
            "flow_gpm[1]=3600 is 227 L/s; did you mean 3600 gal/h, which is flow_gpm=60?",
        ),
        (
            lambda: dp.PumpCurve(flow_gpm=[0, 30, 60], head_ft=[7, 24, 31]),
            "head rises from 7 to 31 ft over the whole curve; are flow and head swapped, or the "
            "rows in the wrong column?",
        ),
        (
            lambda: dp.Pit(diameter_in=450, depth_in=30, off_in=6, on_in=13),
            "diameter_in=450 is 11400 mm; did you mean diameter_mm=450?",
        ),
    ],
)
def test_the_unusual_is_warned_about_with_both_readings(call, said):
    with pytest.warns(dp.UnusualValueWarning) as seen:
        call()
    assert [str(w.message) for w in seen] == [said]
    assert seen[0].filename == __file__


# -- names in a unit that is not read

FLOW = ["flow_gpm", "flow_lps"]
READ = [*FLOW, "flow_lpm", "flow_m3ph", "flow_gph", "head_ft", "head_m", "head_psi"]
RUN = ["pipe", "length_ft", "length_m", "rise_ft", "rise_m"]
PIT = ["diameter_in", "diameter_mm", "off_in", "off_mm"]


@pytest.mark.parametrize(
    ("word", "known", "says"),
    [
        ("flow_lpm", FLOW, "L/min: divide by 60 and call it 'flow_lps'"),
        ("L/min", FLOW, "L/min: divide by 60 and call it 'flow_lps'"),
        ("flow_m3h", FLOW, "m³/h: divide by 3.6 and call it 'flow_lps'"),
        ("flow_m3_per_h", FLOW, "m³/h: divide by 3.6 and call it 'flow_lps'"),
        ("Q (m³/h)", FLOW, "m³/h: divide by 3.6 and call it 'flow_lps'"),
        ("Q (m³/h)", READ, "m³/h: call it 'flow_m3ph'"),
        ("flow_lph", FLOW, "L/h: divide by 3600 and call it 'flow_lps'"),
        ("flow_gph", FLOW, "gal/h: divide by 60 and call it 'flow_gpm'"),
        ("flow_cfm", FLOW, "ft³/min: multiply by 7.48052 and call it 'flow_gpm'"),
        ("flow_igpm", FLOW, "imperial gal/min: multiply by 1.20095 and call it 'flow_gpm'"),
        ("Capacity (gpm)", FLOW, "gpm: call it 'flow_gpm'"),
        ("head_bar", READ, "bar: multiply by 10.1972 and call it 'head_m'"),
        ("psi", ["head_ft", "head_m"], "psi: multiply by 2.30666 and call it 'head_ft'"),
        ("PSI", READ, "psi: call it 'head_psi'"),
        ("shutoff_kpa", ["shutoff_m"], "kPa: divide by 9.80665 and call it 'shutoff_m'"),
        ("length_mm", RUN, "mm: divide by 1000 and call it 'length_m'"),
        ("lenght_mm", RUN, "mm: divide by 1000 and call it 'length_m'"),
        ("length_feet", RUN, "ft: call it 'length_ft'"),
        ("rise_in", RUN, "in: divide by 12 and call it 'rise_ft'"),
        ("diameter_ft", PIT, "ft: multiply by 12 and call it 'diameter_in'"),
        ("off_cm", PIT, "cm: multiply by 10 and call it 'off_mm'"),
        ("power_hp", ["power_w"], "hp: multiply by 745.7 and call it 'power_w'"),
        ("flow_mgd", FLOW, "unit 'mgd' is not read; turn the numbers into those of 'flow_gpm' or "
         "'flow_lps'"),
        ("water_f", ["water_c"], "unit 'f' is not read; turn the numbers into those of 'water_c'"),
        ("power_MW", ["power_w"], "unit 'mw' is not read; turn the numbers into those of "
         "'power_w'"),
        ("power_watts", ["power_w"], "W: call it 'power_w'"),
        ("flow_imp_gpm", FLOW, "imperial gal/min: multiply by 1.20095 and call it 'flow_gpm'"),
        ("Q (UK gal/min)", FLOW, "imperial gal/min: multiply by 1.20095 and call it 'flow_gpm'"),
        ("flow (gph imp.)", READ, "imperial gal/h: divide by 49.9605 and call it 'flow_gpm'"),
        ("volume_uk_gal", ["volume_gal", "volume_l"],
         "imperial gal: multiply by 1.20095 and call it 'volume_gal'"),
        ("flow-lpm", FLOW, "L/min: divide by 60 and call it 'flow_lps'"),
        ("flow-UK gal/min", FLOW, "imperial gal/min: multiply by 1.20095 and call it 'flow_gpm'"),
        ("flw_m3/s", FLOW, "unit 'm3/s' is not read; turn the numbers into those of 'flow_gpm' or "
         "'flow_lps'"),
        ("flowLpm", FLOW, "L/min: divide by 60 and call it 'flow_lps'"),
        ("flows", FLOW, "did you mean 'flow_lps' or 'flow_gpm'?"),
        ("pressure_bar", ["pressure_psi", "pressure_kpa"], "unit 'bar' is not read; turn the "
         "numbers into those of 'pressure_psi' or 'pressure_kpa'"),
        ("length", RUN, "has no unit; give 'length_ft' or 'length_m'"),
        ("lenght_ft", RUN, "did you mean 'length_ft'?"),
        ("pip", RUN, "did you mean 'pipe'?"),
        ("amps", FLOW, "known: flow_gpm, flow_lps"),
        ("velocity", ["velocity_min", "velocity_max"],
         "did you mean 'velocity_min' or 'velocity_max'?"),
    ],
)  # fmt: skip
def test_a_name_in_another_unit_is_answered_by_its_conversion(word, known, says):
    assert nearest(word, known) == says


@given(
    st.sampled_from(["flow", "head", "flwo", "length", "off", ""]),
    st.sampled_from([*u.UNITS, *foreign.FOREIGN]),
    st.sampled_from([FLOW, READ, RUN, PIT]),
)
@settings(max_examples=300, deadline=None)
def test_no_unit_is_ever_offered_as_a_spelling_of_another(stem, unit, known):
    says = nearest(f"{stem}_{unit}", known)
    if says.startswith("did you mean"):
        assert all(name.endswith(f"_{unit}") for name in re.findall("'(.+?)'", says) if "_" in name)


@given(st.text(max_size=150), st.sampled_from([READ, RUN, [], [""]]))
@settings(max_examples=200, deadline=None)
def test_any_name_gets_some_answer(word, known):
    assert nearest(word, known)


def test_the_usual_is_silent():
    dp.straight_line(pipe=dp.Pipe(bore_mm=40), length_m=45, lift_m=1.8, water_c=15)


# -- printing


@pytest.mark.parametrize(
    ("value", "printed"),
    [
        (0.0, "0"),
        (25.678, "25.7"),
        (999.6, "1000"),
        (1234.5, "1230"),
        (1235.5, "1240"),
        (5e-6, "5e-06"),
        (float("nan"), "nan"),
        (float("inf"), "inf"),
        (-2.5, "-2.5"),
    ],
)
def test_a_number_has_three_digits(value, printed):
    assert u.number(value) == printed


def test_a_number_to_be_kept_to_has_four_digits_and_all_before_the_point():
    assert list(map(u.carried, (25.678, 158503.2, 0.0, -2.5, float("inf")))) == [
        "25.68", "158503", "0", "-2.5", "inf",
    ]  # fmt: skip


@given(st.floats(1e-3, 1e4), st.floats(1e-5, 1e-2))
def test_what_is_not_alike_is_not_printed_alike(limit, over):
    for unit in ("fps", "in", ""):
        said, kept = u.apart(limit * (1 + over), limit, unit)
        assert said != kept
        assert u.apart(limit, limit, unit)[0] == (u.both(limit, unit) if unit else u.number(limit))


def test_text_of_arrays():
    assert u.both(np.array([1.0, 2.0]), "m") == (
        "1 to 2 m, shape (2,) (3.28 to 6.56 ft, shape (2,))"
    )
    assert u.text(np.array([np.nan]), "m") == "no values in m, shape (1,)"
    assert u.text(np.empty((0, 3)), "m") == "no values in m, shape (0, 3)"
    assert u.text(1 / 3600, "per_h") == "1/h"
    assert u.both(60.0, "s") == "60 s"


# -- nothing is shared with the caller


def test_an_array_changed_afterwards_changes_nothing():
    given = {
        "length_ft": np.array([10.0, 150.0]),
        "lift_ft": np.array([6.0, 6.0]),
        "k": np.array([1.0, 2.0]),
        "equivalent_length_ft": np.array([3.0, 4.0]),
        "water_f": np.array([60.0, 60.0]),
    }
    bore, lid, count = np.array([1.6, 2.0]), np.array([0.1, 0.2]), np.array([1.0, 2.0])
    line = dp.straight_line(
        pipe=dp.Pipe(bore_in=bore, roughness_ft=0 * bore, hazen_williams_c=100 * lid * 0 + 150),
        outlet=dp.FreeOutlet(lid_ft=lid),
        fittings={"elbow_90": dp.Fitting(count=count, k=count)},
        **given,
    )
    pump_flow, pump_head = np.array([0.0, 50.0]), np.array([20.0, 0.0])
    pump = dp.PumpCurve(flow_gpm=pump_flow, head_ft=pump_head)
    on = np.array([13.0, 14.0])
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=on)
    before = dp.operating_point(pump, line).flow_gpm.tolist(), pit.working_volume_gal.tolist()
    for array in (*given.values(), bore, lid, count, pump_flow, pump_head, on):
        array[:] = 29.0
    after = dp.operating_point(pump, line).flow_gpm.tolist(), pit.working_volume_gal.tolist()
    assert after == before
    # nor does what is echoed
    run = line.runs[0]
    echoes = (line.length_ft, run.length_ft, run.k, run.equivalent_length_ft, line.water_f,
              run.pipe.bore_in, line.outlet.lid_ft, pump.flow_gpm, pump.head_ft, pit.on_in,
              run.k_total, run.losses[0].k)  # fmt: skip
    for echo in echoes:
        assert 29 not in np.ravel(echo)
    # the same sum in another order
    assert dp.operating_point(pump, line).head_ft.tolist() == pytest.approx(
        line.head(flow_gpm=before[0]).head_ft.tolist(), rel=1e-13
    )


def test_what_is_given_out_is_read_only():
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=[10.0, 20.0], lift_ft=6)
    op = dp.operating_point(dp.PumpCurve(flow_gpm=[0, 50], head_ft=[20, 0]), line)
    for array in (line.length_ft, line.length_m, op.flow_gpm, op.head_m, op.status):
        with pytest.raises(ValueError, match=re.escape("read-only")):
            array[...] = 1


def test_a_view_cannot_be_set():
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    with pytest.raises(AttributeError) as err:
        pit.on_in = 20
    assert str(err.value) == "on_in is read-only; build a new Pit instead."
    assert isinstance(dp.Pit.on_in, u.View)
    assert pit.alarm_in is None


def test_a_view_answers_exactly_what_was_typed():
    typed = np.arange(70, 300) / 10
    tripped = u.from_si(u.to_si(typed, "in"), "in")
    assert (tripped != typed).any()  # a trip through metres would show
    assert (dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=typed).on_in == typed).all()


def test_views_come_in_order_and_by_system():
    us = [view.name for view in u.views(dp.LineHead, "us")]
    metric = [view.name for view in u.views(dp.LineHead, "metric")]
    assert us[:3] == ["flow_gpm", "head_ft", "static_ft"]
    assert metric[:3] == ["flow_lps", "head_m", "static_m"]
    assert us[-1] == metric[-1] == "governing_run"


@pytest.mark.parametrize("sign", [1, -1])
def test_a_number_too_large_in_si_is_refused_not_overflowed(sign: int) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.inflow.RainTable(
            return_year=[2, 10], duration_min=[5, sign * 2.9961552247705265e306],
            depth_in=[[1, 2], [1, 2]],
        )  # fmt: skip
    said = str(err.value)
    assert said.startswith(f"duration_min[1]={'-' if sign < 0 else ''}2996155224770526")
    assert said.endswith(": must be finite and more than 0 min; give a positive number.")
