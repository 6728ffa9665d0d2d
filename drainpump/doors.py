"""The doors of the house: names that are loaded from their home when they are first asked for.

What a door offers stands once, in the stub (``__init__.pyi``) beside it, as plain imports:
type checkers and editors read it as it is, and `lazily` reads it for the running program,
so that importing the package costs next to nothing.
"""

import ast
from collections.abc import Callable
from functools import cache, wraps
from importlib import import_module
from inspect import isclass, isfunction, signature
from pathlib import Path
from typing import Any


@cache
def offered(stub: str) -> dict[str, tuple[str, str]]:
    """Return what a stub offers: public name to (module, name there)."""
    tree = ast.parse(Path(stub).read_text(encoding="utf-8"))
    return {
        alias.asname: (str(node.module), alias.name)
        for node in tree.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
        if alias.asname
    }


def _asked(function: Callable[..., Any], module: str, name: str) -> Callable[..., Any]:
    """A public function as it is asked from outside.

    It names the nearest spelling of a keyword it does not know, keeps on its result what it
    warned of and what must be said of the pumps, and says it in words where the machine's
    memory was not enough.
    """
    import numpy as np

    from drainpump.errors import InputError, listening
    from drainpump.results import Result, caveats_of

    spelled = _spelled(function, name)
    if spelled is function:
        return function

    @wraps(function)
    def ask(*args: Any, **given: Any) -> Any:
        # what overflows is without end, and its status says so
        with listening() as heard, np.errstate(over="ignore"):
            try:
                found = spelled(*args, **given)
            except MemoryError as error:
                said = f"{name}: not enough memory; ask for less at once ({error})."
                raise InputError(said) from error
        if isinstance(found, Result):
            if heard:
                vars(found)["warnings"] = tuple(heard)
            if caveats := caveats_of((*args, *given.values())):
                vars(found)["_caveats"] = caveats
        return found

    # found again by this name, as pickle does for a worker process
    ask.__module__, ask.__qualname__ = module, name
    return ask


def ask_as_a_door(module: str) -> None:
    """Make the functions that a room imports and offers itself asked as those of a door are."""
    own = vars(import_module(module))
    for name in own["__all__"]:
        if isfunction(own[name]):
            own[name] = _asked(own[name], module, name)


def _spelled(function: Callable[..., Any], name: str) -> Callable[..., Any]:
    """The same function, naming the nearest spelling of a keyword that it does not know."""
    from drainpump.foreign import check_keywords

    kinds = signature(function).parameters
    if any(kind.kind is kind.VAR_KEYWORD for kind in kinds.values()):
        return function
    known = [kind for kind in kinds if kind not in ("self", "cls")]

    @wraps(function)
    def call(*args: Any, **given: Any) -> Any:
        check_keywords(name, given, known)
        return function(*args, **given)

    return call


def _spell_methods(kind: type) -> None:
    """Let the public methods of a class name the nearest spelling, too."""
    for base in kind.__mro__:
        own = base.__module__.startswith(__package__)
        for name, method in list(vars(base).items()) if own else ():
            function = getattr(method, "__func__", method)  # of a class method
            if name.startswith("_") or not isfunction(function) or hasattr(function, "__wrapped__"):
                continue
            spelled: Any = _spelled(function, function.__qualname__)
            setattr(base, name, spelled if function is method else type(method)(spelled))


def lazily(
    module: str, file: str, missing: Callable[[str], str] | None = None
) -> tuple[Callable[[str], Any], Callable[[], list[str]], list[str]]:
    """Return ``__getattr__``, ``__dir__`` and ``__all__`` of the door ``file``.

    Parameters
    ----------
    module, file : str
        The door's ``__name__`` and ``__file__``.
    missing : callable, optional
        What to say of a name that is not here; by default that it is not.
    """
    names = offered(file + "i")
    own = vars(import_module(module))

    def load(name: str) -> Any:
        if name not in names:
            words = missing(name) if missing else ""
            raise AttributeError(words or f"module {module!r} has no attribute {name!r}")
        home, origin = names[name]
        found = vars(import_module(home)).get(origin)
        if found is None:  # a room, not a name in one
            found = import_module(f"{home}.{origin}")
        if isfunction(found):
            found = _asked(found, module, name)
        elif isclass(found):
            _spell_methods(found)
        own[name] = found
        return found

    return load, lambda: sorted({*own, *names}), sorted(names)
