"""Things of tailoring.yaml as changes of the adopted text: where each is declared, and what stands there then."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from ..language.editing import CannotEditError
from ..language.model import Kind, ProtocolSet
from ..language.names import quoted
from ..language.schemas import schema
from ..language.tailoring import Thing
from ..language.written_things import ATTRIBUTES
from ..language.yaml_nodes import Document, Plain, Route, plain
from ..language.yaml_nodes import Mapping as Node
from ..language.yaml_reader import read_yaml
from .fate import REASONS
from .rewriting import changed, with_field

Files = Mapping[str, bytes]
_GROUPS = {Kind.SURFACE: "surfaces", Kind.ITEM: "items", Kind.PACK: "packs"}


def with_thing(files: Files, adopted: ProtocolSet, thing: Thing, shared: Collection[str]) -> dict[str, bytes]:
    """The files with a thing declared as an entry says, in every adopted protocol that it concerns.

    ``adopted`` is the set without local changes, ``shared`` the adopted files. Raises CannotEditError if it concerns
    none, or a file of the clinic's own.
    """
    value = plain(thing.node)
    assert isinstance(value, dict)
    given = {key: one for key, one in value.items() if key not in {*REASONS, "in", "pack"}}
    result = dict(files)
    paths = adopted.paths
    if thing.new_in:
        for protocol in thing.new_in:
            path = paths.get(protocol.value, "")
            if path not in shared:
                raise CannotEditError(f"{quoted(protocol.value)} is no adopted protocol")
            result = _declared(result, path, thing, given, value.get("pack"))
        return result
    kinds = (Kind.SURFACE,) if thing.surface else (Kind.ITEM, Kind.PACK)
    for one in adopted.protocols:
        found = one.subjects.get(thing.name.value)
        if found is not None and found.kind in kinds and found.name.span.path == one.path and one.path in shared:
            result = _attributes(result, one.path, thing.name.value, given)
    if result == dict(files):
        raise CannotEditError("no adopted protocol declares it, or all say so already")
    return result


def _attributes(files: dict[str, bytes], path: str, name: str, given: Mapping[str, Plain]) -> dict[str, bytes]:
    """The files with attributes of a thing set where it is declared."""
    for key, value in given.items():
        route = _route(_document(files, path), name)
        files = changed(files, path, lambda text, r=route, k=key, v=value: with_field(text, path, r, k, v, ATTRIBUTES))  # type: ignore[misc]
    return files


def _declared(
    files: dict[str, bytes], path: str, thing: Thing, given: dict[str, Plain], pack: Plain
) -> dict[str, bytes]:
    """The files with a thing more in a protocol."""
    document, name = _document(files, path), thing.name.value
    group = _GROUPS[thing.kind]
    if pack is not None:
        route: Route = (*_route(document, str(pack)), "holds")
    elif isinstance(document.at((group,)), Node):
        route = (group,)
    else:
        order = [*schema("protocol")["properties"]]
        return changed(files, path, lambda text: with_field(text, path, (), group, {name: given}, order))
    return changed(files, path, lambda text: with_field(text, path, route, name, given))


def _document(files: Files, path: str) -> Document:
    document = read_yaml(files[path], path).document
    if document is None:
        raise CannotEditError(f"{path} cannot be read")
    return document


def _route(document: Document, name: str) -> Route:
    """Where a thing is declared in a protocol. Raises CannotEditError if it is not."""
    for group in (*_GROUPS.values(), "sites"):
        waiting: list[Route] = [(group,)]
        while waiting:
            route = waiting.pop()
            node = document.at(route)
            for entry in node.entries if isinstance(node, Node) else ():
                if entry.key.value == name:
                    return (*route, name)
                if isinstance(entry.value, Node) and entry.value.entry("holds") is not None:
                    waiting.append((*route, entry.key.value, "holds"))
    raise CannotEditError(f"{document.path} does not declare {quoted(name)}")
