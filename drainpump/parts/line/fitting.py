"""A fitting as one counts it on site, with a loss of one's own where it is known."""

from __future__ import annotations

import numpy as np

from drainpump import units as u
from drainpump.errors import wrong
from drainpump.parts.part import Part
from drainpump.parts.scalars import check_name
from drainpump.results import short
from drainpump.units import FloatArray, View


class Fitting(Part):
    """So many pieces of one fitting, and the loss of each where it is not the table's.

    Parameters
    ----------
    count : int, float or array_like, default 1
        Number of pieces, >= 0.
    k : float or array_like, optional
        Loss coefficient of one piece on the velocity in the run's bore, >= 0.
    name : str, optional
        What to call it in reports; by default the key it stands under in the run.
    equivalent_length_ft, equivalent_length_m : float or array_like, optional
        Equivalent length of one piece, >= 0, in the run's own pipe.

    At most one of ``k`` and the equivalent length; with neither, K is the table's.

    Raises
    ------
    InputError
        Both a K and an equivalent length, or an impossible value.

    Examples
    --------
    >>> elbows = Fitting(count=2, k=0.9)
    >>> print(elbows)
    Fitting(2 pieces, K 0.9 each)
    >>> Fitting(count=1, equivalent_length_ft=4).equivalent_length_m
    1.2192
    """

    count, k = View("_count"), View("_k", maybe=True)
    equivalent_length_ft = View("_equivalent_length", maybe=True)
    equivalent_length_m = View("_equivalent_length", maybe=True)

    def __init__(
        self,
        count: u.Quantity = 1,
        *,
        k: u.Quantity | None = None,
        name: str | None = None,
        equivalent_length_ft: u.Quantity | None = None,
        equivalent_length_m: u.Quantity | None = None,
    ) -> None:
        length = u.Typed(locals()).maybe("equivalent_length")
        if k is not None and length is not None:
            mend = "a fitting's loss is one or the other; drop one of them"
            raise wrong("k", k, "must not stand beside an equivalent length", mend)
        check_name(name)
        own = None if k is None else u.plain("k", k, low=0.0, mend="give the K of one piece")
        pieces = u.plain("count", count, low=0.0, mend="give the number of pieces")
        self._count, self._k, self._equivalent_length = pieces, own, length
        self.name = name

    def __str__(self) -> str:
        word = "piece" if np.all(self._count == 1) else "pieces"
        count = said_count(self._count)
        loss = "K from the table"
        if self._k is not None:
            loss = f"K {short(self._k)} each"
        elif self._equivalent_length is not None:
            loss = f"equivalent length {self._equivalent_length} each"
        called = f"{self.name!r}, " if self.name else ""
        return f"Fitting({called}{count} {word}, {loss})"


def said_count(count: FloatArray) -> str:
    """Say a number of pieces as one counts them: 5, not 5.0."""
    return f"{count:g}" if count.ndim == 0 else short(count)
