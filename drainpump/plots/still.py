"""A picture as a file, made without pyplot: no window or setting is touched."""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from typing import IO, Any

_DPI = 160


def save(
    draw: Callable[[Any], Any],
    size: tuple[float, float],
    to: str | os.PathLike[str] | IO[bytes],
    **how: Any,
) -> None:
    """Draw on axes of a figure of their own, and write it.

    Parameters
    ----------
    draw : callable
        Takes the Axes to draw on.
    size : (float, float)
        Width and height, in.
    to : path or file
        In the form that its ending says.
    **how
        As of matplotlib's ``savefig``.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, layout="constrained")
    draw(figure.subplots())
    figure.savefig(to, dpi=_DPI, **how)


def png(draw: Callable[[Any], Any], size: tuple[float, float]) -> bytes:
    """Return the picture that `save` would write as the bytes of a PNG."""
    data = io.BytesIO()
    # no version within, so that equal pictures are equal bytes
    save(draw, size, data, format="png", metadata={"Software": None})
    return data.getvalue()
