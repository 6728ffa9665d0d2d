"""The teaching plots, judged by what they drew."""

from __future__ import annotations

import itertools
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.text import Text

import drainpump as dp
from drainpump import plots
from tests.problems import PUMP_A, PUMP_B, r1_line, r1_pit

GPM_TO_LPS = 231 * 0.0254**3 / 60 * 1e3
LINE = r1_line(name="R1")
WHY = dp.explain(PUMP_A, LINE)
PIT = r1_pit()


def invented(count: int) -> list[dp.PumpCurve]:
    """So many pumps, each a little larger than the one before."""
    return [
        dp.PumpCurve(
            name=f"Pump {i + 1}",
            flow_gpm=[0, 20 + 3 * i, 40 + 5 * i],
            head_ft=[16 + 3 * i, 12 + 3 * i, 0],
            invented=True,
        )
        for i in range(count)
    ]


def explained(count: int) -> list[dp.Explanation]:
    return [dp.explain(pump, LINE) for pump in invented(count)]


def named(ax: Axes, name: str) -> Any:
    """The curve in the colour of the text that says this name."""
    (note,) = (t for t in ax.texts if t.get_text() == name)
    return next(x for x in ax.lines if x.get_color() == note.get_color())


def overlaps(ax: Axes) -> list[tuple[str, str]]:
    """Pairs of texts that cover each other."""
    ax.figure.canvas.draw()
    renderer = ax.figure.canvas.get_renderer()  # type: ignore[attr-defined]
    found = [t for t in ax.texts if t.get_text()]
    boxes = [Text.get_window_extent(t, renderer) for t in found]
    return [
        (found[j].get_text(), found[i].get_text())
        for i in range(len(boxes))
        for j in range(i)
        if boxes[i].overlaps(boxes[j])
    ]


def ticks_overlap(ax: Axes) -> bool:
    """True where level tick labels of the x axis cover each other."""
    ax.figure.canvas.draw()
    boxes = [t.get_window_extent() for t in ax.get_xticklabels() if t.get_rotation() == 0]
    return any(a.x1 > b.x0 for a, b in itertools.pairwise(boxes))


# -- waterfall


def test_waterfall_falls_from_the_pump_alone_to_the_operating_flow() -> None:
    ax = plots.waterfall(WHY, in_turn=True)
    whole, lost = ax.containers
    assert whole[0].get_height() == pytest.approx(50.0)
    assert whole[-1].get_height() == pytest.approx(dp.operating_point(PUMP_A, LINE).flow_gpm)
    steps = WHY.steps["flow_gpm"].to_numpy()
    np.testing.assert_allclose([b.get_y() for b in lost], steps[1:])
    np.testing.assert_allclose([b.get_height() for b in lost], -np.diff(steps))
    # two flows at the ends, then of each step what it takes and what it leaves
    left = [t.get_text() for t in ax.texts[3::2]]
    assert left == ["41.8", "28.1", "26.9", "26.3", "25.9", "25.7"]


def test_waterfall_and_text_divide_the_loss_alike_and_say_how() -> None:
    ax = plots.waterfall(WHY)
    _, lost = ax.containers
    heights = [b.get_height() for b in lost]  # type: ignore[attr-defined]
    np.testing.assert_allclose(heights, WHY.shares["lost_gpm"])
    taken = [t.get_text().lstrip("−") for t in ax.texts[2:]]
    assert all(f"{n} {x}" in WHY.text() for n, x in zip(WHY.names[:2], taken[:2], strict=True))
    assert "(Shapley)" in WHY.text()
    for many in (WHY, explained(3)):
        said = plots.waterfall(many).get_xlabel()
        assert said == "Losses whatever the order (Shapley), as in the text"
        said = plots.waterfall(many, in_turn=True).get_xlabel()
        assert said == "Losses taken in one after another, from left to right"


def test_waterfall_of_several_pumps_is_a_line_each() -> None:
    many = [dp.explain(p, LINE) for p in (PUMP_A, PUMP_B)]
    ax = plots.waterfall(many, units="metric", in_turn=True)
    for why, line in zip(many, ax.lines, strict=True):
        np.testing.assert_allclose(line.get_ydata(), why.steps["flow_lps"])
    assert {t.get_text() for t in ax.texts} == {"A: 1.62 L/s", "B: 2.37 L/s"}


def test_waterfall_refuses_what_it_cannot_compare() -> None:
    other = dp.explain(PUMP_A, dp.straight_line(pipe=dp.pvc("2"), length_ft=9, lift_ft=3))
    with pytest.raises(dp.InputError) as err:
        plots.waterfall([WHY, other])
    assert str(err.value) == (
        "explained[1]=('lift', 'pipe', 'exit'): must have the causes ('lift', 'pipe', 'elbows', "
        "'check valve', 'adapters and exit', 'lid'); waterfall compares pumps on lines of the "
        "same kind."
    )
    with pytest.raises(dp.InputError) as err:
        plots.waterfall([])
    assert str(err.value) == (
        "explained=[]: must be one Explanation or more; make them with explain(pump, line)."
    )


# -- ledger


def test_ledger_stacks_the_parts_of_the_head() -> None:
    many = [dp.explain(p, LINE) for p in (PUMP_A, PUMP_B)]
    ax = plots.ledger(many)
    foot = np.zeros(2)
    assert len(ax.containers) == len(WHY.names)
    for i, found in enumerate(ax.containers):
        heads = [why.ledger["head_ft"][i] for why in many]
        np.testing.assert_allclose([b.get_height() for b in found], heads)
        np.testing.assert_allclose([b.get_y() for b in found], foot, atol=1e-9)
        foot += heads
    heads = [dp.operating_point(p, LINE).head_ft for p in (PUMP_A, PUMP_B)]
    np.testing.assert_allclose(foot, heads)
    assert {t.get_text() for t in ax.texts} >= set(WHY.names)


def test_ledger_says_each_head_and_neighbours_differ_in_hatch() -> None:
    ax = plots.ledger(WHY)
    assert {"lift 6 ft", "pipe 6.52 ft", "elbows 1.07 ft"} <= {t.get_text() for t in ax.texts}
    hatches = [found[0].get_hatch() for found in ax.containers]
    assert all(a != b for a, b in itertools.pairwise(hatches))


# -- families


def test_system_family_is_the_lines_own_head() -> None:
    lengths = [50, 150, 300]
    ax = plots.system_family(LINE, length_ft=lengths)
    for length in lengths:
        curve = named(ax, f"length {length} ft")
        flow = np.asarray(curve.get_xdata())
        expected = r1_line(length_ft=length).head(flow_gpm=flow).head_ft
        np.testing.assert_allclose(curve.get_ydata(), expected, rtol=1e-9)


@pytest.mark.parametrize(
    ("given", "name", "line"),
    [
        ({"bore_in": [1.36, 2.047]}, "bore 2.047 in", r1_line(2.047)),
        ({"bore_mm": [40, 51.9938]}, "bore 51.9938 mm", r1_line(2.047)),
        ({"lift_ft": [2, 10]}, "lift 10 ft", r1_line(lift_ft=10)),
        ({"lift_m": [1, 3.048]}, "lift 3.048 m", r1_line(lift_ft=10)),
        ({"length_m": [10, 30.48]}, "length 30.48 m", r1_line(length_ft=100)),
        (
            {"hazen_williams_c": [130, 150]},
            "C 150",
            r1_line(friction="hazen_williams"),
        ),
    ],
)
def test_system_family_by_each_quantity(
    given: dict[str, Any], name: str, line: dp.DischargeLine
) -> None:
    curve = named(plots.system_family(LINE, **given), name)
    flow = np.asarray(curve.get_xdata())
    np.testing.assert_allclose(
        curve.get_ydata(), line.head(flow_gpm=flow).head_ft, rtol=1e-6, atol=1e-9
    )


def test_system_family_of_several_runs() -> None:
    def two(scale: float, up: float) -> dp.DischargeLine:
        runs = [
            dp.Run(pipe=dp.pvc("1-1/2"), length_ft=20 * scale, rise_ft=8 + up),
            dp.Run(pipe=dp.pvc("2"), length_ft=80 * scale, rise_ft=-1),
        ]
        return dp.DischargeLine(runs=runs)

    for given, name, line in (
        ({"length_ft": [100, 250]}, "length 250 ft", two(2.5, 0)),
        ({"lift_ft": [7, 12]}, "lift 12 ft", two(1, 5)),
    ):
        curve = named(plots.system_family(two(1, 0), **given), name)  # type: ignore[arg-type]
        flow = np.asarray(curve.get_xdata())
        np.testing.assert_allclose(curve.get_ydata(), line.head(flow_gpm=flow).head_ft)


def test_system_family_with_a_value_repeated_beyond_the_frame() -> None:
    ax = plots.system_family(LINE, length_ft=[50, 150, 900, 900])
    _, _, one, other = (np.asarray(x.get_xydata()) for x in ax.lines)
    np.testing.assert_array_equal(one, other)
    assert one[-1, 1] > ax.get_ylim()[1]
    names = ["length 50 ft", "length 150 ft", "length 900 ft", "length 900 ft"]
    assert [t.get_text() for t in ax.texts] == names
    assert overlaps(ax) == []


def test_system_family_shows_where_the_pump_runs() -> None:
    ax = plots.system_family(LINE, length_ft=[50, 150], pump=PUMP_A, units="metric")
    op = dp.operating_point(PUMP_A, [r1_line(length_ft=50), LINE])
    points = ax.lines[-1]
    np.testing.assert_allclose(points.get_xdata(), op.flow_lps, rtol=1e-9)
    np.testing.assert_allclose(points.get_ydata(), op.head_m, rtol=1e-9)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("Flow (L/s)", "Head (m)")


def test_system_family_varies_one_thing() -> None:
    for given in ({}, {"length_ft": [1, 2], "lift_ft": [1, 2]}):
        with pytest.raises(dp.UnitError) as err:
            plots.system_family(LINE, **given)
        assert str(err.value) == (
            "system_family: vary one quantity at a time; give one of length, bore, lift and "
            "hazen_williams_c."
        )
    with pytest.raises(dp.InputError) as err:
        plots.system_family(r1_line(length_ft=[90, 150]), lift_ft=[1, 2])
    assert str(err.value) == (
        "system_family: the inputs hold arrays or lists; a plot shows one case, give scalars."
    )


def test_pump_family_by_speed_and_by_wear() -> None:
    ax = plots.pump_family(PUMP_A, ratio=[0.8, 1.0], line=LINE)
    slow = PUMP_A.at_speed(0.8)
    curve, end, _, _, _, points = ax.lines
    flow = np.asarray(curve.get_xdata())
    np.testing.assert_allclose(
        curve.get_ydata(), slow.head(flow_gpm=flow).head_ft, rtol=1e-9, atol=1e-9
    )
    assert end.get_xdata()[0] == pytest.approx(40.0)
    op = dp.operating_point([slow, PUMP_A], LINE)
    np.testing.assert_allclose(points.get_xdata(), op.flow_gpm, rtol=1e-9)
    worn = named(plots.pump_family(PUMP_A, head=0.9), "head left 90 %")
    assert worn.get_ydata()[0] == pytest.approx(18.0)
    assert worn.get_xdata()[-1] == pytest.approx(50.0)


def test_pump_family_asks_for_one_of_the_two() -> None:
    for given in ({}, {"ratio": 0.9, "head": 0.9}):
        with pytest.raises(dp.InputError) as err:
            plots.pump_family(PUMP_A, **given)  # type: ignore[arg-type]
        assert str(err.value) == "pump_family: give either ratio or head, one of the two."


# -- pipe sizes


def test_pipe_sizes_are_operating_points() -> None:
    ax = plots.pipe_sizes([PUMP_A, PUMP_B], LINE, sizes=["1-1/4", "1-1/2", "2", "3"])
    # three independent solvers: 19.63, 25.68, 34.06, 39.93 and 29.01, 37.59, 49.10, 56.91 gpm
    expected = {"A": [19.63, 25.68, 34.06, 39.93], "B": [29.01, 37.59, 49.10, 56.91]}
    # of each pump its curve, the marks within the limits, and those outside
    curve_a, within, outside, curve_b, _, _ = ax.lines
    for curve, flows in ((curve_a, expected["A"]), (curve_b, expected["B"])):
        np.testing.assert_allclose(curve.get_ydata(), flows, atol=0.006)
    assert named(ax, "A") is curve_a
    assert named(ax, "B") is curve_b
    # 39.93 gpm in 3.042 in is 1.8 ft/s, below the limit: an open mark
    assert list(outside.get_xdata()) == [3]
    assert list(within.get_xdata()) == [0, 1, 2]
    assert outside.get_markerfacecolor() == "white"
    said = [t.get_text() for t in ax.texts if t.get_text().endswith("ft/s")]
    assert said[3] == "1.8 ft/s"
    assert [t.get_text() for t in ax.get_xticklabels()][1] == "1-1/2 in\n1.59"
    assert ax.get_title("left") == "open mark: velocity below 2 ft/s or above 8 ft/s"


def test_pipe_sizes_takes_pipes_of_ones_own_and_no_limit() -> None:
    own = dp.Pipe(bore_in=1.8, roughness_ft=5e-6)
    free = dp.Limits(without=["velocity_min", "velocity_max"])
    ax = plots.pipe_sizes(PUMP_A, LINE, sizes=[own, "3"], limits=free, units="metric")
    flow = dp.operating_point(PUMP_A, r1_line(1.8)).flow_lps
    curve, _, outside = ax.lines
    assert curve.get_ydata()[0] == pytest.approx(flow, rel=1e-9)
    assert len(outside.get_xdata()) == 0
    assert ax.get_title("left") == ""
    assert ax.get_xticklabels()[0].get_text() == "45.7"


def test_pipe_sizes_refuses_none_and_arrays() -> None:
    with pytest.raises(dp.InputError) as err:
        plots.pipe_sizes(PUMP_A, LINE, sizes=[])
    assert str(err.value) == "sizes=[]: must hold at least one size; give ['1-1/2', '2']."
    with pytest.raises(dp.InputError) as err:
        plots.pipe_sizes(PUMP_A, r1_line(length_ft=[90, 150]))
    assert str(err.value) == (
        "pipe_sizes: the inputs hold arrays or lists; a plot shows one case, give scalars."
    )


# -- cycle


def test_cycle_swings_between_the_floats_in_the_cycles_own_time() -> None:
    ax = plots.cycle(PUMP_A, LINE, PIT, inflow_gpm=10, cycles=2)
    cyc = dp.cycle(PUMP_A, LINE, PIT, inflow_gpm=10)
    line, _, on, off = ax.lines
    minutes, level = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
    assert (level.min(), level.max()) == (pytest.approx(6.0), pytest.approx(13.0, abs=0.02))
    assert minutes[-1] == pytest.approx(2 * (cyc.run_s + cyc.rest_s) / 60)
    # the first peak comes when the rest is over; the plot looks every cycle / 750
    peak = minutes[np.argmax(level[: level.size // 2])]
    assert peak == pytest.approx(cyc.rest_s / 60, abs=2 * (cyc.run_s + cyc.rest_s) / 60 / 700)
    assert on.get_ydata()[0] == pytest.approx(13.0)
    assert off.get_ydata()[0] == pytest.approx(6.0)
    assert ax.get_title("left") == (
        "A, 10 gpm comes in: runs 29 s, rests 46.3 s, 47.8 starts an hour; hatched: pump runs"
    )


@pytest.mark.parametrize(
    ("inflow", "said"),
    [
        (0, "A, 0 gpm comes in; no inflow"),
        (25.9, "A, 25.9 gpm comes in; it runs on: the inflow holds the pit above the off level"),
        (60, "A, 60 gpm comes in; it falls behind: the inflow is more than the pump takes away"),
    ],
)
def test_cycle_that_is_none(inflow: float, said: str) -> None:
    ax = plots.cycle(PUMP_A, LINE, PIT, inflow_gpm=inflow)
    level = np.asarray(ax.lines[0].get_ydata())
    title = ax.get_title("left").replace("\n", " ")
    assert title == (f"{said}; hatched: pump runs" if inflow else said)
    end = {0: 6.0, 60: 30.0}.get(inflow)
    if end is not None:
        assert level[-1] == pytest.approx(end)
    else:
        assert 6 < level[-1] < 13


def test_cycle_in_metric_with_all_levels() -> None:
    ax = plots.cycle(PUMP_A, LINE, r1_pit(alarm_in=16, inlet_in=20), inflow_lps=0.6, units="metric")
    assert ax.get_ylabel() == "Level above the floor (mm)"
    assert ax.child_axes[0].get_ylabel() == "Level above the floor (in)"
    levels = [x.get_ydata()[0] for x in ax.lines[1:]]
    assert levels == pytest.approx([level * 25.4 for level in (30, 20, 16, 13, 6)])
    words = [t.get_text().rsplit(" ", 2)[0] for t in ax.texts]
    assert words == ["rim", "inlet", "alarm", "on", "off"]


def test_cycle_of_a_bank_whose_lag_pump_helps() -> None:
    bank = dp.parallel([PUMP_A, PUMP_A], lag_on_in=18, name="pair")
    ax = plots.cycle(bank, LINE, PIT, inflow_gpm=27, cycles=2)
    cyc = dp.cycle(bank, LINE, PIT, inflow_gpm=27)
    level, _, lag, on, off = (np.asarray(x.get_ydata()) for x in ax.lines)
    assert [lag[0], on[0], off[0]] == pytest.approx([18, 13, 6])
    # the water climbs to the lag's float, and both pumps draw it down to the off level
    assert (level.min(), level.max()) == (pytest.approx(6), pytest.approx(18, abs=0.05))
    assert ax.lines[0].get_xdata()[-1] == pytest.approx(2 * 60 / cyc.lag_starts_per_h)
    assert ax.get_title("left").replace("\n", " ") == (
        "pair, 27 gpm comes in; the lead alone falls behind, and the lag pumps help, "
        "4.33 starts an hour; hatched: pump runs"
    )


def test_cycle_says_that_it_rests_on_a_bound() -> None:
    short = dp.PumpCurve(name="short", flow_gpm=[0, 10, 20], head_ft=[30, 29, 28])
    ax = plots.cycle(short, LINE, PIT, inflow_gpm=5)
    assert dp.cycle(short, LINE, PIT, inflow_gpm=5).status == "beyond_curve"
    title = ax.get_title("left").replace("\n", " ")
    assert title.endswith(" starts an hour; the pump gives at least 20 gpm; hatched: pump runs")


def test_cycle_refuses_arrays_and_no_cycles() -> None:
    with pytest.raises(dp.InputError) as err:
        plots.cycle(PUMP_A, LINE, PIT, inflow_gpm=[5, 10])
    assert str(err.value) == (
        "cycle: the inputs hold arrays or lists; a plot shows one case, give scalars."
    )
    with pytest.raises(dp.InputError) as err:
        plots.cycle(PUMP_A, LINE, PIT, inflow_gpm=5, cycles=0)
    assert str(err.value) == "cycles=0: must be a whole number, 1 or more; give 3."


# -- what all have in common

ALL: dict[str, Any] = {
    "waterfall": lambda **k: plots.waterfall(WHY, **k),
    "ledger": lambda **k: plots.ledger(WHY, **k),
    "system_family": lambda **k: plots.system_family(LINE, length_ft=[50, 150], **k),
    "pump_family": lambda **k: plots.pump_family(PUMP_A, ratio=[0.9, 1.0], line=LINE, **k),
    "pipe_sizes": lambda **k: plots.pipe_sizes(PUMP_A, LINE, **k),
    "cycle": lambda **k: plots.cycle(PUMP_A, LINE, PIT, inflow_gpm=10, **k),
}


@pytest.mark.parametrize("name", ALL)
def test_draws_on_the_axes_given_and_changes_no_setting(name: str) -> None:
    import matplotlib.pyplot as plt

    before = dict(mpl.rcParams)
    _, ax = plt.subplots()
    assert ALL[name](ax=ax) is ax
    assert dict(mpl.rcParams) == before


@pytest.mark.parametrize("name", ALL)
def test_the_far_axis_is_the_same_in_the_other_units(name: str) -> None:
    for units in ("us", "metric"):
        ax = ALL[name](units=units)
        ax.figure.canvas.draw()
        ratio = {"Flow": GPM_TO_LPS, "Head": 0.3048, "Leve": 25.4}[ax.get_ylabel()[:4]]
        right = ax.child_axes[-1]
        factor = ratio if units == "us" else 1 / ratio
        assert right.get_ylim()[1] == pytest.approx(ax.get_ylim()[1] * factor, rel=1e-9)
    with pytest.raises(dp.InputError) as err:
        ALL[name](units="imperial")
    assert str(err.value) == "units='imperial': must be 'us' or 'metric'; pick one of the two."


@pytest.mark.parametrize("name", ALL)
def test_labels_of_one_case_are_clear_of_each_other(name: str) -> None:
    ax = ALL[name]()
    assert overlaps(ax) == []
    assert not ticks_overlap(ax)


@pytest.mark.parametrize("count", [1, 3, 12])
def test_many_pumps_stay_legible(count: int) -> None:
    pumps, whys = invented(count), explained(count)
    for ax in (
        plots.waterfall(whys if count > 1 else whys[0]),
        plots.ledger(whys),
        plots.pipe_sizes(pumps, LINE),
    ):
        assert overlaps(ax) == []
        assert not ticks_overlap(ax)
        said = " ".join(t.get_text() for t in (*ax.texts, *ax.get_xticklabels()))
        said += ax.get_title("left")
        assert all(pump.name in said for pump in pumps)


def test_end_labels_stay_inside_the_frame_though_ends_meet() -> None:
    from drainpump.plots.frame import Label, frame_on
    from drainpump.plots.margins import label_ends

    plain = frame_on(None, "us")
    ax = plain.ax
    ax.plot([0, 1], [0, 1])
    ax.set_ylim(0, 1)
    label_ends(plain, [Label(1.0, 0.99, f"line {i}") for i in range(14)])
    assert overlaps(ax) == []
    renderer = ax.figure.canvas.get_renderer()  # type: ignore[attr-defined]
    frame = ax.get_window_extent(renderer)
    for note in ax.texts:
        box = Text.get_window_extent(note, renderer)
        assert frame.y0 - 2 <= box.y0
        assert box.y1 <= frame.y1 + 2
        assert box.x1 <= frame.x1 + 2


def test_one_pump_on_several_lines_is_named_by_its_lines() -> None:
    lines = [dp.straight_line(pipe=dp.pvc(s), length_ft=150, lift_ft=6, name=s) for s in ("2", "3")]
    one = [dp.explain(PUMP_A, line) for line in lines]
    four = [dp.explain(pump, line) for pump in (PUMP_A, PUMP_B) for line in lines]
    said = [t.get_text().split(":")[0] for t in plots.waterfall(one).texts]
    assert sorted(said) == ["2", "3"]
    said = [t.get_text().split(":")[0] for t in plots.waterfall(four).texts]
    assert sorted(said) == ["A, 2", "A, 3", "B, 2", "B, 3"]
    ticks = [t.get_text().split("\n")[0] for t in plots.ledger(one).get_xticklabels()]
    assert ticks == ["2", "3"]


def test_what_is_no_axes_is_refused() -> None:
    with pytest.raises(dp.InputError) as err:
        plots.waterfall(dp.explain(PUMP_A, r1_line()), PUMP_A)  # type: ignore[arg-type]
    assert str(err.value) == (
        f"ax={PUMP_A!r}: must be matplotlib's Axes; other inputs go before it or by name."
    )
