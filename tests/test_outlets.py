"""Outlets: under water, pop-up, hand-off to a gravity pipe; Manning's equation."""

from __future__ import annotations

import fluids
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump.physics import open_channel
from drainpump.physics.constants import GRAVITY
from tests.problems import PUMP_A, r1_line

PIPE = dp.Pipe(bore_in=2.047, roughness_ft=5e-6)


def line(outlet: object) -> dp.DischargeLine:
    return dp.straight_line(pipe=PIPE, length_ft=150, lift_ft=6, k=6.3, outlet=outlet)


@pytest.mark.parametrize(("gap_in", "loss_ft"), [(1 / 16, 4.5), (1 / 8, 1.13), (1 / 4, 0.28)])
def test_gap_of_a_four_inch_lid_at_25_gpm(gap_in: float, loss_ft: float) -> None:
    lid = dp.PopUpOutlet(opening_head_ft=0.1, gap_in=gap_in, body_in=4)
    # half a unit of the last digit
    assert lid.gap_loss(flow_gpm=25).loss_ft == pytest.approx(loss_ft, abs=0.006)


def test_pop_up_takes_the_larger_of_lid_and_gap_and_the_exit_besides() -> None:
    lid = dp.PopUpOutlet(opening_head_ft=0.5, gap_in=0.125, body_in=4)
    for flow in (5.0, 25.0):
        asked = line(lid).head(flow_gpm=flow)
        exit_head = (asked.velocity_mps**2 / (2 * GRAVITY)) / 0.3048
        gap = lid.gap_loss(flow_gpm=flow)
        assert asked.outlet_ft == pytest.approx(exit_head + max(0.5, gap.loss_ft), rel=1e-12)
        assert gap.head_ft == pytest.approx(max(0.5, gap.loss_ft))
    assert lid.gap_loss(flow_gpm=5).loss_ft < 0.5 < lid.gap_loss(flow_gpm=25).loss_ft


def test_pop_up_goes_through_the_solver_as_any_outlet() -> None:
    lid = dp.PopUpOutlet(opening_head_ft=0.25, gap_in=[0.0625, 0.125, 0.5], body_in=4)
    op = dp.operating_point(PUMP_A, line(lid))
    made = PUMP_A.head(flow_gpm=op.flow_gpm).head_ft
    np.testing.assert_allclose(op.head_ft, made, rtol=1e-9)
    assert np.all(np.diff(op.flow_gpm) > 0)


def test_tail_water_is_lift() -> None:
    under = dp.operating_point(PUMP_A, line(dp.SubmergedOutlet(depth_ft=1.5)))
    higher = dp.straight_line(pipe=PIPE, length_ft=150, lift_ft=7.5, k=6.3)
    assert under.flow_gpm == pytest.approx(dp.operating_point(PUMP_A, higher).flow_gpm, rel=1e-12)
    assert under.static_ft == pytest.approx(7.5)


def test_four_inch_drain_at_one_percent_carries_92_and_a_half() -> None:
    drain = dp.GravityHandOff(bore_in=4.0, slope=0.01, n=0.012)
    assert drain.capacity_gpm == pytest.approx(92.5, abs=0.05)  # half a unit of the last digit
    taken = drain.carries(flow_gpm=[0, 46.25, 92.4, 92.6, np.nan])
    assert taken.status.tolist() == ["ok", "ok", "ok", "full", "bad_input"]
    assert taken.depth_ratio[1] == pytest.approx(0.5, abs=5e-4)  # half the flow at half the depth
    assert taken.depth_in[3] == 4.0


def test_air_break_is_a_free_outlet_to_the_pump() -> None:
    drain = dp.GravityHandOff(bore_in=4, slope=0.01, n=0.012)
    free = dp.operating_point(PUMP_A, line(dp.FreeOutlet()))
    assert dp.operating_point(PUMP_A, line(drain)).flow_gpm == free.flow_gpm


def test_published_gravity_pipe_values_for_pvc() -> None:
    # 4, 6, 8 in at 1 % full, n 0.009, 0.010, 0.011; worked out with the same equation and
    # the nominal bores, so a tolerance of half a unit of the last digit
    want = [[123, 111, 101], [364, 327, 298], [783, 705, 641]]
    bores = np.array([[4.0], [6.0], [8.0]]) * 0.0254
    flow = open_channel.full_flow(bores, 0.01, [0.009, 0.010, 0.011]) / (231 * 0.0254**3 / 60)
    np.testing.assert_allclose(flow, want, atol=0.5)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.02, 1), st.floats(1e-4, 0.1), st.floats(0.008, 0.03), st.floats(0.01, 0.99))
def test_manning_agrees_with_an_independent_library(
    bore: float, slope: float, n: float, share: float
) -> None:
    full = float(open_channel.full_flow(bore, slope, n))
    oracle = fluids.open_flow.V_Manning(bore / 4, slope, n) * np.pi / 4 * bore**2
    assert full == pytest.approx(oracle, rel=1e-12)
    depth = open_channel.depth_ratio(share * full, bore, slope, n)
    assert float(open_channel.full_share(depth)) == pytest.approx(share, rel=1e-9)


def test_manning_n_names_its_source_and_refuses_what_it_does_not_know() -> None:
    assert open_channel.manning_n("PVC smooth")[:2] == (0.009, 0.011)
    assert all("HDS-5" in open_channel.manning_n(m)[2] for m in open_channel.materials())
    with pytest.raises(dp.InputError) as err:
        open_channel.manning_n("concrete")
    assert str(err.value) == (
        "material='concrete': not in the table of Manning's n; did you mean 'concrete pipe'?"
    )


def test_dry_and_flat_pipes_have_no_depth() -> None:
    depth = open_channel.depth_ratio([0.0, 0.0, 1e-9], 0.1, [0.01, 0.0, 0.0], 0.01)
    assert depth.tolist() == [0.0, 0.0, 1.0]


def test_slope_in_percent_is_queried() -> None:
    with pytest.warns(dp.UnusualValueWarning) as caught:
        dp.GravityHandOff(bore_in=4, slope=1, n=0.012)
    assert str(caught[0].message) == "slope=1 is 100 %; did you mean slope=0.01?"


@pytest.mark.parametrize(
    ("build", "message"),
    [
        (
            lambda: dp.PopUpOutlet(opening_head_ft=0.2, gap_in=0, body_in=4),
            "gap_in=0: must be finite and more than 0 in; give a positive number.",
        ),
        (
            dp.SubmergedOutlet,
            "depth: no value given; give exactly one of depth_ft, depth_m.",
        ),
        (
            lambda: dp.GravityHandOff(bore_in=4, slope=0, n=0.012),
            "slope=0.0: must be more than 0 and at most 1; give fall over length, 0.01 for 1 %.",
        ),
    ],
)
def test_refusals(build: object, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        build()  # type: ignore[operator]
    assert str(err.value) == message


def test_reference_line_with_its_lid_is_untouched() -> None:
    assert dp.operating_point(PUMP_A, r1_line()).flow_gpm == pytest.approx(25.68, abs=0.01)


@pytest.mark.parametrize("size", ["3", "4", "6"])
def test_usual_pop_ups_bracket_their_doubt(size: str) -> None:
    least, usual, most = (
        dp.PopUpOutlet.usual(size, opens)
        for opens in ("least", "usual", "most")  # type: ignore[arg-type]
    )
    assert usual == dp.PopUpOutlet(opening_head_ft=0.2, gap_in=usual.gap_in, body_in=float(size))
    assert least.gap_in * 2 == usual.gap_in == most.gap_in / 2
    for flow in (1, 20, 60, 120):
        heads = [lid.gap_loss(flow_gpm=flow).head_ft for lid in (least, usual, most)]
        assert heads == sorted(heads, reverse=True)
    assert dp.PopUpOutlet.from_dict(usual.to_dict()) == usual


def test_a_pop_up_of_no_size_is_refused() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.PopUpOutlet.usual("5")
    assert str(err.value) == "size='5': must be one of ('3', '4', '6'); or give its numbers."
    with pytest.raises(dp.InputError) as err:
        dp.PopUpOutlet.usual("4", "wide")  # type: ignore[arg-type]
    assert str(err.value) == "opens='wide': must be one of ('usual', 'least', 'most'); pick one."
