"""The 24-hour design storms of the NRCS distributions."""

from __future__ import annotations

import numpy as np

from drainpump import units as u
from drainpump.errors import wrong
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.physics import rain
from drainpump.work_budget import spend


def nrcs_storm(
    kind: rain.NrcsKind,
    *,
    depth_in: u.Quantity | None = None,
    depth_mm: u.Quantity | None = None,
    block_min: u.Quantity = 6.0,
) -> Hyetograph:
    """Return a 24-hour storm of an NRCS distribution.

    Parameters
    ----------
    kind : {"I", "IA", "II", "III"}
        The region's distribution.
    depth_in, depth_mm : float or array_like
        Rain of the 24 hours. Exactly one; an array is storms side by side.
    block_min : float, default 6
        Length of a block; 24 hours hold a whole number of them. The ordinates are a tenth
        of an hour apart (type IA half an hour), linear between. Blocks longer than a
        catchment's time of concentration hide the peak.

    Returns
    -------
    Hyetograph

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    References
    ----------
    USDA NRCS (SCS), 24-h rainfall distributions; the table ``physics/data/nrcs_24h.csv`` says
    how surely we have it.

    Examples
    --------
    >>> import drainpump as dp
    >>> storm = dp.inflow.nrcs_storm("II", depth_in=4)
    >>> storm.depth_in.size, round(storm.total_in, 6), storm.depth_in.argmax().item()
    (240, 4.0, 118)
    """
    said = u.Typed(locals())
    depth, block = said.take("depth", "rain").si, said.take("block", "positive").si
    count = np.round(86400.0 / np.maximum(block, 1e-6))
    if block.ndim or not abs(count * block - 86400.0) <= 1e-6:
        raise wrong("block_min", block_min, "must divide 24 hours", "e.g. 5, 6 or 15 min")
    spend("nrcs_storm", storms=depth.size, blocks=float(count))
    share = np.diff(rain.nrcs_share(kind, np.linspace(0.0, 86400.0, int(count) + 1)))
    return Hyetograph(
        depth_mm=1e3 * depth[..., None] * share,
        block_min=float(block) / 60,
        note=f"NRCS type {kind}, 24 h",
    )
