"""What was edited in an adopted text, as entries of tailoring.yaml that say the same.

Both texts are read without local changes, with parts unfolded, and compared step by step and field by field.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from ..language.leaving_out import without_steps
from ..language.model import Kind, Phase, Protocol, ProtocolSet, Step, Subject
from ..language.names import listed, quoted
from ..language.schemas import schema
from ..language.source import Span, Text
from ..language.tailoring_fields import bare, field_of
from ..language.written_fields import written_field
from ..language.written_things import ATTRIBUTES, written_attribute, written_thing
from ..language.yaml_nodes import Plain
from .additions import Addition
from .fate import ALL

_CLEARED = frozenset({"why", "when", "takes", "asks", "repeat"})
"""What is taken out with `clear` and not set to something empty."""
_ITEMS = (Kind.ITEM, Kind.PACK)


@dataclass(frozen=True, slots=True)
class Unsaid:
    """An edit that no entry of tailoring.yaml can say, and where it stands."""

    message: str
    span: Span


Edits = Iterator[Addition | Unsaid]


def edits_between(was: ProtocolSet, now: ProtocolSet, here: ProtocolSet) -> Edits:
    """The entries that make the one text say what the other says, and the edits that no entry can say.

    Both sets have the same protocols and a tailoring.yaml that changes nothing. ``here`` is the edited one with what is
    tailored already; protocols that it leaves out are not looked at.
    """
    assert was.tailoring is not None
    assert now.tailoring is not None
    before, names = {one.id: one for one in was.protocols}, flat_names(was, now)
    used = {one.id for one in here.protocols}
    for protocol in now.protocols:
        name = protocol.id
        if name not in used:
            continue
        yield from _things(before[name], protocol, here)
        phases = flattened(now.tailoring.adopted[name], names[name])
        yield from _steps(protocol, was.tailoring.adopted[name], phases)


def flat_names(was: ProtocolSet, now: ProtocolSet) -> Mapping[str, Mapping[str, str]]:
    """For each protocol, the names that new steps inside a part get as steps of their own: with no dot."""
    before = {one.id: {step.id.value for step in one.steps} for one in was.protocols}
    return {
        one.id: {
            name: name.replace(".", "-")
            for step in one.steps
            if (name := step.id.value) not in before.get(one.id, ()) and "." in name
        }
        for one in now.protocols
    }


def flattened(phases: tuple[Phase, ...], names: Mapping[str, str]) -> tuple[Phase, ...]:
    """The phases with some steps named anew, wherever they are named."""
    if not names:
        return phases

    def named(name: Text) -> Text:
        return Text(names.get(name.value, name.value), name.span)

    def step(one: Step) -> Step:
        return replace(
            one,
            id=named(one.id),
            after=tuple(map(named, one.after)),
            when=tuple(replace(part, name=named(part.name)) for part in one.when),
            waits=tuple(replace(wait, step=named(wait.step)) for wait in one.waits),
            within=tuple(replace(wait, step=named(wait.step)) for wait in one.within),
            repeat=one.repeat and replace(one.repeat, start=named(one.repeat.start)),
        )

    return tuple(replace(phase, steps=tuple(map(step, phase.steps))) for phase in phases)


def _steps(protocol: Protocol, was: tuple[Phase, ...], now: tuple[Phase, ...]) -> Edits:
    old = {step.id.value: step for phase in was for step in phase.steps}
    new = {step.id.value: step for phase in now for step in phase.steps}
    for told in _of_phases(was, now):
        yield told
        return  # what else differs is told once this is settled
    gone = [name for name in old if name not in new]
    left = without_steps(was, dict.fromkeys(gone, protocol.span))
    kept = {step.id.value: step for phase in left for step in phase.steps}
    for name, step in new.items():
        if name in old:
            yield from _set(protocol, old[name], kept[name], step)
    for phase in now:
        yield from _added(protocol, phase, old)
    for name in gone:
        yield Addition("changes", {"protocol": protocol.id, "drop": name})


def _of_phases(was: tuple[Phase, ...], now: tuple[Phase, ...]) -> Iterator[Unsaid]:
    """What differs in the phases themselves, and in the order of the steps in them."""
    old = {phase.id.value: phase for phase in was}
    home = {step.id.value: phase.id.value for phase in was for step in phase.steps}
    names = [phase.id.value for phase in now]
    if [name for name in old if name in names] != [name for name in names if name in old]:
        yield Unsaid("the phases stand in another order than they did", now[0].id.span)
    for phase in now:
        before = old.get(phase.id.value)
        if before is None:
            yield Unsaid(
                f"the phase {quoted(phase.id.value)} is new, and steps are added only to phases", phase.id.span
            )
            continue
        if before.title != phase.title:
            yield Unsaid(f"the phase {quoted(phase.id.value)} has another title", phase.id.span)
        if bare(before.cautions) != bare(phase.cautions):
            yield Unsaid(
                f"the phase {quoted(phase.id.value)} has other cautions; give them to its steps", phase.id.span
            )
        moved = [step for step in phase.steps if home.get(step.id.value, phase.id.value) != phase.id.value]
        for step in moved:
            message = f"{quoted(step.id.value)} stands in another phase than it did"
            yield Unsaid(f"{message}; give it another name, so that the old one is left out and it is added", step.span)
        mine = {step.id.value: step for step in phase.steps if step.id.value in home and step not in moved}
        order = [step.id.value for step in before.steps if step.id.value in mine]
        for expected, name in zip(order, mine, strict=False):
            if expected != name:
                message = f"{quoted(name)} stands before {quoted(expected)}, which it followed"
                yield Unsaid(
                    f"{message}; a step that is to come earlier is written with `after` in the other", mine[name].span
                )
                break


def _set(protocol: Protocol, was: Step, kept: Step, now: Step) -> Edits:
    """The fields of a step that differ; ``kept`` is the old one as it is once the steps that are gone are left out."""
    changed = [field for field in ALL if field_of(kept, field) != field_of(now, field)]
    if "after" in changed and _is_kept(was, kept, now):
        changed.remove("after")
    if not changed:
        return
    given = {field: written_field(now, field) for field in changed}
    given |= {field: None for field in _CLEARED & given.keys() if not given[field]}
    for field, value in given.items():
        if value is None and field not in _CLEARED:
            yield Unsaid(f"{quoted(now.id.value)} has no {field} any more", now.span)
            return
    told: dict[str, Plain] = {
        "set": {field: one for field, one in given.items() if one is not None},
        "clear": [field for field, one in given.items() if one is None],
        "expects": {field: one for field in changed if (one := written_field(was, field)) or field not in _CLEARED},
    }
    said = {key: one for key, one in told.items() if one}
    yield Addition("changes", {"protocol": protocol.id, "step": now.id.value, **said})


def _is_kept(was: Step, kept: Step, now: Step) -> bool:
    """Whether a step comes after the same as it did but for what leaving others out adds."""
    before, with_kept, after = ({one.value for one in step.after} for step in (was, kept, now))
    return after <= with_kept and with_kept - after <= with_kept - before


def _added(protocol: Protocol, phase: Phase, old: Mapping[str, Step]) -> Edits:
    behind: str | None = None
    names = [step.id.value for step in phase.steps]
    for step in phase.steps:
        name = step.id.value
        if name not in old:
            following = next((one for one in names[names.index(name) :] if one in old), None)
            if behind is None and following is None:
                yield Unsaid(f"no step is left in the phase {quoted(phase.id.value)} to add others beside", step.span)
                return
            place: Plain = {"before": following} if behind is None else {"after": behind}
            fields = {field: written_field(step, field) for field in ALL}
            said = {field: value for field, value in fields.items() if value not in (None, [], {}, False)}
            yield Addition("changes", {"protocol": protocol.id, "add": {"id": name, **_in_order(said)}, "place": place})
        behind = name


def _in_order(fields: Mapping[str, Plain]) -> dict[str, Plain]:
    """The fields in the order of the schema."""
    order = schema("definitions")["$defs"]["step"]["properties"]
    return {field: fields[field] for field in order if field in fields}


def _things(was: Protocol, now: Protocol, whole: ProtocolSet) -> Edits:
    packs: dict[str, dict[str, Plain]] = {}
    for name, thing in now.subjects.items():
        old = was.subjects.get(name)
        if old is None:
            yield from _new_thing(now, thing, packs)
        elif bare(old) != bare(thing):
            yield from _changed(now, old, thing, whole)
    for name, value in packs.items():
        if now.subjects[name].held_in is None:
            yield Addition("packs", value, name)


def _new_thing(protocol: Protocol, thing: Subject, packs: dict[str, dict[str, Plain]]) -> Edits:
    """A thing that is new; new packs are gathered in ``packs`` with what they hold."""
    name, value = thing.name.value, written_thing(thing)
    if thing.kind is Kind.PERSON:
        return
    if thing.kind is Kind.SITE:
        yield Unsaid(f"the site {quoted(name)} is new, and sites cannot be added", thing.name.span)
        return
    if thing.kind is Kind.PACK:
        packs[name] = value if thing.held_in is not None else {**value, "in": [protocol.id]}
        value = packs[name]
    if thing.held_in in packs:
        holder = packs[str(thing.held_in)].setdefault("holds", {})
        assert isinstance(holder, dict)
        holder[name] = value
    elif thing.kind is Kind.PACK and thing.held_in is not None:
        message = f"the pack {quoted(name)} is new in {quoted(thing.held_in)}; only packs of their own can be added"
        yield Unsaid(message, thing.name.span)
    elif thing.kind is not Kind.PACK:
        key = "surfaces" if thing.kind is Kind.SURFACE else "items"
        lies: dict[str, Plain] = {} if thing.held_in is None else {"pack": thing.held_in}
        yield Addition(key, {**value, "in": [protocol.id], **lies}, name)


def _changed(protocol: Protocol, was: Subject, now: Subject, whole: ProtocolSet) -> Edits:
    name, span = now.name.value, now.name.span
    if now.kind is Kind.PERSON:
        return
    if now.kind is not was.kind or now.held_in != was.held_in or now.kind is Kind.SITE:
        what = "a site, and sites cannot be changed" if now.kind is Kind.SITE else "of another kind, or lies elsewhere"
        yield Unsaid(f"{quoted(name)} is {what}", span)
        return
    fields = [one for one in ATTRIBUTES if written_attribute(was, one) != written_attribute(now, one)]
    value = {field: written_attribute(now, field) for field in fields}
    for field, given in value.items():
        if given is None:
            yield Unsaid(f"{quoted(name)} has no {field} any more", span)
            return
    kinds = _ITEMS if now.kind in _ITEMS else (Kind.SURFACE,)
    others = [
        one.id
        for one in whole.protocols
        if one.id != protocol.id
        and (other := one.subjects.get(name)) is not None
        and other.kind in kinds
        and any(written_attribute(other, field) != given for field, given in value.items())
    ]
    if others:
        message = f"{quoted(name)} differs here alone, and an entry would change it in {listed(others, 'and')} too"
        yield Unsaid(message, span)
        return
    yield Addition("surfaces" if now.kind is Kind.SURFACE else "items", value, name)
