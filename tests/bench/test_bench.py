"""The benchmark's protocols are always the same and as large as they say; its two encodings agree on small ones.

No time is asserted anywhere. Where SPIN is not installed (``make bench`` installs it), only the translation is tried,
not SPIN's verdict: tests/oracle has second opinions that need nothing from outside.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from bench.bad_input import bad_inputs, thousand
from bench.cases import AXES, LARGEST, ROOT, SLIPS, Case, all_cases
from bench.contest import search_with_spin
from bench.models import ROLES, Size, as_files, coupled, protocol_sized
from bench.promela import promela
from stepfield.asepsis import compile_protocol, prove
from stepfield.language import build_set
from stepfield.language.model import Protocol, ProtocolSet

DIGESTED = (
    "import hashlib; from bench.cases import all_cases; from bench.bad_input import bad_inputs;"
    "print(hashlib.sha256(repr([list(all_cases()), list(bad_inputs())]).encode()).hexdigest())"
)
SMALL = {
    "clean": (protocol_sized(Size(26, 2, 1, 5)), True),
    "one slip": (protocol_sized(Size(26, 2, 1, 5, slip=True)), False),
    "three lanes, clean": (protocol_sized(Size(36, 3, 2, 5)), True),
    "three lanes, one slip": (protocol_sized(Size(36, 3, 2, 5, slip=True)), False),
    "coupled, clean": (coupled(3, 4), True),
    "coupled, a need at the end": (coupled(3, 4, slip=True), False),
}


def read(files: dict[str, bytes]) -> ProtocolSet:
    whole = build_set(files)
    assert [problem.message for problem in whole.problems if problem.rule != "unused-name"] == []
    return whole


def made(written: dict[str, object]) -> Protocol:
    return read(as_files({"made": written})).protocols[0]


def test_the_models_are_the_same_in_every_process() -> None:
    digests = {
        subprocess.run(
            [sys.executable, "-c", DIGESTED],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": f"{ROOT / 'plugins'}:{ROOT}", "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout.strip()
        for seed in ("1", "2")
    }
    here = hashlib.sha256(repr([list(all_cases()), list(bad_inputs())]).encode()).hexdigest()
    assert digests == {here}


@pytest.mark.parametrize("size", [*(size for sizes in AXES.values() for size in sizes), LARGEST, *SLIPS], ids=str)
def test_a_model_has_the_size_it_is_named_after(size: Size) -> None:
    protocol = made(protocol_sized(size))
    graph = compile_protocol(protocol)
    widest = max(
        sum(graph.order.phase_of[step] == phase for step in lane)
        for lane in graph.order.lanes.values()
        for phase in range(len(protocol.phases))
    )
    looked_at = {part.choice for parts in graph.conditions for part in parts}
    assert (len(protocol.steps), len(protocol.team), widest) == (size.steps, size.roles, size.width)
    assert (len(protocol.choices), len(looked_at)) == (size.choices, size.choices)
    assert all(len(choice.options) == 2 for choice in protocol.choices)


@pytest.mark.parametrize("size", [Size(20, 3), Size(60, 2, 4, 5), Size(60, 1)], ids=str)
def test_a_size_that_cannot_be_is_refused(size: Size) -> None:
    with pytest.raises(ValueError, match=r"steps|choices"):
        protocol_sized(size)


def test_the_thousand_are_a_thousand_of_forty_steps() -> None:
    few = dict(list(thousand().items())[:12])
    assert len(thousand()) == 1000
    assert {len(protocol.steps) for protocol in read(as_files(few)).protocols} == {40}


@pytest.mark.parametrize("name", SMALL)
def test_two_encodings_say_the_same(name: str, tmp_path: Path) -> None:
    written, clean = SMALL[name]
    protocol = made(written)
    assert (not prove(compile_protocol(protocol)).occurrences) == clean
    files = promela(protocol)
    assert all(f"step_{number}(struct World *w)" in files["tables.h"] for number in range(len(protocol.steps)))
    assert files["model.pml"].count("proctype") == len({str(step.role) for step in protocol.steps})
    if shutil.which("spin") is None or shutil.which("gcc") is None:
        return
    for file, text in files.items():
        (tmp_path / file).write_text(text, encoding="utf-8")
    assert search_with_spin(tmp_path).clean == clean


def test_a_condition_on_an_answer_given_later_is_not_translated() -> None:
    asks = {"id": "ask", "role": ROLES[1], "do": "Ask.", "asks": {"question": "Well?", "answers": ["yes", "no"]}}
    early = {"id": "early", "role": ROLES[0], "do": "Go on.", "when": {"ask": "yes"}}
    written = {**coupled(2, 1), "phases": [{"phase": "all", "title": "All", "steps": [early, asks]}]}
    with pytest.raises(ValueError, match="may come later"):
        promela(made(written))


@pytest.mark.parametrize("case", [case for case in all_cases(small=True) if case.group == "demonstration"], ids=str)
def test_the_demonstration_is_translated_whole(case: Case) -> None:
    whole = read(case.files)
    protocol = next(one for one in whole.protocols if one.id == case.protocol)
    text = promela(protocol, whole.requirements)["tables.h"]
    assert all(f"/* {step.id} */" in text for step in protocol.steps)


def test_the_picture_says_in_words_what_it_shows() -> None:
    picture = (ROOT / "bench" / "results.svg").read_text(encoding="utf-8")
    assert '<title id="title">' in picture
    assert all(f"{axis} from " in picture for axis in AXES)
