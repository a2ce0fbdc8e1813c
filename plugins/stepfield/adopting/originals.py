"""Finding adopted files as they were adopted: in the folder they came from, or in the clinic's own history."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from ..changes import HistoryError, earlier_texts, taken_from
from ..language import Taken, take_in
from ..language.tailored import Upstream
from ..language.tailoring import digest_of


class NoOriginalError(Exception):
    """A file as it was adopted is not to be had; says why and what to do, for people."""


def edited_files(upstream: Upstream) -> tuple[str, ...]:
    """The adopted files that are not what they were, by their path in the set."""
    return tuple(
        path for path, (_, digest) in upstream.digests.items() if upstream.found.get(path) not in (None, digest)
    )


def originals_in_history(folder: Path, names: Iterable[str], upstream: Upstream) -> dict[str, bytes]:
    """Adopted files as they were, out of the history of the repository that the set's folder lies in.

    Raises NoOriginalError if one of them was never committed as it was adopted, or there is no history.
    """
    found = {}
    for name in names:
        try:
            texts = earlier_texts(folder, name)
            original = _original(texts, name, upstream)
        except HistoryError as error:
            why = str(error).partition(";")[0]
            told = f"{name} as it was adopted is looked for in the history, but {why}; {_SAY}"
            raise NoOriginalError(told) from None
        if original is None:
            raise NoOriginalError(f"{name} was never committed here as it was adopted; {_SAY}")
        found[name] = original
    return found


def originals_in(source: Path, ref: str | None, names: Iterable[str], upstream: Upstream) -> dict[str, bytes]:
    """Adopted files as they were, out of the folder they came from (or its folder ``protocols``), or a commit of it.

    Raises NoOriginalError if they are not there, or are not what upstream.yaml says they were.
    """
    taken = _taken(source, ref)
    files = {taken.inside(path): data for path, data in taken.files.items()}
    found = {}
    for name in names:
        original = _original([files[name]] if name in files else [], name, upstream)
        if original is None:
            why = "is not what was adopted" if name in files else "is not there"
            at = source.as_posix() if ref is None else f"{ref} of {source.as_posix()}"
            raise NoOriginalError(
                f"in {at} {name} {why}; name the version {upstream.version} that was adopted, such as with --ref"
            )
        found[name] = original
    return found


def _taken(source: Path, ref: str | None) -> Taken:
    inner = source / "protocols"
    folder = source if (source / "clinic.yaml").is_file() or not inner.is_dir() else inner
    try:
        return take_in(folder) if ref is None else taken_from(folder, ref)
    except (HistoryError, OSError) as error:
        raise NoOriginalError(str(error)) from None


def _original(texts: Iterable[bytes], name: str, upstream: Upstream) -> bytes | None:
    """The text that has the digest told, with the line ends it was adopted with."""
    digest = upstream.digests[name][1]
    return next((one for text in texts for one in _ended(text) if digest_of(one) == digest), None)


def _ended(text: bytes) -> Iterator[bytes]:
    yield text
    plain = text.replace(b"\r\n", b"\n")
    yield plain
    yield plain.replace(b"\n", b"\r\n")


_SAY = "name the folder or the repository that the set was adopted from: --from SOURCE"
