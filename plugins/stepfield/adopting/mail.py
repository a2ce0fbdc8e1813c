"""A patch of text files, and a mail around it that `git am` takes. Standard library only; nothing is invented.

The forms are those of git: its differences (git-diff(1), "Generating patch text with -p") and its mails
(git-format-patch(1)).
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping
from difflib import unified_diff
from email.header import Header
from email.utils import formataddr, parseaddr

WIDE = 72
Files = Mapping[str, bytes]


def patch(before: Files, after: Files, folder: str) -> bytes:
    """The difference between files as git writes it; they lie in ``folder`` of the repository it is for."""
    return b"".join(
        _of_file(f"{folder}/{name}" if folder else name, before[name], after[name]) for name in sorted(after)
    )


def mail(subject: str, paragraphs: Iterable[str], difference: bytes, sender: str | None) -> bytes:
    """The difference with a message before it: as a mail if there is a sender, else as plain text.

    ``sender`` is a name and an address, such as ``Board <board@example.org>``. Raises ValueError if it is not.
    """
    body = "\n\n".join(_wrapped(one) for one in paragraphs)
    if sender is None:
        return f"{_wrapped(subject)}\n\n{body}\n\n".encode() + difference
    head = [
        "From 0000000000000000000000000000000000000000 Mon Sep 17 00:00:00 2001",
        f"From: {_address(sender)}",
        f"Subject: [PATCH] {_header(subject)}",
        "MIME-Version: 1.0",
        "Content-Type: text/plain; charset=UTF-8",
        "Content-Transfer-Encoding: 8bit",
    ]
    return "\n".join([*head, "", body, "---", "", ""]).encode() + difference + b"-- \nstepfield\n"


def _address(sender: str) -> str:
    name, address = parseaddr(sender)
    if not name or "@" not in address or any(not one.isprintable() for one in sender):
        raise ValueError(f"{sender!r} is no name with an address, such as 'Board <board@example.org>'")
    return formataddr((name, address))


def _header(text: str) -> str:
    line = " ".join(text.split())
    return line if line.isascii() else Header(line, "utf-8", maxlinelen=WIDE).encode()


def _wrapped(text: str) -> str:
    """A paragraph in lines, each moved in but the first, so that none can be taken for the begin of a difference."""
    line = " ".join(text.split())
    lines = textwrap.wrap(line, WIDE, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
    return "\n".join(lines)


def _of_file(path: str, before: bytes, after: bytes) -> bytes:
    if before == after:
        return b""
    told = unified_diff(_lines(before), _lines(after), f"a/{path}", f"b/{path}")
    ended = (line if line.endswith("\n") else f"{line}\n\\ No newline at end of file\n" for line in told)
    return f"diff --git a/{path} b/{path}\n{''.join(ended)}".encode()


def _lines(data: bytes) -> list[str]:
    """The lines of a file with their ends; only a line feed ends one, as git sees it."""
    return [*_split(data.decode())]


def _split(text: str) -> Iterator[str]:
    while text:
        line, end, text = text.partition("\n")
        yield line + end
