"""A job of the first version of the document, brought up to this one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drainpump.errors import InputError
from drainpump.paper.document.json_text import Members


def upgraded(document: Any) -> Any:
    """Return a document of this version.

    Every key of the first version is one of this one; what it left out had other defaults,
    which are named, and not written out: nobody gave them.
    """
    if not isinstance(document, Mapping) or not _is_first(document.get("schema_version")):
        return document
    if "defaults_of" in document:
        raise InputError("$.defaults_of: unknown key; it came with version 2.")
    found = Members({**document, "schema_version": 2, "defaults_of": 1})
    found.twice = getattr(document, "twice", None)
    return found


def _is_first(version: Any) -> bool:
    return isinstance(version, int) and not isinstance(version, bool) and version == 1
