"""The form of one reference check: what, ours, published, source and tolerance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Check:
    """One published value and how the library reproduces it.

    ``ours`` answers in the unit of ``published``; the wider of ``rel`` (a share of the
    published value) and ``abs`` is allowed, and ``why`` explains it.
    """

    what: str
    ours: Callable[[], float]
    published: float
    source: str
    unit: str = ""
    rel: float = 0.0
    abs: float = 0.0
    why: str = ""

    @property
    def tolerance(self) -> float:
        """The deviation allowed, in the unit of ``published``."""
        return max(self.rel * abs(self.published), self.abs)
