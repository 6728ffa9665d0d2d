"""Sites drawn from stated doubts and faults, and what a reading says of them by Bayes' rule.

One run of pipe, a parabola of a pump, in gpm and ft: a solver by halving that shares nothing
with the library, over as many draws at once as one likes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import stats
from scipy.integrate import trapezoid

G = 32.174
CFS = 231 / 1728 / 60


@dataclass(frozen=True)
class Yard:
    """The reference problem's site; the pump makes shutoff·(1 - (Q/run-out)²)."""

    shutoff: float = 20.0
    run_out: float = 50.0
    length: float = 150.0
    bore_in: float = 1.590
    roughness: float = 5e-6
    lift: float = 6.0
    k: float = 6.3
    lid: float = 0.25
    viscosity: float = 1.22e-5

    def asked(self, flow: Any, **off: Any) -> np.ndarray:
        """Head the line asks; 64/Re below 2000, Colebrook by iteration above."""
        bore = (self.bore_in * off.get("bore", 1.0) - 2 * off.get("deposit", 0.0)) / 12
        rough = np.where(off.get("deposit", 0.0) > 0, off.get("deposit", 0.0) / 12, self.roughness)
        speed = np.asarray(flow) * CFS / (np.pi / 4 * bore**2)
        reynolds = np.maximum(speed * bore / self.viscosity, 1e-6)
        root = np.full(np.shape(reynolds * rough), 7.0)
        for _ in range(12):
            root = -2 * np.log10(rough / bore / 3.7 + 2.51 * root / np.maximum(reynolds, 2000))
        factor = np.where(reynolds < 2000, 64 / reynolds, root**-2)
        pipe = factor * self.length * off.get("length", 1.0) / bore * off.get("friction", 1.0)
        local = (self.k + 1) * off.get("k", 1.0) + off.get("extra_k", 0.0)
        return (
            self.lift + off.get("lift", 0.0) + (pipe + local) * speed**2 / (2 * G) + self.lid
        )  # fmt: skip

    def flow(self, *, leak: Any = 0.0, head: Any = 1.0, more: Any = 1.0, **off: Any) -> np.ndarray:
        """Flow at the outlet, by halving; the pump moves the leak besides."""
        shape = np.broadcast_shapes(*(np.shape(x) for x in (leak, head, more, *off.values())))
        low, high = np.zeros(shape), np.maximum(self.run_out * more - leak, 0) + np.zeros(shape)
        for _ in range(50):
            middle = (low + high) / 2
            made = head * self.shutoff * (1 - ((middle + leak) / more / self.run_out) ** 2)
            above = made > self.asked(middle, **off)
            low, high = np.where(above, middle, low), np.where(above, high, middle)
        return (low + high) / 2


def healthy(yard: Yard, draws: int, rng: np.random.Generator) -> np.ndarray:
    """Flows of sites as drawn by ``Doubt.usual()``: its stated one-sigmas, one by one."""
    z = np.clip(rng.standard_normal((5, draws)), -4, 4)
    return yard.flow(
        length=1 + 0.05 * z[0],
        friction=1 + 0.05 * z[1],
        head=1 + 0.04 * z[2],
        more=1 + 0.05 * z[3],
        lift=0.5 * z[4],
        k=np.exp(0.25 * rng.standard_normal(draws)),
        bore=1 + 0.0063 * rng.uniform(-1, 1, draws),
    )


def inside(flows: np.ndarray, low: float, high: float, reading: float, sigma: float) -> np.ndarray:
    """Chance that the true flow lies below, inside and above a band, the draws being the prior."""
    weight = stats.norm.pdf(reading, flows, sigma)
    parts = [flows < low, (flows >= low) & (flows <= high), flows > high]
    return np.array([weight[part].sum() for part in parts]) / weight.sum()


#: fault to (how it alters the yard, whether it goes both ways); sizes are half normal
FAULTS = {
    "head factor": ("head", False),
    "extra K": ("extra_k", False),
    "extra lift": ("lift", True),
    "leak at the pump": ("leak", False),
}
#: the stated scales: share of head, K, ft, gpm
SCALES = {"head factor": 0.15, "extra K": 20.0, "extra lift": 1.0, "leak at the pump": 5.0}


def with_fault(yard: Yard, fault: str, normal: Any) -> np.ndarray:
    """Flow of a yard whose fault has the size of so many sigma."""
    name, both_ways = FAULTS[fault]
    size = SCALES[fault] * (np.asarray(normal) if both_ways else np.abs(normal))
    return yard.flow(**{name: np.maximum(1 - size, 0.01) if name == "head" else size})


def odds(yard: Yard, reading: float, sigma: float) -> dict[str, float]:
    """Chance density of a reading under each fault, over that under no fault at all."""
    normal = np.linspace(-9, 9, 6001)
    usual = stats.norm.pdf(normal)
    none = stats.norm.pdf(reading, yard.flow(), sigma)

    def mean(fault: str) -> float:
        seen = stats.norm.pdf(reading, with_fault(yard, fault, normal), sigma)
        return float(trapezoid(usual * seen, normal))

    return {fault: mean(fault) / none for fault in FAULTS}


def barrel_error(
    yard: Yard, volume: float, fills: int, volume_error: float, time_error: float
) -> float:
    """One-sigma of a head factor from so many fills of one barrel: its error is shared."""
    flow, step = float(yard.flow()), 1e-4
    slope = float(yard.flow(head=1 + step) - yard.flow(head=1 - step)) / (2 * step)
    seconds = volume / flow * 60
    shared, alone = volume_error / volume, time_error / seconds
    return flow * float(np.hypot(shared, alone / np.sqrt(fills))) / slope
