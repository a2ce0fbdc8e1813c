"""A clinic beside the set it adopted, protocol by protocol."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator

from ...checks.blame import as_adopted
from ...checks.deviations import grades_of
from ...checks.words import quoted
from ...language.files import folder_of, place_of
from ...language.leaving_out import people_of, settled_for_good
from ...language.model import Kind, Protocol, ProtocolSet, Step, Subject
from ...language.tailored import Deviation, Reason
from ...language.tailoring_fields import bare
from .model import Agreement, Difference, Drift, Missed, ProtocolDrift, Renamed, Settled
from .telling import fields_of_step, fields_of_thing, handles, is_same_kind, same_step, whole_step, whole_thing


def is_adopted(protocol_set: ProtocolSet) -> bool:
    """Whether the set was adopted from another, as far as its files tell."""
    return protocol_set.upstream is not None or protocol_set.tailoring is not None


def drift_of(protocol_set: ProtocolSet, today: datetime.date) -> Drift:
    """What is different in an adopted set, as of a day. Raises ValueError if it was not adopted from another."""
    upstream, tailoring, clinic = protocol_set.upstream, protocol_set.tailoring, protocol_set.clinic
    named = upstream or tailoring
    if named is None:
        raise ValueError("this set was not adopted from another")
    missed = tuple(_missed(protocol_set))
    unread = [one for one in missed if one.path.rpartition("/")[2] == "tailoring.yaml"]
    return Drift(
        clinic=clinic.name if clinic is not None else "",
        baseline=str(upstream.name if upstream is not None else tailoring.baseline if tailoring is not None else ""),
        version=named.version.value,
        today=today,
        protocols=tuple(_protocols(protocol_set, today)),
        things=tuple(_things(protocol_set, protocol_set.protocols, today)),
        renamed=tuple(_renamed(protocol_set)),
        missed=missed,
        unread=unread[0] if tailoring is None and unread else None,
    )


def drift_of_protocol(protocol_set: ProtocolSet, protocol: Protocol, today: datetime.date) -> ProtocolDrift:
    """What is different in one protocol of a set; nothing if the set was not adopted from another."""
    tailoring = protocol_set.tailoring
    changes = () if tailoring is None else tailoring.deviations
    return ProtocolDrift(
        id=protocol.id,
        title=protocol.title.value,
        state="own" if _is_own(protocol_set, protocol) else "shared",
        differences=tuple(_of_step(one, today) for one in changes if one.protocol == protocol.id),
        settled=tuple(_settled(protocol_set, protocol)),
        things=tuple(_things(protocol_set, (protocol,), today)),
    )


def _protocols(protocol_set: ProtocolSet, today: datetime.date) -> Iterator[ProtocolDrift]:
    found = [drift_of_protocol(protocol_set, one, today) for one in protocol_set.protocols]
    found += [ProtocolDrift(name, name, "unreadable") for name in protocol_set.unreadable]
    left_out = protocol_set.tailoring.left_out if protocol_set.tailoring is not None else frozenset()
    if left_out:
        titles = {one.id: one.title.value for one in as_adopted(protocol_set, left_out).protocols}
        # What is left out and was never there has no effect: that is told among what is missed.
        names = _protocol_files(protocol_set)
        found += [ProtocolDrift(name, titles.get(name, name), "left-out") for name in left_out if name in names]
    yield from sorted(found, key=lambda one: one.id)


def _protocol_files(protocol_set: ProtocolSet) -> set[str]:
    folder = folder_of(protocol_set.sources)
    places = (place_of(path, folder) for path in protocol_set.sources)
    return {place.id for place in places if place.kind == "protocol"}


def _is_own(protocol_set: ProtocolSet, protocol: Protocol) -> bool:
    """Whether the shared set does not have a protocol; without digests, whether the clinic says so."""
    if protocol_set.upstream is not None:
        return f"{protocol.id}.yaml" not in protocol_set.upstream.digests
    return protocol_set.tailoring is not None and protocol.id in protocol_set.tailoring.own


def _of_step(change: Deviation, today: datetime.date) -> Difference:
    both = [one for one in (change.before, change.after) if isinstance(one, Step)]
    is_set = change.what == "set"
    return Difference(
        kind=change.what,
        protocol=change.protocol,
        name=change.name.value,
        title=" ".join(both[0].do.value.split()),
        fields=tuple(fields_of_step(change)) if is_set else (),
        told=() if is_set else whole_step(both[0]),
        grades=grades_of(change),
        agreement=_agreement(change.reason, today),
        path=change.span.path,
        line=change.span.line,
        roles=frozenset(role for one in both for role in people_of(one)),
        value=same_step(both[0]) if change.what == "add" else change.what,
    )


def _things(protocol_set: ProtocolSet, protocols: Iterable[Protocol], today: datetime.date) -> Iterator[Difference]:
    """The things that differ, those that one of the protocols uses."""
    tailoring = protocol_set.tailoring
    for change in tailoring.deviations if tailoring is not None else ():
        before, after = change.before, change.after
        if not isinstance(after, Subject):
            continue
        is_new = not isinstance(before, Subject)
        using = [one for one in protocols if _uses(one, after)]
        if using:
            steps = [step for one in using for step in one.steps if handles(step, after.name.value)]
            yield Difference(
                kind="new-thing" if is_new else "thing",
                protocol=None,
                name=change.name.value,
                title=before.title if isinstance(before, Subject) else after.title,
                fields=tuple(fields_of_thing(before, after)) if isinstance(before, Subject) else (),
                told=whole_thing(after) if is_new else (),
                grades=grades_of(change),
                agreement=_agreement(change.reason, today),
                path=change.span.path,
                line=change.span.line,
                roles=frozenset(role for step in steps for role in people_of(step)),
                value=repr(bare(after)) if is_new else "",
            )


def _uses(protocol: Protocol, thing: Subject) -> bool:
    """Whether a protocol has a thing; the surfaces that the clinic has anyway only where a step has to do with it."""
    known = protocol.subjects.get(thing.name.value)
    if known is None or not is_same_kind(known, thing):
        return False
    return known.kind is not Kind.SURFACE or any(handles(step, thing.name.value) for step in protocol.steps)


def _agreement(reason: Reason, today: datetime.date) -> Agreement:
    until = None if reason.until is None else reason.until[0]
    return Agreement(
        because="" if reason.because is None else " ".join(reason.because.value.split()),
        by="" if reason.agreed is None else reason.agreed.by,
        on=None if reason.agreed is None else reason.agreed.date,
        until=until,
        days_left=None if until is None else (until - today).days,
    )


def _settled(protocol_set: ProtocolSet, protocol: Protocol) -> Iterator[Settled]:
    """The choices that are settled, each with the steps that nobody does any more because of it."""
    tailoring = protocol_set.tailoring
    if tailoring is None or protocol.id not in tailoring.settled:
        return
    dropped = {one.name.value for one in tailoring.deviations if one.protocol == protocol.id and one.what == "drop"}
    phases = tailoring.adopted.get(protocol.id, ())
    for choice in tailoring.choices.get(protocol.id, ()):
        option = tailoring.settled[protocol.id][choice.id.value]
        _, never = settled_for_good(phases, {choice.id.value: option})
        told = tuple(
            (step.id.value, " ".join(step.do.value.split()))
            for phase in phases
            for step in phase.steps
            if step.id.value in never - dropped
        )
        titles = {name.value: title for name, title in choice.options}
        yield Settled(choice.id.value, option, choice.title, titles[option], told)


def _renamed(protocol_set: ProtocolSet) -> Iterator[Renamed]:
    """The roles that tailoring.yaml calls otherwise than clinic.yaml."""
    clinic = protocol_set.clinic
    plain = as_adopted(protocol_set, ()).clinic if protocol_set.tailoring is not None else None
    titles = {role.id.value: role.title for role in plain.roles} if plain is not None else {}
    for role in clinic.roles if clinic is not None else ():
        before = titles.get(role.id.value, role.title)
        if before != role.title:
            yield Renamed(role.id.value, before, role.title)


def _missed(protocol_set: ProtocolSet) -> Iterator[Missed]:
    """What is not as it seems: entries without effect, adopted files that were edited, files that cannot be read."""
    upstream, tailoring = protocol_set.upstream, protocol_set.tailoring
    for one in protocol_set.problems:
        is_entry = one.span.path.rpartition("/")[2] in ("tailoring.yaml", "upstream.yaml")
        if is_entry or one.rule in ("bad-yaml", "bad-shape"):
            yield Missed(one.message, one.span.path, one.span.line)
    if upstream is not None:
        folder, slash, _ = upstream.path.rpartition("/")
        for path, (key, digest) in upstream.digests.items():
            found = upstream.found.get(path)
            if found is None:
                yield Missed(f"the adopted file {quoted(path)} is not there any more", upstream.path, key.span.line)
            elif found != digest:
                message = "this file was edited here: what differs in it is not listed"
                yield Missed(message, f"{folder}{slash}{path}", 1)
        if tailoring is not None and tailoring.version.value != upstream.version.value:
            message = (
                f"the local changes were written for version {tailoring.version}, "
                f"and the shared files are those of {upstream.version}"
            )
            yield Missed(message, tailoring.path, tailoring.version.span.line)
