"""A clinic beside its baseline for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ...checks.deviations import Effect
from ...checks.words import folded, quoted
from ...reports.terminal import harmless
from .model import Agreement, Difference, Drift, Missed, ProtocolDrift, Settled

LIMITS = (
    "Only what tailoring.yaml changes is listed, and adopted files that were edited are named. clinic.yaml, the rooms\n"
    "and the people are the clinic's own and are not compared. That no difference is listed does not mean safe."
)
_KINDS = {
    "set": "step {name} is changed",
    "drop": "step {name} is left out",
    "add": "step {name} is added",
    "thing": "thing {name} is other than in the shared text",
    "new-thing": "thing {name} is there only here",
}


def text_drift(drift: Drift) -> str:
    """All that is different in one clinic, as text."""
    lines = [f"{drift.clinic} beside {drift.baseline} {drift.version}, as of {drift.today}", counted(drift), ""]
    if drift.missed:
        lines += ["Not taken into account", *(f"  {line}" for line in map(missed, drift.missed)), ""]
    if drift.things or drift.renamed:
        lines += ["The whole set", *(line for one in ordered(drift.things) for line in _difference(one))]
        lines += [f"  role {quoted(one.role)} is called {one.after} (shared: {one.before})" for one in drift.renamed]
        lines += [""]
    for protocol in drift.protocols:
        if protocol.state != "shared" or protocol.differences or protocol.settled:
            lines += [*_protocol(protocol), ""]
    return "\n".join([*map(harmless, lines), LIMITS]) + "\n"


def ordered(differences: Iterable[Difference]) -> list[Difference]:
    """What has expired first, then the looser ones first."""
    return sorted(differences, key=lambda one: (not one.agreement.expired, -one.effect))


def counted(drift: Drift) -> str:
    """What the differences come to, in one sentence."""
    if drift.unread is not None:
        return "Its local changes are not known: tailoring.yaml cannot be read."
    found = drift.differences
    told = [_plural(sum(one.effect is effect for one in found), effect.word) for effect in reversed(Effect)]
    expired = sum(one.agreement.expired for one in found)
    more = (
        (len(drift.settled), "choice settled", "choices settled"),
        (len(drift.in_state("left-out")), "protocol left out", "protocols left out"),
        (len(drift.in_state("own")), "protocol of its own", "protocols of its own"),
        (len(drift.renamed), "role renamed", "roles renamed"),
    )
    told = [one for one in told if one]
    changes = f"Local changes: {', '.join(told)}" if told else "No local change of a step or a thing"
    if expired:
        changes += f"; {expired} of them expired"
    rest = [f"{number} {one if number == 1 else many}" for number, one, many in more if number]
    return ". ".join([changes, *([", ".join(rest)] if rest else [])]) + "."


def _plural(number: int, word: str) -> str:
    return f"{number} {word}" if number else ""


def missed(one: Missed) -> str:
    """What could not be taken into account, and where."""
    return f"{one.path}:{one.line}  {one.message}"


def said(one: Difference) -> str:
    """What is done otherwise, in a few words."""
    return _KINDS[one.kind].format(name=quoted(one.name))


def agreed(agreement: Agreement) -> str:
    """Who agreed and when, and until when."""
    by = f"agreed by {agreement.by}" if agreement.by else "agreed by nobody that is named"
    if agreement.on is not None:
        by += f" on {agreement.on}"
    if agreement.until is None or agreement.days_left is None:
        return f"{by}, with no day on which it ends"
    return f"{by}, until {agreement.until} ({_left(agreement.days_left)})"


def _left(days: int) -> str:
    count = f"{abs(days)} {'day' if abs(days) == 1 else 'days'}"
    return f"EXPIRED {count} ago" if days < 0 else "today is the last day" if days == 0 else f"{count} left"


def _protocol(protocol: ProtocolDrift) -> Iterator[str]:
    if protocol.state == "unreadable":
        yield f"{protocol.id}  cannot be read: what differs in it is not known"
        return
    state = {"own": "  [the clinic's own]", "left-out": "  [left out here]"}.get(protocol.state, "")
    yield f"{protocol.id}  {protocol.title}{state}"
    for one in ordered(protocol.differences):
        yield from _difference(one)
    for choice in protocol.settled:
        yield from _settled(choice)


def _difference(one: Difference) -> Iterator[str]:
    yield f"  [{one.effect.word}] {said(one)}  {one.path}:{one.line}"
    if one.is_whole:
        yield f"      {'was' if one.kind == 'drop' else 'is'}: {one.title}"
        yield from (f"        {told}" for told in one.told)
    for field in one.fields:
        yield f"      {field.name} was: {field.before or '-'}"
        yield f"      {field.name} is:  {field.after or '-'}"
    for reason in one.reasons:
        yield f"      {one.effect.word}: {reason}"
    yield f"      because: {one.agreement.because or 'no reason is given'}"
    if one.effect is Effect.LOOSER or one.agreement != Agreement(one.agreement.because):
        yield f"      {agreed(one.agreement)}"


def _settled(one: Settled) -> Iterator[str]:
    yield f"  [settled] {one.title}: {one.option_title}"
    for name, do in one.never:
        yield f"      never done here: {quoted(name)} {folded(do)}"
