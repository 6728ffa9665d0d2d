"""What the parts have in common: as they were built, so they stay."""

from __future__ import annotations

from typing import Any

__all__ = ["Part"]


class Part:
    """Base of the parts that check their inputs: a name that is set cannot be set again.

    A part works out its SI arrays once; a change behind their back would be ignored in
    silence, so it is refused.
    """

    def __setattr__(self, name: str, value: Any) -> None:
        if name in vars(self):
            raise AttributeError(f"{name} is read-only; build a new {type(self).__name__} instead.")
        super().__setattr__(name, value)

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"{name} is read-only; build a new {type(self).__name__} instead.")
