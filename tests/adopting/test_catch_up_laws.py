"""Laws of catching up, for any newer text and any local changes of a small set."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stepfield.adopting import CaughtUp, Fate, Settled, Source
from stepfield.checks.deviations import Effect, grade_of
from stepfield.language import ProtocolSet, build_set
from stepfield.language.model import Step
from stepfield.language.tailoring_fields import field_of
from tests.adopting.catching import HEAD, adopted, caught, source

LEVELS = st.sampled_from(["clean", "disinfected", "sterile"])
FIELDS = st.fixed_dictionaries(
    {},
    optional={
        "do": st.sampled_from(["Do it.", "Do it well."]),
        "needs": st.dictionaries(st.sampled_from(["tray", "table"]), LEVELS, max_size=2),
        "makes": st.dictionaries(st.sampled_from(["tray", "table"]), LEVELS, max_size=2),
        "counts": st.lists(st.just("swab"), max_size=1),
        "cautions": st.lists(st.sampled_from(["sharps", "fire"]).map(lambda k: {"kind": k, "text": "T."}), max_size=2),
        "takes": st.sampled_from(["1 min", "2 min", "3 min"]),
    },
)
NAMES = ["first", "second", "third", "fourth"]
STEPS = st.lists(st.sampled_from(NAMES), unique=True, min_size=1).flatmap(
    lambda names: st.tuples(*(FIELDS.map(lambda fields, name=name: {"id": name, **fields}) for name in names))
)
CHANGES = st.lists(
    st.one_of(
        st.builds(
            lambda step, fields: {"step": step, "set": {"do": "Here.", **fields}}, st.sampled_from(NAMES), FIELDS
        ),
        st.builds(lambda step: {"drop": step}, st.sampled_from(NAMES)),
        st.builds(
            lambda step, fields: {
                "add": {"id": "ours", "role": "scrub", "do": "Ours.", **fields},
                "place": {"after": step},
            },
            st.sampled_from(NAMES),
            FIELDS,
        ),
    ),
    max_size=3,
)
QUICK = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def protocol(steps: tuple[dict[str, Any], ...], version: str) -> str:
    lines = [{"role": "scrub", "do": "As it is.", **step} for step in steps]
    whole = {
        "kind": "protocol",
        "title": "Room",
        "version": version,
        "owner": "lead",
        "team": ["scrub"],
        "surfaces": {"tray": {}, "table": {}},
        "items": {"swab": {"counted": True}},
        "phases": [{"phase": "room", "steps": lines}],
    }
    return yaml.safe_dump(whole, sort_keys=False)


def text(steps: tuple[dict[str, Any], ...], version: str) -> Source:
    return source({"room.yaml": protocol(steps, version)}, version)


def tailored(old: Source, changes: list[dict[str, Any]]) -> dict[str, bytes]:
    files = adopted(old)
    if changes:
        entries = yaml.safe_dump({"changes": [{"protocol": "room", **one} for one in changes]}, sort_keys=False)
        files["tailoring.yaml"] = f"# ours\n{HEAD}{entries}# the end\n".encode()
    return files


def read(files: Mapping[str, bytes]) -> ProtocolSet:
    return build_set({f"p/{path}": data for path, data in files.items()}, "p")


@QUICK
@given(STEPS, STEPS)
def test_with_no_local_change_catching_up_is_adopting_anew(old: Any, new: Any) -> None:
    found = caught(adopted(text(old, "1.0.0")), text(new, "1.1.0"))
    assert found.undecided == ()
    assert found.after == adopted(text(new, "1.1.0"))


@QUICK
@given(STEPS, STEPS, CHANGES, st.sampled_from(["keep", "take"]))
def test_catching_up_twice_is_catching_up_once(old: Any, new: Any, changes: Any, way: str) -> None:
    settled = Settled(**{way: frozenset({"all"})})
    once = caught(tailored(text(old, "1.0.0"), changes), text(new, "1.1.0"), settled)
    twice = caught(once.after, text(new, "1.1.0"))
    assert once.undecided == ()
    assert (twice.after, twice.changed, twice.removed) == (once.after, {}, ())


@QUICK
@given(STEPS, STEPS, CHANGES, st.sampled_from(["keep", "take"]))
def test_no_word_of_tailoring_is_lost_and_no_entry_passed_over(old: Any, new: Any, changes: Any, way: str) -> None:
    files = tailored(text(old, "1.0.0"), changes)
    found = caught(files, text(new, "1.1.0"), Settled(**{way: frozenset({"all"})}))
    assert len(found.entries) == len(changes)
    before = files["tailoring.yaml"].decode().replace("1.0.0", "1.1.0")
    lost = Counter(before.split()) - Counter(found.after["tailoring.yaml"].decode().split())
    assert set(lost) <= {"-"}, lost
    # Whatever entry still stands had an effect and has one, or is told.
    told = {one.subject for one in found.appeared if one.rule in ("tailoring-lost", "taken-name")}
    problems = {one.subject for one in read(found.after).problems if one.rule in ("tailoring-lost", "taken-name")}
    known = {one.subject for one in read(found.before).problems}
    assert problems <= told | known


@QUICK
@given(STEPS, STEPS, CHANGES)
def test_a_change_that_fits_does_what_it_did(old: Any, new: Any, changes: Any) -> None:
    found = caught(tailored(text(old, "1.0.0"), changes), text(new, "1.1.0"), Settled(keep=frozenset({"all"})))
    before, after = (
        {(one.what, one.name.value): one for one in deviations(files)} for files in (found.before, found.after)
    )
    for one in found.entries:
        entry = one.met.entry
        key = (entry.kind, entry.target)
        if one.met.fate is not Fate.FITS or one.met.needless or key not in before:
            continue
        assert entry.written is not None
        step, other = before[key].after, after[key].after
        for name in entry.written.fields if isinstance(step, Step) and isinstance(other, Step) else ():
            assert field_of(step, name.value) == field_of(other, name.value)


def deviations(files: Mapping[str, bytes]) -> tuple[Any, ...]:
    tailoring = read(files).tailoring
    return () if tailoring is None else tailoring.deviations


def guarded(step: Step) -> Counter[tuple[str, str, int]]:
    """What a step asks for, each as many times as it holds at its level or a lower one."""
    found: Counter[tuple[str, str, int]] = Counter()
    for need in step.needs:
        found.update(("need", need.subject.value, level) for level in range(1, need.level + 1))
    for effect in step.effects:
        if effect.field == "makes" and effect.level is not None:
            found.update(("reset", effect.thing.value, level) for level in range(effect.level + 1))
        elif effect.field == "counts":
            found["count", effect.thing.value, 0] = 1
    found.update(("caution", caution.kind.value, 0) for caution in step.cautions)
    return found


def steps_of(files: Mapping[str, bytes]) -> dict[str, Step]:
    return {step.id.value: step for one in read(files).protocols for step in one.steps}


def told_of(found: CaughtUp) -> set[str]:
    """Steps at which the report tells of something that is guarded less, or of what became of a local change."""
    loosened = {one.name for one in found.loosened}
    entries = {one.met.entry.target for one in found.entries if one.met.fate is not Fate.FITS or one.decision == "take"}
    return loosened | entries


@QUICK
@given(STEPS, STEPS, CHANGES, st.sampled_from(["keep", "take"]))
def test_nothing_that_guards_goes_unless_it_is_on_record_or_told(old: Any, new: Any, changes: Any, way: str) -> None:
    found = caught(tailored(text(old, "1.0.0"), changes), text(new, "1.1.0"), Settled(**{way: frozenset({"all"})}))
    before, after = steps_of(found.before), steps_of(found.after)
    looser = {one.name.value for one in deviations(found.after) if grade_of(one) is Effect.LOOSER}
    renamed = (
        {change.was: change.name for one in found.review.protocols for change in one.changes} if found.review else {}
    )
    for name, step in before.items():
        now = after.get(name) or after.get(renamed.get(name, name))
        lost = guarded(step) - (guarded(now) if now is not None else Counter())
        assert not lost or name in looser | told_of(found), (name, lost)
