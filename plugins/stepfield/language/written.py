"""Parts and their uses as they are written, names unbound: what a protocol could use, and with what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from . import schemas
from .model import ProtocolSet, Step
from .source import Problem
from .steps import Use, read_lines
from .values import entries, mappings, text, text_or
from .yaml_nodes import Mapping as MappingNode
from .yaml_nodes import Scalar
from .yaml_reader import read_yaml


@dataclass(frozen=True, slots=True)
class WrittenPart:
    """A part whose file can be used: the names it binds, each with its kind, and the steps written in it."""

    id: str
    title: str
    binds: Mapping[str, str]
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class WrittenUse:
    """A use of a part written in the protocol at ``path``, with what it binds."""

    path: str
    part: str
    bound: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Written:
    """The parts of a protocol set and the uses its protocols make of them."""

    parts: tuple[WrittenPart, ...]
    uses: tuple[WrittenUse, ...]


def written(protocol_set: ProtocolSet) -> Written:
    """Reads the parts and uses of a set once more, as they stand; files that cannot be used are passed over."""
    misshapen = {problem.span.path for problem in protocol_set.problems if problem.rule in ("bad-yaml", "bad-shape")}
    parts: list[WrittenPart] = []
    uses: list[WrittenUse] = []
    for path in sorted(protocol_set.sources.keys() - misshapen):
        document = read_yaml(protocol_set.sources[path].encode(), path).document
        root = None if document is None else document.root
        if document is None or not isinstance(root, MappingNode):
            continue
        word = root.get("kind")
        kind = word.value if isinstance(word, Scalar) and isinstance(word.value, str) else ""
        if kind not in ("part", "protocol") or not schemas.fits(kind, document.plain()):
            continue
        if kind == "part":
            parts.append(_part(path.rpartition("/")[2].removesuffix(".yaml"), root))
        else:
            uses += _uses(path, root)
    return Written(tuple(parts), tuple(uses))


def _part(name: str, root: MappingNode) -> WrittenPart:
    ignored: list[Problem] = []
    return WrittenPart(
        id=name,
        title=text_or(root, "title", name),
        binds={entry.key.value: text(entry.value).value for entry in entries(root.get("for"))},
        steps=tuple(line for line in read_lines(root.get("steps"), ignored) if isinstance(line, Step)),
    )


def _uses(path: str, root: MappingNode) -> Iterator[WrittenUse]:
    ignored: list[Problem] = []
    for phase in mappings(root.get("phases")):
        for line in read_lines(phase.get("steps"), ignored):
            if isinstance(line, Use):
                yield WrittenUse(path, line.part.value, {key.value: value.value for key, value in line.bindings})
