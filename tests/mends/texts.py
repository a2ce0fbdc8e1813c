"""The demonstration set's texts with slips written into them: a line left out, or a wait forgotten."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from stepfield.checks import Report, check_set, with_mends
from stepfield.language import build_set
from stepfield.language.yaml_nodes import Mapping, Route
from stepfield.language.yaml_reader import read_yaml

DEMONSTRATION = Path(__file__).resolve().parents[2] / "protocols"
TODAY = datetime.date(2026, 11, 25)

Texts = dict[str, str]


@cache
def demonstration() -> Texts:
    """Every file of the demonstration set by its path as findings show it."""
    found = sorted(DEMONSTRATION.rglob("*.yaml"))
    return {f"protocols/{path.relative_to(DEMONSTRATION).as_posix()}": path.read_text("utf-8") for path in found}


def report_of(texts: Texts, **bounds: int) -> Report:
    """The report on a set of texts, with the mends that were tried."""
    return with_mends(check_set(build_set({path: text.encode() for path, text in texts.items()}), TODAY), **bounds)


def slips(path: str) -> Iterator[tuple[str, Texts]]:
    """The set with one slip in one file: every line of its steps left out, and every ``after`` forgotten."""
    text = demonstration()[path]
    document = read_yaml(text.encode(), path).document
    assert document is not None
    for route, _, span in document.spans():
        node = document.at(route)
        if not isinstance(node, Mapping) or not _is_line(route):
            continue
        name = str(next(iter(node.entries)).value.value)  # type: ignore[union-attr]
        yield f"without {name}", {**demonstration(), path: _without_lines(text, span.line, span.end_line)}
        after = node.entry("after")
        if after is not None:
            lines = (after.key.span.line, after.value.span.end_line)
            yield f"{name} without its after", {**demonstration(), path: _without_lines(text, *lines)}


def _is_line(route: Route) -> bool:
    return len(route) > 1 and route[-2] == "steps" and isinstance(route[-1], int)


def _without_lines(text: str, first: int, last: int) -> str:
    lines = text.split("\n")
    return "\n".join(lines[: first - 1] + lines[last:])
