"""The file accepted.yaml: findings that are known and accepted for a while."""

from __future__ import annotations

from .model import Accepted
from .source import Problem
from .values import day, mappings, text_if, text_or
from .yaml_nodes import Document, Mapping


def read_accepted(document: Document, problems: list[Problem]) -> tuple[Accepted, ...]:
    """What is accepted, in written order, from a file that fits its schema; days that do not exist are noted."""
    root = document.root
    assert isinstance(root, Mapping)
    return tuple(_one(node, problems) for node in mappings(root.get("accepted")))


def _one(node: Mapping, problems: list[Problem]) -> Accepted:
    rule, until = text_if(node, "rule"), text_if(node, "until")
    assert rule is not None
    assert until is not None
    names = {name: text_if(node, name) for name in ("protocol", "step", "subject")}
    return Accepted(
        rule=rule,
        **{name: None if found is None else found.value for name, found in names.items()},
        reason=" ".join(text_or(node, "reason", "").split()),
        by=text_or(node, "by", ""),
        until=day(until, problems, "until"),
        until_span=until.span,
    )
