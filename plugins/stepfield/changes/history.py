"""Reading a protocol set as it stood at some point of a git history, without touching the work tree.

Git is only asked what it has stored (`rev-parse`, `rev-list`, `ls-tree`, `diff-tree`, `cat-file`). No hook, filter,
pager or configured program runs, nothing is fetched, and no variable of the environment points it elsewhere.
"""

from __future__ import annotations

import datetime
import os
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from ..language import Problem, Span, Taken
from ..language.yaml_text import MOST_BYTES

LONGEST = 60.0
"""How many seconds git may take to answer."""
MOST_FILES = 2000
MOST_COMMITS = 2000
"""In how many commits that changed one file it is looked for."""
_SAFE = (
    *("--no-pager", "--no-optional-locks", "--no-replace-objects", "--literal-pathspecs"),
    *("-c", "core.fsmonitor=false", "-c", "protocol.allow=never", "-c", "core.hooksPath=/dev/null"),
)
_NAMES = (".yaml", ".yml", ".yaml.txt", ".yml.txt")


class HistoryError(Exception):
    """What was asked of the history cannot be answered; says why and what to do, for people."""


@dataclass(frozen=True, slots=True)
class _Entry:
    """One file of a tree."""

    mode: str
    digest: str
    size: int
    path: str


def taken_from(folder: Path, ref: str) -> Taken:
    """The files of a protocol set's folder as they stood at a commit, branch or tag.

    ``folder`` need not be there any more. Raises HistoryError if there is no git, no history or no such commit, or if
    the folder was not there then.
    """
    if ref.startswith("-"):
        raise HistoryError(f"{ref!r} looks like an option, and no commit, branch or tag begins with a hyphen")
    if not ref or any(character in ref for character in "\0\n"):
        raise HistoryError(f"{ref!r} can name no commit, branch or tag")
    start = folder if folder.is_dir() else Path.cwd()
    top = Path(os.fsdecode(_one(start, "rev-parse", "--show-toplevel")))
    try:
        inside = folder.resolve().relative_to(top.resolve())
    except ValueError:
        raise HistoryError(f"{folder} does not lie in the repository {top}") from None
    commit = _commit(start, ref)
    home = "" if inside.as_posix() == "." else f"{inside.as_posix()}/"
    entries = [
        one
        for one in _entries(start, commit, home)
        if one.path.lower().endswith(_NAMES) and not any(part.startswith(".") for part in PurePosixPath(one.path).parts)
    ]
    if not any(one.path == "clinic.yaml" for one in entries):
        raise HistoryError(f"{ref} has no protocol set in {folder.as_posix()}: there is no clinic.yaml")
    shown = "" if folder.as_posix() == "." else folder.as_posix().rstrip("/")
    return _taken(start, entries, shown)


def earlier_texts(folder: Path, name: str) -> Iterator[bytes]:
    """Every content that a file of a folder had in the history of what is checked out, the newest first.

    Links and files over 1 MiB are passed over. Raises HistoryError if there is no git or no history.
    """
    top = Path(os.fsdecode(_one(folder, "rev-parse", "--show-toplevel")))
    path = (folder.resolve() / name).relative_to(top.resolve()).as_posix()
    _commit(folder, "HEAD")
    commits = _answer(top, "rev-list", f"--max-count={MOST_COMMITS}", "HEAD", "--", path)
    options = ("--stdin", "--root", "-m", "-r", "--no-commit-id", "--no-renames", "--no-abbrev")
    changes = _answer(top, "diff-tree", *options, "--", path, given=commits)
    found: dict[str, None] = {}
    for line in changes.decode("utf-8", "replace").splitlines():
        if line.startswith(":"):
            old_mode, mode, old, new = line.lstrip(":").split()[:4]
            found |= {one: None for kind, one in ((mode, new), (old_mode, old)) if kind in ("100644", "100755")}
    for data in _contents(top, list(found)) if found else ():
        if len(data) <= MOST_BYTES:
            yield data


def texts_over_time(folder: Path) -> Iterator[tuple[datetime.date, str, bytes]]:
    """What files of a folder became when: the day, the name and the content, the earliest first.

    Only files directly in the folder, and of the history only its newest 2,000 commits that touched it. Days are those
    the commits were made on, in UTC. Raises HistoryError if there is no git or no history.
    """
    top = Path(os.fsdecode(_one(folder, "rev-parse", "--show-toplevel")))
    home = folder.resolve().relative_to(top.resolve()).as_posix()
    _commit(folder, "HEAD")
    listed = _answer(top, "rev-list", "--timestamp", f"--max-count={MOST_COMMITS}", "HEAD", "--", home)
    made = [line.split() for line in listed.decode("ascii", "replace").splitlines()]
    days = {digest: datetime.datetime.fromtimestamp(int(at), datetime.UTC).date() for at, digest in made}
    options = ("--stdin", "--root", "-m", "-r", "--no-renames", "--no-abbrev", "--diff-filter=AM")
    asked = "".join(f"{digest}\n" for _, digest in reversed(made)).encode("ascii")
    changes = _answer(top, "diff-tree", *options, "--", home, given=asked)
    found: list[tuple[datetime.date, str, str]] = []
    day = datetime.date.min
    for line in changes.decode("utf-8", "replace").splitlines():
        if not line.startswith(":"):
            day = days.get(line.split()[0], day)
            continue
        head, _, path = line.partition("\t")
        _, mode, _, digest = head.lstrip(":").split()[:4]
        name = path.removeprefix(f"{home}/") if home != "." else path
        if mode in ("100644", "100755") and "/" not in name and name.endswith(".yaml"):
            found.append((day, name, digest))
    digests = list(dict.fromkeys(digest for _, _, digest in found))
    texts = dict(zip(digests, _contents(top, digests), strict=True)) if digests else {}
    for day, name, digest in found:
        if len(texts[digest]) <= MOST_BYTES:
            yield day, name, texts[digest]


def newest_tag(folder: Path) -> str:
    """The tag nearest before what is checked out. Raises HistoryError if there is none."""
    start = folder if folder.is_dir() else Path.cwd()
    found = _git(start, "describe", "--tags", "--abbrev=0", "HEAD")
    tag = found.stdout.decode("utf-8", "replace").strip()
    if found.returncode != 0 or not tag:
        raise HistoryError("this clone has no tag to compare with; fetch them with: git fetch --tags")
    return tag


def commit_of(folder: Path, ref: str) -> str:
    """The full digest of the commit that a name stands for. Raises HistoryError if there is none."""
    if ref.startswith("-") or not ref or any(character in ref for character in "\0\n"):
        raise HistoryError(f"{ref!r} can name no commit, branch or tag")
    return _commit(folder, ref)


def _taken(start: Path, entries: list[_Entry], shown: str) -> Taken:
    def path(name: str) -> str:
        return f"{shown}/{name}" if shown else name

    refused, wanted = [], []
    for number, one in enumerate(entries):
        why = ""
        if one.path.count("/") > 1:
            continue
        if number >= MOST_FILES:
            why = f"the set has more than {MOST_FILES:,} files"
        elif one.mode not in ("100644", "100755"):
            why = "this is a link or another repository, and is not followed"
        elif one.size > MOST_BYTES:
            why = "this file is over 1 MiB"
        if why:
            stem = one.path.rpartition("/")[2].removesuffix(".yaml")
            refused.append(Problem("bad-shape", Span(path(one.path), 1, 1, 1, 1), why, subject=stem))
        else:
            wanted.append(one)
    contents = _contents(start, [one.digest for one in wanted])
    return Taken(shown, {path(one.path): data for one, data in zip(wanted, contents, strict=True)}, tuple(refused))


def _commit(start: Path, ref: str) -> str:
    """The digest of the commit that a name stands for."""
    found = _git(start, "rev-parse", "--verify", "--quiet", "--end-of-options", f"{ref}^{{commit}}")
    digest = found.stdout.decode("ascii", "replace").strip()
    if found.returncode == 0 and digest and all(character in "0123456789abcdef" for character in digest):
        return digest
    if _git(start, "rev-parse", "--verify", "--quiet", "HEAD^{commit}").returncode != 0:
        raise HistoryError("the repository has no history yet: nothing has been committed")
    if _git(start, "rev-parse", "--is-shallow-repository").stdout.strip() == b"true":
        raise HistoryError(
            f"there is no commit, branch or tag {ref!r} in this clone, which holds only part of the history; "
            "fetch the rest with: git fetch --unshallow (in a pipeline: set the depth of the clone to 0)"
        )
    raise HistoryError(
        f"there is no commit, branch or tag {ref!r} in this clone; fetch it, or look at: git branch --all"
    )


def _entries(start: Path, commit: str, home: str) -> Iterator[_Entry]:
    where = ["--", home] if home else []
    listed = _answer(start, "ls-tree", "-r", "-z", "-l", "--full-tree", commit, *where)
    for line in listed.split(b"\0"):
        if line:
            head, _, name = line.partition(b"\t")
            mode, kind, digest, size = head.decode("ascii").split()
            path = name.decode("utf-8", "replace").removeprefix(home)
            yield _Entry(mode if kind == "blob" else kind, digest, int(size) if size.isdecimal() else 0, path)


def _contents(start: Path, digests: list[str]) -> Iterator[bytes]:
    """The contents of stored files, in the order asked for."""
    found = _answer(start, "cat-file", "--batch", given="".join(f"{one}\n" for one in digests).encode("ascii"))
    at = 0
    for digest in digests:
        end = found.find(b"\n", at)
        head = found[at:end].split()
        if len(head) != 3 or head[0].decode("ascii", "replace") != digest:
            raise HistoryError("this clone lacks the contents of some files of that commit; fetch it whole")
        size = int(head[2])
        yield found[end + 1 : end + 1 + size]
        at = end + 1 + size + 1


def _one(start: Path, *words: str) -> bytes:
    return _answer(start, *words).rstrip(b"\n")


def _answer(start: Path, *words: str, given: bytes = b"") -> bytes:
    found = _git(start, *words, given=given)
    if found.returncode != 0:
        told = found.stderr.decode("utf-8", "replace").strip().partition("\n")[0].removeprefix("fatal: ")
        if "not a git repository" in told:
            told = f"{start.as_posix()} does not lie in a git repository; name a folder to compare with instead"
        raise HistoryError(told or "git gave no answer")
    return found.stdout


def _git(start: Path, *words: str, given: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    kept = {name: value for name, value in os.environ.items() if not name.upper().startswith("GIT_")}
    safe = {"GIT_TERMINAL_PROMPT": "0", "GIT_NO_LAZY_FETCH": "1", "GIT_OPTIONAL_LOCKS": "0", "LC_ALL": "C"}
    try:
        return subprocess.run(  # noqa: S603 - a list of arguments; a name given from outside comes after the options
            ["git", *_SAFE, *words],  # noqa: S607 - the git that the reader uses
            cwd=start,
            env={**kept, **safe},
            input=given,
            capture_output=True,
            timeout=LONGEST,
            check=False,
        )
    except FileNotFoundError:
        raise HistoryError("git is not installed here; name folders to compare instead") from None
    except subprocess.TimeoutExpired:
        raise HistoryError(f"git gave no answer within {LONGEST:g} seconds") from None
