"""Fittings: K, f_T, the published spread, and a fitting with a loss of one's own."""

from __future__ import annotations

import fluids
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drainpump.errors import InputError
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.pipe import Pipe, pvc
from drainpump.physics import fittings as f
from drainpump.physics import pipes

INCH = 0.0254


def test_elbow_in_inch_and_a_half_pipe_whatever_the_pipe_is_made_of():
    for pipe in (pvc("1-1/2"), pvc("1-1/2", "80"), Pipe(bore_in=1.59, roughness_ft=8.5e-4)):
        assert pipe.fitting_k("elbow_90") == pytest.approx(0.60, abs=1e-12)


@pytest.mark.parametrize(
    "pipe",
    [p for p in pipes.sizes() if not p.nominal.endswith("mm")],
    ids=lambda p: f"{p.nominal} {p.schedule}",
)
def test_standard_pipe_takes_f_t_of_its_nominal_size(pipe):
    k = pvc(pipe.nominal, pipe.schedule).fitting_k("elbow_90")
    assert k == pytest.approx(30 * float(f.f_t(pipe.nominal)), rel=1e-12)


def test_thin_walled_pipe_is_why_nominal_comes_before_bore():
    # the bore of 1-1/4 in SDR 26, 1.512 in, is nearer to 1-1/2 in steel
    pipe = pvc("1-1/4", "SDR 26")
    assert pipe.fitting_k("elbow_90") == pytest.approx(30 * 0.021)
    assert Pipe(bore_in=pipe.bore_in).fitting_k("elbow_90") == pytest.approx(30 * 0.020)


def test_beyond_the_table_its_ends_hold():
    assert float(f.f_t(0.9)) == float(f.f_t("12"))
    assert float(f.f_t(0.25 * INCH)) == float(f.f_t("1/2"))
    assert float(f.f_t(20 * INCH)) == float(f.f_t("12"))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0.3, 14.0), min_size=1, max_size=6))
def test_a_grid_of_bores_equals_a_loop(bores):
    grid = np.array(bores) * INCH
    assert f.f_t(grid).tolist() == [float(f.f_t(b)) for b in grid]
    for name in ("elbow_90", "union"):
        assert f.fitting_k(name, grid).tolist() == [float(f.fitting_k(name, b)) for b in grid]


@settings(max_examples=40, deadline=None)
@given(st.floats(0.3, 12.0), st.floats(0.0, 2.0))
def test_f_t_never_rises_with_the_bore(bore_in, more_in):
    assert f.f_t((bore_in + more_in) * INCH) <= f.f_t(bore_in * INCH)


@pytest.mark.parametrize("name", f.fitting_names())
def test_every_fitting_has_one_default_inside_its_published_range(name):
    rows = f.published(name)
    assert [row.default for row in rows] == [True] + [False] * (len(rows) - 1)
    assert not rows[0].only_nominal
    for nominal in ("1-1/4", "2", "4"):
        low, high = f.fitting_k_range(name, nominal)
        assert 0 < low <= f.fitting_k(name, nominal) <= high
    assert all(row.low <= row.value <= row.high for row in rows)


def test_range_follows_the_size_of_the_print():
    # the chart value 1.0 for a screwed elbow holds at 2 in only
    bores = np.array([[1.59, 2.047, np.nan]]) * INCH
    low, high = f.fitting_k_range("tee_branch", bores)
    np.testing.assert_allclose(low, [[1.0, 1.0, np.nan]])
    np.testing.assert_allclose(high, [[2.0, 2.0, np.nan]])
    chart = next(row for row in f.published("tee_branch") if row.only_nominal)
    np.testing.assert_array_equal(chart.k(bores), [[np.nan, 1.4, np.nan]])


@pytest.mark.parametrize("name", ["exit", "exit_loss", "outlet", "pipe_exit", "discharge"])
def test_an_exit_is_charged_once(name):
    with pytest.raises(InputError) as err:
        f.published(name)
    assert str(err.value) == (
        f"fitting={name!r}: is not a fitting: the outlet alone charges the exit's K = 1; "
        "leave it out."
    )


@pytest.mark.parametrize("name", ["reducer", "enlarger", "enlargement", "contraction", "increaser"])
def test_a_change_of_bore_wants_its_two_bores(name):
    with pytest.raises(InputError) as err:
        f.published(name)
    assert str(err.value) == (
        f"fitting={name!r}: has no K without its two bores; compute it with reducer_k and "
        "give it as k of the run whose side you name."
    )


def test_check_valves_hold_the_line():
    holds = [name for name in f.fitting_names() if f.is_check_valve(name)]
    assert holds == [
        "check_valve_swing",
        "check_valve_lift",
        "check_valve_ball",
        "foot_valve_hinged",
        "foot_valve_poppet",
    ]


def test_source_says_form_value_and_how_sure():
    assert f.source("adapter") == (
        "K 0.08: common practice, no source: taken as a threaded union (no source)"
    )


def test_equivalent_lengths_of_one_elbow_run_from_2_to_11_ft():
    feet = [e.length / 0.3048 for e in f.equivalent_lengths("elbow_90") if e.nominal == "2"]
    assert (min(feet), max(feet)) == pytest.approx((2.0, 11.0))
    assert f.equivalent_lengths("union") == ()


def test_an_equivalent_length_is_the_printed_row_in_metres():
    # International Residential Code 2018, appendix A, table A.2.2, 90° elbow, 1-1/2 in: 4.02 ft
    screwed = [e for e in f.equivalent_lengths("elbow_90") if e.kind == "screwed"]
    assert screwed[2] == f.EquivalentLength(
        name="elbow_90",
        kind="screwed",
        nominal="1-1/2",
        length=4.02 * 0.3048,
        source="International Residential Code 2018, appendix A, Table A.2.2, screwed fittings",
        certainty="seen",
    )
    assert [e.nominal for e in screwed] == ["1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "4"]
    assert {e.name for e in f.equivalent_lengths("elbow_45")} == {"elbow_45"}
    with pytest.raises(InputError):
        f.equivalent_lengths("elbow")


def test_range_of_the_elbow_is_the_span_of_its_prints():
    # screwed elbow at 2 in: the chart of the Hydraulic Institute's Engineering Data Library,
    # table 3.2, spans 0.85 to 1.15; the smallest K is 30 f_T (Crane TP-410), the largest 1.5
    # (Munson, Young and Okiishi, Fundamentals of Fluid Mechanics, table 8.2); both from memory
    low, high = f.fitting_k_range("elbow_90", "2")
    assert (float(low), float(high)) == pytest.approx((30 * 0.019, 1.5), rel=1e-12)
    chart = next(row for row in f.published("elbow_90") if row.only_nominal)
    assert (chart.low, chart.value, chart.high) == (0.85, 1.0, 1.15)
    # a print's own spread counts too: Table 6-4 of a text gives 0.6 to 0.9 around 0.75
    wide = next(row for row in f.published("elbow_90") if row.low == 0.6)
    assert (wide.value, wide.high, wide.form) == (0.75, 0.9, "K")


@pytest.mark.parametrize("name", f.fitting_names())
@pytest.mark.parametrize("nominal", ["1", "2", "4"])
def test_range_by_hand(name, nominal):
    low, high = [], []
    for row in f.published(name):
        unit = float(f.f_t(nominal)) if row.form == "L/D" else 1.0
        if row.only_nominal in ("", nominal):
            low.append(row.low * unit)
            high.append(row.high * unit)
    got = f.fitting_k_range(name, nominal)
    assert [float(k) for k in got] == pytest.approx([min(low), max(high)], rel=1e-12)


@pytest.mark.parametrize("ratio", [0.05, 0.25, 0.5, 0.8, 0.95, 1.0])
def test_sudden_changes_match_fluids(ratio):
    # Crane TP-410 as `fluids` has it: an opening of 180° is a sudden contraction; Borda-Carnot
    contraction = fluids.fittings.contraction_conical_Crane(Di1=1.0, Di2=ratio, angle=180)
    enlargement = fluids.fittings.diffuser_sharp(Di1=ratio, Di2=1.0)
    # abs: at equal bores both are zero but for rounding
    assert float(f.contraction_k(ratio)) == pytest.approx(contraction, rel=1e-12, abs=1e-15)
    assert float(f.enlargement_k(ratio)) == pytest.approx(enlargement, rel=1e-12, abs=1e-15)
    # K on the smaller bore's velocity is divided by β⁴ on the larger's
    into, out = {"upstream": 1.0, "downstream": ratio}, {"upstream": ratio, "downstream": 1.0}
    for bores, k in ((into, contraction), (out, enlargement)):
        for side, bore in bores.items():
            want = k if bore == ratio else k / ratio**4
            got = f.reducer_k(**bores, side=side)
            assert float(got) == pytest.approx(want, rel=1e-12, abs=1e-15)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: f.contraction_k(0),
            "bore_ratio=0.0: must be more than 0 and at most 1; divide the smaller bore by the "
            "larger.",
        ),
        (
            lambda: f.contraction_k([0.5, -0.1]),
            "bore_ratio=[0.5, -0.1]: must be more than 0 and at most 1; divide the smaller bore "
            "by the larger.",
        ),
        (
            lambda: f.reducer_k(upstream=2, downstream=np.inf, side="upstream"),
            "downstream=inf: must be finite and more than 0; give the true bore.",
        ),
        (
            lambda: f.reducer_k(upstream=[1, -1], downstream=2, side="downstream"),
            "upstream=[1.0, -1.0]: must be finite and more than 0; give the true bore.",
        ),
        (
            lambda: f.f_t([0.05, 0.0]),
            "bore=[0.05, 0.0]: must be in metres, more than 0 and at most 0.9; a nominal size is "
            "given as text, '1-1/2'.",
        ),
        (
            lambda: f.f_t(0.91),
            "bore=0.91: must be in metres, more than 0 and at most 0.9; a nominal size is given "
            "as text, '1-1/2'.",
        ),
        (
            lambda: f.fitting_k("exit", "2"),
            "fitting='exit': is not a fitting: the outlet alone charges the exit's K = 1; "
            "leave it out.",
        ),
        (
            lambda: pvc(2).fitting_k("elbow90"),
            "fitting='elbow90': is not in the table of fittings; did you mean 'elbow_90' or "
            "'elbow_90_long' or 'elbow_45'; or give your own Fitting(k=...).",
        ),
        (
            lambda: f.is_check_valve("check_valve_spring"),
            "fitting='check_valve_spring': is not in the table of fittings; did you mean "
            "'check_valve_swing' or 'check_valve_lift' or 'check_valve_ball'; or give your own "
            "Fitting(k=...).",
        ),
        (
            lambda: f.published("reducer"),
            "fitting='reducer': has no K without its two bores; compute it with reducer_k and "
            "give it as k of the run whose side you name.",
        ),
        (
            lambda: f.fitting_k("elbow_90", 1.5),
            "bore=1.5: must be in metres, more than 0 and at most 0.9; a nominal size is given "
            "as text, '1-1/2'.",
        ),
        (
            lambda: f.f_t("7"),
            "nominal='7': has no f_T; the table holds 1/2, 3/4, 1, 1-1/4, 1-1/2, 2, 2-1/2, 3, 4, "
            "5, 6, 8, 10, 12 in; give the true bore instead.",
        ),
        (
            lambda: f.enlargement_k(1.2),
            "bore_ratio=1.2: must be more than 0 and at most 1; divide the smaller bore by the "
            "larger.",
        ),
        (
            lambda: f.reducer_k(upstream=1, downstream=2, side="small"),
            "side='small': must be 'upstream' or 'downstream'; name K's side.",
        ),
        (
            lambda: f.reducer_k(upstream=0, downstream=2, side="upstream"),
            "upstream=0.0: must be finite and more than 0; give the true bore.",
        ),
        (
            lambda: Fitting(k=1, equivalent_length_ft=3),
            "k=1: must not stand beside an equivalent length; a fitting's loss is one or the "
            "other; drop one of them.",
        ),
        (
            lambda: Fitting(count=-1),
            "count=-1: must be finite and 0 or more; give the number of pieces.",
        ),
        (
            lambda: Fitting(count=[1, -2]),
            "count[1]=-2: must be finite and 0 or more; give the number of pieces.",
        ),
        (
            lambda: Fitting(count="two"),
            "count='two': must be a number or an array of numbers; give the number of pieces.",
        ),
        (
            lambda: Fitting(k=-0.5),
            "k=-0.5: must be finite and 0 or more; give the K of one piece.",
        ),
        (
            lambda: Fitting(name=3),
            "name=3: must be text; leave it out, or say what to call it.",
        ),
    ],
)
def test_what_is_refused_and_how(call, message):
    with pytest.raises(InputError) as err:
        call()
    assert str(err.value) == message


@settings(max_examples=60, deadline=None)
@given(st.floats(0.5, 6.0), st.floats(0.5, 6.0))
def test_a_reducer_loses_the_same_head_on_either_side(up, down):
    k_up = f.reducer_k(upstream=up, downstream=down, side="upstream")
    k_down = f.reducer_k(upstream=up, downstream=down, side="downstream")
    # the same loss on both velocities: K_up·V_up² = K_down·V_down², V as bore to the -2
    assert float(k_up) / up**4 == pytest.approx(float(k_down) / down**4, rel=1e-9)


def test_equal_bores_lose_nothing_and_nan_stays():
    k = f.reducer_k(upstream=[2.0, np.nan, 2.0], downstream=[2.0, 2.0, 4.0], side="upstream")
    np.testing.assert_allclose(k, [0.0, np.nan, 0.5625])


def test_fitting_keeps_what_it_was_given():
    fitting = Fitting(count=[1, 2], k=[0.3, np.nan], name="angle")
    assert fitting.count.tolist() == [1.0, 2.0]
    assert fitting.k[0] == 0.3
    assert np.isnan(fitting.k[1])
    assert fitting.equivalent_length_ft is None
    assert str(Fitting()) == "Fitting(1 piece, K from the table)"
    assert str(Fitting(2, equivalent_length_m=1.5, name="bend")) == (
        "Fitting('bend', 2 pieces, equivalent length 1.5 m (4.92 ft) each)"
    )
    assert Fitting(count=0).count == 0
