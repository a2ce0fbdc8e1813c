"""How far apart two colours are, as WCAG 2.2 has it, and the colours of our style sheets."""

from __future__ import annotations

import re

Colour = tuple[int, int, int]


def colour(text: str) -> Colour:
    """A colour as CSS writes it: #rgb, #rrggbb, rgb() or rgba() without regard to its opacity."""
    if text.startswith("#"):
        digits = text[1:]
        if len(digits) == 3:
            digits = "".join(digit * 2 for digit in digits)
        return int(digits[:2], 16), int(digits[2:4], 16), int(digits[4:6], 16)
    red, green, blue = (int(float(part)) for part in re.findall(r"[\d.]+", text)[:3])
    return red, green, blue


def luminance(of: Colour) -> float:
    """Relative luminance, from 0 (black) to 1 (white): WCAG 2.2, definition of relative luminance."""
    red, green, blue = (_linear(channel / 255) for channel in of)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def ratio(one: Colour, other: Colour) -> float:
    """Contrast ratio, from 1 to 21: WCAG 2.2, definition of contrast ratio."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else float(((channel + 0.055) / 1.055) ** 2.4)


def schemes(css: str) -> dict[str, dict[str, Colour]]:
    """The colours of a style sheet by name, for light and for dark; what dark does not change is as in light."""
    light = _named(css, r":root\s*\{([^}]*)\}")
    return {"light": light, "dark": light | _named(css, r'\[data-md-color-scheme="slate"\]\s*\{([^}]*)\}')}


def _named(css: str, rule: str) -> dict[str, Colour]:
    found = re.search(rule, css)
    assert found is not None
    return {name: colour(value) for name, value in re.findall(r"--sf-([a-z-]+):\s*(#[0-9a-f]+)", found.group(1))}
