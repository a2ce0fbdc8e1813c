"""The one place that knows the template library: text goes in as data and comes out escaped."""

from __future__ import annotations

import html
import re
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from .speech import Speech, speech

_FOLDER = Path(__file__).parent / "templates"
_OWN_WORDS = re.compile(r'(?<! lang="en") dir="auto"(?! lang=)')


@cache
def _environment(language: str) -> Environment:
    environment = Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    environment.policies["ext.i18n.trimmed"] = True
    environment.install_gettext_translations(  # type: ignore[attr-defined]
        speech(language).catalogue, newstyle=True
    )
    return environment


def render(template: str, told: Speech | None = None, **values: object) -> str:
    """Fills a template with values; raises if the template asks for one it does not get.

    Templates mark their own words with ``_("...")`` or ``{% trans %}``; they come out in the language of ``told``.
    """
    if told is None:
        return _environment("en").get_template(template).render(values)
    page = _environment(told.language).get_template(template).render(values)
    own = f' dir="auto" lang="{html.escape(told.language)}"'
    # A reader's voice must know the language of the clinic's words where the interface speaks another.
    return page if told.spoken == told.language else _OWN_WORDS.sub(lambda _: own, page)
