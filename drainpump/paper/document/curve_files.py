"""Pumps of a job that stand in files of its own folder."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from drainpump.errors import CatalogError, InputError, wrong
from drainpump.parts.part import Part
from drainpump.parts.pump.catalog import read_curves
from drainpump.parts.pump.curve import PumpCurve

__all__ = ["CurveFiles"]


class CurveFiles(Part):
    """A path to pump curves, and the pumps that were found there.

    Parameters
    ----------
    curves : str
        Of a file, or of a folder of them.
    pumps : sequence of PumpCurve
        As read; a document holds the path alone.
    """

    def __init__(self, *, curves: str, pumps: Sequence[PumpCurve]) -> None:
        self.curves, self.pumps = curves, tuple(pumps)

    def to_dict(self) -> dict[str, Any]:
        """Return the path."""
        return {"curves": self.curves}

    @classmethod
    def below(cls, folder: str | os.PathLike[str], curves: str) -> CurveFiles:
        """Read the curves at a path below a folder."""
        path = Path(curves)
        # a document from elsewhere must not have any file of this machine opened and quoted
        if path.anchor or ".." in path.parts:
            raise wrong(
                "curves", curves, "must be a path below the job's own folder",
                "put the files there, or give the points",
            )  # fmt: skip
        try:
            return cls(curves=curves, pumps=read_curves(os.fspath(Path(folder) / path)))
        except CatalogError as error:
            raise InputError(f"curves: {error}", name="curves") from None
