"""From a step of a protocol back to the line it is written in, with the names that stand there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from ..language.editing import CannotEditError
from ..language.model import Condition, Step
from ..language.renaming import Around, Part, Renaming
from ..language.source import Span, Text
from ..language.values import entries, text, text_if
from ..language.yaml_nodes import Mapping as Node
from ..language.yaml_nodes import Route
from ..language.yaml_reader import read_yaml

Files = Mapping[str, bytes]


@dataclass(frozen=True, slots=True)
class Line:
    """Where a step or a use is written: the file and the route of its fields."""

    path: str
    route: Route
    node: Node


def line_at(files: Files, span: Span) -> Line:
    """The line of a file whose fields stand at a place. Raises CannotEditError if there is none."""
    document = read_yaml(files[span.path], span.path).document if span.path in files else None
    for route, _, at in document.spans() if document is not None else ():
        node = document.at(route) if document is not None and at == span else None
        if isinstance(node, Node):
            return Line(span.path, route, node)
    raise CannotEditError(f"{span.path} line {span.line} cannot be found again")


def as_written(files: Files, unfolded: Step, given: Step) -> Step:
    """A step with names as the protocol has them, with those that stand in the file that ``unfolded`` is written in."""
    bound: dict[str, str] = {}
    prefix = ""
    for span in unfolded.used_at:
        use = line_at(files, span).node
        name = text_if(use, "as")
        bound = {entry.key.value: _through(text(entry.value).value, bound) for entry in entries(use.get("with"))}
        prefix += f"{name}."
    if not prefix:
        return given
    back: dict[str, Text | None] = {}
    for name_, value in bound.items():
        back.setdefault(value, Text(name_, given.span))
    nothing = Part("", "", given.id, {}, (), ())
    named = Renaming(Around(part=nothing, bound=back), frozenset()).step(given)

    def place(name: Text) -> Text:
        return Text(name.value.removeprefix(prefix), name.span)

    return replace(
        named,
        after=tuple(map(place, named.after)),
        when=tuple(Condition(place(part.name), part.options) for part in named.when),
        waits=tuple(replace(wait, step=place(wait.step)) for wait in named.waits),
        within=tuple(replace(wait, step=place(wait.step)) for wait in named.within),
        repeat=named.repeat and replace(named.repeat, start=place(named.repeat.start)),
    )


def _through(name: str, bound: Mapping[str, str]) -> str:
    """What a name of a part stands for in the protocol."""
    if name in bound:
        return bound[name]
    head, dot, rest = name.partition(".")
    return f"{bound[head]}.{rest}" if dot and head in bound else name
