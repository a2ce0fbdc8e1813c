"""Whether two protocol sets ask the same of everybody: step by step, in the same orders."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from ..asepsis import order_of
from ..asepsis.order import bits
from ..language.model import Protocol, ProtocolSet
from ..language.names import listed, quoted
from ..language.tailoring_fields import bare, field_of
from .edits import flattened
from .fate import ALL

MOST_TOLD = 3


@dataclass(frozen=True, slots=True)
class Unlike:
    """One thing in which the second set is not as the first; ``kept`` if it asks for no less, so that it may be.

    ``protocol`` is None for what concerns the whole set.
    """

    message: str
    kept: bool
    protocol: str | None = None


def differences(meant: ProtocolSet, made: ProtocolSet, names: Mapping[str, Mapping[str, str]]) -> Iterator[Unlike]:
    """What differs between two sets; ``names`` are new names of steps of the first one, by protocol.

    Waiting for more than was meant, as leaving steps out keeps it, and things that nothing uses are no harm.
    """
    other = {one.id: one for one in made.protocols}
    if bare(meant.clinic) != bare(made.clinic) or bare(meant.requirements) != bare(made.requirements):
        yield Unlike("the clinic or its requirements would not be the same", kept=False)
    if {one.id for one in meant.protocols} != other.keys():
        yield Unlike("the protocols would not be the same", kept=False)
        return
    for protocol in meant.protocols:
        phases = flattened(protocol.phases, names.get(protocol.id, {}))
        for one in _of_protocol(replace(protocol, phases=phases), other[protocol.id]):
            yield replace(one, protocol=protocol.id)


def _of_protocol(meant: Protocol, made: Protocol) -> Iterator[Unlike]:
    for what in ("team", "choices"):
        if bare(getattr(meant, what)) != bare(getattr(made, what)):
            yield Unlike(f"the {what} of {quoted(meant.id)} would not be the same", kept=False)
    for name, thing in meant.subjects.items():
        if name not in made.subjects or bare(made.subjects[name]) != bare(thing):
            yield Unlike(f"{quoted(name)} of {quoted(meant.id)} would not be the same", kept=False)
    for name in made.subjects:
        if name not in meant.subjects:
            yield Unlike(f"{quoted(name)} stays declared in {quoted(meant.id)}, though no step uses it", kept=True)
    shapes = [
        [(one.id.value, one.title, bare(one.cautions), [step.id.value for step in one.steps]) for one in each.phases]
        for each in (meant, made)
    ]
    if shapes[0] != shapes[1]:
        yield Unlike(f"the steps of {quoted(meant.id)} would not stand as they do in the edited file", kept=False)
        return
    for old, new in zip(meant.steps, made.steps, strict=True):
        unlike = [field for field in ALL if field != "after" and field_of(old, field) != field_of(new, field)]
        if unlike:
            message = f"{listed(unlike, 'and')} of {quoted(old.id.value)} would not be as in the edited file"
            yield Unlike(message, kept=False)
    yield from _of_order(meant, made)


def _of_order(meant: Protocol, made: Protocol) -> Iterator[Unlike]:
    names = [step.id.value for step in meant.steps]
    wanted, found = (order_of(one).ancestors() for one in (meant, made))
    more = [have & ~asked for asked, have in zip(wanted, found, strict=True)]
    for number, name in enumerate(names):
        less = [names[one] for one in bits(wanted[number] & ~found[number])][:MOST_TOLD]
        if less:
            yield Unlike(f"{quoted(name)} would no longer come after {listed(less, 'and')}", kept=False)
        # What comes before an earlier step that waits for more as well is told there.
        told = more[number]
        for earlier in bits(found[number]):
            told &= ~more[earlier]
        kept = [names[one] for one in bits(told)][:MOST_TOLD]
        if kept:
            through = "through what is left out"
            yield Unlike(
                f"{quoted(name)} of {quoted(meant.id)} still comes after {listed(kept, 'and')}, {through}", kept=True
            )
