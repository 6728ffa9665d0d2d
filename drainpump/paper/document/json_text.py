"""JSON text read within bounds, so that what is huge, deep or broken is refused calmly."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

from drainpump.data_files import read
from drainpump.errors import InputError, Problem, closed

#: largest document, and its deepest nesting
MOST_BYTES = 10_000_000
_MOST_DEPTH = 40

#: a whole string, closed or not, or one bracket; possessive, so that it stays linear
_TOKEN = re.compile(r'"(?:[^"\\]|\\.|\\\Z)*+"?|[\[\]{}]', re.DOTALL)


class Members(dict[str, Any]):
    """An object as read, with the key that stood in it twice, if any."""

    twice: str | None = None

    @classmethod
    def of(cls, pairs: list[tuple[str, Any]]) -> Members:
        found = cls()
        for key, value in pairs:
            if key in found and found.twice is None:
                found.twice = key
            found[key] = value
        return found


def refusal(
    path: str, said: str, kind: type[InputError] = InputError, code: str = ""
) -> InputError:
    """Refuse a place in words that stand behind it."""
    return kind(closed(f"{path}: {said}"), problem=Problem(path, code or kind.code, None, said, ""))


def parse(text: str | bytes) -> Any:
    """Read JSON text, refusing what is too large, too deep or no JSON, calmly."""
    try:
        return load(text, "$", "a job needs fewer than ten")
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise refusal("$", f"no JSON at {where}: {error.msg}; mend it there") from None


def load(text: Any, path: str, depth_mend: str) -> Any:
    """Load JSON text within bounds; what is no JSON raises json's own error."""
    if not isinstance(text, str | bytes | bytearray):
        raise refusal(path, f"must be JSON text; it is {kind_of(text)}")
    if len(text) > MOST_BYTES:
        said = f"{len(text)} long: must be at most {MOST_BYTES} bytes; give the curves as CSV"
        raise refusal(path, said)
    if not isinstance(text, str):
        try:
            text = bytes(text).decode("utf-8-sig")
        except UnicodeDecodeError as error:
            said = f"no UTF-8 text at byte {error.start}; save the file as UTF-8"
            raise refusal(path, said) from None
    depth = 0
    for token in _TOKEN.finditer(text):
        bracket = token.group()
        if bracket in "[{":
            depth += 1
            if depth > _MOST_DEPTH:
                where = f"{_MOST_DEPTH} levels at character {token.start()}"
                raise refusal(path, f"nested deeper than {where}; {depth_mend}")
        elif bracket in "]}":
            depth -= 1
    try:
        return json.loads(text, object_pairs_hook=Members.of)
    except json.JSONDecodeError:
        raise
    except ValueError:
        said = "holds a number of thousands of digits; give shorter ones"
        raise refusal(path, said) from None


def kind_of(value: Any) -> str:
    """Say what a value is in JSON's words."""
    for types, word in (
        ((bool,), "true or false"),
        ((int, float), "a number"),
        ((str,), "text"),
        ((Mapping,), "an object"),
        ((list, tuple), "a list"),
        ((type(None),), "null"),
    ):
        if isinstance(value, types):
            return word
    return f"a {type(value).__name__}"


def shipped(name: str) -> dict[str, Any]:
    """Read a schema as it is shipped."""
    return dict(json.loads(read("paper", name)))
