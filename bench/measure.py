"""Running a program and learning what it cost: seconds by the clock, and the most memory it held."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

LAUNCHER = Path(__file__).parent / "launch.py"
STOPPED = -1000


@dataclass(frozen=True, slots=True)
class Cost:
    """What one run cost: ``seconds`` by the clock, ``processor`` seconds of work; ``code`` is None if stopped."""

    seconds: float
    processor: float
    megabytes: float
    code: int | None
    output: str


def run(
    command: Sequence[str], folder: Path, *, most_seconds: float, environment: Mapping[str, str] | None = None
) -> Cost:
    """Runs a command to its end, or stops it and all it started after ``most_seconds``. Its children count with it."""
    with tempfile.TemporaryDirectory() as name:
        result = Path(name, "cost")
        ended = subprocess.run(  # noqa: S603 - commands of the benchmark itself
            [sys.executable, "-I", "-S", str(LAUNCHER), str(result), str(most_seconds), *command],
            cwd=folder,
            env={**os.environ, **(environment or {})},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            check=True,
        )
        seconds, processor, kilobytes, code = result.read_text(encoding="utf-8").split()
    return Cost(
        seconds=float(seconds),
        processor=float(processor),
        megabytes=int(kilobytes) / 1024,
        code=None if int(code) == STOPPED else int(code),
        output=ended.stdout.decode(errors="replace"),
    )
