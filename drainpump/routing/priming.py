"""Filling a line that ran empty, as a storm meets it: the flow by water in line and pit."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

_Table = list[list[float]]


@dataclass(frozen=True, eq=False)
class Priming:
    """Flow and power of one drive while its line fills (SI), straight between the nodes."""

    line: list[float]  # m³ in the line, from 0 to all that runs back
    pit: list[float]  # m³ stored above the off level
    flow: _Table  # m³/s, (line, pit)
    power: _Table  # W

    def at(self, line: float, pit: float) -> tuple[float, float]:
        """Flow and power with so much water in the line and the pit."""
        i, s = _place(self.line, line)
        j, t = _place(self.pit, pit)

        def between(table: _Table) -> float:
            a, b = table[i], table[i + 1]
            low = a[j] + t * (a[j + 1] - a[j])
            return low + s * (b[j] + t * (b[j + 1] - b[j]) - low)

        return between(self.flow), between(self.power)

    def step(self, line: float, pit: float, inflow: float) -> tuple[float, float, float]:
        """The line's next node, and the mean flow and power on the way there.

        The mean of the times that the flows at both ends would take (Heun's step); a flow of
        nothing where the pump stalls before.
        """
        node = self.line[min(bisect_right(self.line, line), len(self.line) - 1)]
        one, watts = self.at(line, pit)
        if one <= 0:
            return node, 0.0, watts
        water = node - line
        ahead = pit + inflow * water / one - water
        two, more = self.at(node, ahead)
        if two <= 0:
            return node, 0.0, watts
        return node, 2.0 / (1.0 / one + 1.0 / two), 0.5 * (watts + more)


def _place(nodes: list[float], value: float) -> tuple[int, float]:
    """Cell of a value and its share of the way through it, held at both ends."""
    i = min(max(bisect_right(nodes, value) - 1, 0), len(nodes) - 2)
    width = nodes[i + 1] - nodes[i]
    share = (value - nodes[i]) / width if width > 0 else 1.0
    return i, min(max(share, 0.0), 1.0)
