"""Refusing a call's keywords with all that is wrong, and not with the first problem alone."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial, wraps
from typing import Any, TypeVar, cast

import numpy as np

from drainpump.errors import InputError, silent
from drainpump.foreign import check_keywords
from drainpump.units import FloatArray

Make = TypeVar("Make", bound=Callable[..., Any])


def bound_to(
    what: str, signature: inspect.Signature, args: tuple[Any, ...], given: Mapping[str, Any]
) -> inspect.BoundArguments:
    """Bind a call's arguments to their names; a value that needs its name is told how to get it."""
    try:
        return signature.bind(*args, **given)
    except TypeError as error:
        names = signature.parameters
        bare = [n for n, p in names.items() if p.kind is p.POSITIONAL_OR_KEYWORD]
        owner = len({"self", "cls"} & names.keys())
        said = f"{what}(): {error}"
        if len(args) > len(bare):
            named = [f"{n}=..." for n, p in names.items() if p.kind is p.KEYWORD_ONLY]
            said += f", {len(args) - owner} where {len(bare) - owner} may stand without a name; "
            said += ", as in ".join(["write the others with theirs", *named[:1]])
        raise TypeError(said) from None


def all_at_once(make: Make) -> Make:
    """Let a function that builds a part refuse its keywords with all that is wrong."""
    signature = inspect.signature(make)
    known = [name for name in signature.parameters if name != "cls"]

    @wraps(make)
    def build(*args: Any, **given: Any) -> Any:
        check_keywords(make.__name__, given, known)
        bound = bound_to(make.__name__, signature, args, given)
        owner = {k: v for k, v in bound.arguments.items() if k == "cls"}
        with every_problem(partial(make, **owner), bound.arguments, known):
            return make(*args, **given)

    return cast(Make, build)


@contextmanager
def every_problem(
    make: Callable[..., Any], given: Mapping[str, Any], known: Iterable[str]
) -> Iterator[None]:
    """Refuse within with all that is wrong: what was refused is set aside, the rest tried again.

    A number that was refused is not known, or a harmless one; anything else is left out. What then
    is wrong with a keyword that was typed is a problem of its own; whatever else happens comes of
    the first.
    """
    try:
        yield
    except InputError as first:
        rest = {name: value for name, value in given.items() if name not in ("self", "cls")}
        found, sound = [], set(rest)
        more: InputError | None = first
        with silent():
            while more is not None and (
                names := _keywords(more) & sound or _lacks(more, rest, known)
            ):
                found.append(more)
                sound -= names
                more = _tried(make, rest, names)
        raise InputError.together(found or [first]) from None


def _tried(make: Callable[..., Any], rest: dict[str, Any], names: set[str]) -> InputError | None:
    """What is refused when keywords are set aside; what stands in for them stays in ``rest``."""
    shapes = {name: _shape(rest.get(name)) for name in names}
    for stand_in in (_unknown, lambda shape: None, _harmless):
        rest |= {name: stand_in(shape) for name, shape in shapes.items()}
        try:
            make(**{name: value for name, value in rest.items() if value is not None})
        except InputError as error:
            if not _leans_on(error, names):
                return error
        except Exception:  # the rest leans on what was set aside
            continue
        else:
            break
    return None


def _leans_on(error: InputError, names: set[str]) -> bool:
    """Whether a refusal may come of what was set aside: it names that, its quantity or nothing."""
    stems = {problem.path for problem in error.problems if problem.code == "unit"}
    said = _keywords(error)
    return (
        "" in said or bool(said & names) or any(n.startswith(f"{s}_") for n in names for s in stems)
    )


def _lacks(error: InputError, rest: Mapping[str, Any], known: Iterable[str]) -> set[str]:
    """A spelling of the quantity that it misses, where none was typed or set aside."""
    problem = error.problems[0]
    spellings = [name for name in known if problem.path and name.startswith(f"{problem.path}_")]
    if problem.code != "unit" or any(name in rest for name in spellings):
        return set()
    return set(spellings[:1])


def _keywords(error: InputError) -> set[str]:
    """The keywords that a refusal speaks of."""
    return {re.split(r"\W", problem.path)[0] for problem in error.problems}


def _shape(value: Any) -> tuple[int, ...]:
    """That of as many numbers."""
    try:
        raw = np.asarray(value)
    except ValueError:  # rows of several lengths
        return ()
    return () if raw.dtype.kind == "O" else raw.shape


def _unknown(shape: tuple[int, ...]) -> FloatArray:
    return np.full(shape, np.nan)


def _harmless(shape: tuple[int, ...]) -> float | None:
    """A number small enough for a share and large enough for a size; rows rest on each other."""
    return None if shape else 0.01
