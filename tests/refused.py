"""Tables of what is refused: a subject's rows of a call and its whole message."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest

from drainpump.errors import InputError, UnitError

Rows = Mapping[str, Sequence[tuple[Callable[[], Any], str]]]


def each(refused: Rows) -> Any:
    """Run a test for each row, with ``call`` and ``message``, named by its subject."""
    rows = [
        pytest.param(*row, id=f"{subject} {i}")
        for subject, rows in refused.items()
        for i, row in enumerate(rows)
    ]
    return pytest.mark.parametrize(("call", "message"), rows)


def check(call: Callable[[], Any], message: str) -> None:
    """The call is refused, in just these words."""
    with pytest.raises((InputError, UnitError)) as err:
        call()
    assert str(err.value) == message
