"""The one place that knows the template library: text goes in as data and comes out escaped."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

_FOLDER = Path(__file__).parent / "templates"


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def render(template: str, **values: object) -> str:
    """Fills a template with values; raises if the template asks for one it does not get."""
    return _environment().get_template(template).render(values)
