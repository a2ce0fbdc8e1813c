"""What the whole-team page shows: the picture, who does what when, and where people must meet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..asepsis import bits
from ..language.model import Kind, Step
from .addresses import DIFFERS, Links, part_page, team_page
from .diagram import Band, Whole, whole_picture
from .diagram_whole import whole_svg, window_svg, windows
from .meeting import meetings
from .reading import Reading
from .steps import phase_views
from .timeline import timeline_of
from .views import Link, PhaseView, StepView
from .words import in_words


@dataclass(frozen=True, slots=True)
class Need:
    """What must be how free of germs when the step begins; ``level`` chooses the sign."""

    thing: str
    level: str


@dataclass(frozen=True, slots=True)
class Onward:
    """Where an answer leads: ``back`` to a step, or on to the steps ``then``; links show numbers of steps."""

    answer: str
    back: Link | None
    then: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table; ``after`` are the steps directly before, where no sentence of the step tells of them.

    ``words`` is what the row's other cells say of the step, for the search.
    """

    step: StepView
    after: tuple[Link, ...]
    things: tuple[str, ...]
    needs: tuple[Need, ...]
    answers: tuple[Onward, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Window:
    """A part of the picture as SVG, and what it is called."""

    label: str
    svg: str


@dataclass(frozen=True, slots=True)
class TeamPhase:
    """One phase: its rows, its pictures, each small enough for a sheet of paper, and where its rows are."""

    view: PhaseView
    rows: tuple[Row, ...]
    pictures: tuple[Window, ...]
    table: str


def team_values(reading: Reading, links: Links) -> dict[str, object]:
    """What the template of the whole-team page asks for, its picture included."""
    protocol = reading.protocol
    return {
        "protocol": protocol,
        "elsewhere": None,
        "ordered": not reading.examined.order.loops,
        "meetings": meetings(reading, links),
        "parts": tuple(Link(reading.role(role), links.to(part_page(protocol.id, role))) for role in reading.roles),
        "choices": protocol.choices,
        "local": reading.local.heads,
        "to_differs": links.to(DIFFERS),
        "timeline": timeline_of(reading),
        **picture_values(reading, links),
    }


def picture_values(reading: Reading, links: Links) -> dict[str, object]:
    """The phases and the picture, for a page that shows it; None for the picture where nothing can be drawn."""
    found = whole_picture(reading, reading.roles)
    team = team_page(reading.protocol.id)
    phases = tuple(
        TeamPhase(
            view,
            rows_of(reading, view),
            _pictures(reading, found, view.number - 1),
            links.to(team, view.anchor),
        )
        for view in phase_views(reading, links, None)
    )
    return {
        "phases": phases,
        "whole": _svg(reading, found, links) if found is not None else None,
        "width": round(found.width) if found is not None else 0,
        "marked": bool(reading.local.steps),
    }


def rows_of(reading: Reading, view: PhaseView) -> tuple[Row, ...]:
    """The table of one phase: a row for every step that the phase shows."""
    order = reading.examined.order
    ancestors = order.ancestors() if not order.loops else ()
    return tuple(_row(reading, step, ancestors) for step in view.steps)


def without_picture(values: Mapping[str, Any], elsewhere: str) -> dict[str, object]:
    """The values of a whole-team page that leads to its picture instead of showing it."""
    phases = tuple(replace(phase, pictures=()) for phase in values["phases"])
    return {**values, "phases": phases, "whole": None, "elsewhere": elsewhere}


def _row(reading: Reading, view: StepView, ancestors: tuple[int, ...]) -> Row:
    step = reading.steps[view.number - 1]
    things = tuple(_things(reading, step))
    needs = tuple(Need(reading.thing(need.subject.value), need.level.word) for need in step.needs)
    words = [view.owner, *view.helpers, *view.only_if, *view.requires, *things]
    words += [f"{need.thing} {need.level}" for need in needs]
    answers = tuple(_answers(reading, step))
    return Row(view, _after(reading, view, ancestors), things, needs, answers, "; ".join(dict.fromkeys(words)))


def _answers(reading: Reading, step: Step) -> Iterator[Onward]:
    for answer in step.asks.answers if step.asks is not None else ():
        repeats = step.repeat is not None and step.repeat.answer.value == answer.value
        start = reading.index.get(step.repeat.start.value) if step.repeat is not None and repeats else None
        then = tuple(
            _number(reading, number)
            for number, later in enumerate(reading.steps)
            for condition in later.when
            if condition.name.value == step.id.value and answer.value in {one.value for one in condition.options}
        )
        yield Onward(in_words(answer.value), _number(reading, start) if start is not None else None, then)


def _number(reading: Reading, step: int) -> Link:
    return Link(str(step + 1), f"#{reading.steps[step].id.value}")


def _things(reading: Reading, step: Step) -> Iterator[str]:
    """What is handled, each once: no part of a person, and nothing the needs name anyway."""
    names = [name.value for effect in step.effects for name in (effect.thing, effect.target) if name is not None]
    for name in dict.fromkeys(names):
        subject = reading.protocol.subjects.get(name)
        if subject is not None and subject.kind is not Kind.PERSON:
            yield subject.title


def _after(reading: Reading, view: StepView, ancestors: tuple[int, ...]) -> tuple[Link, ...]:
    order, number = reading.examined.order, view.number - 1
    if not ancestors:
        return ()
    before = [other for other in bits(order.before[number]) if order.phase_of[other] == order.phase_of[number]]
    near = [other for other in before if not any(ancestors[between] >> other & 1 for between in before)]
    told = {wait.number for wait in view.waits}
    return tuple(
        _number(reading, other) for other in near if other + 1 not in told and reading.anchor(other) is not None
    )


def _svg(reading: Reading, whole: Whole, links: Links) -> str:
    say = reading.speech.say
    steps = reading.speech.count("%(number)s step", "%(number)s steps", len(reading.steps))
    lanes = ", ".join(reading.role(role) for role in reading.roles)
    return whole_svg(
        whole,
        say("The whole protocol in one picture: %(title)s", title=reading.protocol.title.value),
        say("%(steps)s in the lanes %(lanes)s. The table says the same in words.", steps=steps, lanes=lanes),
        lambda number, title: say("Phase %(number)s: %(title)s", number=number, title=title),
        lambda number: _node(reading, number, links),
        say("This phase has no picture: its steps wait for each other, or nobody does them."),
    )


def _node(reading: Reading, number: int, links: Links) -> tuple[str, str]:
    """Where a step's box leads, and who does the step: what only the lane shows."""
    step = reading.steps[number]
    who = ", ".join(reading.role(role) for role in reading.people(step))
    differs = [reading.speech.say("differs here")] if step.id.value in reading.local.steps else []
    return links.to(team_page(reading.protocol.id), step.id.value), "; ".join([who, *differs])


def _pictures(reading: Reading, whole: Whole | None, phase: int) -> tuple[Window, ...]:
    if whole is None:
        return ()
    band = whole.bands[phase]
    found = windows(band, whole.width)
    return tuple(
        Window(_label(reading, band, part, len(found)), window_svg(whole, band, window))
        for part, window in enumerate(found, start=1)
    )


def _label(reading: Reading, band: Band, part: int, parts: int) -> str:
    say = reading.speech.say
    if parts == 1:
        return say("Picture of phase %(number)s. The table says the same in words.", number=band.number)
    return say(
        "Picture of phase %(number)s, part %(part)s of %(parts)s. The table says the same in words.",
        number=band.number, part=part, parts=parts,
    )  # fmt: skip
