"""The language server: only glue between an editor's messages and the desk. The one place that knows the wire protocol.

It runs over standard input and output, opens no connection, runs nothing from a protocol set and writes no file.
"""

from __future__ import annotations

import contextlib
import datetime
import threading
from pathlib import Path

from lsprotocol import types as lsp
from pygls import uris
from pygls.lsp.server import LanguageServer

from .. import __version__
from ..language.intake import take_in
from .completing import fitting
from .desk import Desk
from .names import declared, name_at
from .positions import Position, Range, place_of, range_of
from .telling import Change, findings_in, lines_of, meaning_at, offers_at

PAUSE = 0.05
"""Seconds without a keystroke before the text is looked at."""
_KINDS = {"field": lsp.CompletionItemKind.Field, "level": lsp.CompletionItemKind.EnumMember}


class ProtocolServer(LanguageServer):
    """Holds one desk for every protocol set that a file is opened of."""

    def __init__(self) -> None:
        super().__init__("stepfield", __version__, text_document_sync_kind=lsp.TextDocumentSyncKind.Full)
        self.desks: dict[Path, Desk] = {}
        self.waiting: dict[str, threading.Timer] = {}
        self.turn = threading.RLock()

    def desk_of(self, uri: str) -> tuple[Desk, str] | None:
        """The desk and the path within its set of a file; None if no clinic.yaml lies beside or above it."""
        name = uris.to_fs_path(uri)
        if name is None or not name.endswith(".yaml"):
            return None
        file = Path(name)
        folder = next((one for one in (file.parent, file.parent.parent) if (one / "clinic.yaml").is_file()), None)
        if folder is None:
            return None
        if folder not in self.desks:
            taken = take_in(folder, folder.name)
            self.desks[folder] = Desk(folder.name, taken.files, datetime.date.today())  # noqa: DTZ011 - where one is
        return self.desks[folder], f"{folder.name}/{file.relative_to(folder).as_posix()}"

    def uri_of(self, desk: Desk, path: str) -> str:
        """The address of a file of a desk's set."""
        folder = next(folder for folder, one in self.desks.items() if one is desk)
        return uris.from_fs_path(str(folder.parent / path)) or ""

    def later(self, uri: str) -> None:
        """Looks at a file once nobody has typed for a moment."""
        if uri in self.waiting:
            self.waiting[uri].cancel()
        self.waiting[uri] = threading.Timer(PAUSE, self.publish, [uri])
        self.waiting[uri].daemon = True
        self.waiting[uri].start()

    def publish(self, uri: str) -> None:
        """Sends the findings of one file."""
        with self.turn:
            found = self.desk_of(uri)
            if found is None:
                return
            desk, path = found
            looked = desk.look(path)
            told = [
                lsp.Diagnostic(
                    range=_range(one.range),
                    severity=lsp.DiagnosticSeverity(one.severity),
                    code=one.rule,
                    source="stepfield",
                    message=one.message,
                    related_information=[
                        lsp.DiagnosticRelatedInformation(
                            lsp.Location(
                                self.uri_of(desk, span.path), _range(range_of(span, lines_of(looked.report, span.path)))
                            ),
                            text,
                        )
                        for span, text in one.related
                    ],
                )
                for one in findings_in(looked)
            ]
        self.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(uri, told))


def make_server() -> ProtocolServer:
    """A server with its answers, not yet started."""
    server = ProtocolServer()

    @server.feature(lsp.TEXT_DOCUMENT_DID_OPEN)
    def opened(params: lsp.DidOpenTextDocumentParams) -> None:
        _take(server, params.text_document.uri, params.text_document.text)
        server.publish(params.text_document.uri)

    @server.feature(lsp.TEXT_DOCUMENT_DID_CHANGE)
    def changed(params: lsp.DidChangeTextDocumentParams) -> None:
        uri = params.text_document.uri
        _take(server, uri, server.workspace.get_text_document(uri).source)
        server.later(uri)

    @server.feature(lsp.TEXT_DOCUMENT_DID_CLOSE)
    def closed(params: lsp.DidCloseTextDocumentParams) -> None:
        found = server.desk_of(params.text_document.uri)
        name = uris.to_fs_path(params.text_document.uri)
        if found is not None and name is not None:
            content = None
            with contextlib.suppress(OSError):
                content = Path(name).read_bytes()
            with server.turn:
                found[0].write(found[1], content)

    @server.feature(lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES)
    def stored(params: lsp.DidChangeWatchedFilesParams) -> None:
        for one in params.changes:
            name = uris.to_fs_path(one.uri)
            found = server.desk_of(one.uri)
            if found is not None and name is not None and one.uri not in server.workspace.text_documents:
                content = None
                with contextlib.suppress(OSError):
                    content = Path(name).read_bytes()
                with server.turn:
                    found[0].write(found[1], content)

    _names(server)
    _states_and_mends(server)
    return server


def _names(server: ProtocolServer) -> None:
    """Answers on names: which fit, and where one is declared."""

    @server.feature(lsp.TEXT_DOCUMENT_COMPLETION, lsp.CompletionOptions(trigger_characters=[":", "[", "{", ",", " "]))
    def complete(params: lsp.CompletionParams) -> list[lsp.CompletionItem]:
        found = server.desk_of(params.text_document.uri)
        if found is None:
            return []
        desk, path = found
        lines = server.workspace.get_text_document(params.text_document.uri).source.split("\n")
        line, column = place_of(_position(params.position), lines)
        before = [*lines[: line - 1], (lines[line - 1] if line <= len(lines) else "")[: column - 1]]
        with server.turn:
            good = desk.last_good(path)
        protocol = next((one for one in good.protocols if one.path == path), None)
        return [
            lsp.CompletionItem(
                one.word,
                kind=_KINDS.get(one.kind, lsp.CompletionItemKind.Value),
                detail=one.kind,
                documentation=one.about,
            )
            for one in fitting(good, protocol, before)
        ]

    @server.feature(lsp.TEXT_DOCUMENT_DEFINITION)
    def define(params: lsp.DefinitionParams) -> lsp.Location | None:
        found = server.desk_of(params.text_document.uri)
        if found is None:
            return None
        desk, path = found
        with server.turn:
            looked = desk.look(path)
        whole = looked.report.facts.protocol_set
        name = name_at(whole, path, *place_of(_position(params.position), lines_of(looked.report, path)))
        span = declared(whole, path, name) if name is not None else None
        if span is None:
            return None
        place = _range(range_of(span, lines_of(looked.report, span.path)))
        return lsp.Location(server.uri_of(desk, span.path), place)


def _states_and_mends(server: ProtocolServer) -> None:
    """Answers on what a name means at its place, and on what would mend a finding."""

    @server.feature(lsp.TEXT_DOCUMENT_HOVER)
    def hover(params: lsp.HoverParams) -> lsp.Hover | None:
        found = server.desk_of(params.text_document.uri)
        if found is None:
            return None
        desk, path = found
        with server.turn:
            lines = lines_of(desk.look(path).report, path)
            told = meaning_at(desk, path, *place_of(_position(params.position), lines))
        if told is None:
            return None
        span, text = told
        return lsp.Hover(lsp.MarkupContent(lsp.MarkupKind.Markdown, text), _range(range_of(span, lines)))

    @server.feature(
        lsp.TEXT_DOCUMENT_CODE_ACTION, lsp.CodeActionOptions(code_action_kinds=[lsp.CodeActionKind.QuickFix])
    )
    def actions(params: lsp.CodeActionParams) -> list[lsp.CodeAction]:
        found = server.desk_of(params.text_document.uri)
        if found is None:
            return []
        desk, path = found
        wanted = Range(_position(params.range.start), _position(params.range.end))
        with server.turn:
            offers = offers_at(desk, path, wanted)
        return [
            lsp.CodeAction(
                offer.title,
                kind=lsp.CodeActionKind.QuickFix,
                diagnostics=[one for one in params.context.diagnostics if one.code == offer.rule],
                edit=lsp.WorkspaceEdit(changes=_edits(server, desk, offer.changes)),
            )
            for offer in offers
        ]


def _edits(server: ProtocolServer, desk: Desk, changes: tuple[Change, ...]) -> dict[str, list[lsp.TextEdit]]:
    edits: dict[str, list[lsp.TextEdit]] = {}
    for change in changes:
        edit = lsp.TextEdit(_range(change.range), change.text)
        edits.setdefault(server.uri_of(desk, change.path), []).append(edit)
    return edits


def _take(server: ProtocolServer, uri: str, text: str) -> None:
    found = server.desk_of(uri)
    if found is not None:
        with server.turn:
            found[0].write(found[1], text.encode("utf-8", "surrogatepass"))


def _range(one: Range) -> lsp.Range:
    return lsp.Range(lsp.Position(one.start.line, one.start.unit), lsp.Position(one.end.line, one.end.unit))


def _position(one: lsp.Position) -> Position:
    return Position(one.line, one.character)
