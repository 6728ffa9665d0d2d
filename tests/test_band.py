"""Bands, probability, sensitivity, and their plots."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.axes import Axes

import drainpump as dp
from drainpump import plots
from drainpump.doubt import band as band_module
from drainpump.doubt.doubt import sample
from tests.r1 import LINE, LINES, A, B, line

R1 = dp.Doubt(
    length_pct=5, lift_ft=0.75, bore_pct=1.2, friction_pct=5, k_log=0.25, head_pct=5, flow_pct=5
)
PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
PLAIN = dp.operating_point(A, LINE)


def test_reference_band() -> None:
    """Pump A in 1.590 in; the bands were worked out with another sampler and solver.

    Tolerance 0.4 gpm: the spread between random samples of a thousand.
    """
    found = dp.band(A, LINE, R1)
    assert found.flow_gpm["p10"] == pytest.approx(23.8, abs=0.4)
    assert found.flow_gpm["p50"] == pytest.approx(25.6, abs=0.4)
    assert found.flow_gpm["p90"] == pytest.approx(27.3, abs=0.4)
    assert found.status == "ok"
    assert found.ok_share == 1.0
    assert list(found.flow_lps) == ["p10", "p50", "p90"]
    assert found.flow_lps["p50"] == pytest.approx(found.flow_gpm["p50"] * 0.0630901964)


def test_same_seed_same_numbers_and_doubling_barely_moves_the_median() -> None:
    one, again, double = (dp.band(A, LINE, R1, n) for n in (1024, 1024, 2048))
    assert one.to_dict() == again.to_dict()
    assert double.flow_gpm["p50"] == pytest.approx(one.flow_gpm["p50"], rel=0.005)
    assert dp.band(A, LINE, R1, seed=1).flow_gpm["p10"] != one.flow_gpm["p10"]


def test_zero_doubt_gives_the_plain_answer() -> None:
    found = dp.band(A, LINE, dp.Doubt(), 16, pit=PIT, inflow_gpm=10)
    cyc = dp.cycle(A, LINE, PIT, inflow_gpm=10)
    for name, plain in (
        ("flow_gpm", PLAIN.flow_gpm), ("head_ft", PLAIN.head_ft),
        ("velocity_fps", PLAIN.velocity_fps), ("worst_starts_per_h", cyc.worst_starts_per_h),
        ("starts_per_h", cyc.starts_per_h),
    ):  # fmt: skip
        for value in getattr(found, name).values():
            assert value == pytest.approx(plain, rel=1e-12), name
    assert found.probability(need_gpm=[25.6, 25.7]).tolist() == [1.0, 0.0]


@given(
    name=st.sampled_from(
        ["length_pct", "bore_pct", "friction_pct", "head_pct", "flow_pct", "lift_ft", "k_log"]
    ),
    small=st.floats(0, 1),
    more=st.floats(0, 1),
)
@settings(max_examples=40, deadline=None)
@pytest.mark.filterwarnings("ignore:.* a share would be")
def test_more_doubt_never_narrows_the_band(name: str, small: float, more: float) -> None:
    """The draws are the same, so every one moves outwards as sigma grows."""
    scale = {"lift_ft": 0.5, "k_log": 0.4}.get(name, 4.0)
    widths = []
    for size in (small, small + more):
        found = dp.band(A, LINE, dp.Doubt(**{name: size * scale}), 64)
        assert found.ok_share == 1
        widths.append(found.flow_gpm["p90"] - found.flow_gpm["p10"])
    assert widths[1] >= widths[0] - 1e-9


def test_lists_add_axes_and_pairs_share_their_luck() -> None:
    found = dp.band([A, B], LINES, R1, 128)
    assert found.flow_gpm["p50"].shape == found.status.shape == (2, 4)
    assert found.probability(need_gpm=30).shape == (2, 4)
    one = dp.band([A], LINE, R1, 16)
    assert one.flow_gpm["p10"].shape == (1,)
    assert repr(one) == repr(dp.band(A, LINE, R1, 16))
    for p, pump in enumerate((A, B)):
        for k, one in enumerate(LINES):
            alone = dp.band(pump, one, R1, 128).flow_gpm
            for key, value in found.flow_gpm.items():
                assert value[p, k] == pytest.approx(alone[key], rel=1e-12)


def test_chunks_do_not_change_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = dp.band([A, B], LINES, R1, 64, pit=PIT)
    monkeypatch.setattr(band_module, "_CHUNK", 70)
    monkeypatch.setattr(band_module, "_PIT_CHUNK", 130)
    cut = dp.band([A, B], LINES, R1, 64, pit=PIT)
    for name in ("flow_gpm", "head_ft", "velocity_fps", "worst_starts_per_h"):
        for key in ("p10", "p50", "p90"):
            a, b = getattr(whole, name)[key], getattr(cut, name)[key]
            np.testing.assert_allclose(a, b, rtol=1e-9)


def test_quantities_of_a_line_keep_their_axis() -> None:
    many = line(1.59, length_ft=[50, 150])
    found = dp.band([A, B], [many, LINE], R1, 64)
    assert found.flow_gpm["p50"].shape == (2, 2, 2)
    assert found.flow_gpm["p50"][0, 0, 1] == pytest.approx(found.flow_gpm["p50"][0, 1, 0])
    frame = found.to_frame("metric")
    assert list(frame.columns)[:4] == ["pump", "line", "axis_2", "flow_p10_lps"]
    assert len(frame) == 8


def test_no_flow_counts_as_zero() -> None:
    """A lift near the shutoff head of 20 ft: in half of the draws nothing flows."""
    high = line(1.59, lift_ft=19.75)
    found = dp.band(A, high, dp.Doubt(lift_ft=0.5))
    assert found.flow_gpm["p10"] == 0.0
    assert found.flow_gpm["p90"] > 2
    assert found.status == "no_flow"
    assert found.ok_share == pytest.approx(0.5, abs=0.01)
    assert found.probability(need_gpm=0.01) == pytest.approx(0.5, abs=0.02)


def test_a_flow_past_the_curve_counts_as_its_last_point() -> None:
    short = dp.PumpCurve(name="short", flow_gpm=[0, 10, 25.6], head_ft=[20, 19.2, 14.757])
    found = dp.band(short, LINE, dp.Doubt(lift_ft=0.75))
    assert found.status == "beyond_curve"
    assert found.flow_gpm["p90"] == pytest.approx(25.6)
    assert 0.4 < found.ok_share < 0.6
    assert found.probability(need_gpm=25.59) == pytest.approx(1 - found.ok_share, abs=0.02)
    assert found.probability(need_gpm=25.61) == 0.0


def test_a_flow_before_the_curve_is_not_counted_on() -> None:
    late = dp.PumpCurve(name="late", flow_gpm=[25.6, 40, 50], head_ft=[14.757, 7.2, 0])
    found = dp.band(late, LINE, dp.Doubt(lift_ft=0.75))
    assert found.status == "below_curve"
    assert found.flow_gpm["p10"] == 0.0
    # but reckoned with
    assert found.velocity_fps["p10"] == pytest.approx(4.136, abs=0.001)
    assert found.probability(need_gpm=1) == pytest.approx(found.ok_share)


def test_an_unsteady_flow_counts_against() -> None:
    """A drooping curve on a flat line crosses twice once the lift is above its first head."""
    droops = dp.PumpCurve(name="droops", flow_gpm=[0, 20, 40], head_ft=[10, 14, 2])
    flat = dp.straight_line(pipe=dp.Pipe(bore_in=3), length_ft=10, lift_ft=10)
    found = dp.band(droops, flat, dp.Doubt(lift_ft=0.75), pit=PIT)
    assert found.status == "multiple"
    assert found.flow_gpm["p10"] == 0.0
    assert found.probability(need_gpm=1) == pytest.approx(found.ok_share)
    assert 0 < found.worst_starts_per_h["p90"] < np.inf


def test_nan_stays_in_its_cell() -> None:
    holed = line(1.59, length_ft=[150, np.nan])
    found = dp.band(A, holed, R1, 64)
    assert found.status.tolist() == ["ok", "bad_input"]
    assert np.isnan(found.flow_gpm["p50"]).tolist() == [False, True]
    assert np.isnan(found.probability(need_gpm=[20, 20])).tolist() == [False, True]
    assert np.isnan(found.probability(need_gpm=[np.nan, 20])).all()
    with pytest.raises(dp.StatusError) as err:
        found.require()
    assert str(err.value) == "Band at index (1,): bad_input; an input of this element is NaN"


def test_starts_spread_with_the_flow_and_the_inflow() -> None:
    doubt = dp.Doubt(lift_ft=0.75, head_pct=5, inflow_pct=15)
    found = dp.band(A, LINE, doubt, 256, pit=PIT, inflow_gpm=8)
    assert dp.band(A, LINE, doubt, 256).worst_starts_per_h is None
    assert found.starts_per_h["p10"] < found.starts_per_h["p50"] < found.starts_per_h["p90"]
    surer = dp.band(A, LINE, dp.Doubt(lift_ft=0.75, head_pct=5), 256, pit=PIT, inflow_gpm=8)
    wide, narrow = (b.starts_per_h["p90"] - b.starts_per_h["p10"] for b in (found, surer))
    assert wide > narrow
    # the worst case is over all inflows, so the inflow's doubt leaves it
    assert found.worst_starts_per_h["p90"] == surer.worst_starts_per_h["p90"]


def test_what_it_prints() -> None:
    text = repr(dp.band(A, LINE, dp.Doubt(), 16, seed=2))
    assert text == (
        "Band (16 samples of Doubt(none); seed 2)\n"
        "  flow: 25.7 / 25.7 / 25.7 gpm (P10 / P50 / P90)\n"
        "  head: 14.7 / 14.7 / 14.7 ft (P10 / P50 / P90)\n"
        "  velocity: 4.15 / 4.15 / 4.15 ft/s (P10 / P50 / P90)\n"
        "  ok: 100.0% of the samples"
    )
    assert "Band" in dp.band(A, LINE, dp.Doubt(), 16)._repr_html_()
    assert "<table" in dp.band([A], LINE, dp.Doubt(), 16)._repr_html_()


@pytest.mark.parametrize(
    ("given_", "message"),
    [
        ({"inflow_gpm": 5}, "inflow: give one number, together with pit=Pit(...)."),
        (
            {"pit": dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=[12, 13])},
            "pit: holds arrays; a band is sampled for one pit, give scalars.",
        ),
        (
            {"inflow_gpm": 5, "inflow_lps": 1, "pit": PIT},
            "inflow_gpm=5 and inflow_lps=1: more than one unit given; give exactly one of "
            "inflow_gpm, inflow_lps.",
        ),
    ],
)
def test_bad_bands_are_refused(given_: dict[str, object], message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.band(A, LINE, R1, **given_)  # type: ignore[arg-type]
    assert str(err.value) == message


# -- what to measure next


@pytest.mark.parametrize(
    ("doubt", "end", "change"),
    # one at a time in the reference problem; ±0.1 gpm is the rounding of the wanted figures
    [
        (dp.Doubt(lift_ft=1), "plus", -1.0),
        (dp.Doubt(head_pct=6), "minus", -0.9),
        (dp.Doubt(k_log=float(np.log(1.5))), "plus", -0.9),
        (dp.Doubt(length_pct=10), "plus", -0.6),
    ],
)
def test_reference_sensitivities(doubt: dp.Doubt, end: str, change: float) -> None:
    frame = dp.sensitivity(A, LINE, doubt)
    assert frame[f"flow_at_{end}_gpm"][0] - PLAIN.flow_gpm == pytest.approx(change, abs=0.1)


def test_one_at_a_time_by_hand() -> None:
    frame = dp.sensitivity(A, LINE, dp.Doubt(lift_ft=0.75)).iloc[0]
    low, high = (dp.operating_point(A, line(1.59, lift_ft=x)).flow_gpm for x in (5.25, 6.75))
    assert frame.flow_at_minus_gpm == pytest.approx(low, rel=1e-9)
    assert frame.flow_at_plus_gpm == pytest.approx(high, rel=1e-9)
    assert frame.swing_gpm == pytest.approx(low - high, rel=1e-9)
    step = dp.operating_point(A, line(1.59, lift_ft=[5.999, 6.001])).flow_gpm
    assert frame.moved_gpm == pytest.approx((step[1] - step[0]) / 0.002, rel=1e-4)
    assert frame.variance_share == pytest.approx(1.0, abs=0.01)
    assert frame.text == "lift: 1 ft moves the flow by 1.0 gpm"


def test_ranked_largest_first_and_the_shares_add_up() -> None:
    frame = dp.sensitivity(A, LINE, R1)
    assert frame.input.tolist() == [
        "lift", "pump head", "pump flow", "local losses", "length", "pipe friction", "bore",
    ]  # fmt: skip
    assert (np.diff(frame.swing_gpm) <= 0).all()
    # the flow is nearly linear in its inputs; what is missing is curvature
    assert frame.variance_share.sum() == pytest.approx(1.0, abs=0.03)
    for label, words in (("lift", "lift_ft"), ("pump head", "head_pct")):
        alone = dp.band(A, LINE, dp.Doubt(**{words: getattr(R1, words)}))._flow_sampled.var()
        share = frame.variance_share[frame.input == label].item()
        assert share == pytest.approx(alone / dp.band(A, LINE, R1)._flow_sampled.var(), abs=0.03)
    assert frame["measure"].is_unique


def test_a_need_that_is_no_number_decides_nothing() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.sensitivity(A, LINE, R1, need_gpm=np.nan)
    assert str(err.value) == "need_gpm=nan: must be one number; ask for one at a time."


def test_which_input_decides_the_need() -> None:
    frame = dp.sensitivity(A, LINE, R1, need_gpm=26.2).set_index("input")
    assert frame.decides.to_dict() == {
        "lift": True, "pump head": True, "pump flow": False, "local losses": False,
        "length": False, "pipe friction": False, "bore": False,
    }  # fmt: skip


def test_metric_words_and_columns() -> None:
    frame = dp.sensitivity(A, LINE, dp.Doubt(lift_m=0.2), units="metric")
    assert list(frame.columns) == [
        "input", "swing_lps", "flow_at_minus_lps", "flow_at_plus_lps", "moved_lps",
        "variance_share", "text", "measure", "status",
    ]  # fmt: skip
    assert frame.text[0] == "lift: 0.1 m moves the flow by 0.02 L/s"


@pytest.mark.parametrize(
    ("pump", "doubt", "message"),
    [
        ([A], R1, "sensitivity: give one pump and one line, without arrays."),
        (
            A,
            dp.Doubt(inflow_pct=5),
            "Doubt(inflow 5 %): no input of the flow is doubted; give one sigma of some.",
        ),
    ],
)
def test_bad_sensitivities_are_refused(pump: object, doubt: dp.Doubt, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.sensitivity(pump, LINE, doubt)  # type: ignore[arg-type]
    assert str(err.value) == message


# -- plots, judged by what they drew


def drawn(ax: Axes) -> list[np.ndarray]:
    """Points of the lines in the order drawn, (n, 2) each."""
    return [np.asarray(x.get_xydata()) for x in ax.lines]


def test_band_plot_shows_the_band() -> None:
    ax = plots.band(A, LINE, R1, need_gpm=27)
    found = dp.band(A, LINE, R1)
    _, _, dots, spread, median, need = drawn(ax)
    np.testing.assert_allclose(spread[:, 0], [found.flow_gpm[p] for p in ("p10", "p90")])
    np.testing.assert_allclose(median, [[found.flow_gpm["p50"], found.head_ft["p50"]]])
    assert need[0, 0] == pytest.approx(27)
    np.testing.assert_allclose(dots[:, 0] * 0.0630901964e-3, found._flow_sampled[:256])
    texts = {t.get_text() for t in ax.texts}
    share = found.probability(need_gpm=27)
    assert f"27 gpm needed:\ncarried in {share:.0%}" in texts


def test_band_plot_shades_the_percentiles_of_both_curves() -> None:
    ax = plots.band(A, LINE, R1, 256)
    pump, _ = (np.asarray(c.get_paths()[0].vertices) for c in ax.collections)
    at_zero = pump[np.isclose(pump[:, 0], 0), 1]
    shutoff = sample(R1, 256).head * 20
    assert at_zero.min() == pytest.approx(np.quantile(shutoff, 0.1, method="inverted_cdf"))
    assert at_zero.max() == pytest.approx(np.quantile(shutoff, 0.9, method="inverted_cdf"))
    # the pump's band ends where a tenth of the drawn curves have ended
    run_out = np.quantile(sample(R1, 256).flow * 50, 0.1, method="inverted_cdf")
    assert pump[:, 0].max() == pytest.approx(run_out)
    assert [bool(c.get_hatch()) for c in ax.collections] == [False, True]


def test_band_plot_in_metric_on_axes_given() -> None:
    import matplotlib.pyplot as plt

    _, ax = plt.subplots()
    assert plots.band(A, LINE, R1, 64, ax=ax, units="metric") is ax
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("Flow (L/s)", "Head (m)")


def test_band_plot_refuses_lists() -> None:
    with pytest.raises(dp.InputError) as err:
        plots.band([A], LINE, R1, 16)  # type: ignore[arg-type]
    assert str(err.value) == (
        "band: the inputs hold arrays or lists; a plot shows one case, give scalars."
    )


def test_band_plot_refuses_a_bank_by_its_kind() -> None:
    bank = dp.parallel([A, A])
    with pytest.raises(dp.InputError) as err:
        plots.band(bank, LINE, R1, 16)  # type: ignore[arg-type]
    assert str(err.value) == (f"pump={bank!r}: must be a PumpCurve; make one with PumpCurve(...).")


def test_swings_plot_has_a_bar_from_each_end_to_the_middle() -> None:
    ax = plots.swings(A, LINE, R1, need_gpm=26)
    frame = dp.sensitivity(A, LINE, R1)
    assert [t.get_text() for t in ax.get_yticklabels()] == frame.input.tolist()
    for end, bars in zip(("minus", "plus"), ax.containers, strict=True):
        reach = [b.get_x() + b.get_width() for b in bars]  # type: ignore[attr-defined]
        np.testing.assert_allclose(reach, frame[f"flow_at_{end}_gpm"])
        starts = [b.get_x() for b in bars]  # type: ignore[attr-defined]
        np.testing.assert_allclose(starts, PLAIN.flow_gpm)
        assert len({bool(b.get_hatch()) for b in bars}) == 1
    middle, need = drawn(ax)
    assert middle[0, 0] == pytest.approx(PLAIN.flow_gpm)
    assert need[0, 0] == pytest.approx(26)
    assert ax.yaxis_inverted()
