"""Strict reading of one YAML file into nodes that know their place. The only module that knows the YAML library.

The library's parser delivers events; everything else is done here, on a stack of our own, so that no depth of
nesting and no expansion of aliases can hurt. Reading goes on after a problem wherever it can, so that all of them
are told at once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import yaml
from yaml._yaml import CParser

from .names import quoted
from .source import Problem, Span, Text
from .yaml_nodes import Document, Entry, Mapping, Node, Scalar, Sequence
from .yaml_scalars import UnusableNumberError, typed
from .yaml_strict import Fault, at_end, at_start, glued, in_block_text, may_hide_something
from .yaml_text import UNSEEN, UnreadableError, decoded, unseen_name
from .yaml_words import syntax_fault

Event = Any
"""An event or token of the library; its stubs leave out half of what they carry."""
MOST_DEPTH = 32
MOST_NODES = 200_000
MOST_TOLD = 500
_NOWHERE = Text("", Span("", 1, 1, 1, 1))


@dataclass(frozen=True, slots=True)
class Reading:
    """What came of one file: its text, its problems, and the document if it can be judged further.

    A file with problems is not to be used; its document is there only to find what else is wrong in it.
    """

    text: str
    document: Document | None
    problems: tuple[Problem, ...]


def read_yaml(data: bytes, path: str) -> Reading:
    """Reads one file. Never raises, whatever the bytes; problems are of the rule ``bad-yaml``."""
    try:
        text, problems = decoded(data, path)
    except UnreadableError as refused:
        return Reading(refused.text, None, (refused.problem,))
    composer = _Composer(path, text if text.endswith("\n") else text + "\n", problems)
    root = composer.compose()
    problems.sort(key=lambda problem: (problem.span, problem.message))
    return Reading(text, None if root is None else Document(path, root), tuple(problems))


@dataclass(slots=True)
class _Open:
    """A collection that is still being read. ``indent`` is its column in block style, the surrounding one's in flow."""

    event: Event
    indent: int
    is_mapping: bool
    items: list[Node] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    seen: dict[str, Span] = field(default_factory=dict)
    key: Text | None = None


class _StopError(Exception):
    """Reading cannot go on; the problem is noted."""


class _Composer:
    """Turns the events of one file into nodes."""

    def __init__(self, path: str, text: str, problems: list[Problem]) -> None:
        self.path = path
        self.text = text
        self.has_escapes = "\\" in text
        self.problems = problems
        self.stack: list[_Open] = []
        self.root: Node | None = None
        self.usable = True
        self.nodes = 0

    def compose(self) -> Node | None:
        """The file's content; an empty file is a null. None if something on the way makes judging it pointless."""
        nothing = Scalar(None, Span(self.path, 1, 1, 1, 1))
        try:
            try:
                self._run()
                if may_hide_something(self.text):
                    self._look_at_tokens()
            except yaml.YAMLError as error:
                self._faults([syntax_fault(error, self.text)])
                return None
        except _StopError:
            return None
        if not self.usable:
            return None
        # The parser puts the nothing behind a mere '---' into a line that the file need not have.
        return nothing if self.root is None or _is_nothing(self.root) else self.root

    def _run(self) -> None:
        following = CParser(self.text).get_event
        documents = 0
        event: Event
        while (event := following()) is not None:
            if isinstance(event, yaml.ScalarEvent):
                self._scalar(event)
            elif isinstance(event, yaml.CollectionStartEvent):
                self._open(event)
            elif isinstance(event, yaml.CollectionEndEvent):
                self._close(event)
            elif isinstance(event, yaml.AliasEvent):
                self._say(
                    event,
                    "an alias ('*…') is not used in protocol files",
                    "write the value out, or put the text in quotes",
                )
                self.usable = False
                self._place(Scalar(None, self._span(event)))
            elif isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                self._document(event, documents)

    def _document(self, event: Event, number: int) -> None:
        if number > 1:
            self._say(
                event,
                "a second document begins here; a file holds one",
                "delete the line with '---', or move what follows to a file of its own",
            )
            raise _StopError
        if event.version not in (None, (1, 2)) or event.tags:
            self._say(
                event,
                "a line that begins with '%' is not used in protocol files",
                "delete it: files are read as YAML 1.2",
            )

    def _scalar(self, event: Event) -> None:
        self._count(event)
        text, is_plain = event.value, not event.style or event.style == "plain"
        if is_plain:
            if text == "-":
                self._say(event, "a dash alone is no value here", "put it in quotes")
            try:
                value = typed(text) if event.tag is None else text
            except UnusableNumberError as error:
                self._say(event, f"{error} stands here, which cannot be kept exactly", "put it in quotes")
                value = text
            self._place(Scalar(value, self._span(event)))
            return
        span = self._checked_span(event)
        hidden = UNSEEN.search(text) if self.has_escapes else None
        if hidden:
            self._say(
                event,
                f"an escape stands for a character that cannot be seen: {unseen_name(hidden.group())}",
                "leave it out",
            )
        self._place(Scalar(text, span, plain=False))

    def _checked_span(self, event: Event) -> Span:
        """The span of a quoted or block text, after a look at what the parser is lax about."""
        start, end = event.start_mark, event.end_mark
        parent = self._parent()
        if event.style not in "|>":
            # Nearly all quoted texts stand in one line, with a comma or nothing behind them: these need no closer look.
            if start.column <= parent:
                self._faults(at_start(self.text, start, parent))
            if end.line > start.line or self.text.startswith("#", end.index):
                self._faults(at_end(self.text, start, end, self._indent()))
            return Span(self.path, start.line + 1, start.column + 1, end.line + 1, end.column + 1)
        self._faults(at_start(self.text, start, parent))
        self._faults(in_block_text(self.text, start, self._indent()))
        lines = self.text[start.index : end.index].rstrip().split("\n")
        width = len(lines[-1]) + (start.column if len(lines) == 1 else 0)
        return Span(self.path, start.line + 1, start.column + 1, start.line + len(lines), width + 1)

    def _indent(self) -> int:
        """The column of the block collection that is being read, -1 at the top."""
        return self.stack[-1].indent if self.stack else -1

    def _parent(self) -> int:
        """The column that a value standing here must exceed; none for a key, which stands at it."""
        top = self.stack[-1] if self.stack else None
        return -1 if top is None or top.event.flow_style or (top.is_mapping and top.key is None) else top.indent

    def _faults(self, faults: Iterable[Fault]) -> None:
        for fault in faults:
            self._say_at(fault.line, fault.column, fault.message, fault.hint)

    def _open(self, event: Event) -> None:
        self._count(event)
        if len(self.stack) >= MOST_DEPTH:
            self._say(
                event,
                f"values are nested more than {MOST_DEPTH} deep here",
                "no file needs that: look for a bracket that is not closed",
            )
            raise _StopError
        if event.flow_style:
            self._faults(at_start(self.text, event.start_mark, self._parent()))
        indent = self._indent() if event.flow_style else event.start_mark.column
        self.stack.append(_Open(event, indent, isinstance(event, yaml.MappingStartEvent)))

    def _close(self, event: Event) -> None:
        done = self.stack.pop()
        start = done.event.start_mark
        if done.event.flow_style:
            self._faults(at_end(self.text, start, event.end_mark, done.indent))
            end_line, end_column = event.end_mark.line + 1, event.end_mark.column + 1
        else:
            last = done.entries[-1].value if done.entries else done.items[-1] if done.items else None
            end_line = last.span.end_line if last else start.line + 1
            end_column = last.span.end_column if last else start.column + 1
        span = Span(self.path, start.line + 1, start.column + 1, end_line, end_column)
        self._place(Mapping(tuple(done.entries), span) if done.is_mapping else Sequence(tuple(done.items), span))

    def _place(self, node: Node) -> None:
        """Puts a finished node where it belongs: the top, a list, or a mapping's next key or value."""
        if not self.stack:
            self.root = node
            return
        top = self.stack[-1]
        if not top.is_mapping:
            top.items.append(node)
        elif top.key is None:
            top.key = self._key(node, top)
        else:
            if top.key is not _NOWHERE:
                top.entries.append(Entry(top.key, node))
            top.key = None

    def _key(self, node: Node, mapping: _Open) -> Text:
        """The key a node stands for, or _NOWHERE when its value must be dropped."""
        if not isinstance(node, Scalar) or not isinstance(node.value, str):
            what = "a list or a mapping" if not isinstance(node, Scalar) else _kind_word(node)
            hint = "write 'key: value'" if not isinstance(node, Scalar) or node.value is None else "put it in quotes"
            self._note(node.span, f"a key must be text, and this one is {what}", hint)
            self.usable = False
            return _NOWHERE
        if node.value == "<<" and node.plain:
            self._note(node.span, "'<<' is no part of YAML 1.2", "write the keys out")
        first = mapping.seen.get(node.value)
        if first is not None:
            message = f"the key {quoted(node.value)} stands here a second time"
            related = ((first, "it stands here first"),)
            self._add(
                Problem("bad-yaml", node.span, message, subject=node.value, hint="keep one of them", related=related)
            )
            return _NOWHERE
        mapping.seen[node.value] = node.span
        return Text(node.value, node.span)

    def _count(self, event: Event) -> None:
        self.nodes += 1
        if self.nodes > MOST_NODES:
            self._say(event, f"the file holds more than {MOST_NODES:,} values", "split it")
            raise _StopError
        if event.anchor is None and event.tag is None:
            return
        if event.anchor is not None:
            self._say(
                event, "an anchor ('&…') is not used in protocol files", "leave it out, or put the text in quotes"
            )
        if event.tag is not None:
            self._say(event, "a tag ('!…') is not used in protocol files", "leave it out, or put the text in quotes")

    def _look_at_tokens(self) -> None:
        """Finds keys written with '?' and comments glued to a comma, which no event shows."""
        parser = CParser(self.text)
        token: Event
        while (token := parser.get_token()) is not None:
            start, end = token.start_mark, token.end_mark
            if isinstance(token, yaml.KeyToken) and end.index > start.index:
                self._say_at(
                    start.line,
                    start.column,
                    "a key written with '?' is not used in protocol files",
                    "write 'key: value', or put the text in quotes",
                )
                self.usable = False
            elif isinstance(token, yaml.FlowEntryToken):
                self._faults(glued(self.text, end.line, end.column, end.index))

    def _span(self, event: Event) -> Span:
        start, end = event.start_mark, event.end_mark
        return Span(self.path, start.line + 1, start.column + 1, end.line + 1, end.column + 1)

    def _say(self, event: Event, message: str, hint: str) -> None:
        self._note(
            Span(
                self.path,
                event.start_mark.line + 1,
                event.start_mark.column + 1,
                event.start_mark.line + 1,
                event.start_mark.column + 2,
            ),
            message,
            hint,
        )

    def _say_at(self, line: int, column: int, message: str, hint: str | None) -> None:
        self._note(Span(self.path, line + 1, column + 1, line + 1, column + 2), message, hint)

    def _note(self, span: Span, message: str, hint: str | None) -> None:
        self._add(Problem("bad-yaml", span, message, hint=hint))

    def _add(self, problem: Problem) -> None:
        """Keeps a problem; a file that has very many is not read to its end."""
        self.problems.append(problem)
        if len(self.problems) >= MOST_TOLD:
            raise _StopError


def _is_nothing(node: Node) -> bool:
    """Whether it is a value that is not written at all."""
    span = node.span
    return isinstance(node, Scalar) and node.plain and (span.line, span.column) == (span.end_line, span.end_column)


def _kind_word(node: Scalar) -> str:
    if node.value is None:
        return "empty"
    return (
        f"{str(node.value).lower()}, a yes-or-no value" if isinstance(node.value, bool) else f"the number {node.value}"
    )
