"""Worksheets: same seed, same sheet; what is printed, and who is refused."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

import drainpump as dp
from tests.sheets import TITLES, sheet

SEEDS = range(6)


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("lesson", range(1, 13))
def test_same_seed_same_sheet(lesson: int, units: str) -> None:
    title = TITLES[lesson - 1]
    one, two = dp.teach.worksheet(lesson, 7, units=units), dp.teach.worksheet(title, 7, units=units)
    assert one.markdown(answer=True) == two.markdown(answer=True)
    assert one.html(answer=True) == two.html(answer=True)
    assert (one.lesson, one.title) == (lesson, title)
    assert dp.teach.worksheet(np.int64(lesson), 7, units=units).text() == one.text()
    other = dp.teach.worksheet(lesson, 8, units=units)
    assert one.markdown() != other.markdown()


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("lesson", range(1, 13))
def test_numbers_are_sensible_and_no_answer_is_missing(lesson: int, units: str) -> None:
    for seed in range(8):
        one = sheet(lesson, seed, units)
        values = [x for x in one.answers.values() if not isinstance(x, str)]
        assert np.isfinite(values).all()
        assert (np.array(values) >= 0).all()
        assert len(one.steps) >= 3
        text = one.markdown(answer=True)
        assert "nan" not in text
        assert "inf" not in text.replace("inflow", "").replace("infin", "")
        foreign = r"\d (m|mm|L/s|L|kPa|m/s)\b" if units == "us" else r"\d (ft|gpm|gal|psi|ft/s)\b"
        assert re.search(foreign, text) is None


@pytest.mark.parametrize("lesson", range(1, 13))
def test_every_question_has_its_steps_below_it(lesson: int) -> None:
    for seed in SEEDS:
        one = sheet(lesson, seed)
        numbers = [step.question for step in one.steps]
        assert numbers == sorted(numbers)
        assert set(numbers) == set(range(1, len(one.questions) + 1))
        answer = one.text(answer=True).split("Worked answer\n")[1]
        words = " ".join(answer.split())
        for i, question in enumerate(one.questions, 1):
            first = next(step for step in one.steps if step.question == i)
            said = " ".join(f"Question {i}: {question} 1. {first.words} {first.formula}".split())
            assert said in words


def test_a_rate_is_asked_for_as_a_rate() -> None:
    one = sheet("storms", 1)
    assert one.questions[0] == "At what rate does water come in while it rains?"
    assert one.steps[0].result.endswith(" gpm")


@pytest.mark.parametrize("lesson", range(1, 13))
def test_the_answer_is_shown_only_on_asking(lesson: int) -> None:
    one = sheet(lesson, 3)
    assert "Worked answer" not in one.markdown()
    assert "Worked answer" not in one.html()
    assert "Worked answer" not in one.text()
    assert str(one) == one.text()
    assert one._repr_html_() == one.html()
    for step in one.steps:
        assert f"`{step.formula}`" in one.markdown(answer=True)
        assert f"\n    {step.formula}\n    {step.result}\n" in one.text(answer=True)
    assert "Site, pump and figures are invented." in one.markdown()
    assert "local codes and licensed trades" in one.html()


def test_text_is_escaped() -> None:
    one = sheet("trust and decline", 1)
    page = one.html(answer=True)
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
        (13, "pick one."),
        (True, "pick one."),
        ("storm", "did you mean 'storms'?"),
    ):
        with pytest.raises(dp.InputError) as err:
            dp.teach.worksheet(lesson, 1)
        assert str(err.value) == (f"lesson={lesson!r}: must be 1 to 12 or a lesson's title; {mend}")
    for seed in (-1, 1.5, True):
        with pytest.raises(dp.InputError) as err:
            dp.teach.worksheet(1, seed)  # type: ignore[arg-type]
        assert str(err.value) == (
            f"seed={seed!r}: must be a whole number, 0 or more; give the sheet's number."
        )
    with pytest.raises(dp.InputError) as err:
        dp.teach.worksheet(1, 1, units="si")
    assert str(err.value) == "units='si': must be 'us' or 'metric'; pick one of the two."


# -- both readings of a curve, and the class


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("lesson", range(1, 13))
def test_every_answer_lies_well_inside_what_is_right(lesson: int, units: str) -> None:
    for seed in SEEDS:
        one = sheet(lesson, seed, units)
        numbers = {name for name, x in one.answers.items() if not isinstance(x, str)}
        assert set(one.accepted) == numbers
        for name, (low, high) in one.accepted.items():
            value = one.answers[name]
            assert isinstance(value, float)
            assert low <= 0.981 * value
            assert 1.019 * value <= high


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
@pytest.mark.parametrize("lesson", range(1, 13))
def test_a_sheet_prints_on_two_sides(lesson: int, units: str) -> None:
    """Problem and answer each fit a letter page: 10 pt on 13 pt leaves 55 lines of 100 letters."""
    for seed in SEEDS:
        one = sheet(lesson, seed, units)
        page = one.html(answer=True, whole=True)
        assert page.count("<section>") == 2
        assert page.startswith("<!DOCTYPE html>")
        assert "break-after:page" in page
        for side in re.findall(r"<section>(.*?)</section>", page, re.DOTALL):
            text = re.sub(r"</(?:p|li|tr|h1|h2)>|<br>", "\n", side)
            lines = [re.sub(r"<[^>]+>", " ", x).strip() for x in text.split("\n")]
            used = sum(math.ceil(len(x) / 100) for x in lines if x)
            assert used <= 55, (lesson, seed, used)


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("lesson", range(1, 13))
def test_steps_substitute_numbers(lesson: int, units: str) -> None:
    """A formula is worked with numbers, unless a curve is read or solved by trial there."""
    for seed in SEEDS:
        for step in sheet(lesson, seed, units).steps:
            by_eye = step.formula.startswith(("H ", "0.7 * H", "0.92 * H", "1.08 * H"))
            if not by_eye and re.search(r" [*/+-] |\^", step.formula):
                assert re.search(r"\d.* [×/+-] ?[\d(]|²|f = ", step.result), step


def test_the_key_follows_the_questions() -> None:
    names = [name.rsplit("_", 1)[0] for name in sheet("how often it may flood", 1).answers]
    assert names == [
        "borne", "rain_in_per", "dry_up_to", "yearly", "plan", "heavier", "larger",
        "spared_flood", "verdict",
    ]  # fmt: skip
