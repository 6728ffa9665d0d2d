"""Where a table of rain by duration and return period cannot be, by place."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from drainpump.units import FloatArray


def faults(time: FloatArray, depth: FloatArray) -> Iterator[tuple[tuple[int, ...], str]]:
    """Yield each place of depths (..., K) over rising durations that cannot be, and why.

    A depth that is missing (NaN) is no fault.
    """
    less = (np.diff(depth, axis=-1, prepend=0.0) < 0) | (depth <= 0)
    for at in np.argwhere(less).tolist():
        yield (
            tuple(at),
            f"at {time[at[-1]] / 60:g} min less has fallen than before it; a longer duration "
            "brings more rain, check that row and the one before",
        )
    if depth.ndim > 1:
        for year, k in np.argwhere(np.diff(depth, axis=0) < 0).tolist():
            yield (
                (year + 1, k),
                "a rarer storm has less rain than the row before it; check the two rows",
            )
