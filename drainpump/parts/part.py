"""What the parts have in common: they remember what they were given, and stay as built.

A part keeps the keywords it was built from, as typed. From them come its copy with one
change, its plain values for JSON, its equality and its repr, so that nobody rebuilds a
part by hand. What other rooms need of it in SI they ask of `Part.si`.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Mapping
from functools import wraps
from typing import Any, ClassVar, Self, TypeVar, cast

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, Problems, inside, spelled, step, wrong
from drainpump.foreign import check_keywords
from drainpump.parts.all_problems import all_at_once, bound_to, every_problem
from drainpump.results import html_lines

Make = TypeVar("Make", bound=Callable[..., Any])

#: numbers up to which a list is shown whole
_SHOWN = 30


class Part(u.Measured):
    """Base of the parts: built once from keywords, which it keeps as typed."""

    _given: dict[str, Any] = {}  # noqa: RUF012  of a part that takes nothing
    #: how a nested part is read back from plain values, by keyword
    _nested: ClassVar[dict[str, Callable[[Any], Any]]] = {}
    #: functions that build this part besides its class; one stands in plain values under
    #: its own name, in place of its first parameter
    _makers: ClassVar[dict[str, Callable[..., Any]]] = {}
    #: what marks this kind of part in plain values, where several kinds stand in one place
    _kind: ClassVar[str] = ""

    def __init_subclass__(cls, **options: Any) -> None:
        super().__init_subclass__(**options)
        if "__init__" in vars(cls):
            cls.__init__ = _remembering(cls.__init__)  # type: ignore[method-assign]

    def __setattr__(self, name: str, value: Any) -> None:
        if name in vars(self) or "_built" in vars(self):
            raise AttributeError(f"{name} is read-only; build a new {type(self).__name__} instead.")
        super().__setattr__(name, value)

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"{name} is read-only; build a new {type(self).__name__} instead.")

    # -- what was given

    @property
    def given(self) -> dict[str, Any]:
        """The keywords the part was built from, as typed; what was left out is not there."""
        return dict(self._given)

    def _made_by(self, maker: str, **given: Any) -> Self:
        """Remember the function that built the part, and its keywords, in place of its own."""
        vars(self)["_maker"] = maker
        vars(self)["_given"] = {k: _kept(v) for k, v in given.items() if v is not None}
        return self

    @property
    def _make(self) -> Callable[..., Any]:
        maker = vars(self).get("_maker")
        return type(self) if maker is None else self._makers[maker]

    def _blank(self) -> Self:
        """One not yet built, to try keywords on."""
        blank = object.__new__(type(self))
        vars(blank)["_given"] = {}
        return blank

    # -- another like it

    def replace(self, **changes: Any) -> Self:
        """Return the part with some of its keywords changed.

        Parameters
        ----------
        **changes
            The constructor's keywords. A change replaces the quantity, whichever spelling
            it was typed in; ``None`` takes it away.

        Returns
        -------
        part of the same kind
        """
        with u.speaking_of(changes):
            return self._replaced(changes)  # type: ignore[no-any-return]

    def variant(self, **changes: Any) -> Self:
        """Like `replace`, for a change that nobody typed: no number in it is doubted aloud."""
        with u.speaking_of(()):
            return self._replaced(changes)  # type: ignore[no-any-return]

    __replace__ = replace

    def _replaced(self, changes: dict[str, Any]) -> Any:
        make, given = self._make, self.given
        for name in changes:
            for spelling in u.spellings(name, given):
                del given[spelling]
        return make(**given, **changes)

    # -- plain values

    def to_dict(self) -> dict[str, Any]:
        """Return the keywords as typed, as plain values for JSON.

        Raises
        ------
        InputError
            A number is infinite, which JSON does not know.
        """
        given = {name: _plain(name, value) for name, value in self.given.items()}
        if (maker := vars(self).get("_maker")) is not None:
            first = next(iter(inspect.signature(self._makers[maker]).parameters))
            given = {maker: given.pop(first)} | given
        return ({"kind": self._kind} if self._kind else {}) | given

    @classmethod
    def from_dict(cls, given: Mapping[str, Any]) -> Self:
        """Build the part from what `to_dict` gave.

        Parameters
        ----------
        given : mapping of str to plain values

        Raises
        ------
        InputError
            Not a mapping, or a part that cannot be: with its place in the mapping.
        """
        if not isinstance(given, Mapping):
            raise wrong(cls.__name__, given, "must be a mapping", "give what to_dict() gave")
        said = dict(given)
        kinds = {kind._kind: kind for kind in cls.__subclasses__() if kind._kind}
        whole = "__init__" in vars(cls)  # a part by itself, and not only as one of its kinds
        if kinds and ("kind" in said or not whole):
            if (kind := said.get("kind")) not in kinds:
                mend = "or leave it out" if whole else "pick one"
                raise wrong("kind", kind, f"must be one of {tuple(kinds)}", mend)
            return kinds[kind].from_dict(given)
        if cls._kind and said.pop("kind", cls._kind) != cls._kind:
            raise wrong("kind", given["kind"], f"must be {cls._kind!r}", "see the other kinds")
        make: Callable[..., Any] = cls
        keys = {name: name for name in said}
        for name, function in cls._makers.items():
            if name in said:
                make = function
                first = next(iter(inspect.signature(function).parameters))
                said = {first: said.pop(name)} | said
                keys[first] = name
        problems = Problems()
        for name, read in cls._nested.items():
            if said.get(name) is not None:
                with problems, inside(name):
                    said[name] = read(said[name])
        with spelled(keys), every_problem(make, said, inspect.signature(make).parameters):
            problems.end()
            return make(**said)  # type: ignore[no-any-return]

    # -- by value

    def _value(self) -> tuple[Any, ...]:
        """What two equal parts share: kind, keywords that are no default, as plain values."""
        usual = inspect.signature(self._make).parameters
        given = {k: v for k, v in self.given.items() if not _same(v, usual[k].default)}
        return (type(self).__name__, vars(self).get("_maker"), _hashable(given))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Part):
            return NotImplemented
        return type(self) is type(other) and self._value() == other._value()

    def __hash__(self) -> int:
        return hash(self._value())

    # -- in words

    def __repr__(self) -> str:
        name, positional = type(self).__name__, []
        given = self.given
        if (maker := vars(self).get("_maker")) is not None:
            name = maker
            kinds = inspect.signature(self._makers[maker]).parameters.values()
            positional = [
                repr(given.pop(p.name))
                for p in kinds
                if p.kind is p.POSITIONAL_OR_KEYWORD and p.name in given
            ]
        said = positional + [f"{k}={_shown(v)}" for k, v in given.items()]
        return f"{name}({', '.join(said)})"

    def __str__(self) -> str:
        return repr(self)

    def _repr_html_(self) -> str:
        return html_lines(str(self))


def _remembering(init: Callable[..., None]) -> Callable[..., None]:
    """Let a constructor keep its keywords before it reads them."""
    signature = inspect.signature(init)
    known = [name for name in signature.parameters if name != "self"]

    @wraps(init)
    def remember(self: Part, *args: Any, **given: Any) -> None:
        if "_given" not in vars(self):
            check_keywords(type(self).__name__, given, known)
            bound = bound_to(type(self).__name__, signature, (self, *args), given)
            for name, value in bound.arguments.items():
                if isinstance(value, Iterator):  # read once, or nothing would be left to keep
                    bound.arguments[name] = tuple(value)
            vars(self)["_given"] = {
                k: _kept(v) for k, v in _as_typed(bound, given) if v is not None
            }
            args, given = bound.args[1:], bound.kwargs
            with every_problem(lambda **rest: init(self._blank(), **rest), bound.arguments, known):
                init(self, *args, **given)
            vars(self)["_built"] = True
        else:
            init(self, *args, **given)

    return remember


def maker(make: Make) -> Make:
    """Let a part remember the function that built it, with what its caller typed and no more."""
    signature = inspect.signature(make)

    tried = all_at_once(make)

    @wraps(make)
    def build(*args: Any, **given: Any) -> Any:
        part = tried(*args, **given)
        typed = _as_typed(signature.bind(*args, **given), given)
        return part._made_by(make.__name__, **dict(typed))

    return cast(Make, build)


def _as_typed(bound: inspect.BoundArguments, given: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """The arguments of a call in the order in which they were typed."""
    for name in (*(k for k in bound.arguments if k not in given), *given):
        if name not in ("self", "cls"):
            yield name, bound.arguments[name]


def each(read: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Make of a reader of one thing that of a list or a mapping of them."""

    def items(given: Any) -> Any:
        named = isinstance(given, Mapping)
        found, problems = {}, Problems()
        for key, item in given.items() if named else enumerate(given):
            with problems, inside(step(key)):
                found[key] = read(item)
        problems.end()
        return found if named else list(found.values())

    return items


def _kept(value: Any) -> Any:
    """A copy of what was typed that nobody else can change."""
    if isinstance(value, np.ndarray):
        return u.frozen(value.copy())
    if isinstance(value, list | tuple):
        return type(value)(_kept(v) for v in value) if type(value) in (list, tuple) else value
    if isinstance(value, Mapping):
        return {k: _kept(v) for k, v in value.items()}
    return value


def _plain(name: str, value: Any) -> Any:
    """What JSON can hold: numbers, text, lists and mappings; NaN becomes None."""
    if hasattr(value, "to_dict") and not hasattr(value, "to_numpy"):
        return value.to_dict()
    if isinstance(value, Mapping):
        return {str(k): _plain(f"{name}[{k!r}]", v) for k, v in value.items()}
    if isinstance(value, list | tuple | range | set | frozenset | np.ndarray) or hasattr(
        value, "tolist"
    ):
        items = value.tolist() if hasattr(value, "tolist") else list(value)
        if not isinstance(items, list):
            return _plain(name, items)
        return [_plain(f"{name}[{i}]", v) for i, v in enumerate(items)]
    if isinstance(value, float) and not np.isfinite(value):
        if np.isnan(value):
            return None
        raise InputError(f"{name}={value}: must be finite; JSON knows no infinite number.")
    return value


def _hashable(value: Any) -> Any:
    """The same value, typed as a list, an array or a number of another kind, is one value."""
    if isinstance(value, Part):
        return value._value()
    if isinstance(value, Mapping):
        return tuple(sorted((str(k), _hashable(v)) for k, v in value.items()))
    if isinstance(value, bool | str) or value is None:
        return (type(value).__name__, value)
    array = np.asarray(value)
    if array.dtype.kind in "iufb":
        return (array.shape, (array.astype(np.float64) + 0.0).tobytes())
    if isinstance(value, list | tuple | np.ndarray):
        return tuple(_hashable(v) for v in value)
    return repr(value)


def _same(value: Any, default: Any) -> bool:
    return default is not inspect.Parameter.empty and _hashable(value) == _hashable(default)


def _shown(value: Any) -> str:
    """A typed value as code: an array as its list."""
    if isinstance(value, np.ndarray | np.generic):
        return _shown(value.tolist())
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{k!r}: {_shown(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        inside = [_shown(v) for v in value]
        if len(inside) > _SHOWN:
            inside = [*inside[:3], "...", inside[-1]]
        return f"[{', '.join(inside)}]"
    return repr(value)
