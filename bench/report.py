"""The figures as Markdown tables: every time is from one run on one machine, so what counts is the ratios."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterable, Iterator
from itertools import groupby

from stepfield import __version__
from stepfield.asepsis import DEFAULT_LIMIT

from .contest import COMPILE, GENERATE, PATIENCE, SEARCH, UNREDUCED_LIMIT, Ours, Outcome
from .measure import Cost
from .targets import Target

HEAD = (
    "| model | says | states, reduced | all | read | prove | prove, all orders | MB | MB, all "
    "| SPIN: prepare | search | states | MB | SPIN / ours | from a cold start |"
)


def markdown(measured: list[Outcome], seen: list[Target], spin: Cost) -> str:
    """The whole page."""
    lines = [*_beginning(spin), *_against(measured), *_growth(measured), *_promises(seen)]
    return "\n".join(lines) + "\n"


BEGINNING = """\
# Benchmark

Made by `make bench`, which writes it anew. All figures are from one run on one machine: compare them with one another,
not with those of another machine.
"""
AGAINST = f"""\
## Against a general-purpose model checker

Both are asked the same of the same protocol, and a run in which their verdicts differ ends with an error. SPIN is
given every help: steps are compiled C functions, and those that share nothing with another lane's in their phase are
marked as local for its partial-order reduction. It stops at the first slip; the engine finds them all, each with a
shortest order, its cause and its scenarios.

- *states*, *prove*, *MB*: the engine; *all*: with its reductions off, followed up to {UNREDUCED_LIMIT:,} states
- *read*: reading the files, which goes before the proof
- *prepare*: SPIN's generation and compilation; its search is stopped after {PATIENCE:.0f} seconds (`>`)
- *SPIN / ours*: SPIN's prepare and search against our read and prove, the program already running
- *from a cold start*: the same, with the start of Python and the loading of every library counted against us

Seconds, the quicker of two runs; memory is the most a process held (less than 10 MB cannot be told), Python's
own included; for SPIN it is that of the search.
"""
GROWTH = """\
## Growth

From the first to the last row of each table above: how many times longer, and how many times more states. For SPIN it
is the search alone, without what it takes to prepare it; times of a few hundredths of a second say little.
"""
PROMISES = """\
## What was promised

Single proofs are the engine's own time, and the memory of the whole process. All else is `stepfield check` from its
start to its end.
"""


def _beginning(spin: Cost) -> Iterator[str]:
    model = next(iter(spin.output.splitlines()), "SPIN").strip()
    yield BEGINNING
    yield f"- Stepfield {__version__}, Python {platform.python_version()}, {platform.system()} on {platform.machine()}"
    yield f"- {os.cpu_count()} cores; load average at the end {os.getloadavg()[0]:.1f}"
    yield f"- {model}; `{' '.join(GENERATE)}`, `{' '.join(COMPILE)}`, `{' '.join(SEARCH)}`"
    yield ""
    yield "![Time and memory as protocols grow](results.svg)"
    yield ""


def _against(measured: list[Outcome]) -> Iterator[str]:
    yield AGAINST
    for group, those in groupby(measured, key=lambda one: one.case.group):
        yield f"### {group[0].upper()}{group[1:]}"
        yield ""
        yield HEAD
        yield "| --- | --- |" + " ---: |" * (HEAD.count("|") - 3)
        yield from (_row(one) for one in those)
        yield ""


def _row(one: Outcome) -> str:
    reduced, every, spin = one.reduced, one.unreduced, one.spin
    beyond, stopped = "" if every.complete else "> ", "" if spin.clean is not None else "> "
    bound = "" if reduced.complete else "> "
    ratios = [
        f"{stopped}{one.theirs / mine:.1f}" if reduced.complete else "no verdict" for mine in (one.ours, reduced.cold)
    ]
    cells = [
        one.case.name,
        "not proved" if not reduced.complete else "clean" if reduced.clean else "slips",
        _counted(reduced, DEFAULT_LIMIT),
        _counted(every, UNREDUCED_LIMIT),
        f"{reduced.read:.3f}",
        f"{bound}{reduced.prove:.3f}",
        beyond + f"{every.prove:.3f}",
        f"{bound}{reduced.megabytes:.0f}",
        beyond + f"{every.megabytes:.0f}",
        f"{spin.prepare:.2f}",
        stopped + f"{spin.search:.2f}",
        stopped + f"{spin.states:,}",
        stopped + f"{spin.megabytes:.0f}",
        *ratios,
    ]
    return f"| {' | '.join(cells)} |"


def _counted(ours: Ours, limit: int) -> str:
    return f"{ours.states:,}" if ours.complete else f"> {limit:,}"


def _growth(measured: list[Outcome]) -> Iterator[str]:
    yield GROWTH
    yield "| growing | from | to | ours, time | states | SPIN's search, time | states |"
    yield "| --- | ---: | ---: | ---: | ---: | ---: | ---: |"
    for group, those in groupby(measured, key=lambda one: one.case.group):
        if not group.startswith("growing "):
            continue
        row = list(those)
        first, last = row[0], row[-1]
        cells = [
            group.removeprefix("growing "),
            str(first.case.along),
            str(last.case.along),
            f"{last.reduced.prove / first.reduced.prove:.1f}",
            f"{last.reduced.states / first.reduced.states:.1f}",
            f"{last.spin.search / first.spin.search:.1f}",
            f"{last.spin.states / first.spin.states:.1f}",
        ]
        yield f"| {' | '.join(cells)} |"
    yield ""


def _promises(seen: Iterable[Target]) -> Iterator[str]:
    yield PROMISES
    yield "| what | at most | seen | kept | it says |"
    yield "| --- | --- | --- | --- | --- |"
    for one in seen:
        most = f"{one.most_seconds:g} s" + ("" if one.most_megabytes is None else f", {one.most_megabytes:g} MB")
        kept = "yes" if one.kept else "**no**"
        seen_here = f"{one.seconds:.3f} s" if one.seconds < 1 else f"{one.seconds:.1f} s"
        yield f"| {one.name} | {most} | {seen_here}, {one.megabytes:.0f} MB | {kept} | {one.said} |"
