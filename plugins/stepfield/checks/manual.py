"""The manual page of a rule, taken apart. The page is the rule module's docstring; ``explain`` and the site show it."""

from __future__ import annotations

import re
from dataclasses import dataclass

HEADINGS = ("Why it matters on the floor", "Example", "Instead", "Limits")
_BLOCK = re.compile(r"^```yaml(?: max-states=(?P<limit>[0-9]+))?\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)
_HEADING = re.compile(r"^## (.+)$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Example:
    """A protocol without its header, to be checked with at most ``limit`` states if one is told."""

    body: str
    limit: int | None


@dataclass(frozen=True, slots=True)
class Page:
    """One page: the slip in a sentence, why it matters, an example, the same one mended, and what is not seen."""

    summary: str
    why: str
    example: Example
    instead: Example
    limits: str


def read_page(page: str) -> Page:
    """Takes a page apart. Raises ValueError if its headings are not the four, in their order, each with its content."""
    summary, *parts = _HEADING.split(page)
    if tuple(parts[::2]) != HEADINGS:
        raise ValueError(f"a page has the headings {HEADINGS}, not {tuple(parts[::2])}")
    why, example, instead, limits = (part.strip() for part in parts[1::2])
    if not all((summary.strip(), why, limits)):
        raise ValueError("a part of the page is empty")
    return Page(summary.strip(), why, _example(example), _example(instead), limits)


def summary_of(page: str) -> str:
    """The slip in one sentence."""
    return page.strip().partition("\n")[0]


def _example(text: str) -> Example:
    found = _BLOCK.fullmatch(text)
    if found is None:
        raise ValueError("an example is one block of YAML")
    return Example(found["body"], None if found["limit"] is None else int(found["limit"]))
