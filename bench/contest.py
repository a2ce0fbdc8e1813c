"""The engine and SPIN on the same protocol: first that they agree, then what each took."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from stepfield.asepsis import DEFAULT_LIMIT
from stepfield.language import read_set

from .cases import ROOT, Case
from .measure import Cost, run
from .promela import promela

GENERATE = ("spin", "-a", "model.pml")
COMPILE = ("gcc", "-O2", "-w", "-DSAFETY", "-DCOLLAPSE", "-DVECTORSZ=4096", "-DMEMLIM=4000", "-o", "pan", "pan.c")
SEARCH = ("./pan", "-m100000", "-w20", "-n")
"""SPIN as its makers advise for safety: partial-order reduction (on by default), -DSAFETY, -DCOLLAPSE (on these models
both smaller and quicker than without), a hash table of 2**20 slots, no list of unreached code."""
UNREDUCED_LIMIT = 50_000
"""Without reductions the search is followed up to this many states."""
PATIENCE = 60.0
"""Seconds after which SPIN's search is stopped: its figures are then what it had come to."""
ENVIRONMENT = {"PYTHONPATH": f"{ROOT / 'plugins'}:{ROOT}"}


@dataclass(frozen=True, slots=True)
class Ours:
    """The engine: seconds to read the whole set, to prove the one protocol, and of a whole process from its start."""

    read: float
    prove: float
    cold: float
    megabytes: float
    states: int
    complete: bool
    clean: bool


@dataclass(frozen=True, slots=True)
class Spins:
    """SPIN: seconds to generate and compile, and to search; ``clean`` is None if it was stopped before."""

    prepare: float
    search: float
    megabytes: float
    states: int
    clean: bool | None


@dataclass(frozen=True, slots=True)
class Outcome:
    """Everything measured on one protocol."""

    case: Case
    reduced: Ours
    unreduced: Ours
    spin: Spins

    @property
    def ours(self) -> float:
        """Seconds to a verdict from the text, the program already running."""
        return self.reduced.read + self.reduced.prove

    @property
    def theirs(self) -> float:
        """Seconds to a verdict with SPIN, generation and compilation included."""
        return self.spin.prepare + self.spin.search


class DisagreementError(Exception):
    """The two do not say the same of a protocol: nothing is worth measuring then."""


def outcomes(cases: Iterator[Case], repeats: int) -> Iterator[Outcome]:
    """Measures each case, the two programs in turn; the quickest of ``repeats`` runs counts.

    Raises DisagreementError if the verdicts differ.
    """
    for case in cases:
        with TemporaryDirectory() as name:
            folder = Path(name)
            for path, content in case.files.items():
                (folder / path).parent.mkdir(parents=True, exist_ok=True)
                (folder / path).write_bytes(content)
            yield _outcome(case, folder, repeats)


def _outcome(case: Case, folder: Path, repeats: int) -> Outcome:
    whole = read_set(folder / "protocols")
    protocol = next(one for one in whole.protocols if one.id == case.protocol)
    for name, text in promela(protocol, whole.requirements).items():
        (folder / name).write_text(text, encoding="utf-8")
    spins: list[Spins] = []
    ours: list[Ours] = []
    for _ in range(repeats):
        ours.append(_ours(case, folder, "on", DEFAULT_LIMIT))
        if not spins or spins[0].clean is not None:
            spins.append(search_with_spin(folder))
    reduced = min(ours, key=lambda one: one.cold)
    spin = min(spins, key=lambda one: one.prepare + one.search)
    if reduced.complete and spin.clean not in (reduced.clean, None):
        raise DisagreementError(f"{case.name}: the engine says clean: {reduced.clean}, SPIN says clean: {spin.clean}")
    unreduced = _ours(case, folder, "off", UNREDUCED_LIMIT)
    if reduced.complete and unreduced.complete and unreduced.clean != reduced.clean:
        raise DisagreementError(f"{case.name}: with and without reductions the engine does not say the same")
    return Outcome(case, reduced, unreduced, spin)


def _ours(case: Case, folder: Path, reduced: str, limit: int) -> Ours:
    command = (sys.executable, "-m", "bench.worker", str(folder / "protocols"), case.protocol, reduced, str(limit))
    cost = _ran(command, ROOT)
    told = json.loads(cost.output.splitlines()[-1])
    # What was run again in the one process, to find the quickest, does not belong to a run from the start.
    cold = cost.seconds - told["later"]
    return Ours(told["read"], told["prove"], cold, cost.megabytes, told["states"], told["complete"], not told["slips"])


def search_with_spin(folder: Path) -> Spins:
    """Generates, compiles and runs the verifier of the ``model.pml`` in a folder.

    Raises RuntimeError if SPIN, the compiler or the verifier fails, or the verifier runs out of memory or depth.
    """
    prepared = sum(_ran(command, folder).seconds for command in (GENERATE, COMPILE))
    searched = run(SEARCH, folder, most_seconds=PATIENCE)
    errors, states = re.search(r"errors: (\d+)", searched.output), re.search(r"(\d+) states, stored", searched.output)
    if searched.code is None:
        reached = re.findall(r"States=\s*(\S+)", searched.output) or ["0"]
        return Spins(prepared, searched.seconds, searched.megabytes, int(float(reached[-1])), None)
    cut_short = any(said in searched.output for said in ("out of memory", "MEMLIM", "too small"))
    if errors is None or states is None or cut_short:
        raise RuntimeError(f"SPIN's search did not end as it should:\n{searched.output}")
    return Spins(prepared, searched.seconds, searched.megabytes, int(states[1]), errors[1] == "0")


def _ran(command: tuple[str, ...], folder: Path) -> Cost:
    cost = run(command, folder, most_seconds=10 * PATIENCE, environment=ENVIRONMENT)
    if cost.code != 0:
        raise RuntimeError(f"{' '.join(command)} ended with {cost.code}:\n{cost.output}")
    return cost
