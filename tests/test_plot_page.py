"""Pictures on pages of all kinds: slides, dark grounds, small figures, other scripts, notebooks."""

from __future__ import annotations

import itertools
import re
import warnings
from typing import Any

import matplotlib as mpl
import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.lines import Line2D
from matplotlib.text import Text

import drainpump as dp
from drainpump import plots
from tests.pictures import LINE, PICTURES, PIT
from tests.problems import PUMP_A


def panels(ax: Axes) -> list[Any]:
    return list(ax.figure.axes)


def words(ax: Axes) -> list[Text]:
    found = [t for one in panels(ax) for t in one.findobj(Text)]
    return [t for t in found if t.get_text() and t.get_visible()]


def luminance(color: Any) -> float:
    """Relative luminance of an sRGB colour, IEC 61966-2-1 (from memory)."""
    rgb = np.array(to_rgb(color))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one: Any, other: Any) -> float:
    """Contrast ratio of WCAG 2: 3 is asked of large letters and of graphics (from memory)."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("look", ["dark_background", "ggplot"])
@pytest.mark.parametrize("name", PICTURES)
def test_words_and_curves_stand_out_from_their_ground(name: str, look: str) -> None:
    with plt.style.context(look):
        ax = PICTURES[name]()
        for one in panels(ax):
            ground = one.get_facecolor()
            for text in one.texts:
                assert contrast(text.get_color(), ground) > 3, text.get_text()
                patch = text.get_bbox_patch()
                assert patch is None or to_rgb(patch.get_facecolor()) == to_rgb(ground)
            for line in one.lines:
                drawn = line.get_linestyle() != "None"
                color = line.get_color() if drawn else line.get_markeredgecolor()
                assert contrast(color, ground) > 2.2
        legend = ax.get_legend()
        for handle in [] if legend is None else legend.legend_handles:
            if isinstance(handle, Line2D) and handle.get_linestyle() != "None":
                assert contrast(handle.get_color(), ax.get_facecolor()) > 2.2


def test_letters_follow_the_page() -> None:
    def sizes() -> list[float]:
        return sorted(t.get_fontsize() for t in plots.duty(PUMP_A, LINE, PIT).texts)

    plain = sizes()
    with mpl.rc_context({"font.size": 16.0}):
        assert sizes() == pytest.approx([1.6 * x for x in plain])


@pytest.mark.parametrize("name", ["check_up", "swings", "waterfall_bound", "storm"])
def test_a_slide_has_room_for_its_letters(name: str) -> None:
    with mpl.rc_context({"font.size": 16.0}):
        # too little room would be a PictureWarning, an error here
        ax = PICTURES[name]()
        ax.figure.canvas.draw()
    boxes = [Text.get_window_extent(t) for t in ax.texts if t.get_text()]
    assert not any(a.overlaps(b) for a, b in itertools.combinations(boxes, 2))


def test_a_storm_stays_on_the_page() -> None:
    figure = plt.figure(figsize=(12, 4), layout="constrained")
    placed = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    laid = plt.figure(figsize=(12, 4), layout="constrained").subplots()
    for ax in (placed, laid):
        assert PICTURES["storm"](ax=ax) is ax
        ax.figure.canvas.draw()
        page = ax.figure.bbox.padded(2)
        for panel in panels(ax):
            box = panel.get_tightbbox()
            assert page.contains(box.x0, box.y0), panel.get_ylabel()
            assert page.contains(box.x1, box.y1), panel.get_ylabel()
        assert len({round(panel.get_position().x0, 6) for panel in panels(ax)}) == 1


@pytest.mark.parametrize("name", PICTURES)
@pytest.mark.parametrize(
    ("units", "others"),
    [("us", r"\b(L/s|L|m|mm|m/s|mm/h)\b"), ("metric", r"\b(gpm|gal|ft|in|ft/s)\b")],
)
def test_without_a_twin_one_system_of_units_is_left(name: str, units: Any, others: str) -> None:
    ax = PICTURES[name](twin=False, units=units)
    assert not any(one.child_axes for one in panels(ax))
    # a pipe's trade size keeps its inches, and a value the words it was typed in
    typed = r"[\d/-]+ in\n|length \d+ ft|[\d./-]+ in (Sch|bore)"
    said = " ".join(re.sub(typed, "", t.get_text()) for t in words(ax))
    assert re.search(r"\d|\(", said)
    assert not re.search(r"(?<=[\d(] )" + others + r"|\(" + others + r"\)", said)


@pytest.mark.parametrize("name", PICTURES)
def test_a_small_picture_is_readable_or_said_to_be_too_small(name: str) -> None:
    _, ax = plt.subplots(figsize=(3, 2.5), layout="constrained")
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always")
        PICTURES[name](ax=ax, twin=False)
    if heard:
        assert [w.category for w in heard] == [plots.PictureWarning]
        assert re.fullmatch(
            r"picture: its axes have [\d.]+ by [\d.]+ points, and its words need [\d.]+ by [\d.]+ "
            r"points to be read; give a larger figure, or twin=False\.",
            str(heard[0].message),
        )
        return
    ax.figure.canvas.draw()
    boxes = [Text.get_window_extent(t) for t in ax.texts if t.get_text() and t.get_visible()]
    assert not any(a.overlaps(b) for a, b in itertools.combinations(boxes, 2))
    page, whole = ax.figure.bbox.padded(2), ax.get_tightbbox()
    assert whole is not None
    assert page.contains(whole.x0, whole.y0)
    assert page.contains(whole.x1, whole.y1)


def test_twenty_five_pictures_do_not_pile_up() -> None:
    plt.close("all")
    made = [plots.outage(PIT, inflow_most_gpm=40) for _ in range(25)]
    # the last is pyplot's current figure, as its `savefig` expects; the others live on
    assert len(plt.get_fignums()) == 1
    assert plt.gcf() is made[-1].figure
    assert len({id(ax.figure) for ax in made}) == 25


def test_a_notebook_finds_each_picture_it_has_to_show(monkeypatch: pytest.MonkeyPatch) -> None:
    plt.close("all")
    monkeypatch.setattr(mpl, "get_backend", lambda: "module://matplotlib_inline.backend_inline")
    made = [plots.outage(PIT, inflow_most_gpm=40) for _ in range(3)]
    # such a backend shows what pyplot holds at a cell's end, and closes it
    assert [plt.figure(i) for i in plt.get_fignums()] == [ax.figure for ax in made]
    plt.close("all")


@pytest.mark.parametrize("name", ["Насос № 3", "Αντλία µ", "Größe Ø"])
def test_a_name_in_any_script_is_drawn_where_a_font_has_it(name: str) -> None:
    pump = PUMP_A.replace(name=name)
    # a missing glyph is warned of, and a warning is an error here
    with mpl.rc_context({"font.family": ["cmss10"], "axes.unicode_minus": False}):
        for ax in (plots.duty(pump, LINE), plots.ledger(dp.explain(pump, LINE))):
            (text,) = (t for t in words(ax) if name in t.get_text())
            assert len(text.get_fontfamily()) > 1
            family = mpl.font_manager.FontProperties(family=text.get_fontfamily())  # type: ignore[attr-defined]
            fonts = mpl.font_manager.fontManager._find_fonts_by_props(family)  # type: ignore[attr-defined]
            held = set().union(*(mpl.font_manager.get_font(f).get_charmap() for f in fonts))  # type: ignore[attr-defined]
            assert {ord(c) for c in name if c != " "} <= held
    assert len(plots.duty(pump, LINE).texts[0].get_fontfamily()) == 1


@pytest.mark.parametrize(
    ("draw", "message"),
    [
        (lambda: plots.pareto(5), "selection=5: must be a Selection; make one with select(...)."),
        (lambda: plots.outage(5, inflow_most_gpm=4), "pit=5: must be a Pit; make one with "
         "Pit(...)."),
        (lambda: plots.pipe_sizes(PUMP_A, 5), "line=5: must be a DischargeLine; make one with "
         "DischargeLine(...)."),
        (lambda: plots.starts(PUMP_A, LINE, 5), "pit=5: must be a Pit; make one with Pit(...)."),
        (lambda: plots.cycle(PUMP_A, LINE, None, inflow_gpm=9), "pit=None: must be a Pit; make one "
         "with Pit(...)."),
        (lambda: plots.duty(PUMP_A, LINE, 5), "pit=5: must be a Pit; make one with Pit(...)."),
        (lambda: plots.sketch(PUMP_A, LINE, 5), "pit=5: must be a Pit; make one with Pit(...)."),
        (lambda: plots.pump_family(5, ratio=1), "pump=5: must be a PumpCurve; make one with "
         "PumpCurve(...)."),
        (lambda: plots.pipe_sizes(PUMP_A, LINE, limits=5), "limits=5: must be a Limits; make one "
         "with Limits(...)."),
        (lambda: PICTURES["storm"](ax=5), "ax=5: must be matplotlib's Axes; other inputs go before "
         "it or by name."),
    ],
)  # fmt: skip
def test_what_is_no_part_is_no_picture(draw: Any, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        draw()
    assert str(err.value) == message


@pytest.mark.parametrize(
    ("draw", "message"),
    [
        (lambda: plots.duty(PUMP_A, LINE, need_gpm=[1, 2]),
         "need_gpm=[1.0, 2.0]: must be one number; give one."),
        (lambda: PICTURES["swings"](twin="no"),
         "twin='no': must be True or False; state which it is."),
        (lambda: plots.waterfall(dp.explain(PUMP_A, LINE), in_turn="x"),
         "in_turn='x': must be True or False; state which it is."),
        (lambda: plots.outage(PIT, inflow_most_gpm=0),
         "inflow_most_gpm=0: must be one number above 0; give one."),
        (lambda: plots.system_family(LINE, length_ft=9, flow_max_gpm=0),
         "flow_max_gpm=0: must be one number above 0; give one."),
        (lambda: plots.system_family(LINE, length_ft=[]),
         "length_ft=[]: must be one known number a curve; give a list of them."),
        (lambda: plots.pump_family(PUMP_A, ratio=[1, np.nan]),
         "ratio=[1.0, nan]: must be one known number a curve; give a list of them."),
        (lambda: plots.profile(LINE, PUMP_A, ground_ft=[(0, 3), (9, np.nan)]),
         "ground=[(0, 3), (9, nan)]: must be points (distance, height), going on; give [(0, 3), "
         "(150, 5)]."),
    ],
)  # fmt: skip
def test_what_is_no_number_is_no_picture(draw: Any, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        draw()
    assert str(err.value) == message
