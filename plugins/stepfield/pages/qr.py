"""An address as a QR code to be drawn; the one place that knows the library for it."""

from __future__ import annotations

from dataclasses import dataclass

import segno

QUIET = 4
"""Width of the empty edge in modules, as ISO/IEC 18004 asks for round a QR code."""
_MASK = 0
"""Every code names its mask, so any can be read; to try all eight for the most even one takes five times as long."""


@dataclass(frozen=True, slots=True)
class Qr:
    """A QR code as an SVG path in a square of ``side`` modules, its empty edge included."""

    text: str
    side: int
    path: str


def qr_of(text: str) -> Qr | None:
    """The QR code of a text, with error correction M; None if it is too long for one."""
    try:
        rows = [bytes(row) for row in segno.make_qr(text, error="m", mask=_MASK).matrix]
    except ValueError:
        return None
    return Qr(text, len(rows) + 2 * QUIET, "".join(_runs(rows)))


def _runs(rows: list[bytes]) -> list[str]:
    """The dark stretches of every row, as rectangles."""
    found = []
    for down, row in enumerate(rows):
        start = None
        for across, dark in enumerate((*row, 0)):
            if dark and start is None:
                start = across
            elif not dark and start is not None:
                width = across - start
                found.append(f"M{start + QUIET} {down + QUIET}h{width}v1h-{width}z")
                start = None
    return found
