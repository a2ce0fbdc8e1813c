"""One phase of a protocol as a picture that stands alone: an SVG file that brings its own colours."""

from __future__ import annotations

import re

from ..checks.facts import Examined, Facts
from .diagram import phase_picture
from .diagram_svg import svg
from .reading import Reading

_STYLE = """<style>
svg { color: #14202b; background: #fff; }
.sf-shape { fill: #fff; stroke: #14202b; stroke-width: 1.4; } .sf-shape-head { fill: #14505c; stroke: none; }
.sf-shape-sign { fill: #f9a800; stroke: #000; stroke-linejoin: round; }
.sf-line { stroke: #5f6f6d; stroke-width: 1.4; stroke-linejoin: round; } .sf-line-idle { stroke-dasharray: 2 6; }
.sf-line-after { stroke: #9a3c00; stroke-width: 2; } .sf-line-bar, .sf-line-with { stroke: #14202b; stroke-width: 2; }
.sf-line-back { stroke: #14202b; stroke-width: 1.6; stroke-dasharray: 5 4; }
.sf-arrow { fill: #5f6f6d; stroke: none; } .sf-arrow-after { fill: #9a3c00; } .sf-arrow-back { fill: #14202b; }
.sf-word { fill: #14202b; stroke: none; font-size: 13px; } .sf-word-number, .sf-word-sign { font-weight: 700; }
.sf-word-lane { fill: #fff; font-weight: 700; font-size: 14px; }
.sf-word-only, .sf-word-small, .sf-word-answer { font-size: 11.5px; }
</style>
"""


def phase_file(examined: Examined, facts: Facts, number: int, lanes: tuple[str, ...]) -> str | None:
    """The phase with a number (from 0) as the text of an SVG file; None where its order cannot be drawn.

    ``lanes`` are the roles that get a lane.
    """
    reading = Reading(examined, facts)
    picture = phase_picture(reading, number, lanes)
    if picture is None:
        return None
    title = reading.protocol.phases[number].title
    steps = "; ".join(
        f"{' + '.join(reading.role(one) for one in reading.people(step))}: {step.id}"
        for step in reading.protocol.phases[number].steps
    )
    drawn = str(svg(picture, "phase", title, steps)).lstrip()
    return re.sub(r"(<svg\b[^>]*>)", lambda found: f"{found[1]}\n{_STYLE}", drawn, count=1)
