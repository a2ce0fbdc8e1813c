"""The reader of the README's blocks is itself tried, so that it can't agree with everything."""

from __future__ import annotations

import pytest

from tests.docs.blocks import Block, blocks_of, commands_of, differs, patched


def test_blocks_and_commands_are_found() -> None:
    (block,) = blocks_of("Words\n\n```console exit=1\n$ stepfield check 'my set'\nline one\n\nline two\n$ true\n```\n")
    assert (block.language, block.info, block.line) == ("console", ("console", "exit=1"), 3)
    first, second = commands_of(block)
    assert (first.words, first.shown) == (("stepfield", "check", "my set"), ("line one", "", "line two"))
    assert (second.words, second.shown) == (("true",), ())


@pytest.mark.parametrize("shown", [("a", "b", "c"), ("a", "...", "c"), ("...", "c"), ("a", "..."), ("...",)])
def test_output_that_agrees(shown: tuple[str, ...]) -> None:
    assert differs(shown, "a\nb\nc\n") is None


@pytest.mark.parametrize("shown", [("a", "b"), ("a", "c"), ("a", "...", "d"), ("...", "b"), ("a", "b", "c", "d"), ()])
def test_output_that_differs(shown: tuple[str, ...]) -> None:
    assert differs(shown, "a\nb\nc\n") is not None


def test_a_diff_block_changes_the_lines_it_shows() -> None:
    assert patched("one\ntwo\nthree\n", Block(("diff",), " one\n-two\n+2\n", 1)) == "one\n2\nthree\n"


@pytest.mark.parametrize("text", ["one\n", "one\ntwo\none\ntwo\n"])
def test_a_diff_block_must_fit_once(text: str) -> None:
    with pytest.raises(AssertionError, match="times"):
        patched(text, Block(("diff",), " one\n-two\n+2\n", 1))
