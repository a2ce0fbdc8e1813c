"""What does not fit a schema, told at its place: what was expected, what stands there, and what is nearest to it."""

from __future__ import annotations

from .schemas import Misfit, misfits
from .source import Problem
from .yaml_nodes import Document


def shape_problems(kind: str, document: Document, protocol: str | None) -> list[Problem]:
    """Every place where a document does not fit the schema of its kind."""
    return [
        Problem("bad-shape", document.span_of(found.route), f"{found.keyword}: {found.wanted!r}"[:300], protocol)
        for found in misfits(kind, document.plain())
    ]
