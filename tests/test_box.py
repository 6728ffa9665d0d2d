"""A pump told by two figures: its shape is in doubt, in every answer."""

from __future__ import annotations

import html
import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

import drainpump as dp
from drainpump.parts.pump.likely import BOX_NOTE, box_shapes
from tests.r1 import r1_line

BOX = dp.PumpCurve.from_box("box", flow_max_gph=3300, head_max_ft=24, invented=True)
TWO = dp.PumpCurve(name="box", flow_gpm=[0, 55], head_ft=[24, 0], invented=True)
#: what stands on the same (invented) box in small print
TABLE = dp.PumpCurve(name="T", flow_gpm=[55, 47, 37, 24, 9], head_ft=[0, 5, 10, 15, 20])
LINE = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=180, lift_ft=7.5, k=6.3)


def flow_of(n: float, line: dp.DischargeLine) -> float:
    """Flow (gpm) of one shape, by the formula and the line's own head."""
    return float(
        brentq(lambda q: 24 * (1 - (q / 55) ** n) - line.head(flow_gpm=q).head_ft, 0.01, 55)
    )


def test_half_of_the_probability_lies_evenly_on_each_side_of_the_median() -> None:
    shapes = box_shapes(10_001)
    assert np.median(shapes) == 1.4
    below, above = shapes[shapes < 1.4], shapes[shapes > 1.4]
    assert below.size == above.size
    np.testing.assert_allclose(np.diff(below), 0.7 / 5000.5)
    np.testing.assert_allclose(np.diff(above), 0.8 / 5000.5)
    assert 0.7 < shapes.min() < 0.7001
    assert 2.1999 < shapes.max() < 2.2


def test_the_middle_shape_is_used() -> None:
    q = np.linspace(0, 55, 200)
    np.testing.assert_allclose(BOX.head(flow_gpm=q).head_ft, 24 * (1 - (q / 55) ** 1.4), atol=2e-3)
    assert dp.operating_point(BOX, LINE).flow_gpm == pytest.approx(flow_of(1.4, LINE), abs=1e-3)
    assert dp.operating_point(TWO, LINE).flow_gpm == pytest.approx(
        dp.operating_point(BOX, LINE).flow_gpm
    )


def test_the_band_of_one_such_pump_holds_a_parabola_and_its_own_table() -> None:
    parabola, table = flow_of(2.0, LINE), dp.operating_point(TABLE, LINE).flow_gpm
    assert (parabola, table) == (pytest.approx(27.0, abs=0.1), pytest.approx(22.8, abs=0.1))
    for doubt in (dp.Doubt(), dp.Doubt.usual()):
        for pump in (BOX, TWO):
            flow = dp.band(pump, LINE, doubt).flow_gpm
            assert flow["p10"] < table < parabola < flow["p90"]
    # without any other doubt the band is that of the shapes
    spread = dp.band(BOX, LINE, dp.Doubt(), samples=4096).flow_gpm
    for share, name in ((0.1, "p10"), (0.5, "p50"), (0.9, "p90")):
        n = float(np.quantile(box_shapes(1001), share))
        assert spread[name] == pytest.approx(flow_of(n, LINE), abs=0.15)


@pytest.mark.parametrize("make", [dp.parallel, dp.series])
def test_banks_of_such_pumps_are_in_doubt_too(make) -> None:
    band = dp.band(make([BOX, BOX]), r1_line(lift_ft=12), dp.Doubt(), samples=64)
    assert band.flow_gpm["p90"] > 1.08 * band.flow_gpm["p10"]
    assert make([BOX, BOX]).two_figures


def test_each_of_many_pumps_takes_the_same_shapes_whatever_stands_beside_it() -> None:
    lines = [LINE, r1_line()]
    many = dp.band([TABLE, BOX, TWO], lines, dp.Doubt.usual(), samples=32)
    for i, pump in enumerate((TABLE, BOX, TWO)):
        for j, line in enumerate(lines):
            alone = dp.band(pump, line, dp.Doubt.usual(), samples=32)
            for p, value in alone.flow_gpm.items():
                assert many.flow_gpm[p][i, j] == pytest.approx(value, rel=1e-12)


def test_the_doubt_stands_in_select_explain_and_outlook() -> None:
    sel = dp.select([BOX, TABLE], [LINE], need_gpm=22, doubt=dp.Doubt())
    box = next(c for c in sel.candidates if c.pump is BOX)
    assert 0.5 < box.probability < 0.95
    assert BOX_NOTE in box.notes
    text = dp.explain(BOX, LINE, doubt=dp.Doubt()).text()
    assert "Eight times in ten it is 20" in text
    assert text.endswith(BOX_NOTE)
    wide, narrow = (
        dp.field.outlook(pump, LINE, horizon_year=5, wear_per_year=0.01) for pump in (BOX, TABLE)
    )
    assert wide.p90_gpm[0] - wide.p10_gpm[0] > 4
    assert narrow.p90_gpm[0] == pytest.approx(narrow.p10_gpm[0])


def test_every_answer_says_so() -> None:
    for said in (
        dp.operating_point(BOX, LINE),
        dp.operating_point([TABLE, TWO], LINE),
        dp.band(TWO, LINE, dp.Doubt(), samples=8),
    ):
        assert f"note: {BOX_NOTE}" in repr(said)
        assert repr(said).count(BOX_NOTE) == 1
    assert "From two figures" not in repr(dp.operating_point(TABLE, LINE))
    assert "told by two figures" in str(TWO)
    assert BOX.notes[0] == BOX_NOTE
    assert TABLE.notes == (
        "No point at zero flow: the shutoff head is not known, and nothing is said below 9 gpm "
        "(0.568 L/s).",
    )


PIT = dp.Pit(diameter_in=18, depth_in=36, off_in=6, on_in=14)
READ = dp.field.meter_test(flow_gpm=24, sigma_gpm=0.6)
FIT = {"flow_gpm": [20, 30], "head_ft": [17, 12.5], "sigma_gpm": 1.5, "sigma_ft": 0.5}


@pytest.mark.parametrize(
    "ask",
    [
        lambda pump: pump.head(flow_gpm=[20, 30]),
        lambda pump: dp.cycle(pump, LINE, PIT, inflow_gpm=8),
        lambda pump: dp.drain_back(pump, LINE, PIT, inflow_gpm=5),
        lambda pump: dp.weep_loss(pump, LINE, hole_in=0.125),
        lambda pump: dp.high_point(pump, LINE),
        lambda pump: dp.route(
            pump, LINE, PIT, dp.Hydrograph(flow_gpm=[5, 30, 20, 5, 0], block_min=10)
        ),
        lambda pump: dp.explain(pump, LINE),
        lambda pump: dp.select(pump, LINE, need_gpm=15),
        lambda pump: dp.select(pump, LINE, need_gpm=50),
        lambda pump: dp.side_checks(pump, LINE),
        lambda pump: dp.size.max_length(pump, LINE, need_gpm=15),
        lambda pump: dp.field.outlook(pump, LINE, horizon_year=5, wear_per_year=0.01),
        lambda pump: dp.field.verdict(pump, LINE, READ, dp.Doubt.usual(), samples=16),
        lambda pump: dp.field.diagnose(pump, LINE, measured_gpm=20, sigma_gpm=1),
        lambda pump: dp.field.calibrate(pump, LINE, READ, fit="head_factor"),
        lambda pump: dp.field.match_curves([TABLE, pump], **FIT),
        lambda pump: dp.field.gauge_test(pump, pressure_psi=6, gauge_above_water_ft=2),
    ],
)
def test_so_does_what_is_asked_of_it_in_any_room_in_print_and_in_a_notebook(ask) -> None:
    found = ask(BOX)
    assert str(found).count(BOX_NOTE) == 1
    assert found._repr_html_().count(html.escape(BOX_NOTE)) == 1


def test_it_is_a_part_like_any_other() -> None:
    for part in (BOX, BOX.at_speed(0.9), BOX.replace(flow_max_lpm=200), BOX.worn(head=0.9)):
        again = dp.PumpCurve.from_dict(json.loads(json.dumps(part.to_dict())))
        assert again == part
        assert eval(repr(part), {"PumpCurve": dp.PumpCurve}) == part
    assert BOX.replace(flow_max_lpm=200).run_out_lps == pytest.approx(200 / 60)
    assert repr(BOX) == (
        "PumpCurve.from_box('box', flow_max_gph=3300, head_max_ft=24, invented=True)"
    )
    assert BOX.at_speed(0.5).shutoff_ft == pytest.approx(6)
    assert BOX.origin == "two figures on a box"


@given(st.floats(5, 200), st.floats(5, 100))
def test_every_unit_on_a_box_is_one_pump(gpm: float, ft: float) -> None:
    lps = gpm * 3.785411784 / 60
    metre = ft * 0.3048
    for flow in ({"lps": lps}, {"gph": gpm * 60}, {"lpm": lps * 60}, {"m3ph": lps * 3.6}):
        for head in ({"m": metre}, {"kpa": metre * 9.80665}, {"psi": metre * 9.80665 / 6.894757}):
            pump = dp.PumpCurve.from_box(
                **{f"flow_max_{k}": v for k, v in flow.items()},
                **{f"head_max_{k}": v for k, v in head.items()},
            )
            assert pump.run_out_gpm == pytest.approx(gpm, rel=1e-6)
            assert pump.shutoff_ft == pytest.approx(ft, rel=1e-6)
            typed = dp.PumpCurve(
                **{f"flow_{k}": [0, v] for k, v in flow.items()},
                **{f"head_{k}": [v, 0] for k, v in head.items()},
            )
            assert typed.run_out_gpm == pytest.approx(gpm, rel=1e-6)
            assert typed.shutoff_ft == pytest.approx(ft, rel=1e-6)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: dp.PumpCurve.from_box(flow_max_gpm=50),
            "head_max: no value given; give exactly one of head_max_ft, head_max_m.",
        ),
        (
            lambda: dp.PumpCurve.from_box(flow_max_gph=50, flow_max_gpm=50, head_max_ft=9),
            "flow_max_gpm=50 and flow_max_gph=50: more than one unit given; give exactly one of "
            "flow_max_gpm, flow_max_lps, flow_max_gph.",
        ),
        (
            lambda: dp.PumpCurve.from_box(flow_max_gph=0, head_max_ft=9),
            "flow_max_gph=0: must be one number above 0; give the figure on the box.",
        ),
        (
            lambda: dp.PumpCurve.from_box(flow_max_gph=[1, 2], head_max_ft=9),
            "flow_max_gph=[1, 2]: must be one number above 0; give the figure on the box.",
        ),
        (
            lambda: dp.PumpCurve(flow_gph=[0, -3], head_ft=[9, 8]),
            "flow_gph[1]=-3: must be from 0 gal/h to 9510194 gal/h; give the flow.",
        ),
        (
            lambda: dp.PumpCurve(flow_gpm=[0, 3], head_ft=[9, 8], origin="a guess"),
            "origin='a guess': must be one of ('points', 'table', 'picture', 'box', 'learned'); "
            "pick one.",
        ),
        (
            lambda: dp.PumpCurve(flow_gpm=[0, 3], head_ft=[9, 8], learned={"head": [1, 1]}),
            "learned=['head']: must hold head, flow, shape; give what learn(...) found.",
        ),
    ],
)
def test_refused(call, message) -> None:
    with pytest.raises(dp.InputError) as err:
        call()
    assert str(err.value) == message


def test_a_box_stands_in_a_job() -> None:
    job = dp.Job(pumps=[BOX], lines=[LINE], need_gpm=20)
    again = dp.Job.from_dict(json.loads(json.dumps(job.to_dict())))
    assert again.pumps == job.pumps
    assert "The curve of box comes from two figures on a box." in dp.report(again).to_text()


def test_what_to_measure_next_is_the_shape() -> None:
    found = dp.sensitivity(BOX, LINE, dp.Doubt.usual(), need_gpm=24)
    assert found.input[0] == "shape of the curve"
    assert found.measure[0].startswith("get the curve")
    low, high = (flow_of(float(np.quantile(box_shapes(1001), p)), LINE) for p in (0.159, 0.841))
    assert found.flow_at_minus_gpm[0] == pytest.approx(low, abs=0.15)
    assert found.flow_at_plus_gpm[0] == pytest.approx(high, abs=0.15)
    assert (
        found.text[0]
        == f"shape of the curve: one sigma moves the flow by {(high - low) / 2:.1f} gpm"
    )
    assert 0.6 < found.variance_share[0] < 1
    assert 0.85 < found.variance_share.sum() < 1.1
    assert dp.sensitivity(BOX, LINE, dp.Doubt()).input.tolist() == ["shape of the curve"]
