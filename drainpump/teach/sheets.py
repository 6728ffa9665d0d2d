"""Worksheets: a problem with invented numbers, and its worked answer on asking."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from numbers import Integral
from types import MappingProxyType
from typing import Any

from drainpump.errors import wrong
from drainpump.foreign import is_among, nearest
from drainpump.paper.blocks import (
    Block,
    Bullets,
    Heading,
    Numbered,
    Paragraph,
    Steps,
    Table,
    fragment,
    to_html,
    to_markdown,
    to_text,
)
from drainpump.parts.scalars import whole
from drainpump.results import Fixed, check_units
from drainpump.teach.lesson import TEXTS, TOLERANCE, WORDS, Draft, Step, Yard
from drainpump.teach.lessons_line import fittings, height, high_points, line_head
from drainpump.teach.lessons_pump import crossing, curve, pipe_or_pump, trust
from drainpump.teach.lessons_water import floods, pits, reaches, storms
from drainpump.units import UNITS, System, carried, suffix_of

#: what works out a lesson's numbers, by its title, in their order
LESSONS: Mapping[str, Callable[[Yard], dict[str, Any]]] = MappingProxyType(
    {
        "head is height": height,
        "a pump has a curve": curve,
        "the line pushes back": line_head,
        "where they cross": crossing,
        "pipe against pump": pipe_or_pump,
        "fittings and valves": fittings,
        "high points and air": high_points,
        "pits and cycling": pits,
        "storms": storms,
        "trust and decline": trust,
        "where the water comes from": reaches,
        "how often it may flood": floods,
    }
)

_STYLE = (
    "@page{size:auto;margin:12mm}"
    "body{font:10pt/1.3 sans-serif;max-width:48em;margin:auto;color:#000}"
    "section{break-after:page}section:last-child{break-after:auto}"
    "h1{font-size:14pt}h2{font-size:12pt}h1,h2,p,ul,ol{margin:.3em 0}"
    "table{border-collapse:collapse;margin:.4em 0}"
    "th,td{border:1px solid #999;padding:.1em .5em;text-align:left}"
    "li,tr{break-inside:avoid}"
)
_TOLERANCE = WORDS["tolerance"].format(tolerance=100 * TOLERANCE)
_KEY = ("answer", "value", "right from", "to")


@dataclass(frozen=True, eq=False, repr=False)
class Worksheet:
    """One problem, printable; it shows its answer only when asked.

    Attributes
    ----------
    lesson : int
        1 to 12.
    title : str
    seed : int
    units : str
    story : str
    given, questions : tuple of str
    table : tuple of tuple of str
        The pump's points where there are any, heads with units first.
    steps : tuple of Step
        The worked answer: words, formula, result, and the question each belongs to.
    answers : mapping of str to float or str
        What is asked for, each number's name ending in its unit; a verdict is words.
    accepted : mapping of str to (float, float)
        Of each number the least and the most that are right: 2 % off either reading of a
        curve, or what any right value of another answer leads to.
    """

    lesson: int
    title: str
    seed: int
    units: System
    story: str
    given: tuple[str, ...]
    questions: tuple[str, ...]
    table: tuple[tuple[str, ...], ...]
    steps: tuple[Step, ...]
    answers: Mapping[str, float | str]
    accepted: Mapping[str, tuple[float, float]]

    @property
    def heading(self) -> str:
        """Lesson, title and number of the sheet."""
        return f"Lesson {self.lesson}: {self.title} (sheet {self.seed})"

    def text(self, *, answer: bool = False) -> str:
        """Return the problem as plain text, with ``answer=True`` the worked answer behind it."""
        return to_text(self._blocks(answer))

    def markdown(self, *, answer: bool = False) -> str:
        """Return the problem as Markdown, with ``answer=True`` the worked answer behind it."""
        return to_markdown(self._blocks(answer))

    def html(self, *, answer: bool = False, whole: bool = False) -> str:
        """Return the problem as HTML, with ``answer=True`` the worked answer behind it.

        ``whole=True`` is a page of its own, to print: the problem, and the answer overleaf.
        """
        if not whole:
            return to_html(self._blocks(answer), whole=False)
        return printed([self.problem(), *([self.worked()] if answer else [])], self.heading)

    def _blocks(self, answer: bool) -> list[Block]:
        return [
            *self.problem()[:-1],
            *(self.worked() if answer else []),
            Paragraph(WORDS["caution"]),
        ]

    def problem(self) -> list[Block]:
        """Return the problem as blocks of a page."""
        page: list[Block] = [
            Heading(self.heading, 1),
            Paragraph(f"{self.story} {WORDS['invented']}"),
            Bullets(self.given),
        ]
        if self.table:
            page.append(Table(self.table[0], self.table[1:]))
        return [*page, Numbered(self.questions), Paragraph(WORDS["caution"])]

    def worked(self) -> list[Block]:
        """Return the worked answer of all questions as blocks of a page, the key at its end."""
        page: list[Block] = [Heading("Worked answer")]
        for i, question in enumerate(self.questions, 1):
            steps = [(s.words, s.formula, s.result) for s in self.steps if s.question == i]
            page += [Paragraph(f"Question {i}: {question}"), Steps(steps)]
        return [*page, Paragraph(_TOLERANCE), Table(_KEY, self.key())]

    def key(self) -> list[tuple[str, str, str, str]]:
        """Return one row an answer: what, its value, and the least and most that are right."""
        rows = []
        for name, value in self.answers.items():
            span = self.accepted.get(name)
            said = value if isinstance(value, str) else carried(value)
            rows.append((in_words(name), said, *(map(carried, span) if span else ("", ""))))
        return rows

    def __str__(self) -> str:
        return self.text()

    def __repr__(self) -> str:
        return f"Worksheet({self.heading}; {len(self.questions)} questions)"

    def _repr_html_(self) -> str:
        return self.html()


def worksheet(lesson: int | str, seed: int, *, units: System = "us") -> Worksheet:
    """Return a problem of a lesson with invented numbers, and its worked answer on asking.

    Parameters
    ----------
    lesson : int or str
        1 to 12, or its title, see ``drainpump.teach.sheets.LESSONS``.
    seed : int
        >= 0; the same seed in the same units gives the same sheet, letter for letter.
    units : {"us", "metric"}, default "us"
        The numbers are round in these; the other system's sheet of the same seed is
        another problem.

    Returns
    -------
    Worksheet
        ``print(sheet)`` is the problem; ``sheet.text(answer=True)`` works it out, as do
        ``markdown`` and ``html``. All numbers of the answer are the engine's.

    Raises
    ------
    InputError
        No such lesson, or a seed that is not a whole number of 0 or more.

    Examples
    --------
    >>> import drainpump as dp
    >>> sheet = dp.teach.worksheet(8, seed=1)
    >>> sheet.title, len(sheet.questions), sorted(sheet.answers)[:2]
    ('pits and cycling', 3, ['rest_s', 'run_s'])
    """
    count, title = ready_lesson(lesson)
    seed = whole("seed", seed, "give the sheet's number", low=0)
    yard = Yard(count, seed, check_units(units))
    draft = Draft(yard, TEXTS[title], LESSONS[title](yard))
    return Worksheet(
        lesson=count,
        title=title,
        seed=seed,
        units=units,
        story=draft.story,
        given=tuple(draft.given),
        questions=tuple(draft.questions),
        table=tuple(draft.table),
        steps=tuple(draft.steps),
        answers=Fixed(draft.answers),
        accepted=Fixed(draft.accepted),
    )


def ready_lesson(lesson: int | str) -> tuple[int, str]:
    """Return a lesson's number and title from either."""
    titles = list(LESSONS)
    title = lesson if is_among(lesson, titles) else None
    if isinstance(lesson, Integral) and not isinstance(lesson, bool):
        title = dict(enumerate(titles, 1)).get(int(lesson))
    if title is None:
        mend = nearest(lesson, titles) if isinstance(lesson, str) else "pick one"
        raise wrong("lesson", lesson, f"must be 1 to {len(titles)} or a lesson's title", mend)
    return titles.index(str(title)) + 1, str(title)


def printed(pages: Sequence[Sequence[Block]], title: str) -> str:
    """Write pages of blocks as one HTML page that prints each on a sheet of its own."""
    sides = "\n".join(f"<section>\n{fragment(page)}\n</section>" for page in pages)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f"<title>{html.escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n"
        f"<body>\n{sides}\n</body>\n</html>\n"
    )


def in_words(name: str) -> str:
    """Say a name that ends in its unit in words.

    >>> in_words("worst_starts_per_h"), in_words("verdict")
    ('worst starts (/h)', 'verdict')
    """
    unit = suffix_of(name)
    if unit is None:
        return name.replace("_", " ")
    return f"{name.removesuffix(unit)[:-1].replace('_', ' ')} ({UNITS[unit].label})"
