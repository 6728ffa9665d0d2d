"""A picture as the bytes of a PNG, made without pyplot: no window or setting is touched."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

__all__ = ["png"]

_DPI = 160


def png(draw: Callable[[Any], Any], size: tuple[float, float]) -> bytes:
    """Draw on axes of a figure of their own, and return its PNG.

    Parameters
    ----------
    draw : callable
        Takes the Axes to draw on.
    size : (float, float)
        Width and height, in.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, layout="constrained")
    draw(figure.subplots())
    data = io.BytesIO()
    # no version within, so that equal pictures are equal bytes
    figure.savefig(data, format="png", dpi=_DPI, metadata={"Software": None})
    return data.getvalue()
