"""How a colour is seen: by a full eye, by eyes that tell red from green badly, and in grey."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.colors import to_rgb

#: on linear sRGB, severity 1: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A
#: physiologically-based model for simulation of color vision deficiency", IEEE TVCG 15(6),
#: 2009, table of matrices (from memory); rows sum to 1, so that grey stays grey
EYES = {
    "full": np.eye(3),
    "deutan": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "protan": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
}
#: luminance of linear sRGB (IEC 61966-2-1)
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
GREY = "grey"


def linear(rgb: Any) -> np.ndarray:
    """SRGB from 0 to 1 as light."""
    given = np.asarray(rgb, dtype=float)
    return np.where(given <= 0.04045, given / 12.92, ((given + 0.055) / 1.055) ** 2.4)


def as_seen(rgb: Any, eye: str) -> np.ndarray:
    """A picture as an eye sees it, sRGB from 0 to 1 again."""
    matrix = np.tile(LUMINANCE, (3, 1)) if eye == GREY else EYES[eye]
    light = np.clip(linear(rgb) @ matrix.T, 0, 1)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def lightness(color: Any, eye: str) -> float:
    """L* of CIE 1976, of a colour as an eye sees it."""
    seen = float(np.clip(EYES[eye] @ linear(to_rgb(color)), 0, 1) @ LUMINANCE)
    return 116 * np.cbrt(seen) - 16 if seen > 0.008856 else 903.3 * seen
