"""What falls due when: reviews of approved protocols, local changes that end, accepted findings that count again."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass

from ..language.model import Accepted, ProtocolSet
from ..language.source import Span
from ..language.tailored import Deviation

REVIEW, DEVIATION, ACCEPTANCE = "review", "deviation", "acceptance"


@dataclass(frozen=True, slots=True)
class Due:
    """One day to keep; up to and with it all is in time.

    ``kind`` is review, deviation or acceptance, ``key`` names what falls due and stays the same when the day moves.
    ``about`` are the names it is about: a step, a thing, a rule; ``who`` looks after it, or agreed to it.
    """

    kind: str
    day: datetime.date
    key: str
    protocol: str | None
    about: tuple[str, ...]
    who: str
    reason: str
    span: Span

    def is_overdue(self, today: datetime.date) -> bool:
        """Whether the day is past."""
        return self.day < today


def dates_of(protocol_set: ProtocolSet) -> tuple[Due, ...]:
    """Every day to keep, the earliest first; days that no calendar has are left out, since a finding tells of them."""
    tailoring = protocol_set.tailoring
    found = [
        *_reviews(protocol_set),
        *(_deviation(one) for one in (tailoring.deviations if tailoring is not None else ()) if one.reason.until),
        *map(_acceptance, protocol_set.accepted),
    ]
    kept = {(one.key, one.day): one for one in found if one.day != datetime.date.min}
    return tuple(sorted(kept.values(), key=lambda one: (one.day, one.kind, one.key)))


def _reviews(protocol_set: ProtocolSet) -> Iterator[Due]:
    for one in protocol_set.protocols:
        if one.status.value == "approved" and one.review_by is not None:
            day, span = one.review_by
            yield Due(REVIEW, day, f"{REVIEW} {one.id}", one.id, (), one.owner, "", span)


def _deviation(one: Deviation) -> Due:
    assert one.reason.until is not None  # asked by the caller
    day, span = one.reason.until
    agreed, because = one.reason.agreed, one.reason.because
    return Due(
        DEVIATION,
        day,
        f"{DEVIATION} {one.protocol or ''} {one.what} {one.name}",
        one.protocol,
        (one.name.value,),
        agreed.by if agreed is not None else "",
        " ".join(because.value.split()) if because is not None else "",
        span,
    )


def _acceptance(one: Accepted) -> Due:
    about = tuple(name for name in (one.rule.value, one.step, one.subject) if name)
    key = f"{ACCEPTANCE} {' '.join(one.key)}"
    return Due(ACCEPTANCE, one.until, key, one.protocol, about, one.by, one.reason, one.until_span)
