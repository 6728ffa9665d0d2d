"""Names, numbers and keys on the plots, judged by the artists: legible with 1, 3 and 12 pumps."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.markers import CARETUPBASE
from matplotlib.text import Text

import drainpump as dp
from drainpump import plots
from drainpump.plots.frame import wrapped
from tests.problems import r1_line, r1_pit

LINE = r1_line(name="line")
PIT = r1_pit()


def pump(name: str, head: float, flow: float, end: float = 1.0) -> dp.PumpCurve:
    """An invented pump; its data end at a share of its greatest flow."""
    q = np.linspace(0, end * flow, 9)
    made = head * (1 - (q / flow) ** 2)
    return dp.PumpCurve(name=name, flow_gpm=q, head_ft=made, price=120 + 20 * head, invented=True)


THREE = [pump("Half", 30, 55), pump("Third_hp $20 $30", 24, 46), pump("Größe <3> µ, iron", 36, 60)]
LOW, SHORT = pump("Too low", 5, 30), pump("Short data", 45, 70, end=0.4)
TWELVE = [
    *THREE,
    pump("Half mk2", 30.4, 55.5),
    pump("Half mk3", 30.2, 54.6),
    LOW,
    SHORT,
    pump("Sewage two-inch solids handling, cast iron", 28, 95),
    pump("P_10", 33, 70),
    pump("$cheap$", 18, 38),
    pump("Ø 9", 52, 48),
    pump("Half", 33, 50),
]


def keys(ax: Axes) -> list[str]:
    """What the key at the right says: its lines begin with their numbers."""
    words = (t.get_text().replace("\n", " ") for t in ax.texts)
    return [x for x in words if re.match(r"\d+  ", x)]


def numbers(ax: Axes) -> list[Text]:
    """The numbers on the curves."""
    return [t for t in ax.texts if t.get_text().isdigit()]


def said(ax: Axes) -> str:
    words = [*ax.texts, *ax.get_xticklabels(), ax.title]
    return " ".join(t.get_text() for t in words).replace("\n", " ") + ax.get_title("left")


def boxes(ax: Axes) -> list[Any]:
    ax.figure.canvas.draw()
    return [Text.get_window_extent(t) for t in ax.texts if t.get_text()]


def clear_of_each_other(ax: Axes) -> bool:
    found = boxes(ax)
    return not any(b.overlaps(c) for i, b in enumerate(found) for c in found[:i])


def inside(ax: Axes) -> bool:
    found, frame = boxes(ax), ax.get_window_extent().padded(2)
    return all(frame.contains(b.x0, b.y0) and frame.contains(b.x1, b.y1) for b in found)


# -- names


def named() -> dict[str, Callable[[], Axes]]:
    odd = pump("Half $5 & third $7 <old>_", 30, 55)
    why = [dp.explain(p, LINE) for p in (odd, THREE[1])]
    costs = dp.Costs(pipe_per_ft=2)
    return {
        "duty": lambda: plots.duty(odd, LINE),
        "waterfall": lambda: plots.waterfall(why[0]),
        "waterfalls": lambda: plots.waterfall(why),
        "ledger": lambda: plots.ledger(why),
        "pipe_sizes": lambda: plots.pipe_sizes(odd, LINE),
        "system_family": lambda: plots.system_family(LINE, length_ft=[50, 150], pump=odd),
        "starts": lambda: plots.starts(odd, LINE, PIT),
        "cycle": lambda: plots.cycle(odd, LINE, PIT, inflow_gpm=10),
        "pareto": lambda: plots.pareto(dp.select([odd], [LINE], need_gpm=20, costs=costs)),
        "band": lambda: plots.band(odd, LINE, dp.Doubt(lift_ft=0.5), samples=64),
    }


@pytest.mark.parametrize("name", named())
def test_a_dollar_in_a_name_is_no_mathematics(name: str) -> None:
    ax = named()[name]()
    found = [t for t in ax.findobj(Text) if "$" in t.get_text()]  # type: ignore[union-attr]
    assert found
    assert not any(t.get_parse_math() for t in found)


def test_long_names_are_broken_between_words_but_not_before_a_unit() -> None:
    assert wrapped("a pump of 1.5 hp in cast iron: 33.5 gpm", 36) == (
        "a pump of 1.5 hp in cast iron:\n33.5 gpm"
    )
    assert wrapped("two\nlines") == "two\nlines"


def test_the_line_a_pump_family_stands_on_is_named() -> None:
    ax = plots.pump_family(THREE[0], ratio=[0.8, 1.0], line=LINE)
    assert [t.get_text() for t in ax.texts] == ["speed 80 %", "speed 100 %", "line"]


# -- labels near points


@pytest.mark.parametrize("count", [1, 3])
def test_labels_keep_off_the_curves(count: int) -> None:
    ax = plots.duty(THREE[:count], LINE, PIT)
    found = boxes(ax)
    for line in ax.lines:
        if line.get_linestyle() == "None":
            continue
        dots = line.get_transform().transform(line.get_xydata())
        for box in found:
            assert not any(box.contains(x, y) for x, y in dots)


def test_a_leader_crosses_no_other_point_and_no_other_leader() -> None:
    """Five pumps whose points stand close: each flow is plainly one point's."""
    near = [pump(f"P{i}", 26 + 3 * i, 58 - 0.8 * i) for i in range(4)]
    ax = plots.duty([*near, pump("far", 40, 80)], LINE)
    ax.figure.canvas.draw()
    notes: list[Any] = [t for t in ax.texts if re.fullmatch(r"[\d.]+ gpm", t.get_text())]
    at = ax.transData.transform([note.xy for note in notes])
    led = []
    for note, point in zip(notes, at, strict=True):
        (x0, y0), (x1, y1) = Text.get_window_extent(note).get_points()
        led.append(np.linspace(point, [(x0 + x1) / 2, (y0 + y1) / 2], 200))
    assert len(notes) == 5
    assert sum(note.arrow_patch.get_visible() for note in notes) >= 3
    for i, way in enumerate(led):
        if not notes[i].arrow_patch.get_visible():
            continue
        for j in (j for j in range(len(notes)) if j != i):
            # a mark is some seven points across: 5 dots from its middle to its rim
            if np.hypot(*(at[j] - at[i])) > 12:
                assert np.hypot(*(way - at[j]).T).min() > 5, notes[i].get_text()
            if notes[j].arrow_patch.get_visible():
                far = np.hypot(*(way[:, None] - led[j]).transpose(2, 0, 1)).min(axis=1)
                assert far[np.hypot(*(way - at[j]).T) > 12].min() > 1


def test_a_long_label_stays_in_narrow_axes() -> None:
    _, ax = plt.subplots(figsize=(4, 3), layout="constrained")
    plots.starts(THREE, LINE, PIT, starts_max_per_h=20, ax=ax)
    assert inside(ax)


# -- numbers with a key


@pytest.mark.parametrize("kind", ["duty", "starts"])
def test_many_curves_carry_numbers_and_the_key_names_them(kind: str) -> None:
    drawn = [p for p in TWELVE if kind == "duty" or p is not LOW]
    ax = plots.duty(TWELVE, LINE) if kind == "duty" else plots.starts(TWELVE, LINE, PIT)
    # each curve is followed by the bar at its end or the mark at its worst
    curves = ax.lines[: 2 * len(drawn) : 2]
    for i, (key, one) in enumerate(zip(keys(ax), drawn, strict=True), 1):
        assert key.startswith(f"{i}  {one.name}: ")
    assert [t.get_text() for t in numbers(ax)] == [str(i + 1) for i in range(len(drawn))]
    for note, line in zip(numbers(ax), curves, strict=True):
        x, y = note.get_position()
        assert y == pytest.approx(np.interp(x, line.get_xdata(), line.get_ydata()), abs=0.3)
    assert clear_of_each_other(ax)
    assert inside(ax)


def test_seven_pumps_twice_on_one_axes_are_numbered_on() -> None:
    first, second = TWELVE[:7], TWELVE[5:]
    ax = plots.duty(first, LINE)
    small = ax.get_ylim()[1]
    assert plots.duty(second, LINE, ax=ax) is ax
    assert [t.get_text() for t in numbers(ax)] == [str(i) for i in range(1, 15)]
    for i, (key, one) in enumerate(zip(keys(ax), [*first, *second], strict=True), 1):
        assert key.startswith(f"{i}  {one.name}: ")
    # the axes hold both, the far scales stand once, and no curve looks like another
    curves = [x for x in ax.lines if x.get_linestyle() != "None" and x.get_color() != "0.25"]
    assert len({(x.get_color(), x.get_linestyle(), str(x._dash_pattern)) for x in curves}) == 14  # type: ignore[attr-defined]
    assert small < ax.get_ylim()[1]
    assert len(ax.child_axes) == 2
    assert clear_of_each_other(ax)
    assert inside(ax)


def test_a_second_picture_joins_the_frame_only_where_the_axes_show_the_same() -> None:
    ax = plots.band(THREE[0], LINE, dp.Doubt(lift_ft=0.5), samples=64)
    plots.duty(THREE[1], LINE, ax=ax)
    assert len(ax.child_axes) == 2
    with pytest.raises(dp.InputError) as err:
        plots.duty(THREE[1], LINE, ax=ax, units="metric")
    assert str(err.value).endswith(
        ": must show Head (m) against Flow (L/s); it shows Head (ft) against Flow (gpm); give "
        "fresh axes."
    )
    ax.clear()
    plots.duty(THREE[1], LINE, ax=ax, units="metric")
    assert [a.get_xlabel() or a.get_ylabel() for a in ax.child_axes] == ["Flow (gpm)", "Head (ft)"]


def test_two_pumps_of_one_name_say_their_own_flows() -> None:
    found = keys(plots.duty(TWELVE, LINE))
    op = dp.operating_point(TWELVE, LINE)
    for i in (0, 11):
        assert found[i] == f"{i + 1}  Half: {op.flow_gpm[i]:.3g} gpm"
    assert found[0][3:] != found[11][4:]


@pytest.mark.parametrize(
    "given", [{"length_ft": np.arange(50.0, 290, 20)}, {"lift_ft": np.arange(1.0, 13)}]
)
def test_a_family_of_twelve_carries_numbers(given: dict[str, Any]) -> None:
    ax = plots.system_family(LINE, pump=THREE[0], **given)
    assert len(numbers(ax)) == 12
    assert keys(ax)[0].startswith("1  l")
    assert clear_of_each_other(ax)


def test_a_long_front_is_numbered() -> None:
    costs = dp.Costs(pipe_per_ft=2)
    pumps = [pump(f"Pump {i}", 20 + 2 * i, 40 + 4 * i) for i in range(9)]
    selection = dp.select(pumps, [LINE], need_gpm=20, costs=costs)
    ax = plots.pareto(selection)
    assert len(selection.pareto) > 6
    assert keys(ax) == [f"{i}  {c.pump.name}, line" for i, c in enumerate(selection.pareto, 1)]


# -- bounds and no flow


def test_a_bound_is_said_as_a_bound() -> None:
    words = said(plots.duty([THREE[0], SHORT, LOW], LINE))
    assert "Short data: at least 28 gpm" in words
    assert "Too low: no flow" in words
    why = [dp.explain(p, LINE) for p in (THREE[0], SHORT, LOW)]
    words = said(plots.ledger(why))
    assert "at least 28 gpm" in words
    assert "no flow" in words
    assert "Short data: ≥ 28 gpm" in said(plots.waterfall(why))
    alone, left = (t.get_text() for t in plots.waterfall(why[1]).texts[:2])
    assert (alone, left) == ("≥ 28", "≥ 28")


def test_a_band_that_ends_at_a_bound_says_so() -> None:
    short = dp.PumpCurve(name="Short", flow_gpm=[0, 15, 28], head_ft=[45, 42, 38])
    doubt = dp.Doubt(lift_ft=0.75, length_pct=5, head_pct=4)
    for lift, words in (
        (28, r"at least 28 gpm \(P10 [\d.]+ gpm, P90 at least 28 gpm\)"),
        (31, r"[\d.]+ gpm \(P10 [\d.]+ gpm, P90 at least 28 gpm\)"),
        (46, r"no flow \(P10 no flow, P90 [\d.]+ gpm\)"),
    ):
        line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=lift)
        said = " ".join(plots.band(short, line, doubt, 256).texts[0].get_text().split())
        assert re.fullmatch(words, said), said


def test_pipe_sizes_marks_flows_beyond_the_curve() -> None:
    ax = plots.pipe_sizes([THREE[0], SHORT], LINE, sizes=["1-1/4", "2"])
    # of each pump its curve, marks within the limits and outside, and an arrow where it is a bound
    assert [x.get_marker() for x in ax.lines] == ["None", "o", "o", "None", "o", "o", CARETUPBASE]
    arrow = ax.lines[-1]
    np.testing.assert_allclose(arrow.get_ydata(), dp.operating_point(
        SHORT, [r1_line(1.36), r1_line(2.047)]
    ).flow_at_least_gpm)  # fmt: skip
    assert ax.get_title("left").endswith("; arrow: at least that, beyond the curve")


# -- ranges, keys, sizes of figures


def test_small_flows_are_said_with_three_digits() -> None:
    ax = plots.waterfall(dp.explain(THREE[0], LINE), units="metric", in_turn=True)
    left = [t.get_text() for t in ax.texts[3::2]]
    assert len(set(left)) > 3
    assert all(len(t.replace(".", "").lstrip("0")) <= 3 for t in left)


def test_costs_fill_the_picture() -> None:
    selection = dp.select(THREE, [LINE], need_gpm=20, costs=dp.Costs(pipe_per_ft=2))
    ax = plots.pareto(selection)
    costs = [float(c.cost or 0.0) for c in selection.candidates]
    low, high = ax.get_ylim()
    assert low < min(costs) < max(costs) < high
    assert max(costs) - min(costs) > 0.4 * (high - low)
    legend = ax.get_legend()
    assert legend is not None
    assert "20 gpm needed" in {t.get_text() for t in legend.get_texts()}


def test_the_storms_key_explains_pump_and_outage() -> None:
    flow = dp.Hydrograph(flow_gpm=[10, 30, 20, 5], block_min=10)
    ax = plots.storm(dp.route(THREE[0], LINE, PIT, flow, outages=[(12, 15)], pond_area_ft2=500))
    legend = ax.get_legend()
    assert legend is not None
    assert [t.get_text() for t in legend.get_texts()] == ["inflow", "pump", "power out"]
    (area,) = ax.collections
    came, pumped = (np.asarray(x.get_ydata()) for x in ax.lines)
    highest = max(p.vertices[:, 1].max() for p in area.get_paths())
    assert highest == pytest.approx(pumped.max())
    # the key has room above the curves
    ax.figure.canvas.draw()
    bottom = ax.transData.inverted().transform((0, legend.get_window_extent().y0))[1]
    assert bottom > max(highest, came.max())


def test_a_legend_stands_under_the_rows() -> None:
    _, ax = plt.subplots(figsize=(4, 3), layout="constrained")
    plots.check_up(
        THREE[0], LINE, dp.field.bucket_test(volume_gal=5, fill_s=16.7), need_gpm=20, ax=ax
    )
    ax.figure.canvas.draw()
    legend = ax.get_legend()
    assert legend is not None
    assert legend.get_window_extent().y1 < ax.transData.transform((0, 0.4))[1]


def test_a_title_is_no_wider_than_its_axes() -> None:
    long = pump("A pump with a name that goes on and on, and then on", 30, 55)
    for size in ((8, 4.4), (4, 3)):
        _, ax = plt.subplots(figsize=size, layout="constrained")
        plots.cycle(long, LINE, PIT, inflow_gpm=10, ax=ax)
        ax.figure.canvas.draw()
        title = next(t for t in ax.findobj(Text) if long.name[:9] in t.get_text())  # type: ignore[union-attr]
        assert title.get_window_extent().x1 <= ax.figure.bbox.x1


def test_names_along_the_axis_turn_where_they_stand_close() -> None:
    why = [dp.explain(p, LINE) for p in TWELVE]
    turned = []
    for size, some in (((7, 5), why[:2]), ((9, 5), why), ((4, 3), why)):
        _, ax = plt.subplots(figsize=size, layout="constrained")
        plots.ledger(some, ax=ax)
        turned.append(ax.get_xticklabels()[0].get_rotation())
        assert clear_of_each_other(ax)
    assert turned == [0, 40, 90]


def test_draws_on_a_vector_canvas_and_in_a_subfigure() -> None:
    figure = Figure(layout="constrained")
    FigureCanvasSVG(figure)
    left, right = figure.subfigures(1, 2)
    assert plots.duty(THREE, LINE, ax=left.subplots()).texts
    assert plots.pipe_sizes(THREE, LINE, ax=right.subplots()).texts
