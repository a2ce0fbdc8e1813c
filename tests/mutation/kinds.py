"""The list of all kinds of slip somebody makes while writing or working.

Every kind is a function from a protocol to its changed versions, one for each place where it applies, each by the name
of the place: a step, or a step and what of it is meant.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from stepfield.language.model import Protocol

Changed = tuple[str, Protocol]
Slip = Callable[[Protocol], Iterator[Changed]]
KINDS: dict[str, Slip] = {}
"""Every kind of slip by its name in words."""


def kind(function: Slip) -> Slip:
    """Registers a kind of slip under its own name."""
    KINDS[function.__name__.replace("_", " ")] = function
    return function
