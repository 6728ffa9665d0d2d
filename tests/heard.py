"""What a call says besides its answer: its refusal or its warnings."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from typing import Any

from drainpump.errors import DrainpumpWarning, InputError


def told(call: Callable[[], Any]) -> str:
    """What a call says of its input: the message of its refusal or of its warnings."""
    with warnings.catch_warnings(record=True) as seen:
        warnings.simplefilter("always")
        try:
            call()
        except InputError as err:
            return str(err)
    return "\n".join(str(w.message) for w in seen if issubclass(w.category, DrainpumpWarning))


def quietly(call: Callable[[], Any]) -> Any:
    """The answer of a call whose warnings are not what is asked."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DrainpumpWarning)
        return call()
