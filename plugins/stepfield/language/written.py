"""Parts and their uses as they are written, names unbound: what a protocol could use, and with what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from . import schemas
from .model import ProtocolSet, Step
from .source import Problem
from .steps import Use, read_lines
from .values import entries, mappings, text, text_or
from .yaml_nodes import Mapping as MappingNode
from .yaml_reader import read_yaml

MOST_OTHERS = 20
"""In how many other protocols uses are looked for."""


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


class Written:
    """The parts of a protocol set and the uses its protocols make of them, each file read once more when asked for.

    Files that cannot be used as they are, are passed over.
    """

    def __init__(self, protocol_set: ProtocolSet) -> None:
        self.sources = protocol_set.sources
        misshapen = {one.span.path for one in protocol_set.problems if one.rule in ("bad-yaml", "bad-shape")}
        self.protocols = [path for path in protocol_set.paths.values() if path not in misshapen]
        self.others = sorted(path for path in self.sources if path not in misshapen and "/parts/" in f"/{path}")
        self.read: dict[str, tuple[WrittenUse, ...]] = {}

    @cached_property
    def parts(self) -> tuple[WrittenPart, ...]:
        """Every part whose file can be used."""
        roots = ((path, self._root(path, "part")) for path in self.others)
        return tuple(
            _part(path.rpartition("/")[2].removesuffix(".yaml"), root) for path, root in roots if root is not None
        )

    def uses_for(self, path: str) -> tuple[WrittenUse, ...]:
        """The uses in the protocol at a path, and then those in some others (not in all of a large set)."""
        others = [other for other in self.protocols if other != path][:MOST_OTHERS]
        return tuple(use for one in (path, *others) for use in self._uses(one))

    def _uses(self, path: str) -> tuple[WrittenUse, ...]:
        if path not in self.read:
            root = self._root(path, "protocol")
            self.read[path] = () if root is None else tuple(_uses(path, root))
        return self.read[path]

    def _root(self, path: str, kind: str) -> MappingNode | None:
        document = read_yaml(self.sources.get(path, "").encode(), path).document
        if document is None or not schemas.fits(kind, document.plain()) or not isinstance(document.root, MappingNode):
            return None
        return document.root


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
