"""One record for whatever is found: its numbers in either system, its words, its table."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import drainpump as dp
from drainpump.findings import at_most, findings_table, found
from tests.problems import r1_line

FLOW = dp.Finding(code="flow_short", where="A on 2 in", value=20, limit=35, unit="gpm",
                  text="flow 20 gpm, 35 gpm needed", mend="take a wider pipe")  # fmt: skip


def test_it_says_what_helps_and_shows_where_it_stands() -> None:
    assert str(FLOW) == "flow 20 gpm, 35 gpm needed; take a wider pipe"
    assert repr(FLOW) == f"Finding(flow_short, A on 2 in, look: {FLOW})"
    assert FLOW._repr_html_() == f"<p>A on 2 in: {FLOW} (look)</p>"


def test_what_is_not_known_is_none_in_json() -> None:
    bare = dp.Finding(code="bad_input", text="an input is NaN", verdict="not_known")
    assert json.loads(json.dumps(bare.to_dict(), allow_nan=False)) == {
        "code": "bad_input", "where": "", "value": None, "limit": None, "unit": "",
        "verdict": "not_known", "text": "an input is NaN", "mend": "", "source": "",
    }  # fmt: skip


def test_the_table_speaks_one_system() -> None:
    table = findings_table([FLOW, dp.Finding(code="share", value=0.5, text="half")], "metric")
    assert table["unit"].tolist() == ["lps", ""]
    # a US gallon is 231 cubic inches
    np.testing.assert_allclose(table["value"], [20 * 231 * 0.0254**3 * 1000 / 60, 0.5], rtol=1e-12)
    assert findings_table([FLOW])["limit"].tolist() == [35]


@given(value=st.floats(0, 1e3) | st.just(float("nan")), limit=st.floats(0, 1e3))
def test_a_verdict_needs_both_numbers(value: float, limit: float) -> None:
    verdict = at_most(value, limit)
    assert (verdict == "not_known") == np.isnan(value)
    assert (verdict == "fine") == (value <= limit)
    assert at_most(value, float("nan")) == "not_known"


@given(si=st.floats(1e-6, 1.0))
def test_numbers_in_si_are_told_in_the_unit(si: float) -> None:
    one = found(si, 2 * si, "gpm", code="flow", text="")
    assert one.in_units("us") is one
    assert one.in_units("metric").value == pytest.approx(si * 1000, rel=1e-12)
    assert one.limit == pytest.approx(2 * one.value, rel=1e-12)


def test_without_a_shutoff_point_the_pressure_at_shutoff_is_not_known() -> None:
    cut = dp.PumpCurve(name="cut", flow_gpm=[10, 30, 50], head_ft=[19, 12.8, 0])
    checks = dp.side_checks(cut, r1_line(), pressure_class_psi=100)
    (rated,) = checks.of("pressure_class")
    assert np.isnan(rated.value)
    assert (rated.limit, rated.verdict) == (pytest.approx(100), "not_known")
    assert rated.text == (
        "the pressure at shutoff is not known: the curve has no point at no flow, the pipe's class "
        "100 psi (689 kPa) at 73 °F (fittings and joints apart)"
    )
