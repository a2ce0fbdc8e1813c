"""The language server, asked by a real client over standard input and output as an editor would."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from lsprotocol import types as lsp
from pygls.lsp.client import BaseLanguageClient

CLINIC = "clinic: Quillhaven\nroles:\n  scrub: {title: Scrub nurse}\n  circulating: {title: Circulating nurse}\n"
ROOM = """\
kind: protocol
title: Ü𝕌 small room
purpose: To try with.
version: 0.1.0
status: draft
owner: infection-control lead
team: [scrub, circulating]
surfaces:
  side-table: {title: Side table}
phases:
  - phase: room
    title: Room
    steps:
      - id: wipe-table
        role: circulating
        do: Wipe the side table.
        makes: {side-table: disinfected}
      - id: set-out
        role: scrub
        do: Set out the dressings.
        needs: {side-table: disinfected}
"""
LINES = ROOM.split("\n")


class Editor(BaseLanguageClient):
    """Takes down the findings it is sent."""

    def __init__(self) -> None:
        super().__init__("editor", "1")
        self.told: dict[str, list[lsp.Diagnostic]] = {}
        self.heard = asyncio.Event()

        @self.feature(lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
        def publish(params: lsp.PublishDiagnosticsParams) -> None:
            self.told[params.uri] = list(params.diagnostics)
            self.heard.set()

    async def findings(self, uri: str) -> list[lsp.Diagnostic]:
        await asyncio.wait_for(self.heard.wait(), 20)
        self.heard.clear()
        return self.told[uri]

    def type(self, uri: str, text: str, version: int) -> None:
        change = lsp.TextDocumentContentChangeWholeDocument(text)
        self.text_document_did_change(
            lsp.DidChangeTextDocumentParams(lsp.VersionedTextDocumentIdentifier(version, uri), [change])
        )


def edit(folder: Path, act: Callable[[Editor, str], Awaitable[None]]) -> None:
    """Opens room.yaml of a small set in an editor, and lets ``act`` go on from there."""
    (folder / "protocols").mkdir()
    (folder / "protocols/clinic.yaml").write_text(CLINIC, encoding="utf-8")
    file = folder / "protocols/room.yaml"
    file.write_text(ROOM, encoding="utf-8")

    async def run() -> None:
        editor = Editor()
        await editor.start_io(sys.executable, "-c", "from stepfield.command import main; main(['lsp'])")
        answer = await editor.initialize_async(
            lsp.InitializeParams(capabilities=lsp.ClientCapabilities(), root_uri=folder.as_uri())
        )
        assert answer.capabilities.completion_provider is not None
        assert answer.capabilities.definition_provider
        editor.initialized(lsp.InitializedParams())
        document = lsp.TextDocumentItem(file.as_uri(), "yaml", 1, ROOM)
        editor.text_document_did_open(lsp.DidOpenTextDocumentParams(document))
        try:
            await act(editor, file.as_uri())
        finally:
            await editor.shutdown_async(None)
            editor.exit(None)
            await editor.stop()

    asyncio.run(asyncio.wait_for(run(), 60))


def place(text: str, inside: str) -> lsp.Position:
    """The place in the middle of a word, on the only line that holds ``text``."""
    (number,) = (number for number, line in enumerate(LINES) if text in line)
    return lsp.Position(number, LINES[number].index(inside) + len(inside) // 2)


def test_findings_come_and_go_while_somebody_types(tmp_path: Path) -> None:
    async def act(editor: Editor, uri: str) -> None:
        (found,) = await editor.findings(uri)
        assert found.code == "needs-not-met"
        assert found.severity is lsp.DiagnosticSeverity.Error
        line = LINES[found.range.start.line]
        assert line[found.range.start.character : found.range.end.character] == "side-table"
        editor.type(uri, ROOM.replace("        needs:", "        after: [wipe-table]\n        needs:"), 2)
        assert await editor.findings(uri) == []
        editor.type(uri, ROOM.replace("owner: infection", "owner: [infection"), 3)
        assert {one.code for one in await editor.findings(uri)} == {"bad-yaml"}

    edit(tmp_path, act)


def test_a_mend_is_offered_and_does_mend(tmp_path: Path) -> None:
    async def act(editor: Editor, uri: str) -> None:
        (found,) = await editor.findings(uri)
        offers = await editor.text_document_code_action_async(
            lsp.CodeActionParams(lsp.TextDocumentIdentifier(uri), found.range, lsp.CodeActionContext([found]))
        )
        assert offers
        action = offers[0]
        assert isinstance(action, lsp.CodeAction)
        assert action.edit is not None
        assert action.edit.changes is not None
        lines = ROOM.splitlines(keepends=True)
        for one in sorted(action.edit.changes[uri], key=lambda one: one.range.start.line, reverse=True):
            assert (one.range.start.character, one.range.end.character) == (0, 0)
            lines[one.range.start.line : one.range.end.line] = [one.new_text]
        editor.type(uri, "".join(lines), 2)
        assert await editor.findings(uri) == []

    edit(tmp_path, act)


def test_the_nearest_name_is_offered(tmp_path: Path) -> None:
    async def act(editor: Editor, uri: str) -> None:
        await editor.findings(uri)
        wrong = ROOM.replace("needs: {side-table", "needs: {sid-table")
        editor.type(uri, wrong, 2)
        found = next(one for one in await editor.findings(uri) if one.code == "unknown-name")
        offers = await editor.text_document_code_action_async(
            lsp.CodeActionParams(lsp.TextDocumentIdentifier(uri), found.range, lsp.CodeActionContext([found]))
        )
        assert offers is not None
        assert "Write 'side-table'" in [one.title for one in offers]

    edit(tmp_path, act)


def test_a_name_leads_to_its_declaration_and_tells_its_state(tmp_path: Path) -> None:
    async def act(editor: Editor, uri: str) -> None:
        await editor.findings(uri)
        document = lsp.TextDocumentIdentifier(uri)
        at = place("needs: {side", "side-table")
        found = await editor.text_document_definition_async(lsp.DefinitionParams(document, at))
        assert isinstance(found, lsp.Location)
        assert found.uri == uri
        assert LINES[found.range.start.line].startswith("  side-table: {title")
        role = await editor.text_document_definition_async(
            lsp.DefinitionParams(document, place("role: scrub", "scrub"))
        )
        assert isinstance(role, lsp.Location)
        assert role.uri.endswith("/protocols/clinic.yaml")
        hover = await editor.text_document_hover_async(lsp.HoverParams(document, at))
        assert hover is not None
        assert isinstance(hover.contents, lsp.MarkupContent)
        # Before or after the wiping: nothing orders the two steps.
        assert "Before this step: contaminated or disinfected, depending on the order" in hover.contents.value
        editor.type(uri, ROOM.replace("        needs:", "        after: [wipe-table]\n        needs:"), 2)
        await editor.findings(uri)
        at = lsp.Position(at.line + 1, at.character)
        hover = await editor.text_document_hover_async(lsp.HoverParams(document, at))
        assert hover is not None
        assert isinstance(hover.contents, lsp.MarkupContent)
        assert "Before this step: disinfected in every order" in hover.contents.value

    edit(tmp_path, act)


@pytest.mark.parametrize(
    ("line", "expected", "never"),
    [
        ("        role: ", {"scrub", "circulating"}, {"side-table", "wipe-table"}),
        ("        after: [", {"wipe-table", "set-out"}, {"side-table"}),
        ("        needs: {", {"side-table", "scrub.hands"}, {"wipe-table"}),
        ("        needs: {side-table: ", {"clean", "disinfected", "sterile", "contaminated"}, {"side-table"}),
        ("        ", {"role", "needs", "makes", "after", "cautions"}, {"title"}),
        ("        touches:\n          - ", {"side-table"}, {"wipe-table"}),
    ],
)
def test_words_that_fit_are_offered_while_the_line_is_half_written(
    tmp_path: Path, line: str, expected: set[str], never: set[str]
) -> None:
    async def act(editor: Editor, uri: str) -> None:
        await editor.findings(uri)
        text = ROOM + line
        editor.type(uri, text, 2)
        lines = text.split("\n")
        found = await editor.text_document_completion_async(
            lsp.CompletionParams(lsp.TextDocumentIdentifier(uri), lsp.Position(len(lines) - 1, len(lines[-1])))
        )
        assert isinstance(found, list)
        words = {one.label for one in found}
        assert expected <= words
        assert not never & words

    edit(tmp_path, act)


def test_a_file_of_no_set_is_left_alone(tmp_path: Path) -> None:
    async def act(editor: Editor, uri: str) -> None:
        await editor.findings(uri)
        other = tmp_path / "elsewhere" / "deep" / "notes.yaml"
        other.parent.mkdir(parents=True)
        document = lsp.TextDocumentItem(other.as_uri(), "yaml", 1, "a: b")
        editor.text_document_did_open(lsp.DidOpenTextDocumentParams(document))
        found = await editor.text_document_hover_async(
            lsp.HoverParams(lsp.TextDocumentIdentifier(other.as_uri()), lsp.Position(0, 0))
        )
        assert found is None
        assert other.as_uri() not in editor.told

    edit(tmp_path, act)
