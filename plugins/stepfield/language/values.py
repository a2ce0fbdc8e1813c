"""Single values out of nodes that fit their schema: text, durations, dates, levels."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from .model import Level
from .source import Problem, Span, Text
from .yaml_nodes import Entry, Mapping, Node, Scalar, Sequence

_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
_LEVELS = {level.word: level for level in Level}


def text(node: Node) -> Text:
    """A text with its place; blanks and line ends around it are left off."""
    assert isinstance(node, Scalar)
    assert isinstance(node.value, str)
    return Text(node.value.strip(), node.span)


def text_or(mapping: Mapping, key: str, default: str) -> str:
    """The text under a key, or a default."""
    node = mapping.get(key)
    return default if node is None else text(node).value


def text_if(mapping: Mapping, key: str) -> Text | None:
    """The text under a key, if there is one."""
    node = mapping.get(key)
    return None if node is None else text(node)


def flag(mapping: Mapping, key: str) -> bool:
    """Whether the key stands there with the value true."""
    node = mapping.get(key)
    return isinstance(node, Scalar) and node.value is True


def whole(mapping: Mapping, key: str, default: int) -> int:
    """The whole number under a key, or a default."""
    node = mapping.get(key)
    return int(node.value) if isinstance(node, Scalar) and isinstance(node.value, int | float) else default


def texts(mapping: Mapping, key: str) -> tuple[Text, ...]:
    """The list of texts under a key; empty if it is not there."""
    return tuple(text(item) for item in items(mapping.get(key)))


def items(node: Node | None) -> tuple[Node, ...]:
    """The entries of a list; none if it is not there."""
    return node.items if isinstance(node, Sequence) else ()


def entries(node: Node | None) -> tuple[Entry, ...]:
    """The entries of a mapping; none if it is not there."""
    return node.entries if isinstance(node, Mapping) else ()


def mappings(node: Node | None) -> Iterator[Mapping]:
    """The entries of a list of mappings."""
    return (item for item in items(node) if isinstance(item, Mapping))


def level(node: Node | None, default: Level) -> Level:
    """The level a word stands for, or a default."""
    return default if node is None else _LEVELS[text(node).value]


def seconds(written: Text) -> float:
    """A duration such as ``3 min`` in seconds."""
    number, unit = written.value.split(" ")
    return float(number) * _SECONDS[unit]


def day(written: Text, problems: list[Problem], subject: str) -> datetime.date:
    """A date; one that is in no calendar is noted, and the earliest date stands for it."""
    try:
        return datetime.date.fromisoformat(written.value)
    except ValueError:
        problems.append(shape_problem(written.span, f"{written.value!r} is a day that no calendar has", subject))
        return datetime.date.min


def shape_problem(span: Span, message: str, subject: str, step: str | None = None) -> Problem:
    """Something that no schema can say but that is wrong with a file's shape."""
    return Problem("bad-shape", span, message, step=step, subject=subject)
