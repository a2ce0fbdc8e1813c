"""Small edits of a protocol set as an infection-control lead makes them: by file and by the name of a step."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

Files = Mapping[str, str]
Edit = Callable[[Files], dict[str, str]]
"""From the texts of a set, by their path in its folder, to those after the edit."""


def reworded(path: str, step: str, *edits: tuple[str, str]) -> Edit:
    """Other words, or other values, in one step."""

    def edit(files: Files) -> dict[str, str]:
        start, end = _place(files[path], step)
        text = files[path][start:end]
        for old, new in edits:
            assert text.count(old) == 1, f"{step} of {path} has this {text.count(old)} times: {old}"
            text = text.replace(old, new)
        return {**files, path: files[path][:start] + text + files[path][end:]}

    return edit


def added(path: str, behind: str, text: str) -> Edit:
    """A new step right behind another; its text as it stands in the file."""

    def edit(files: Files) -> dict[str, str]:
        _, end = _place(files[path], behind)
        return {**files, path: files[path][:end] + text + files[path][end:]}

    return edit


def removed(path: str, step: str) -> Edit:
    """A step less."""

    def edit(files: Files) -> dict[str, str]:
        start, end = _place(files[path], step)
        return {**files, path: files[path][:start] + files[path][end:]}

    return edit


def renamed(path: str, step: str, name: str) -> Edit:
    """Another name for a step that no other one names."""
    return reworded(path, step, (f"- id: {step}\n", f"- id: {name}\n"))


def with_file(path: str, text: str) -> Edit:
    """A new file."""

    def edit(files: Files) -> dict[str, str]:
        assert path not in files
        return {**files, path: text}

    return edit


def moved_file(path: str, name: str) -> Edit:
    """Another name for a file."""

    def edit(files: Files) -> dict[str, str]:
        assert name not in files
        return {name if one == path else one: text for one, text in files.items()}

    return edit


def _place(text: str, step: str) -> tuple[int, int]:
    """Where a step begins and ends: at the next entry of its list, at a blank line, or with the file."""
    begins = list(re.finditer(rf"^( *)- id: {step}\n", text, re.MULTILINE))
    assert len(begins) == 1, f"{len(begins)} steps called {step}"
    (begin,) = begins
    ends = re.compile(rf"^(?:{begin[1]}- |\n|\S)", re.MULTILINE).search(text, begin.end())
    return begin.start(), len(text) if ends is None else ends.start()
