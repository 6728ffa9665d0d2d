"""One run of pipe: the same bore from end to end, with its rise and its fittings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.parts.line.fitting import Fitting, said_count
from drainpump.parts.line.pipe import Pipe
from drainpump.parts.part import Part, each
from drainpump.parts.scalars import check_kind, check_name
from drainpump.physics import fittings as table
from drainpump.results import short
from drainpump.units import FloatArray, Measure, View


@dataclass(frozen=True, eq=False)
class LocalLoss:
    """One kind of fitting in a run: its name, count, K each and length each (m)."""

    name: str
    count: FloatArray
    k_each: FloatArray
    length_each: FloatArray
    source: str

    @property
    def k(self) -> FloatArray:
        """Loss coefficient of all pieces together."""
        return self.count * self.k_each

    @property
    def length(self) -> FloatArray:
        """Equivalent length (m) of all pieces together."""
        return self.count * self.length_each


#: what is said of a line that holds its water though nobody named its check valve
GRANTED = "a check valve is taken for granted"


def check_length(length: Measure, rise: Measure) -> None:
    """Warn of a pipe shorter than it rises or falls: the flat distance, or another unit."""
    try:
        short = (length.si > 0) & (length.si * (1 + 1e-9) < np.abs(rise.si))
    except ValueError:
        return  # arrays that do not broadcast: the line refuses them by their shapes
    if not short.any():
        return
    wide = (np.broadcast_to(np.asarray(m.get(m.unit)), short.shape) for m in (length, rise))
    (where, long), (_, high) = (u.first(typed, short) for typed in wide)
    names = f"length_{length.unit}", f"{u.typed_name('rise')}_{rise.unit}"
    u.unusual(
        f"{names[0]}{where}={u.carried(long)} is shorter than the "
        f"{'rise' if high > 0 else 'fall'}, {names[1]}{where}={u.carried(high)}; give "
        "the length measured along the pipe.",
        *names,
    )


def granted_valve(runs: Sequence[Run]) -> str:
    """Say that a check valve is taken for granted, or nothing where a fitting is one."""
    said = missing_valve(runs)
    return f"{GRANTED}; {said}" if said else ""


def granted_valves(lines: Sequence[Any], risers: Sequence[Run]) -> list[str]:
    """Say it of lines behind a bank's risers, and of how many where there are several."""
    said = [granted_valve((*line.runs, *risers)) for line in lines if line.check_valve]
    return [
        text if len(lines) == 1 else f"on {said.count(text)} of {len(lines)} lines {text}"
        for text in dict.fromkeys(filter(None, said))
    ]


def missing_valve(runs: Sequence[Run]) -> str:
    """Say what follows where no fitting is a check valve, or nothing where one is."""
    if any(run.has_check_valve for run in runs):
        return ""
    own = any(
        np.any(run._extra_k > 0)
        or np.any(run._extra_length.si > 0)
        or any(loss.name not in table.fitting_names() for loss in run.losses)
        for run in runs
    )
    loss = "so its loss is not counted"
    if own:
        loss = "so its loss counts only if a K or length of your own holds it"
    return f"none among the fittings, {loss}"


class Run(Part):
    """A run of pipe, with what it rises and the fittings in it.

    Parameters
    ----------
    pipe : Pipe
        From `pvc`, `pvc_metric` or `Pipe`.
    length_ft, length_m : float or array_like
        Length along the pipe, >= 0. Exactly one. One shorter than the rise warns; 0 stands
        for no pipe at all, whatever the rise.
    rise_ft, rise_m : float or array_like, default 0
        Height of the run's end above its start; negative where it falls.
    fittings : mapping of str to int or Fitting, optional
        Named fittings and how many; `Fitting` gives a K or an equivalent length of
        one's own. Names: see ``drainpump.fitting_names()``.
    k : float or array_like, default 0
        Further loss coefficient on this run's velocity head, >= 0.
    equivalent_length_ft, equivalent_length_m : float or array_like, default 0
        Further fittings as a length of this pipe, >= 0; counted under fittings.
    name : str, optional
        What to call the run in tables.

    Raises
    ------
    UnitError
        Neither or both units of a quantity.
    InputError
        Impossible value, or an unknown fitting (the nearest names are given).

    Examples
    --------
    >>> import drainpump as dp
    >>> run = dp.Run(pipe=dp.pvc("1-1/2"), length_ft=150, rise_ft=6, fittings={"elbow_90": 5})
    >>> round(run.k_total, 2)
    3.0
    """

    length_ft, length_m = View("_length"), View("_length")
    rise_ft, rise_m = View("_rise"), View("_rise")
    equivalent_length_ft, equivalent_length_m = View("_extra_length"), View("_extra_length")
    #: as given, without the named fittings; and with them, on this run's velocity head
    k, k_total = View("_extra_k"), View("_k")

    _nested: ClassVar = {
        "pipe": Pipe.from_dict,
        "fittings": each(
            lambda item: Fitting.from_dict(item) if isinstance(item, Mapping) else item
        ),
    }

    def __init__(
        self,
        *,
        pipe: Pipe,
        length_ft: u.Quantity | None = None,
        length_m: u.Quantity | None = None,
        rise_ft: u.Quantity | None = None,
        rise_m: u.Quantity | None = None,
        fittings: Mapping[str, Fitting | u.Quantity] | None = None,
        k: u.Quantity = 0.0,
        equivalent_length_ft: u.Quantity | None = None,
        equivalent_length_m: u.Quantity | None = None,
        name: str | None = None,
    ) -> None:
        said = u.Typed(locals())
        self._length = said.take("length")
        self._rise = said.take("rise", default=("ft", 0.0))
        self._extra_length = said.take("equivalent_length", default=("ft", 0.0))
        self._extra_k = u.plain("k", k, low=0.0, high=1e6, mend="give the sum of loss coefficients")
        named = isinstance(fittings, Mapping) and all(
            isinstance(key, str) and key.isprintable() for key in fittings
        )
        if fittings is not None and not named:
            allowed = "must map names to numbers of pieces"
            raise wrong("fittings", fittings, allowed, "give {'elbow_90': 5}")
        check_name(name)
        check_kind("pipe", pipe, Pipe, "pvc(...) or Pipe(bore_in=...)")
        self.pipe = pipe
        check_length(self._length, self._rise)
        self._fittings = dict(fittings or {})
        self.losses = tuple(self._loss(key, item) for key, item in self._fittings.items())
        self.name = name

    @property
    def fittings(self) -> dict[str, Any]:
        """The named fittings as given."""
        return dict(self._fittings)

    @property
    def has_check_valve(self) -> bool:
        """True where a named fitting of the run is a check valve."""
        return any(
            loss.name.startswith(table.CHECK_VALVES) and bool(np.any(loss.count > 0))
            for loss in self.losses
        )

    @property
    def _k(self) -> FloatArray:
        return np.asarray(sum((loss.k for loss in self.losses), start=self._extra_k + 0.0))

    @property
    def _fitting_length(self) -> FloatArray:
        own = (loss.length for loss in self.losses)
        return np.asarray(sum(own, start=self._extra_length.si + 0.0))

    @property
    def _volume(self) -> FloatArray:
        return np.asarray(0.25 * np.pi * self.pipe.si.bore**2 * self._length.si)

    @property
    def _columns(self) -> dict[str, FloatArray]:
        """What the solver asks of a run, by the fields of `LineArrays`."""
        return {
            "diameter": self.pipe.si.bore,
            "length": self._length.si,
            "fitting_length": self._fitting_length,
            "roughness": self.pipe.si.roughness,
            "hazen_c": self.pipe.si.c,
            "k": self._k,
            "end": self._rise.si,
        }

    def _loss(self, name: str, item: Any) -> LocalLoss:
        """Turn one entry of ``fittings`` into a loss; a bare number is a count."""
        fitting = item if isinstance(item, Fitting) else Fitting(count=item)
        if np.any(fitting._count % 1 > 0):
            u.unusual(
                f"fittings[{name!r}]={short(fitting._count)} is no whole number of pieces; give "
                "how many there are, and a loss of one's own as k=...",
                "fittings",
            )
        # one's own loss goes before the table's, whatever the fitting is called
        k, length = fitting.si.k, fitting.si.equivalent_length
        if k is not None:
            source = "K given by the user"
        elif length is not None:
            source = "equivalent length given by the user"
        else:
            try:
                k, source = np.asarray(self.pipe.fitting_k(name)), table.source(name)
            except InputError as error:
                raise InputError(f"fittings: {error}", name="fittings") from None
        none = np.zeros(())
        k, length = (none if x is None else x for x in (k, length))
        return LocalLoss(name, fitting.si.count, k, length, source)

    def __str__(self) -> str:
        parts = [self.pipe.name, f"length {self._length}"]
        if np.any(self._rise.si != 0):
            parts.append(f"rise {self._rise}")
        parts += [f"{said_count(x.count)} × {x.name}" for x in self.losses]
        if np.any(self._extra_k != 0):
            parts.append(f"further K {short(self._extra_k)}")
        if np.any(self._extra_length.si != 0):
            parts.append(f"equivalent length {self._extra_length}")
        return f"Run({', '.join(parts)})"
