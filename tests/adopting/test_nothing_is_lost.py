"""The law of adopted sets: whatever the baseline and the clinic do in turn, nothing that guards goes unrecorded.

After every step of a random history, the set as the clinic does it is held against the baseline it has taken in, by a
second reading that knows nothing of grades. What that reading misses must be named by a local change that the product
grades looser; and no such change without its reasons passes the check.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from stepfield.checks import check_set
from stepfield.checks.deviations import Effect, grade_of
from stepfield.language import ProtocolSet, build_set
from stepfield.language.model import Protocol, Step
from tests.adopting.catching import HEAD, TODAY, adopted, caught, source
from tests.adopting.plain_reading import Lost, Plain, loaded, lost_between, protocols_of, scenarios, tailored
from tests.adopting.wanderings import World, as_files, first_documents

LONGEST = 8
"""How many things happen in a history at most."""
SOME = settings(deadline=None, suppress_health_check=list(HealthCheck), max_examples=15)


def read(files: Mapping[str, bytes]) -> ProtocolSet:
    return build_set({f"p/{path}": data for path, data in files.items()}, "p")


def as_plain(protocol: Protocol) -> Plain:
    """What the product came to, as plain data."""
    plain = Plain(choices={one.id.value: [name.value for name, _ in one.options] for one in protocol.choices})
    plain.counted = {name for name, thing in protocol.subjects.items() if thing.counted}
    for phase in protocol.phases:
        plain.cautions[phase.id.value] = [one.kind.value for one in phase.cautions]
        plain.steps |= {step.id.value: (phase.id.value, _plain_step(step)) for step in phase.steps}
    return plain


def _plain_step(step: Step) -> dict[str, Any]:
    assert step.role is not None
    found: dict[str, Any] = {"role": step.role.value}
    found["needs"] = {need.subject.value: need.level.word for need in step.needs}
    found["makes"] = {
        one.thing.value: one.level.word for one in step.effects if one.field == "makes" and one.level is not None
    }
    found["counts"] = [one.thing.value for one in step.effects if one.field == "counts"]
    found["cautions"] = [{"kind": one.kind.value} for one in step.cautions]
    found["when"] = {part.name.value: [option.value for option in part.options] for part in step.when}
    if step.asks is not None:
        found["asks"] = {"answers": [answer.value for answer in step.asks.answers]}
    return found


def lost_here(files: Mapping[str, bytes], whole: ProtocolSet) -> Iterator[Lost]:
    """What the baseline that was taken in guards, and the set as it is done here does not."""
    documents = loaded(files)
    tailoring = documents["tailoring.yaml"]
    left_out = tailoring.get("leave_out") or []
    chosen = tailoring.get("choose") or {}
    done = {one.id: one for one in whole.protocols}
    for name, plain in protocols_of(documents).items():
        if name in left_out:
            assert name not in done
            continue
        if name not in done:
            assert name in whole.unreadable
            assert any(one.protocol == name for one in whole.problems)
            continue
        here = as_plain(done[name])
        settled = {choice: chosen[name][choice] for choice in plain.choices if choice not in here.choices}
        told = [one for one in scenarios(plain) if settled.items() <= one.items()]
        yield from lost_between(name, plain, here, told)


def on_record(lost: Lost, whole: ProtocolSet, baseline: Mapping[str, Plain]) -> bool:
    """Whether a change that is graded looser names what is lost.

    For a step it may name one whose answer it waits for; for the cautions of a phase, one of its steps.
    """
    deviations = () if whole.tailoring is None else whole.tailoring.deviations
    looser = {(one.protocol, one.name.value) for one in deviations if grade_of(one) is Effect.LOOSER}
    if lost.where == "thing":
        return (None, lost.name) in looser
    plain = baseline[lost.protocol]
    if lost.where == "phase":
        names = [step for step, (phase, _) in plain.steps.items() if phase == lost.name]
    else:
        names = list(waited_for(lost.name, plain))
    return any((lost.protocol, name) in looser for name in names)


def waited_for(name: str, plain: Plain) -> Iterator[str]:
    """A step, and those on whose answers it depends whether it is done."""
    yield name
    for other in plain.steps[name][1].get("when", {}):
        if other in plain.steps:
            yield from waited_for(other, plain)


def unrecorded(files: Mapping[str, bytes]) -> list[Lost]:
    """What is lost without a looser change that names it."""
    whole, baseline = read(files), protocols_of(loaded(files))
    lost = list(lost_here(files, whole))
    if lost:
        event("something is guarded less, and that is on record")
    return [one for one in lost if not on_record(one, whole, baseline)]


def unreasoned(files: Mapping[str, bytes]) -> set[str]:
    """Looser changes that lack a reason, who agreed, or a day, and that no finding tells of."""
    whole = read(files)
    assert whole.tailoring is not None
    lacking = {
        one.name.value
        for one in whole.tailoring.deviations
        if grade_of(one) is Effect.LOOSER and None in (one.reason.because, one.reason.agreed, one.reason.until)
    }
    if not lacking:
        return lacking
    found = [one for one in check_set(whole, TODAY, limit=30).findings if one.rule == "deviation-unreasoned"]
    return lacking - {one.step or one.subject for one in found}


def does_what_is_written(files: Mapping[str, bytes]) -> None:
    """Where every entry has its effect, each protocol is what the entries make of it by the second reading."""
    whole, documents = read(files), loaded(files)
    if any(one.rule != "unused-name" for one in whole.problems):
        event("some entry has no effect")
        return
    plain = protocols_of(documents)
    for protocol in whole.protocols:
        expected, here = tailored(plain[protocol.id], protocol.id, documents["tailoring.yaml"]), as_plain(protocol)
        told = list(scenarios(expected))
        assert list(lost_between(protocol.id, expected, here, told)) == []
        # A phase of which no step is left is not there any more, and its cautions are on record: see the law.
        back = deepcopy(expected)
        back.cautions |= {phase: [*kinds] for phase, kinds in here.cautions.items()}
        assert [one for one in lost_between(protocol.id, here, back, told) if one.where != "phase"] == []


def wander(data: st.DataObject) -> None:
    """Tries the law after every step of a random history."""
    world = World(data.draw)
    for _ in range(data.draw(st.integers(1, LONGEST))):
        before = world.files
        world.step()
        if world.files is before:
            continue
        assert unrecorded(world.files) == [], world.happened
        assert unreasoned(world.files) == set(), world.happened
        does_what_is_written(world.files)
        if world.happened[-1].startswith("catch-up"):
            assert loaded(world.files) | world.documents == loaded(world.files)
            assert caught(world.files, world.source_now()).changed == {}
    for one in world.happened:
        event(one)


LOSING = [
    ("changes: [{protocol: room, drop: count}]", "step", "count"),
    ("changes: [{protocol: room, drop: go}]", "phase", "leave"),
    ("changes: [{protocol: room, step: count, set: {counts: []}}]", "step", "count"),
    ("changes: [{protocol: room, step: count, set: {needs: {tray: clean}}}]", "step", "count"),
    ("changes: [{protocol: room, step: count, set: {when: {size: big}}}]", "step", "count"),
    ("changes: [{protocol: room, step: look, set: {when: {size: big}}}]", "step", "look"),
    ("changes: [{protocol: room, step: sign, set: {cautions: [{kind: chemical, text: T.}]}}]", "step", "sign"),
    ("changes: [{protocol: room, step: wipe, set: {makes: {side-table: clean}}}]", "step", "wipe"),
    ("changes: [{protocol: room, step: hands.rub, set: {makes: {}}}]", "step", "hands.rub"),
    ("items: {swab: {counted: false}}", "thing", "swab"),
    (
        "changes: [{protocol: room, step: go, set: {when: {size: small}}}]\nchoose: {room: {size: big}}",
        "phase",
        "leave",
    ),
]


@pytest.mark.parametrize(("entry", "where", "name"), LOSING)
def test_the_second_reading_sees_whatever_is_guarded_less(entry: str, where: str, name: str) -> None:
    """So that the law below can fail: with no change on record, each of these would break it."""
    files = {**adopted(source(as_files(first_documents()))), "tailoring.yaml": f"{HEAD}{entry}\n".encode()}
    whole = read(files)
    lost = list(lost_here(files, whole))
    assert (where, name) in {(one.where, one.name) for one in lost}
    plain = protocols_of(loaded(files))
    assert all(on_record(one, whole, plain) for one in lost)
    assert whole.tailoring is not None
    silent = replace(whole, tailoring=replace(whole.tailoring, deviations=()))
    assert not any(on_record(one, silent, plain) for one in lost)


@SOME
@given(st.data())
def test_no_history_drops_a_reset_need_caution_or_count_without_a_looser_change(data: st.DataObject) -> None:
    wander(data)


@pytest.mark.slow
@settings(SOME, max_examples=2000)
@given(st.data())
def test_no_long_history_does_either(data: st.DataObject) -> None:
    wander(data)
