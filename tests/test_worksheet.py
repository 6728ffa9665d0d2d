"""Worksheets: same seed, same sheet; and every answer checked by a second way."""

from __future__ import annotations

import math
import re
from typing import Any

import fluids
import numpy as np
import pytest

import drainpump as dp
from drainpump.teach.sheets import LESSONS

G_FPS2 = 32.174
SEEDS = range(6)


def number(text: str) -> float:
    """The first number in a text."""
    found = re.search(r"-?\d+(?:\.\d+)?(?:e-?\d+)?", text)
    assert found
    return float(found.group())


def given(sheet: dp.teach.Worksheet, start: str) -> float:
    """The number behind some words of what is given."""
    for line in sheet.given:
        if start in line:
            return number(line[line.index(start) + len(start) :])
    raise AssertionError(start)


def area_in2(bore_in: float) -> float:
    return math.pi / 4 * bore_in**2


def velocity_fps(flow_gpm: float, bore_in: float) -> float:
    return flow_gpm * 231 / 60 / area_in2(bore_in) / 12


def line_of(sheet: dp.teach.Worksheet) -> dp.DischargeLine:
    """Build the line from its words, as a pupil would."""
    words = next(x for x in sheet.given if "lift" in x)
    found = re.match(
        r"([\d.]+) (ft|m) of (.+?) in Sch 40 PVC .* lift ([\d.]+) (?:ft|m), fittings K ([\d.]+) ",
        words,
    )
    assert found
    length, unit, size, lift, k = found.groups()
    sized: dict[str, Any] = {f"length_{unit}": float(length), f"lift_{unit}": float(lift)}
    return dp.straight_line(pipe=dp.pvc(size), k=float(k), **sized)


def pump_of(sheet: dp.teach.Worksheet) -> dp.PumpCurve:
    """Build the pump from the table, as a pupil would."""
    rows = np.array([[float(x) for x in row] for row in sheet.table[1:]])
    flow, head = ("flow_gpm", "head_ft") if sheet.units == "us" else ("flow_lps", "head_m")
    points: dict[str, Any] = {flow: rows[:, 0], head: rows[:, 1]}
    return dp.PumpCurve(name="theirs", **points)


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("lesson", range(1, 11))
def test_same_seed_same_sheet(lesson: int, units: str) -> None:
    title = list(LESSONS)[lesson - 1]
    one, two = dp.teach.worksheet(lesson, 7, units=units), dp.teach.worksheet(title, 7, units=units)
    assert one.markdown(answer=True) == two.markdown(answer=True)
    assert one.html(answer=True) == two.html(answer=True)
    assert (one.lesson, one.title) == (lesson, title)
    other = dp.teach.worksheet(lesson, 8, units=units)
    assert one.markdown() != other.markdown()


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("lesson", range(1, 11))
def test_numbers_are_sensible_and_no_answer_is_missing(lesson: int, units: str) -> None:
    for seed in range(25):
        sheet = dp.teach.worksheet(lesson, seed, units=units)
        values = [x for x in sheet.answers.values() if not isinstance(x, str)]
        assert np.isfinite(values).all()
        assert (np.array(values) >= 0).all()
        assert len(sheet.steps) >= 3
        text = sheet.markdown(answer=True)
        assert "nan" not in text
        assert "inf" not in text.replace("inflow", "").replace("infin", "")
        foreign = r"\d (m|mm|L/s|L|kPa|m/s)\b" if units == "us" else r"\d (ft|gpm|gal|psi|ft/s)\b"
        assert re.search(foreign, text) is None


@pytest.mark.parametrize("lesson", range(1, 11))
def test_every_question_has_its_steps_below_it(lesson: int) -> None:
    for seed in SEEDS:
        sheet = dp.teach.worksheet(lesson, seed)
        numbers = [step.question for step in sheet.steps]
        assert numbers == sorted(numbers)
        assert set(numbers) == set(range(1, len(sheet.questions) + 1))
        answer = sheet.text(answer=True).split("Worked answer\n")[1]
        words = " ".join(answer.split())
        for i, question in enumerate(sheet.questions, 1):
            first = next(step for step in sheet.steps if step.question == i)
            said = " ".join(f"Question {i}: {question} 1. {first.words} {first.formula}".split())
            assert said in words


def test_a_rate_is_asked_for_as_a_rate() -> None:
    sheet = dp.teach.worksheet("storms", 1)
    assert sheet.questions[0] == "At what rate does water come in while it rains?"
    assert sheet.steps[0].result.endswith(" gpm")


@pytest.mark.parametrize("lesson", range(1, 11))
def test_the_answer_is_shown_only_on_asking(lesson: int) -> None:
    sheet = dp.teach.worksheet(lesson, 3)
    assert "Worked answer" not in sheet.markdown()
    assert "Worked answer" not in sheet.html()
    assert "Worked answer" not in sheet.text()
    assert str(sheet) == sheet.text()
    assert sheet._repr_html_() == sheet.html()
    for step in sheet.steps:
        assert f"`{step.formula}`" in sheet.markdown(answer=True)
        assert f"\n    {step.formula}\n    {step.result}\n" in sheet.text(answer=True)
    assert "Site, pump and figures are invented." in sheet.markdown()
    assert "local codes and licensed trades" in sheet.html()


def test_text_is_escaped() -> None:
    sheet = dp.teach.worksheet("trust and decline", 1)
    page = sheet.html(answer=True)
    assert "low &lt;= measured &lt;= high" in page
    assert "<= measured" not in page
    odd = dp.teach.Worksheet(
        1, "a <b> title", 0, "us", "x_y * [z]", ("a & b",), ("1 < 2 | 3?",), (("#",), ("|",)),
        (), {}, {},
    )  # fmt: skip
    assert "a &lt;b&gt; title" in odd.html()
    assert "<b>" not in odd.html()
    assert r"x\_y \* \[z\]" in odd.markdown()
    assert r"1. 1 &lt; 2 \| 3?" in odd.markdown()
    assert r"| \| |" in odd.markdown()


def test_unknown_lessons_and_seeds_are_refused() -> None:
    for lesson, mend in (
        (0, "pick one."),
        (11, "pick one."),
        (True, "pick one."),
        ("storm", "did you mean 'storms'?"),
    ):
        with pytest.raises(dp.InputError) as err:
            dp.teach.worksheet(lesson, 1)
        assert str(err.value) == (f"lesson={lesson!r}: must be 1 to 10 or a lesson's title; {mend}")
    for seed in (-1, 1.5, True):
        with pytest.raises(dp.InputError) as err:
            dp.teach.worksheet(1, seed)  # type: ignore[arg-type]
        assert str(err.value) == (
            f"seed={seed!r}: must be a whole number, 0 or more; give the sheet's number."
        )
    with pytest.raises(dp.InputError) as err:
        dp.teach.worksheet(1, 1, units="si")
    assert str(err.value) == "units='si': must be 'us' or 'metric'; pick one of the two."


# -- each lesson worked by hand from what its sheet gives


@pytest.mark.parametrize("seed", SEEDS)
def test_head_is_height(seed: int) -> None:
    sheet = dp.teach.worksheet(1, seed)
    lift = given(sheet, "outlet ") - given(sheet, "level ") / 12
    assert sheet.answers["lift_ft"] == pytest.approx(lift, rel=1e-9)
    # water at 60 °F weighs 62.37 lb/ft³: Munson, Young & Okiishi, table B.1 (from memory)
    assert sheet.answers["pressure_psi"] == pytest.approx(62.37 * lift / 144, rel=1e-3)
    assert sheet.answers["left_ft"] == pytest.approx(given(sheet, "pump ") - lift, rel=1e-3)


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("seed", SEEDS)
def test_a_pump_has_a_curve(seed: int, units: str) -> None:
    sheet = dp.teach.worksheet(2, seed, units=units)
    pump = pump_of(sheet)
    flow, head = ("gpm", "ft") if units == "us" else ("lps", "m")
    asked, lift = number(sheet.questions[0]), number(sheet.questions[2])
    made = getattr(pump.head(**{f"flow_{flow}": asked}), f"head_{head}")
    # the sheet prints four digits
    assert sheet.answers[f"head_{head}"] == pytest.approx(made, rel=2e-3)
    assert sheet.answers[f"last_head_{head}"] == pytest.approx(float(sheet.table[-1][1]))
    at = sheet.answers[f"flow_{flow}"]
    there = getattr(pump.head(**{f"flow_{flow}": at}), f"head_{head}")
    assert there == pytest.approx(lift, rel=2e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_line_pushes_back(seed: int) -> None:
    sheet = dp.teach.worksheet(3, seed)
    answer, words = sheet.answers, sheet.given[0]
    length, bore = number(words), given(sheet, "true bore ")
    flow, k = number(sheet.given[-1]), given(sheet, "fittings K ")
    speed = velocity_fps(flow, bore)
    assert answer["velocity_fps"] == pytest.approx(speed, rel=1e-6)
    square = speed**2 / (2 * G_FPS2)
    # 1.21e-5 ft²/s at 60 °F: Munson, Young & Okiishi, table B.1 (from memory)
    assert given(sheet, "kinematic viscosity ") == pytest.approx(1.21e-5, rel=2e-3)
    reynolds = speed * bore / 12 / 1.21e-5
    factor = fluids.friction.Colebrook(reynolds, 5e-6 / (bore / 12))
    pipe = factor * length / (bore / 12) * square
    assert answer["pipe_ft"] == pytest.approx(pipe, rel=5e-3)
    assert answer["fittings_ft"] == pytest.approx(k * square, rel=1e-5)
    assert answer["exit_ft"] == pytest.approx(square, rel=1e-5)
    parts = [answer[f"{part}_ft"] for part in ("pipe", "fittings", "exit")]
    assert answer["head_ft"] == pytest.approx(given(sheet, "lift ") + sum(parts), rel=1e-9)


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("seed", SEEDS)
def test_where_they_cross(seed: int, units: str) -> None:
    sheet = dp.teach.worksheet(4, seed, units=units)
    op = dp.operating_point(pump_of(sheet), line_of(sheet))
    flow, head = ("gpm", "ft") if units == "us" else ("lps", "m")
    assert sheet.answers[f"flow_{flow}"] == pytest.approx(getattr(op, f"flow_{flow}"), rel=2e-3)
    assert sheet.answers[f"head_{head}"] == pytest.approx(getattr(op, f"head_{head}"), rel=2e-3)
    assert sheet.answers[f"guess_{flow}"] > sheet.answers[f"flow_{flow}"]


@pytest.mark.parametrize("seed", SEEDS)
def test_pipe_against_pump(seed: int) -> None:
    sheet = dp.teach.worksheet(5, seed)
    pump, line = pump_of(sheet), line_of(sheet)
    now = dp.operating_point(pump, line).flow_gpm
    faster = dp.operating_point(pump.at_speed(1.1), line).flow_gpm
    assert sheet.answers["flow_gpm"] == pytest.approx(now, rel=2e-3)
    assert sheet.answers["pump_flow_gpm"] == pytest.approx(faster, rel=2e-3)
    pipe = sheet.answers["pipe_flow_gpm"]
    assert pipe > now
    better = "the pipe" if pipe > faster else "the pump"
    assert sheet.steps[-1].result.endswith(f": {better} brings more")


@pytest.mark.parametrize("seed", SEEDS)
def test_fittings_and_valves(seed: int) -> None:
    sheet = dp.teach.worksheet(6, seed)
    answer = sheet.answers
    elbows = number(sheet.given[0])
    k = elbows * given(sheet, "elbows of K ") + given(sheet, "valve of K ")
    speed = velocity_fps(given(sheet, "flow "), given(sheet, "true bore "))
    assert answer["k"] == pytest.approx(k)
    assert answer["fittings_ft"] == pytest.approx(k * speed**2 / (2 * G_FPS2), rel=1e-5)
    assert answer["guess_ft"] == pytest.approx(8 * elbows)
    # so long a pipe takes as much: L/D = K/f with f near 0.02
    diameters = answer["equivalent_length_ft"] * 12 / given(sheet, "true bore ")
    assert k / diameters == pytest.approx(0.021, abs=0.005)


@pytest.mark.parametrize("seed", SEEDS)
def test_high_points_and_air(seed: int) -> None:
    sheet = dp.teach.worksheet(7, seed)
    up, down = sheet.given[0], sheet.given[1]
    crest = number(up[up.index("rising ") :])
    assert sheet.answers["crest_ft"] == pytest.approx(crest)
    size = re.search(r"of (\S+) in Sch 40", up)
    assert size
    pipe = dp.pvc(size.group(1))
    runs = [
        dp.Run(pipe=pipe, length_ft=number(up), rise_ft=crest, k=3),
        dp.Run(
            pipe=pipe, length_ft=number(down), rise_ft=-number(down[down.index("falling") :]), k=2
        ),
    ]
    pump = pump_of(sheet)
    for siphon, name in ((False, "flow_gpm"), (True, "siphon_flow_gpm")):
        op = dp.operating_point(pump, dp.DischargeLine(runs=runs, siphon=siphon))
        assert sheet.answers[name] == pytest.approx(op.flow_gpm, rel=2e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_pits_and_cycling(seed: int) -> None:
    sheet = dp.teach.worksheet(8, seed)
    answer = sheet.answers
    travel = given(sheet, "on level ") - given(sheet, "off level ")
    volume = area_in2(given(sheet, "pit ")) * travel / 231
    inflow, flow = given(sheet, "inflow "), given(sheet, "pump ")
    assert answer["volume_gal"] == pytest.approx(volume, rel=1e-9)
    assert answer["rest_s"] == pytest.approx(60 * volume / inflow, rel=1e-9)
    assert answer["run_s"] == pytest.approx(60 * volume / (flow - inflow), rel=1e-9)
    assert answer["starts_per_h"] == pytest.approx(3600 / (answer["rest_s"] + answer["run_s"]))
    # shortest cycle 4V/Q at half the pump's flow: UFC 3-240-04A
    assert answer["worst_starts_per_h"] == pytest.approx(60 * flow / (4 * volume), rel=1e-6)
    assert answer["worst_inflow_gpm"] == pytest.approx(flow / 2, rel=1e-4)


@pytest.mark.parametrize("seed", SEEDS)
def test_storms(seed: int) -> None:
    sheet = dp.teach.worksheet(9, seed)
    answer = sheet.answers
    share = given(sheet, "whose rain ") / 100
    area, rain = given(sheet, "area "), number(sheet.given[1])
    minutes = given(sheet, " for ")
    inflow = share * rain / 12 * area / 60 * 1728 / 231  # gpm
    assert answer["inflow_gpm"] == pytest.approx(inflow, rel=1e-9)
    off, depth = given(sheet, "off level "), given(sheet, "across, ")
    diameter, on = given(sheet, "pit "), given(sheet, "on level ")
    room, travel = (area_in2(diameter) * h / 231 for h in (depth - off, on - off))
    pumped = answer["flow_gpm"] * (minutes - travel / inflow)
    rough = inflow * minutes - pumped - room
    # the pump moves less below the rim than at it, so a little more stands
    assert max(rough, 0) - 1e-6 <= answer["pond_gal"] <= max(rough, 0) + 0.15 * room + 5
    op = dp.operating_point(pump_of(sheet), line_of(sheet), level_above_off_ft=(depth - off) / 12)
    assert answer["flow_gpm"] == pytest.approx(op.flow_gpm, rel=2e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_trust_and_decline(seed: int) -> None:
    sheet = dp.teach.worksheet(10, seed)
    answer = sheet.answers
    found = re.search(r"barrel of ([\d.]+) gal fills in ([\d.]+) s", sheet.story)
    assert found
    volume, seconds = map(float, found.groups())
    assert answer["measured_gpm"] == pytest.approx(60 * volume / seconds)
    pump, line = pump_of(sheet), line_of(sheet)
    for name, share in (("low", 0.92), ("flow", 1.0), ("high", 1.08), ("worn", 0.7)):
        expected = dp.operating_point(pump.worn(head=share), line).flow_gpm
        assert answer[f"{name}_gpm"] == pytest.approx(expected, rel=3e-3)
    inside = answer["low_gpm"] <= answer["measured_gpm"] <= answer["high_gpm"]
    assert str(sheet.answers["verdict"]).startswith("within" if inside else "below")


# -- both readings of a curve, and the class


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("lesson", range(1, 11))
def test_every_answer_lies_well_inside_what_is_right(lesson: int, units: str) -> None:
    for seed in SEEDS:
        sheet = dp.teach.worksheet(lesson, seed, units=units)
        numbers = {name for name, x in sheet.answers.items() if not isinstance(x, str)}
        assert set(sheet.accepted) | {"k"} == numbers | {"k"}
        for name, (low, high) in sheet.accepted.items():
            value = sheet.answers[name]
            assert isinstance(value, float)
            assert low <= 0.981 * value
            assert 1.019 * value <= high


@pytest.mark.parametrize("seed", SEEDS)
def test_a_curve_read_by_ruler_and_by_hand_is_right(seed: int) -> None:
    """Straight lines by `np.interp`, the crossing by halving: an answer that is accepted."""
    sheet = dp.teach.worksheet("where they cross", seed)
    flows, heads = np.array([[float(x) for x in row] for row in sheet.table[1:]]).T
    line = line_of(sheet)
    low, high = 0.0, float(flows[-1])
    for _ in range(50):
        middle = (low + high) / 2
        above = np.interp(middle, flows, heads) > line.head(flow_gpm=middle).head_ft
        low, high = (middle, high) if above else (low, middle)
    least, most = sheet.accepted["flow_gpm"]
    assert least < low < most
    # the ruler's reading is one of the two ends, two per cent off
    ends = [least / 0.98, most / 1.02]
    assert min(abs(low - end) for end in ends) < 1e-3 * low


def test_every_pupil_has_another_sheet_and_the_teacher_one_key() -> None:
    lesson = dp.teach.class_set("storms", pupils=24, seed=5)
    assert len({sheet.text() for sheet in lesson}) == 24
    assert [sheet.seed for sheet in lesson] == list(range(5, 29))
    assert lesson[3].text(answer=True) == dp.teach.worksheet("storms", 8).text(answer=True)
    frame = lesson.key_frame()
    assert list(frame) == ["sheet", "inflow_gpm", "flow_gpm", "pond_gal"]
    assert frame.index.tolist() == list(range(1, 25))
    assert frame["pond_gal"][4] == lesson[3].answers["pond_gal"]
    low, high = lesson[0].accepted["flow_gpm"]
    row = next(x for x in lesson.key_markdown().splitlines() if x.startswith("| 1 | 5 |"))
    assert f"({low:.4g} to {high:.4g})" in row
    assert lesson.html().count("<section>") == 24
    assert lesson.html(answer=True).count("<section>") == 48
    assert "Worked answer" not in lesson.html()
    assert "Key to Lesson 9: storms (sheets 5 to 28)" in lesson.key_html()


def test_a_class_needs_pupils() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.teach.class_set(8, pupils=0)
    assert str(err.value) == (
        "pupils=0: must be a whole number, 1 or more; give how many sheets are wanted."
    )


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("lesson", range(1, 11))
def test_a_sheet_prints_on_two_sides(lesson: int, units: str) -> None:
    """Problem and answer each fit a letter page: 10 pt on 13 pt leaves 55 lines of 100 letters."""
    for seed in SEEDS:
        sheet = dp.teach.worksheet(lesson, seed, units=units)
        page = sheet.html(answer=True, whole=True)
        assert page.count("<section>") == 2
        assert page.startswith("<!DOCTYPE html>")
        assert "break-after:page" in page
        for side in re.findall(r"<section>(.*?)</section>", page, re.DOTALL):
            text = re.sub(r"</(?:p|li|tr|h1|h2)>|<br>", "\n", side)
            lines = [re.sub(r"<[^>]+>", " ", x).strip() for x in text.split("\n")]
            used = sum(math.ceil(len(x) / 100) for x in lines if x)
            assert used <= 55, (lesson, seed, used)
