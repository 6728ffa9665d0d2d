"""Gather the checks of every module beside this one."""

from __future__ import annotations

import importlib
import pkgutil

from tests import reference
from tests.reference.check import Check

#: modules that hold no checks of their own
_PLAIN = {"check", "gather", "__main__"}


def checks() -> dict[str, list[Check]]:
    """Return the checks by module, in the modules' order."""
    found = {}
    for module in pkgutil.iter_modules(reference.__path__):
        if module.name not in _PLAIN:
            found[module.name] = importlib.import_module(f"tests.reference.{module.name}").CHECKS
    return found
