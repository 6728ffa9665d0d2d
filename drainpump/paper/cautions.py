"""The usual cautions: where this work can hurt someone, the law and the trade come first."""

from __future__ import annotations

__all__ = ["CAUTIONS", "OPEN_ITEMS"]

#: common practice, no source; local codes and licensed trades decide
CAUTIONS: tuple[str, ...] = (
    "Electricity near water kills: a licensed electrician fits the outlet, ground-fault "
    "protection and any wiring, to the local code. Unplug the pump before reaching into the pit.",
    "Trenches and pits cave in and fill with water and gas: shore or slope them, have buried "
    "services located before digging, keep a lid on the pit that a child cannot lift.",
    "Do not flood a neighbour, a footpath or a road: where the water may go is a matter of local "
    "law, setbacks and permits.",
    "Storm water does not go into a sanitary sewer, and backflow must be kept out of any sewer: "
    "ask the authority before any connection.",
    "A pump fails when it rains hardest, often with the power: plan what the water does then.",
    "A sudden stop hammers the pipe, and frost bursts a line that holds water: have the line "
    "checked for both.",
)

#: what the engine cannot know and the user has to confirm
OPEN_ITEMS: tuple[str, ...] = (
    "right to discharge at the outlet, and its setback",
    "permits for drainage, digging and wiring",
    "a licensed electrician for the supply, and its voltage at the pump",
    "lift and length measured, not paced; fittings counted",
    "the pump's own curve, from its maker, for the exact model",
)
