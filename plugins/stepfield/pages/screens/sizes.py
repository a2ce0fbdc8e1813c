"""How large the letters of a wall screen are, and how much room that leaves.

All lengths on a screen are counted in the size of its type (``rem``), which is a share of the screen's shorter side.
So what fits at one resolution fits at every one of the same shape, and lying or standing makes no letter smaller.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ...language.model import Viewing

READ = 20.0
"""Least height, in minutes of arc, of the capitals of what must be read.

20 to 22 are preferred for most tasks, and 16 are the least (ISO 9241-303 and ANSI/HFES 100, as quoted by the human
factors pages of the US aviation authority, hf.faa.gov; the standards themselves were not at hand).
"""
LEAST = 16.0
"""The same for what accompanies it: version, caution line, day of the build."""
CAPITAL = 0.68
"""Height of a capital in parts of the type size, of the lowest common typeface: as the browser draws them, Liberation
Sans, which stands in for others on many machines, has 0.688 and DejaVu Sans 0.729."""
SMALLEST = 0.023
"""The type is never smaller than this part of the shorter side, so that the buttons stay large for wet hands."""
DO, TEXT, SMALL = 1.1, 1.0, LEAST / READ
"""Type sizes: what to do, what belongs to it, and what accompanies both."""
LEADING = 1.25
"""From one line to the next, in parts of the type size."""


@dataclass(frozen=True, slots=True)
class Room:
    """The width and height of a whole screen, in type sizes."""

    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Sizes:
    """What follows from a viewing."""

    letter: float
    """Height of a capital on the screen in metres."""
    type_size: float
    """The type size in parts of the screen's shorter side."""
    lying: Room
    standing: Room


def sizes_of(viewing: Viewing) -> Sizes:
    """The sizes for a screen read from some distance."""
    long, short = max(viewing.width, viewing.height), min(viewing.width, viewing.height)
    pixel = viewing.diagonal / math.hypot(long, short)
    needed = letter_height(viewing.distance, READ) / CAPITAL / (pixel * short)
    size = max(SMALLEST, math.ceil(needed * 1e5) / 1e5)
    wide, high = long / short / size, 1 / size
    return Sizes(size * CAPITAL * pixel * short, size, Room(wide, high), Room(high, wide))


def letter_height(distance: float, minutes: float) -> float:
    """How high a letter is that appears under an angle (minutes of arc) from a distance; in the unit of the distance.

    height = 2 · distance · tan(angle / 2), plane geometry.
    """
    return 2 * distance * math.tan(math.radians(minutes / 60) / 2)
