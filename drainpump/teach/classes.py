"""A class set: another sheet for each pupil, one key for the teacher."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drainpump.paper.blocks import Block, Heading, Paragraph, Table, to_markdown, to_text
from drainpump.parts.scalars import whole
from drainpump.teach.lesson import WORDS
from drainpump.teach.sheets import Worksheet, in_words, printed, ready_lesson, worksheet
from drainpump.units import System, carried
from drainpump.work_budget import spend

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False, repr=False)
class ClassSet:
    """The sheets of a class, and the key to all of them.

    Attributes
    ----------
    sheets : tuple of Worksheet
        One a pupil, in order; a sequence of them is what the set itself is, too.
    """

    sheets: tuple[Worksheet, ...]

    def __len__(self) -> int:
        return len(self.sheets)

    def __iter__(self) -> Iterator[Worksheet]:
        return iter(self.sheets)

    def __getitem__(self, pupil: int) -> Worksheet:
        return self.sheets[pupil]

    def html(self, *, answer: bool = False) -> str:
        """Return all sheets as one page to print, each on a side of its own.

        With ``answer=True`` each pupil's worked answer stands behind the sheet.
        """
        sides = [
            side
            for sheet in self.sheets
            for side in ([sheet.problem(), sheet.worked()] if answer else [sheet.problem()])
        ]
        return printed(sides, self._title)

    def key_text(self) -> str:
        """Return the teacher's key as plain text."""
        return to_text(self._key())

    def key_markdown(self) -> str:
        """Return the teacher's key as Markdown."""
        return to_markdown(self._key())

    def key_html(self) -> str:
        """Return the teacher's key as a page to print."""
        return printed([self._key()], f"Key: {self._title}")

    def key_frame(self) -> pd.DataFrame:
        """Return one row a pupil: the sheet's number, and each answer under its name."""
        import pandas as pd

        rows = [{"sheet": s.seed, **s.answers} for s in self.sheets]
        return pd.DataFrame(rows).rename_axis("pupil").rename(index=lambda i: i + 1)

    @property
    def _title(self) -> str:
        first, last = self.sheets[0], self.sheets[-1]
        return f"Lesson {first.lesson}: {first.title} (sheets {first.seed} to {last.seed})"

    def _key(self) -> list[Block]:
        """One table for each answer of words and numbers: pupil, value, and what is right."""
        names = list(self.sheets[0].answers)
        rows = []
        for pupil, sheet in enumerate(self.sheets, 1):
            rows.append([str(pupil), str(sheet.seed), *(_right(sheet, name) for name in names)])
        heads = ["pupil", "sheet", *map(in_words, names)]
        note = Paragraph(WORDS["key"])
        return [Heading(f"Key to {self._title}", 1), note, Table(heads, rows)]

    def __repr__(self) -> str:
        return f"ClassSet({self._title}; {len(self)} pupils)"

    def _repr_html_(self) -> str:
        return f"<p>{self!r}</p>"


def _right(sheet: Worksheet, name: str) -> str:
    value, span = sheet.answers[name], sheet.accepted.get(name)
    if isinstance(value, str):
        return value
    return carried(value) + (f" ({carried(span[0])} to {carried(span[1])})" if span else "")


def class_set(
    lesson: int | str, pupils: int = 24, *, seed: int = 1, units: System = "us"
) -> ClassSet:
    """Give each pupil of a class another sheet of one lesson, and the teacher one key.

    Parameters
    ----------
    lesson : int or str
        1 to 12, or its title, as in `worksheet`.
    pupils : int, default 24
        1 or more.
    seed : int, default 1
        Number of the first pupil's sheet, >= 0; the others follow.
    units : {"us", "metric"}, default "us"

    Returns
    -------
    ClassSet

    Raises
    ------
    InputError
        No such lesson, no pupil, or a seed that is not a whole number of 0 or more.

    Examples
    --------
    >>> import drainpump as dp
    >>> lesson = dp.teach.class_set(8, pupils=3)
    >>> lesson
    ClassSet(Lesson 8: pits and cycling (sheets 1 to 3); 3 pupils)
    >>> lesson.key_frame()["volume_gal"].round(1).tolist()
    [35.3, 7.7, 21.4]
    """
    ready_lesson(lesson)
    pupils = whole("pupils", pupils, "give how many sheets are wanted", low=1)
    seed = whole("seed", seed, "give the first sheet's number", low=0)
    spend("class_set", pupils=pupils, points_each=2000)
    return ClassSet(tuple(worksheet(lesson, seed + i, units=units) for i in range(pupils)))
