"""What every result has in common: frozen arrays, a status, a frame and a dict.

Floor 0, beside units and errors: parts, engine and advice all answer with results.
"""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Self, TypeAlias, dataclass_transform

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.errors import Heard, InputError, StatusError, wrong
from drainpump.foreign import is_among

if TYPE_CHECKING:
    import pandas as pd

    Frame: TypeAlias = pd.DataFrame
else:
    Frame = Any  # pandas is loaded where a frame is made


#: elements up to which an array is said in full
_SAID_IN_FULL = 6
#: rows of a frame that a notebook shows
_ROWS = 20
#: elements up to which a result says what each quantity spans; of more it shows the first rows
_SPANNED = 1 << 17


def check_units(units: str) -> u.System:
    """Return ``units`` when it is "us" or "metric", else refuse it by name."""
    if is_among(units, ("us", "metric")):
        return "us" if units == "us" else "metric"
    raise wrong("units", units, "must be 'us' or 'metric'", "pick one of the two")


class Fixed(dict[str, Any]):
    """A mapping that nobody changes; a view of one could not be pickled."""

    def _refuse(self, *args: Any, **given: Any) -> Any:
        raise TypeError("this mapping is read-only; copy it with dict(...).")

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse

    def __reduce__(self) -> tuple[type[Fixed], tuple[dict[str, Any]]]:
        return Fixed, (dict(self),)


@dataclass_transform(frozen_default=True, eq_default=False)
@dataclass(frozen=True, eq=False)
class Result(u.Measured):
    """Base of the frozen results: columns are the class's views, in their order.

    Attributes
    ----------
    status : str or numpy array of str
        ``"ok"`` or what went wrong, one per element.
    ok : bool or numpy array of bool
        True where the status is ``"ok"``.
    warnings : tuple of Heard
        What was warned of while it was worked out: path, text, kind, name.
    """

    #: heard while it was worked out, where a public function was asked
    warnings: ClassVar[tuple[Heard, ...]] = ()
    #: what must be said of the pumps that were asked about
    _caveats: ClassVar[tuple[str, ...]] = ()
    #: what an element that is not ok asks of the user, by status
    _mends: ClassVar[dict[str, str]] = {}
    #: what a pattern means, by its code, where a result has one and it is worth a word
    _patterns: ClassVar[dict[str, str]] = {}
    #: what an infinite number means, by attribute
    _endless: ClassVar[dict[str, str]] = {}

    def __init_subclass__(cls, **options: Any) -> None:
        """Make a frozen dataclass of each kind of result; it says itself how it is shown."""
        super().__init_subclass__(**options)
        dataclass(frozen=True, eq=False, repr=False)(cls)

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if type(value) is dict:
                vars(self)[name] = Fixed(value)
            elif isinstance(value, np.ndarray):
                object.__setattr__(self, name, u.frozen(value))

    @property
    def status(self) -> u.Word:
        """``"ok"`` or the reason, one per element (str for a scalar)."""
        found: u.Word = u.out(np.asarray(getattr(self, "_status", "ok"), dtype=np.str_))
        return found

    @property
    def ok(self) -> u.YesNo:
        """True where the status is ``"ok"``."""
        found: u.YesNo = u.out(np.asarray(self.status) == "ok")
        return found

    def require(self) -> Self:
        """Return self when every element is ok; else raise naming the first that is not.

        Raises
        ------
        StatusError
            With the first failing index, its status and the mend.
        """
        index = self._first_failed()
        if index is None:
            return self
        where = f" at index {index}" if index else ""
        raise StatusError(f"{type(self).__name__}{where}: {self._explain_at(index)}")

    def _first_failed(self) -> tuple[int, ...] | None:
        failed = self._failed
        if not failed.any():
            return None
        return tuple(int(i) for i in np.unravel_index(np.argmax(failed), failed.shape))

    @property
    def _failed(self) -> npt.NDArray[np.bool_]:
        return np.not_equal(self.status, "ok")

    def _counts(self) -> dict[str, int]:
        """How many elements have which status."""
        return dict(zip(*np.unique(np.asarray(self.status), return_counts=True), strict=True))

    def _explain_at(self, index: tuple[int, ...]) -> str:
        code = str(np.asarray(self.status)[index])
        mend = self._mends.get(code, "")
        return f"{code}; {mend}" if mend else code

    def _axes(self) -> list[tuple[str, list[str]]]:
        """Named leading axes as (column, labels), such as a grid's; the rest are numbered."""
        grid = getattr(self, "_grid", None)
        return [] if grid is None else grid.axes()

    def to_frame(self, units: u.System = "us") -> Frame:
        """Return one row per element, columns in one unit system.

        Parameters
        ----------
        units : {"us", "metric"}
            Which spelling of each quantity becomes a column.

        Returns
        -------
        pandas.DataFrame
            Leading columns name the element (pump, line, then axis numbers for array
            inputs); the rest are the result's attributes, named as the attributes are.
            ``print(frame.to_string())`` shows all of them; a bare ``print`` cuts a wide one.
        """
        return self._frame(check_units(units))

    def _frame(self, units: u.System, most: int | None = None) -> Frame:
        """One row per element; of more than ``most`` so many, and half of them from the end."""
        shape, row, data = self._rows(units, most)
        columns: dict[str, Any] = {}
        named = self._axes()
        for axis, where in enumerate(np.unravel_index(row, shape) if shape else ()):
            if axis < len(named):
                title, labels = named[axis]
                columns[title] = np.asarray(labels, dtype=object)[where]
            else:
                columns[f"axis_{axis}"] = where
        return frame_of(columns | data)

    def _rows(
        self, units: u.System, most: int | None
    ) -> tuple[tuple[int, ...], npt.NDArray[np.intp], dict[str, Any]]:
        """Shape, numbers of the elements that are shown, and their columns."""
        data = self._told(units)
        shape = np.broadcast_shapes(*(a.shape for a in data.values()))
        row = shown_rows(shape, most)
        return shape, row, {n: np.broadcast_to(a, shape).ravel()[row] for n, a in data.items()}

    def _told(self, units: u.System) -> dict[str, Any]:
        """Its columns and the status."""
        return self._columns(units) | {"status": np.asarray(self.status)}

    def _columns(self, units: u.System) -> dict[str, Any]:
        """The attributes as arrays by column name, in one unit system."""
        picked = u.views(type(self), units)
        return {v.name: np.asarray(v.__get__(self)) for v in picked if v.__get__(self) is not None}

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for strict JSON, both spellings of each quantity.

        What is not known, or without end, is None; ``endless`` then says of each attribute
        with a number without end where that is.
        """
        result: dict[str, Any] = {}
        endless: dict[str, Any] = {}
        for view in u.views(type(self)):
            value = view.__get__(self)
            if value is None:
                continue
            result[view.name] = plain(value)
            array = np.asarray(value)
            if array.dtype.kind == "f" and (without_end := np.isinf(array)).any():
                endless[view.name] = without_end.tolist()
        result["status"] = plain(self.status)
        return result | ({"endless": endless} if endless else {})

    def __repr__(self) -> str:
        lines = [f"{type(self).__name__} ({self._headline()})", *self._why()]
        if self._failed.size > _SPANNED:
            rows = self._frame("us", _ROWS + 1)
            lines.append(rows.to_string(index=False, max_rows=_ROWS, float_format=u.number))
            return "\n".join([*lines, *self._noted()])
        for view in u.views(type(self)):
            value = view.__get__(self)
            if value is None or (view.unit and u.UNITS[view.unit].system == "metric"):
                continue
            if np.asarray(value).dtype.kind == "f" and np.isnan(value).all():
                continue  # nothing known: the status says why
            name = view.name[: -len(view.unit) - 1] if view.unit else view.name
            lines.append(f"  {name}: {self._said(view, value)}")
        return "\n".join([*lines, *self._noted()])

    def _headline(self) -> str:
        """The status and what goes on in a few words; of an array how many have which."""
        shape = self._failed.shape
        said = ", ".join(f"{n} {status}" for status, n in self._counts().items())
        said = f"shape {shape}: {said}" if shape else str(self.status)
        pattern = np.asarray(getattr(self, "_pattern", ""))
        words = self._patterns.get(str(pattern.item()), "") if pattern.size == 1 else ""
        return f"{said}; {words}" if words else said

    def _why(self) -> list[str]:
        """What is wrong with the first element that is not ok, in the words of `require`."""
        index = self._first_failed()
        if index is None:
            return []
        said = self._explain_at(index)
        if index:
            return [f"  why at index {index}: {said}"]
        # the status itself stands in the line above
        said = said.removeprefix(str(self.status)).removeprefix("; ")
        return [f"  why: {said}"] if said else []

    def _said(self, view: u.View[Any], value: Any) -> str:
        """One attribute in words; of a single element its number, whatever its shape."""
        one = value.item() if isinstance(value, np.ndarray) and value.size == 1 else value
        words, rest = self._endless.get(view.name), ""
        if words is not None and (endless := np.isinf(one)).any():
            if endless.all():
                return words
            one, rest = np.where(endless, np.nan, one), f", {endless.sum()} of them {words}"
        if view.unit is None:
            return (u.number(one) if isinstance(one, float) else short(one)) + rest
        return u.both(u.to_si(one, view.unit), view.unit) + rest

    def _remarks(self) -> list[str]:
        """What a reader has to know besides; stands below."""
        return []

    def _noted(self) -> list[str]:
        """The remarks and the pumps' caveats as lines, each once."""
        return [f"  note: {note}" for note in dict.fromkeys((*self._remarks(), *self._caveats))]

    def _repr_html_(self) -> str:
        """Show itself in a notebook: both unit systems for a scalar, a frame for an array."""
        if self._failed.ndim:
            whole = type(self).to_frame is not Result.to_frame
            # one row more than is shown, so that the cut is seen
            table = html_table(self.to_frame() if whole else self._frame("us", _ROWS + 1))
            return table + html_notes(self._caveats)
        return html_lines(repr(self))


def axis_columns(shape: tuple[int, ...], axes: Iterable[int]) -> dict[str, Any]:
    """Where each element of a shape stands along some of its axes, as columns of a frame."""
    places = np.unravel_index(np.arange(math.prod(shape)), shape)
    return {f"axis_{i}": places[axis] for i, axis in enumerate(axes)}


def shown_rows(shape: tuple[int, ...], most: int | None) -> npt.NDArray[np.intp]:
    """Flat numbers of all elements or, of more than ``most``, so many from both ends.

    >>> shown_rows((2, 2), None), shown_rows((10,), 3)
    (array([0, 1, 2, 3]), array([0, 1, 9]))
    """
    size = math.prod(shape)
    if most is None or size <= most:
        return np.arange(size)
    return np.append(np.arange(most - most // 2), np.arange(size - most // 2, size))


def short(values: Any) -> str:
    """Say an array in a few words: all of it where it is small, else its span or its counts.

    >>> short(0.6), short([1.0, 2.0]), short(np.linspace(0, 1, 50)), short(np.arange(50) > 9)
    ('0.6', '[1.0, 2.0]', '0 to 1, shape (50,)', '10 False, 40 True')
    """
    array = np.asarray(values)
    if array.ndim == 0 or array.size <= _SAID_IN_FULL or array.dtype.kind == "O":
        return str(array.tolist())
    if array.dtype.kind not in "iuf":
        found = zip(*np.unique(array, return_counts=True), strict=True)
        return ", ".join(f"{n} {value}" for value, n in found)
    if np.isnan(array).all():
        return f"no values, shape {array.shape}"
    low, high = (u.number(float(x)) for x in (np.nanmin(array), np.nanmax(array)))
    return f"{low} to {high}, shape {array.shape}"


def html_lines(text: str) -> str:
    """Show a text as HTML: its first line above, the others as rows of "name: value"."""
    title, *rest = text.splitlines()
    if not rest:
        return f"<p>{html.escape(title)}</p>"
    cells = (line.strip().partition(": ") for line in rest)
    rows = "".join(
        f"<tr><th style='text-align:left'>{html.escape(a)}</th><td>{html.escape(b)}</td></tr>"
        for a, _, b in cells
    )
    return f"<table><caption>{html.escape(title)}</caption>{rows}</table>"


def html_notes(notes: Iterable[str]) -> str:
    """Show sentences as HTML, below a table."""
    return "".join(f"<p>{html.escape(note)}</p>" for note in notes)


def caveats_of(asked: Iterable[Any]) -> tuple[str, ...]:
    """What must be said of parts, and lists of them: of a pump told by two figures, that it is."""
    said: dict[str, None] = {}
    for one in asked:
        many = one if isinstance(one, list | tuple) else ()
        held = getattr(getattr(one, "si", None), "caveats", ())
        said |= dict.fromkeys((*held, *caveats_of(many)))
    return tuple(said)


def frame_of(rows: Any, columns: list[str] | None = None) -> Frame:
    """Make a pandas frame, which takes a second to load, of columns by name or of rows."""
    import pandas as pd

    return pd.DataFrame(rows, columns=columns)


def html_table(frame: Frame, rows: int = _ROWS) -> str:
    """Show a frame as a person reads it: four digits, no sentence cut short, ``rows`` at most."""
    import pandas as pd

    with pd.option_context("display.max_colwidth", None):
        return str(frame.to_html(index=False, max_rows=rows, float_format=u.number))


def plain(value: Any) -> Any:
    """Return plain values for strict JSON: NaN, and what is without end, become None.

    >>> plain({"a": np.array([1.5, np.inf]), "b": (np.float64("nan"), np.bool_(True))})
    {'a': [1.5, None], 'b': [None, True]}
    """
    if isinstance(value, Mapping):
        return {str(key): plain(v) for key, v in value.items()}
    if isinstance(value, np.ndarray) and value.dtype.kind in "fiubU":
        if value.dtype.kind != "f" or (known := np.isfinite(value)).all():
            return value.tolist()
        held = value.astype(object)
        held[~known] = None
        return held.tolist()
    if isinstance(value, list | tuple | np.ndarray):
        return [plain(v) for v in value]
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value


def one_shape(name: str, *arrays: Any) -> tuple[int, ...]:
    """Broadcast shapes together, or say which input does not fit."""
    try:
        return np.broadcast_shapes(*(np.shape(a) for a in arrays))
    except ValueError:
        shapes = ", ".join(str(np.shape(a)) for a in arrays)
        raise InputError(
            f"{name}: arrays of shapes {shapes} do not broadcast; give arrays of one shape, or "
            "scalars."
        ) from None
