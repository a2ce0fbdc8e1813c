"""The one place that knows the template library: text goes in as data and comes out escaped."""

from __future__ import annotations

import html
import os
import re
import sys
import zlib
from collections.abc import Callable
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import jinja2
from jinja2 import Environment, FileSystemBytecodeCache, FileSystemLoader, StrictUndefined
from jinja2.compiler import CodeGenerator
from jinja2.runtime import Context, Macro
from markupsafe import Markup, escape

from .speech import Speech, speech

_FOLDER = Path(__file__).parent / "templates"
_SETTINGS = ("autoescape", "trim_blocks", "lstrip_blocks", "keep_trailing_newline", "optimized", "is_async")
_OWN_WORDS = re.compile(r'(?<! lang="en") dir="auto"(?! lang=)')


class _Pages(Environment):
    """Where templates are found, and how what is filled in is escaped."""

    escaped_text = staticmethod(lru_cache(maxsize=8192)(escape))
    """Most words of a page stand on others too: in a large site nine of ten were escaped before."""

    def escaped(self, value: object) -> str:
        """What is filled in, as markup."""
        kind = type(value)
        if kind is Markup:
            return value  # type: ignore[return-value]
        return self.escaped_text(value) if kind is str else escape(value)


class _Escaping(CodeGenerator):
    """Lets templates escape by ``_Pages.escaped``; without an override of its own, a sixth of all time went there."""

    def _output_child_pre(self, node: Any, frame: Any, finalize: Any) -> None:
        if frame.eval_ctx.volatile or not frame.eval_ctx.autoescape or finalize.src is not None:
            super()._output_child_pre(node, frame, finalize)
        else:
            self.write("environment.escaped(")

    def visit_Getattr(self, node: Any, frame: Any) -> None:  # noqa: N802 - the library's name
        """A field of a value, and nothing but a field: entries of dictionaries are asked for in brackets."""
        self.write("(")
        self.visit(node.node, frame)
        self.write(f").{node.attr}")


class _Plain(Context):
    """What a template is filled from. Nothing that our templates call asks to be told of it, so nothing is asked."""

    def call(__self, __called: Callable[..., Any], *values: Any, **named: Any) -> Any:  # noqa: N805 - any name may be given
        """Calls what a template calls."""
        named.pop("_block_vars", None)
        named.pop("_loop_vars", None)
        if type(__called) is Macro and not named and _takes_just(__called, len(values)):
            return Markup(__called._func(*values))  # noqa: S704 - what our templates make
        return __called(*values, **named)


def _takes_just(macro: Macro, count: int) -> bool:
    """Whether a macro can be called with so many values as it stands, without a look at defaults and the like."""
    return count == macro._argument_count and not (macro.caller or macro.catch_kwargs or macro.catch_varargs)


@cache
def _environment(language: str) -> Environment:
    environment = _Pages(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    environment.policies["ext.i18n.trimmed"] = True
    environment.newstyle_gettext = True  # type: ignore[attr-defined]
    environment.code_generator_class = _Escaping
    environment.context_class = _Plain
    keep_compiled(environment)
    environment.globals |= _sayings(speech(language))
    return environment


def keep_compiled(environment: Environment) -> None:
    """Keeps the compiled templates of an environment, ours or a theme's, beside our compiled modules.

    Nothing is kept where Python may not keep those, nor where something is kept in another way already.
    """
    folder = Path(__file__).parent / "__pycache__"
    if environment.bytecode_cache is not None or sys.dont_write_bytecode or not os.access(folder, os.W_OK):
        return
    # What a template is compiled to depends on the library, on what is set, and on what this module changes in it.
    settings = [jinja2.__version__, *sorted(environment.extensions), *sorted(environment.filters)]
    settings += [str(getattr(environment, name)) for name in _SETTINGS]
    made_by = zlib.crc32(Path(__file__).read_bytes() + "\n".join(settings).encode())
    environment.bytecode_cache = FileSystemBytecodeCache(str(folder), f"template-%s.{made_by:08x}")


def _sayings(told: Speech) -> dict[str, Callable[..., Markup]]:
    """How templates say a message: markup of ours, in which values are escaped."""
    plain: dict[str, Markup] = {}

    def say(__message: str, **values: object) -> Markup:
        said = plain.get(__message)
        if said is None:
            said = plain[__message] = Markup(told.catalogue.gettext(__message))  # noqa: S704 - our own words
        # A message without values may still have a doubled per cent sign.
        return said % values if values or "%" in said else said

    def count(__one: str, __many: str, __number: int, **values: object) -> Markup:
        said = Markup(told.catalogue.ngettext(__one, __many, __number))  # noqa: S704 - our own words
        return said % {"num": __number, **values}

    return {"_": say, "gettext": say, "ngettext": count}


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
