"""What a protocol is: strict YAML with positions, schemas, parts, and the frozen values everything else works on.

``read_set`` reads a folder, ``build_set`` the bytes of files; both give a ``ProtocolSet`` and never fail on bad text.
``take_in`` and ``set_of`` are the two halves of ``read_set``. Each is loaded when it is first asked for: whoever only
takes files in need not wait for the rest.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .build import build_set
    from .intake import Taken, take_in
    from .load import language_of, read_set, set_of
    from .model import Passed, ProtocolSet
    from .source import Problem, Span, Text

__all__ = [
    "Passed",
    "Problem",
    "ProtocolSet",
    "Span",
    "Taken",
    "Text",
    "build_set",
    "language_of",
    "read_set",
    "set_of",
    "take_in",
]

_MODULES = {
    **dict.fromkeys(("Taken", "take_in"), "intake"),
    **dict.fromkeys(("language_of", "read_set", "set_of"), "load"),
    **dict.fromkeys(("Passed", "ProtocolSet"), "model"),
    **dict.fromkeys(("Problem", "Span", "Text"), "source"),
    "build_set": "build",
}


if not TYPE_CHECKING:

    def __getattr__(name: str) -> object:
        if name not in _MODULES:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        return getattr(import_module(f".{_MODULES[name]}", __name__), name)
