"""The examples of the docstrings, run for what they make."""

from __future__ import annotations

import contextlib
import doctest
import io
import warnings
from collections.abc import Iterable, Iterator
from typing import Any


def run(examples: Iterable[doctest.Example], space: dict[str, Any]) -> Iterator[Any]:
    """Run one docstring's examples in ``space`` and yield what each expression gives.

    An example raises where the docstring says so, and nowhere else.
    """
    for example in examples:
        try:
            code = compile(example.source, "<example>", "eval")
        except SyntaxError:
            code = compile(example.source, "<example>", "exec")
        value = None
        with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()):
            warnings.simplefilter("ignore")
            try:
                value = eval(code, space)
            except Exception:
                if example.exc_msg is None:
                    raise
            else:
                assert example.exc_msg is None, f"does not raise: {example.source}"
        yield value
