"""Pumps of a job that stand in files: read from one folder, where its reader allows it."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from drainpump.errors import CatalogError, FileProblem, wrong
from drainpump.parts.csv_sheet import files_at, quoting
from drainpump.parts.part import Part
from drainpump.parts.pump.catalog import curves_in
from drainpump.parts.pump.curve import PumpCurve

#: of all curves of a job together
_MOST_BYTES = 20_000_000
#: characters of a wrong cell that are told to whoever wrote the job
_QUOTED = 20


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


class CurveFolder:
    """The folder whose CSV files a job may name, or None: then it opens no file at all.

    A job may come from a stranger: a path of it leads nowhere else, not by way of links
    either, and no more than the start of a wrong cell is quoted to them.
    """

    def __init__(self, folder: str | os.PathLike[str] | None) -> None:
        if not isinstance(folder, str | os.PathLike | None):
            raise wrong("curves_from", folder, "must be the path of a folder", "give one")
        self._root = None if folder is None else Path(os.path.realpath(folder))
        self._left = _MOST_BYTES

    def read(self, curves: str) -> CurveFiles:
        """Read the curves at a path below the folder."""
        if self._root is None:
            raise wrong(
                "curves", curves, "is a file, and a job opens none unless its reader allows it",
                "read the job with curves_from=folder, or give the points",
            )  # fmt: skip
        problems: list[FileProblem] = []
        try:
            with quoting(_QUOTED):
                return CurveFiles(
                    curves=curves,
                    pumps=curves_in(self._files(self._root, curves, problems), curves, problems),
                )
        except CatalogError as error:
            raise error.at("curves") from None

    def _files(self, root: Path, curves: str, problems: list[FileProblem]) -> list[Path]:
        """The files at a path, every one of them in the folder, a CSV file and not too large."""
        path = Path(curves)
        outside = wrong(
            "curves", curves, "must be a .csv file, or a folder of them, below curves_from",
            "put the files there, or give the points",
        )  # fmt: skip
        if path.anchor or ".." in path.parts or "\0" in curves:
            raise outside
        # where links lead, and not what they are called
        found = Path(os.path.realpath(os.path.join(root, path)))
        files = files_at(found, problems, curves) if found.is_relative_to(root) else [found]
        real = [Path(os.path.realpath(file)) for file in files]
        if not all(file.is_relative_to(root) and file.suffix.lower() == ".csv" for file in real):
            raise outside
        self._left -= sum(file.stat().st_size for file in real)
        if self._left < 0:
            raise wrong(
                "curves", curves, f"all files together must be at most {_MOST_BYTES / 1e6:.0f} MB",
                "leave out pumps that are not asked",
            )  # fmt: skip
        return real
