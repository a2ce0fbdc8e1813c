"""How long the lead waits at the desk: for a check, whole process, and for the findings after a keystroke.

    python -m bench.desk [--small]

Beside it stands yamllint, a checker of YAML that knows nothing of protocols, on the same files, whole process, its
``relaxed`` rules. Runs take turns; of each the quickest counts, and the one in the middle is told too. *Cold* is with
nothing kept from earlier runs, *warm* with what an earlier run kept. Writes bench/results-desk.md.
"""

from __future__ import annotations

import asyncio
import os
import platform
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from lsprotocol import types as lsp
from pygls.lsp.client import LanguageClient

from .bad_input import thousand
from .cases import ROOT
from .measure import run
from .models import Size, Written, as_files, protocol_sized

DAY = "2026-11-02"
RUNS, KEYSTROKES = 9, 40
MOST_SECONDS = 300.0
RESULT = Path(__file__).parent / "results-desk.md"
CHECK = (sys.executable, "-c", "from stepfield.command import main; main()", "check", "--today", DAY)
SERVE = ("-c", "from stepfield.command import main; main(['lsp'])")
TIME = (sys.executable, "-c", "from stepfield.command import main; main()", "time")
LINT = (sys.executable, "-m", "yamllint", "-d", "relaxed")
FILES = "protocols/protocol-0501.yaml"


@dataclass(frozen=True, slots=True)
class Taken:
    """What one wait took: seconds by the clock, and of the processors' work where that is known."""

    seconds: float
    processor: float | None


@dataclass(frozen=True, slots=True)
class Row:
    """One thing waited for: the most seconds promised (None: none), what every run took, and yamllint's."""

    name: str
    most: float | None
    ours: tuple[Taken, ...]
    theirs: tuple[Taken, ...]

    @property
    def cells(self) -> tuple[str, ...]:
        """The row as the table shows it."""
        best, other = (min(one.seconds for one in runs) for runs in (self.ours, self.theirs))
        promised = "" if self.most is None else f"{self.most:.2f}"
        kept = "" if self.most is None else "yes" if best <= self.most else "**no**"
        return (
            self.name,
            f"{best:.3f}",
            f"{statistics.median(one.seconds for one in self.ours):.3f}",
            _work(self.ours),
            promised,
            kept,
            f"{other:.3f}",
            _work(self.theirs),
            f"{best / other:.2f}",
        )


def _work(runs: Sequence[Taken]) -> str:
    done = [one.processor for one in runs if one.processor is not None]
    return f"{min(done):.3f}" if done else ""


def taken(command: Sequence[str], folder: Path, kept: Path) -> Taken:
    """What a command takes in a folder, from its start to its end. Raises RuntimeError if it is not done as meant."""
    environment = {"PYTHONPATH": str(ROOT / "plugins"), "XDG_CACHE_HOME": str(kept)}
    cost = run(command, folder, most_seconds=MOST_SECONDS, environment=environment)
    if cost.code not in (0, 1):
        raise RuntimeError(f"{' '.join(command)} ended with {cost.code}: {cost.output}")
    return Taken(cost.seconds, cost.processor)


def in_turns(name: str, most: float | None, path: str, folder: Path, before: Callable[[Path], None], runs: int) -> Row:
    """Checks and lints one path in turns; ``before`` prepares each check, given the folder of what is kept."""
    kept = folder / "kept"
    shutil.rmtree(kept, ignore_errors=True)
    taken((*CHECK, path), folder, kept)
    return _beside(name, most, (*CHECK, path), path, folder, before, runs)


def _beside(
    name: str,
    most: float | None,
    command: Sequence[str],
    path: str,
    folder: Path,
    before: Callable[[Path], None],
    runs: int,
) -> Row:
    """A command and the linter in turns."""
    kept, ours, theirs = folder / "kept", [], []
    for _ in range(runs):
        before(kept)
        ours.append(taken(command, folder, kept))
        theirs.append(taken((*LINT, path), folder, kept))
    return Row(name, most, tuple(ours), tuple(theirs))


def clocks(root: Path, *, runs: int) -> list[Row]:
    """How long a protocol takes, with 10,000 draws of every duration: one of the demonstration set, and 200 steps."""
    demo, long = root / "clock", _written(root / "long", {"long": timed(200)})
    shutil.copytree(ROOT / "protocols", demo / "protocols")
    return [
        _beside(name, most, (*TIME, protocol), f"protocols/{protocol}.yaml", folder, warm, runs)
        for name, most, protocol, folder in (
            ("how long a demonstration protocol takes", 1.0, "wrist-release", demo),
            ("how long a protocol of 200 steps takes", 2.0, "long", long),
        )
    ]


def timed(steps: int) -> Written:
    """A protocol of steps that say how long they take, in four lanes that wait for one another."""
    roles = list(protocol_sized(Size(60, 4, 2, 8))["team"])
    written = [
        {
            "id": f"step-{number}",
            "role": roles[number % len(roles)],
            "do": "Do what is to be done.",
            "takes": {"least": "10 s", "likely": "30 s", "most": "2 min"},
            **({"after": [f"step-{number - 3}"]} if number > 3 else {}),
        }
        for number in range(steps)
    ]
    return {"kind": "protocol", "title": "Long", "team": roles, "phases": [{"phase": "all", "steps": written}]}


def cold(kept: Path) -> None:
    """Nothing is kept."""
    shutil.rmtree(kept)


def warm(_: Path) -> None:
    """What the run before kept is there."""


def checks(root: Path, *, runs: int, small: bool) -> list[Row]:
    """Every check that a promise speaks of, and one file of a large set just changed."""
    demo = root / "demo"
    shutil.copytree(ROOT / "protocols", demo / "protocols")
    many = dict(list(thousand().items())[: 502 if small else 1000])
    large = _written(root / "large", many)
    changed = large / FILES
    plain = changed.read_bytes()

    def edited(_: Path) -> None:
        changed.write_bytes(plain + b"\n" * (changed.read_bytes().count(b"\n") - plain.count(b"\n") + 1))

    count = f"{len(many):,}"
    return [
        in_turns("the demonstration set, cold", 0.5, "protocols", demo, cold, runs),
        in_turns("the demonstration set, warm", 0.25, "protocols", demo, warm, runs),
        in_turns(f"one file of {count} protocols, warm", 0.4, FILES, large, warm, runs),
        in_turns(f"one file of {count} protocols, just changed", None, FILES, large, edited, runs),
    ]


def _written(folder: Path, protocols: dict[str, Written]) -> Path:
    for path, content in as_files(protocols).items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content)
    return folder


class Editor(LanguageClient):
    """A client of the language server that only waits for findings."""

    def __init__(self) -> None:
        super().__init__("bench", "1")
        self.told: asyncio.Queue[int] = asyncio.Queue()

        def publish(params: lsp.PublishDiagnosticsParams) -> None:
            self.told.put_nowait(len(params.diagnostics))

        self.feature(lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)(publish)


async def typed(file: Path, strokes: int) -> tuple[float, ...]:
    """The seconds from each keystroke to its findings, over standard input and output; every other one makes a slip."""
    editor, text = Editor(), file.read_text(encoding="utf-8")
    await editor.start_io(sys.executable, *SERVE, env={**os.environ, "PYTHONPATH": str(ROOT / "plugins")})
    folder = file.parents[1]
    await editor.initialize_async(lsp.InitializeParams(capabilities=lsp.ClientCapabilities(), root_uri=folder.as_uri()))
    editor.initialized(lsp.InitializedParams())
    document = lsp.TextDocumentItem(file.as_uri(), "yaml", 1, text)
    editor.text_document_did_open(lsp.DidOpenTextDocumentParams(document))
    first, waits = await editor.told.get(), []
    for stroke in range(2, strokes + 2):
        now = (
            text.replace('"disinfected"', '"sterile"', 1)
            if stroke % 2
            else text.replace('"title": "', '"title": "x', 1)
        )
        change = lsp.TextDocumentContentChangeWholeDocument(now)
        began = time.perf_counter()
        editor.text_document_did_change(
            lsp.DidChangeTextDocumentParams(lsp.VersionedTextDocumentIdentifier(stroke, file.as_uri()), [change])
        )
        found = await asyncio.wait_for(editor.told.get(), MOST_SECONDS)
        waits.append(time.perf_counter() - began)
        if stroke % 2 == 0 and found != first:
            raise RuntimeError(f"a keystroke in a title changed the findings from {first} to {found}")
    await editor.shutdown_async(None)
    editor.exit(None)
    await editor.stop()  # type: ignore[no-untyped-call]
    return tuple(waits)


def keystrokes(root: Path, *, strokes: int, runs: int) -> Row:
    """The findings after a keystroke in a protocol of 60 steps, beside a linter started on the same file."""
    folder = _written(root / "typed", {"typed": protocol_sized(Size(60, 4, 2, 8))})
    file = folder / "protocols/typed.yaml"
    waits = asyncio.run(typed(file, strokes))
    theirs = tuple(taken((*LINT, "protocols/typed.yaml"), folder, root / "kept") for _ in range(runs))
    return Row("a keystroke in a protocol of 60 steps, the slowest of ten", 0.15, _slow(waits), theirs)


def _slow(waits: tuple[float, ...]) -> tuple[Taken, ...]:
    """The slowest of each ten: whoever types notices those."""
    return tuple(Taken(max(waits[at : at + 10]), None) for at in range(0, len(waits), 10))


def _machine() -> str:
    load = os.getloadavg()[0]
    where = f"{platform.system()} on {platform.machine()}; {os.cpu_count()} cores"
    return f"Python {platform.python_version()}, {where}, load average at the end {load:.1f}"


def report(rows: Sequence[Row]) -> str:
    """The page."""
    lines = [
        "# At the desk",
        "",
        "Made by `make bench-desk`, which writes it anew. All figures are from one run on one machine: compare them",
        "with one another, not with those of another machine.",
        "",
        f"- {_machine()}",
        "- seconds, whole process from its start; *cold*: nothing kept from earlier runs; *warm*: with what one kept",
        "- yamllint looks at the form of the same files, and knows nothing of protocols; its `relaxed` rules",
        "- *processor*: seconds of work in the quickest run, which others on the machine do not lengthen",
        "- a keystroke: from the change sent to the findings received, over standard input and output, the slowest of",
        "  each ten; the server waits 50 milliseconds for the next key before it looks",
        "",
        "| waited for | quickest | middle | processor | promised | kept | yamllint | processor | ours / yamllint |",
        "| --- | ---: | ---: | ---: | ---: | :---: | ---: | ---: | ---: |",
        *(f"| {' | '.join(row.cells)} |" for row in rows),
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Measures, prints and writes the page."""
    small = "--small" in sys.argv
    runs, strokes = (1, 10) if small else (RUNS, KEYSTROKES)
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        rows = [*checks(root, runs=runs, small=small), keystrokes(root, strokes=strokes, runs=runs)]
        rows += clocks(root, runs=runs)
    text = report(rows)
    sys.stdout.write(text)
    if not small:
        RESULT.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
