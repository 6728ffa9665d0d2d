"""Worksheets, made once for all tests: a sheet never changes."""

from __future__ import annotations

import functools

import drainpump as dp
from drainpump.teach.sheets import LESSONS

TITLES = list(LESSONS)


@functools.cache
def sheet(lesson: int | str, seed: int, units: str = "us") -> dp.teach.Worksheet:
    """A lesson's sheet by its number or its title."""
    number = lesson if isinstance(lesson, int) else TITLES.index(lesson) + 1
    return _made(number, seed, units)


@functools.cache
def _made(lesson: int, seed: int, units: str) -> dp.teach.Worksheet:
    return dp.teach.worksheet(lesson, seed, units=units)  # type: ignore[arg-type]
