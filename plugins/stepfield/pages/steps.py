"""From the steps of a protocol to what a page shows of them, for the whole team or through the eyes of one role."""

from __future__ import annotations

from ..language.model import Phase, Step
from .addresses import Links, part_page, team_page
from .reading import Reading, warn
from .speech import Speech
from .views import Arrival, Entry, PhaseView, StepView, Warn
from .waits import Waiting
from .words import in_words, span_of, split


def step_view(reading: Reading, number: int, links: Links, role: str | None) -> StepView:
    """One step as a page shows it; ``role`` is whose page it is, None for the whole team's."""
    step = reading.steps[number]
    waits = dict.fromkeys(
        reading.wait_view(number, wait.role, wait.until, links)
        for wait in reading.waits_at.get(number, ())
        if wait.role == role or (role is None and _is_from_outside(reading, wait))
    )
    do, more = split(step.do.value)
    return StepView(
        id=step.id.value,
        anchor=reading.anchor(number),
        number=number + 1,
        href=_other_page(reading, step, links, role),
        do=do,
        more=more,
        why=step.why.value if step.why is not None else None,
        owner=reading.role(step.role) if step.role is not None else reading.speech.say("Nobody yet"),
        owner_id=step.role.value if step.role is not None else "",
        helpers=tuple(reading.role(person) for person in reading.people(step)[1:]),
        is_own=role is None or (step.role is not None and step.role.value == role),
        only_if=reading.conditions(step),
        requires=tuple(in_words(name.value) for name in step.requires),
        cautions=tuple(warn(caution.kind.value, caution.text.value, reading.speech) for caution in step.cautions),
        waits=tuple(waits),
        bounds=reading.bounds(step),
        takes=span_of(step.takes, reading.speech) if step.takes is not None else None,
        waited_by=_waited_by(reading, number, role),
        asked=reading.asked(number, links, role),
        records=tuple(reading.record(name.value) for name in step.records),
        hand_overs=reading.hand_overs(step, role),
        needs=tuple(
            f"{reading.thing(need.subject.value)} {reading.speech.say(need.level.word)}" for need in step.needs
        ),
        confirms=tuple(in_words(name.value) for name in step.confirms),
        ends_field=step.ends_field,
        meets=reading.requirements(step),
        local=reading.local.steps.get(step.id.value, ()),
    )


def _is_from_outside(reading: Reading, wait: Waiting) -> bool:
    """Whether nobody who takes part in the step has done what it waits for; else it follows from their own turn."""
    here, there = (set(reading.people(reading.steps[number])) for number in (wait.step, wait.until))
    return not here & there


def _other_page(reading: Reading, step: Step, links: Links, role: str | None) -> str:
    if role is not None or step.role is None or step.role.value not in reading.roles:
        return links.to(team_page(reading.protocol.id), step.id.value)
    return links.to(part_page(reading.protocol.id, step.role.value), step.id.value)


def _waited_by(reading: Reading, number: int, role: str | None) -> tuple[str, ...]:
    """Who waits for this step; on one role's page only where it is that role's own."""
    step = reading.steps[number]
    if role is not None and (step.role is None or step.role.value != role):
        return ()
    return tuple(dict.fromkeys(reading.role(wait.role) for wait in reading.waits_until.get(number, ())))


def phase_views(reading: Reading, links: Links, role: str | None) -> tuple[PhaseView, ...]:
    """The phases of a protocol, each with the steps of the role (or all)."""
    views: list[PhaseView] = []
    first, before = 0, None
    for number, phase in enumerate(reading.protocol.phases):
        entries = _entries(reading, range(first, first + len(phase.steps)), links, role)
        views.append(
            PhaseView(
                number=number + 1,
                anchor=f"{phase.id}_phase",
                title=phase.title,
                cautions=_phase_cautions(phase, reading.speech) if any(entry.step for entry in entries) else (),
                entries=entries,
                after=before,
            )
        )
        first, before = first + len(phase.steps), phase.title
    return tuple(views)


def _phase_cautions(phase: Phase, speech: Speech) -> tuple[Warn, ...]:
    return tuple(warn(caution.kind.value, caution.text.value, speech) for caution in phase.cautions)


def _entries(reading: Reading, numbers: range, links: Links, role: str | None) -> tuple[Entry, ...]:
    entries: list[Entry] = []
    for number in numbers:
        step = reading.steps[number]
        if role is None or role in reading.people(step):
            entries.append(Entry(step_view(reading, number, links, role), None))
            continue
        for over in reading.hand_overs(step, role):
            href = links.to(team_page(reading.protocol.id), step.id.value)
            local = reading.local.steps.get(step.id.value, ())
            entries.append(Entry(None, Arrival(over, number + 1, href, local)))
    return tuple(entries)
