"""What was promised, and what was seen: the command as a clinic runs it, on sets that are large or too much."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from .bad_input import bad_inputs, thousand
from .cases import ROOT
from .contest import ENVIRONMENT, Outcome
from .measure import run
from .models import Written, as_files

COMMAND = (sys.executable, "-c", "from stepfield.command import main; main()", "check")
PATIENCE = 120.0


@dataclass(frozen=True, slots=True)
class Target:
    """One promise: most seconds and megabytes allowed (None: none set), and what was seen."""

    name: str
    most_seconds: float
    most_megabytes: float | None
    seconds: float
    megabytes: float
    said: str

    @property
    def kept(self) -> bool:
        """Whether the promise was kept in this run."""
        return self.seconds <= self.most_seconds and (
            self.most_megabytes is None or self.megabytes <= self.most_megabytes
        )


def targets(measured: list[Outcome]) -> Iterator[Target]:
    """Every promise; those on single protocols are read off what was measured against SPIN."""
    for one in measured:
        if one.case.group == "demonstration":
            yield _proof(f"proof of {one.case.name}", 0.05, None, one)
        if one.case.group == "the largest promised":
            yield _proof(f"proof of {one.case.name}", 1, 300, one)
    with TemporaryDirectory() as name:
        yield from _commands(Path(name))


def _proof(name: str, most_seconds: float, most_megabytes: float | None, one: Outcome) -> Target:
    said = f"{one.reduced.states:,} states"
    return Target(name, most_seconds, most_megabytes, one.reduced.prove, one.reduced.megabytes, said)


def _commands(folder: Path) -> Iterator[Target]:
    _write(folder, thousand())
    yield _checked("a set of 1,000 protocols of 40 steps, for the first time", folder, 30, None)
    yield _checked("the same when nothing changed", folder, 2, None)
    yield _checked("one file of the same, when nothing changed", folder, 0.4, None, "protocols/protocol-0501.yaml")
    _change(folder / "protocols" / "protocol-0501.yaml")
    yield _checked("the same file when it has changed", folder, 0.4, None, "protocols/protocol-0501.yaml")
    yield _checked("the whole set when one protocol has changed", folder, 3, None)
    for name, protocol in bad_inputs():
        _write(folder, {"made": protocol})
        yield _checked(name, folder, 10, 1000)


def _write(folder: Path, protocols: Mapping[str, Written]) -> None:
    for old in (folder / "protocols").glob("*.yaml"):
        old.unlink()
    for path, content in as_files(protocols).items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content)


def _change(file: Path) -> None:
    protocol = json.loads(file.read_bytes())
    file.write_text(json.dumps({**protocol, "title": "Another title"}, indent=1), encoding="utf-8")


def _checked(
    name: str, folder: Path, most_seconds: float, most_megabytes: float | None, path: str = "protocols"
) -> Target:
    kept = {"XDG_CACHE_HOME": str(folder / "kept"), **ENVIRONMENT, "PYTHONPATH": str(ROOT / "plugins")}
    cost = run((*COMMAND, path), folder, most_seconds=PATIENCE, environment=kept)
    said = "no answer, stopped" if cost.code is None else f"exit {cost.code}, {_told(cost.output)}"
    return Target(name, most_seconds, most_megabytes, cost.seconds, cost.megabytes, said)


def _told(output: str) -> str:
    """The rules of the report's findings, or that there are none."""
    seen = dict.fromkeys(re.findall(r"^\S+:\d+:\d+  ([a-z-]+)", output, re.MULTILINE))
    return ", ".join(seen) or "no finding"
