"""Ten releases of the demonstration set, and a clinic with changes of its own that catches up with each.

What it comes to is kept in ``releases/expected``, to be read: the headline of every report, the last tailoring.yaml,
and every step that ends otherwise than it stood in the set that was adopted.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from stepfield.adopting import CaughtUp, Settled, Source, adopted_clinic, catch_up, source_in
from stepfield.adopting.report import opening
from stepfield.checks import check_set
from stepfield.checks.deviations import FIELDS
from stepfield.language import ProtocolSet, build_set
from stepfield.language.editing import in_flow
from stepfield.language.model import Protocol, Step
from stepfield.language.written_fields import written_field
from tests.adopting.releases.fernwick import NAME, SETTLED, TAILORING, settled
from tests.adopting.releases.history import FIRST, NAIL, RELEASES, TOENAIL, Release, edited

DEMO = Path(__file__).parents[2] / "protocols"
EXPECTED = Path(__file__).parent / "releases" / "expected"
BEGUN = datetime.date(2026, 11, 2)
CAUTION = "That nothing is found does not say that it is safe: whoever approves it reads what is new."


@dataclass(frozen=True, slots=True)
class Taken:
    """One release, what catching up with it came to, and the clinic's files once its lead has written."""

    release: Release
    source: Source
    found: CaughtUp
    files: Mapping[str, bytes]


def own_files(source: Source, day: datetime.date, tailoring: bytes) -> dict[str, bytes]:
    """The files of the clinic's set as it adopts a text of the baseline."""
    files = adopted_clinic(source, NAME, day)
    inside = {path.removeprefix("protocols/"): data for path, data in files.items() if path.startswith("protocols/")}
    return {**inside, "tailoring.yaml": tailoring}


def read(files: Mapping[str, bytes]) -> ProtocolSet:
    return build_set({f"protocols/{path}": data for path, data in files.items()}, "protocols")


def findings(files: Mapping[str, bytes], day: datetime.date) -> list[str]:
    return [f"{one.rule}: {one.message}" for one in check_set(read(files), day).findings]


@pytest.fixture(scope="module")
def first() -> Source:
    return source_in(DEMO, version=FIRST)


@pytest.fixture(scope="module")
def history(first: Source) -> tuple[Taken, ...]:
    taken = []
    texts: Mapping[str, str] = {path: data.decode() for path, data in first.files.items()}
    files: Mapping[str, bytes] = own_files(first, BEGUN, TAILORING)
    for release in RELEASES:
        texts = edited(texts, release)
        source = replace(first, version=release.version, files={path: text.encode() for path, text in texts.items()})
        settling = settled(release.version)
        found = catch_up(files, source, release.day, Settled(settling.keep), shown="protocols")
        files = {**found.after, "tailoring.yaml": settling.written(found.after["tailoring.yaml"])}
        taken.append(Taken(release, source, found, files))
    return tuple(taken)


def test_the_first_set_and_every_one_after_a_release_has_no_findings(first: Source, history: tuple[Taken, ...]) -> None:
    assert len(history) == 10
    assert findings(own_files(first, BEGUN, TAILORING), BEGUN) == []
    for taken in history:
        assert findings(taken.files, taken.release.day) == [], taken.release.version


def test_somebody_is_asked_where_the_names_and_values_they_wrote_have_changed(history: tuple[Taken, ...]) -> None:
    asked = {
        taken.release.version: frozenset(one.met.entry.name for one in taken.found.entries if one.met.asks)
        for taken in history
    }
    assert {version: names for version, names in asked.items() if names} == {
        version: one.keep for version, one in SETTLED.items() if one.keep
    }
    # Once the new names are written, nothing is left of the findings that a lost entry makes.
    assert [len(taken.found.appeared) for taken in history] == [0, 0, 0, 1, 1, 0, 0, 1, 0, 0]
    assert {one.rule for taken in history for one in taken.found.appeared} == {"tailoring-lost"}
    assert all(taken.found.undecided == () for taken in history)


def test_the_headline_of_every_report(history: tuple[Taken, ...]) -> None:
    told = "\n".join("\n".join(headline(taken)) + "\n" for taken in history)
    assert told == (EXPECTED / "headlines.txt").read_text(encoding="utf-8")


def headline(taken: Taken) -> Iterator[str]:
    found = taken.found
    yield f"{taken.release.version}: {taken.release.brings}"
    yield from (f"  {line}" for line in opening(found) if line != CAUTION)
    assert CAUTION in opening(found)
    assert found.review is not None
    for one in found.review.protocols:
        if one.state != "unchanged" or one.grade is not None:
            grade = "" if one.grade is None else f", {one.grade.word}"
            yield f"  In the baseline: {one.protocol} {one.state}{grade}"
    yield from (f"  Guarded less: {one.say}" for one in found.loosened)
    for settling in found.entries:
        met = settling.met
        if met.asks or met.beside or settling.decision == "take":
            yield f"  {met.entry.name}: {met.why} ({settling.decision})"


def test_the_last_tailoring_is_the_one_that_is_expected(history: tuple[Taken, ...]) -> None:
    text = history[-1].files["tailoring.yaml"].decode()
    assert text == (EXPECTED / "tailoring.yaml").read_text(encoding="utf-8")


def test_the_last_set_is_the_last_release_adopted_anew_with_this_tailoring(history: tuple[Taken, ...]) -> None:
    last = history[-1]
    tailoring = (EXPECTED / "tailoring.yaml").read_bytes()
    assert dict(last.files) == own_files(last.source, last.release.day, tailoring)


def test_every_step_ends_as_expected(first: Source, history: tuple[Taken, ...]) -> None:
    before, after = read({**own_files(first, BEGUN, TAILORING), "tailoring.yaml": PLAIN}), read(history[-1].files)
    told = "\n".join("\n".join(one) + "\n" for one in told_protocols(before, after))
    assert told == (EXPECTED / "steps.txt").read_text(encoding="utf-8")


PLAIN = f"baseline: {{name: Quillhaven Day Surgery, version: {FIRST}}}\n".encode()
HEIRS = {Path(TOENAIL).stem: Path(NAIL).stem}


def told_protocols(before: ProtocolSet, after: ProtocolSet) -> Iterator[list[str]]:
    """What differs between two sets, protocol by protocol and step by step."""
    known = {HEIRS.get(one.id, one.id): one for one in before.protocols}
    for protocol in after.protocols:
        old = known.pop(protocol.id, None)
        if old is None:
            yield [f"{protocol.id}: new", *(f"  {step.id}" for step in protocol.steps)]
        else:
            name = protocol.id if old.id == protocol.id else f"{protocol.id}, which was {old.id}"
            yield [name, *(f"  {line}" for line in told_steps(old, protocol))]
    assert known == {}


def told_steps(old: Protocol, new: Protocol) -> Iterator[str]:
    was, now = ({step.id.value: step for step in one.steps} for one in (old, new))
    yield from (f"{name}: gone" for name in was if name not in now)
    behind = "nothing"
    for name, step in now.items():
        if name not in was:
            yield f"{name}: new behind {behind}"
            yield from (f"  {line}" for line in told_fields(None, step))
        elif lines := list(told_fields(was[name], step)):
            yield f"{name}:"
            yield from (f"  {line}" for line in lines)
        behind = name


def told_fields(old: Step | None, new: Step) -> Iterator[str]:
    for field in FIELDS:
        was, now = (None if step is None else written_field(step, field) for step in (old, new))
        if was != now and now not in (None, False, [], {}):
            yield f"{field}: {in_flow(now)}"
        elif was != now and was not in (None, False, [], {}):
            yield f"{field}: gone, was {in_flow(was)}"
