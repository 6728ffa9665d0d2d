"""Worksheets: a problem with invented numbers, and its worked answer on asking."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from drainpump.errors import wrong
from drainpump.foreign import nearest
from drainpump.paper.blocks import (
    Block,
    Bullets,
    Heading,
    Numbered,
    Paragraph,
    Steps,
    Table,
    to_html,
    to_markdown,
    to_text,
)
from drainpump.parts.scalars import whole
from drainpump.results import check_units
from drainpump.teach.lesson import Draft, Draw, Step
from drainpump.teach.lessons_line import (
    crossing,
    curve,
    fittings,
    height,
    line_head,
    pipe_or_pump,
)
from drainpump.teach.lessons_site import high_points, pits, storms, trust
from drainpump.units import System

__all__ = ["LESSONS", "Worksheet", "worksheet"]

#: the ten lessons by title, in their order
LESSONS: Mapping[str, Callable[[Draw], Draft]] = MappingProxyType(
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
    }
)

_INVENTED = "Site, pump and figures are invented."
_CAUTION = (
    "On a real site electricity near water, open trenches and where the water may go are matters "
    "for local codes and licensed trades."
)


@dataclass(frozen=True, eq=False, repr=False)
class Worksheet:
    """One problem, printable; it shows its answer only when asked.

    Attributes
    ----------
    lesson : int
        1 to 10.
    title : str
    seed : int
    units : str
    story : str
    given, questions : tuple of str
    table : tuple of tuple of str
        The pump's points where there are any, heads with units first.
    steps : tuple of Step
        The worked answer: words, formula, result, and the question each belongs to.
    answers : mapping of str to float
        The numbers asked for, each name ending in its unit.
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
    answers: Mapping[str, float]

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

    def html(self, *, answer: bool = False) -> str:
        """Return the problem as HTML, with ``answer=True`` the worked answer behind it."""
        return to_html(self._blocks(answer), whole=False)

    def _blocks(self, answer: bool) -> list[Block]:
        page: list[Block] = [
            Heading(self.heading, 1),
            Paragraph(f"{self.story} {_INVENTED}"),
            Bullets(self.given),
        ]
        if self.table:
            page.append(Table(self.table[0], self.table[1:]))
        page.append(Numbered(self.questions))
        if answer:
            page.append(Heading("Worked answer"))
            for i, question in enumerate(self.questions, 1):
                steps = [(s.words, s.formula, s.result) for s in self.steps if s.question == i]
                page += [Paragraph(f"Question {i}: {question}"), Steps(steps)]
        return [*page, Paragraph(_CAUTION)]

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
        1 to 10, or its title, see ``drainpump.teach.sheets.LESSONS``.
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
    titles = list(LESSONS)
    if isinstance(lesson, str) and lesson in LESSONS:
        number = titles.index(lesson) + 1
    elif isinstance(lesson, int) and not isinstance(lesson, bool) and 1 <= lesson <= len(titles):
        number = lesson
    else:
        mend = nearest(lesson, titles) if isinstance(lesson, str) else "pick one"
        raise wrong("lesson", lesson, f"must be 1 to {len(titles)} or a lesson's title", mend)
    seed = whole("seed", seed, "give the sheet's number", low=0)
    title = titles[number - 1]
    draft = LESSONS[title](Draw(number, seed, check_units(units)))
    return Worksheet(
        lesson=number,
        title=title,
        seed=seed,
        units=units,
        story=draft.story,
        given=tuple(draft.given),
        questions=tuple(draft.questions),
        table=tuple(draft.table),
        steps=tuple(draft.steps),
        answers=MappingProxyType(dict(draft.answers)),
    )
