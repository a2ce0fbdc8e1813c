"""Takes the fenced blocks out of a Markdown page, and acts on them the way its reader would."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

FENCE = re.compile(r"^```(?P<info>[^\n`]*)\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)
COMMAND = "#!{python}\nimport sys\nfrom stepfield.command import main\nsys.exit(main())\n"


@dataclass(frozen=True, slots=True)
class Block:
    """One fenced block: the words after its fence, and what stands inside."""

    info: tuple[str, ...]
    body: str
    line: int

    @property
    def language(self) -> str:
        return self.info[0] if self.info else ""


@dataclass(frozen=True, slots=True)
class Command:
    """One ``$ ...`` line of a console block, and the output shown below it; ``...`` stands for lines left out."""

    words: tuple[str, ...]
    shown: tuple[str, ...]


def blocks_of(page: str) -> tuple[Block, ...]:
    """Every fenced block of a page, in order, with the line of its fence."""
    return tuple(
        Block(tuple(found["info"].split()), found["body"], page.count("\n", 0, found.start()) + 1)
        for found in FENCE.finditer(page)
    )


def commands_of(block: Block) -> Iterator[Command]:
    """The commands of a console block, each with what the page shows of its output."""
    for part in re.split(r"^\$ ", block.body, flags=re.MULTILINE)[1:]:
        line, *shown = part.rstrip("\n").split("\n")
        yield Command(tuple(shlex.split(line)), tuple(line.rstrip() for line in shown))


def patched(text: str, block: Block) -> str:
    """The text after the change a diff block shows; the old lines must stand in it exactly once."""
    lines = block.body.splitlines()
    old = "\n".join(line[1:] for line in lines if line[:1] in " -")
    new = "\n".join(line[1:] for line in lines if line[:1] in " +")
    assert text.count(old) == 1, f"line {block.line}: the lines to change stand in the file {text.count(old)} times"
    return text.replace(old, new)


def differs(shown: tuple[str, ...], printed: str) -> str | None:
    """The first shown line that the output lacks, or the first further line; None when they agree."""
    lines, at, gap = [line.rstrip() for line in printed.rstrip("\n").split("\n")] if printed else [], 0, False
    for expected in shown:
        if expected == "...":
            gap = True
            continue
        place = next((i for i in range(at, len(lines) if gap else at + 1) if lines[i : i + 1] == [expected]), None)
        if place is None:
            return f"expected {expected!r} but the output goes on with {lines[at : at + 3]!r}"
        at, gap = place + 1, False
    return None if gap or at == len(lines) else f"not shown: {lines[at]!r}"


def install_command(folder: Path) -> dict[str, str]:
    """Puts a ``stepfield`` command into a folder, and gives the environment in which it and ``mkdocs`` are found."""
    folder.mkdir()
    script = folder / "stepfield"
    script.write_text(COMMAND.format(python=sys.executable), encoding="utf-8")
    script.chmod(0o755)
    here = Path(__file__).parents[2] / "plugins"
    return {
        **os.environ,
        "PATH": os.pathsep.join([str(folder), str(Path(sys.executable).parent), os.environ["PATH"]]),
        "PYTHONPATH": str(here),
        "COLUMNS": "100",
        "NO_COLOR": "1",
        "NO_MKDOCS_2_WARNING": "1",
    }


def run(command: Command, folder: Path, environment: dict[str, str]) -> subprocess.CompletedProcess[str]:
    """Runs one command in a folder, without a shell."""
    return subprocess.run(
        command.words, cwd=folder, env=environment, capture_output=True, text=True, check=False, timeout=120
    )
