"""The doors of the house: names that are loaded from their home when they are first asked for.

What a door offers stands once, in the stub (``__init__.pyi``) beside it, as plain imports:
type checkers and editors read it as it is, and `lazily` reads it for the running program,
so that importing the package costs next to nothing.
"""

import ast
from collections.abc import Callable
from functools import cache
from importlib import import_module
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
        own[name] = found
        return found

    return load, lambda: sorted({*own, *names}), sorted(names)
