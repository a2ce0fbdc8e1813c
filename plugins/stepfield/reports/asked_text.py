"""Answers to questions in plain words."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from ..asepsis.breach import Breach, Failure, Restorer
from ..asepsis.queries import Before, Can, Course, PartState, Person
from ..asepsis.touching import REASONS
from ..checks import Answer
from ..checks.words import Named, Naming, folded, listed, quoted, sentence
from ..language.model import Level, Step
from .scope import SAFE
from .story import Line, shortened
from .terminal import harmless
from .text import first_sentence

WIDE = 110
"""Columns that lists are folded to."""
MOST_LATER = 6
"""How many steps after a breach are named."""
_NOT_NOW = {
    "would-contaminate": "These hands would contaminate it",
    "contaminated-by": "It would lower the level of these hands",
    "soils-skin": "It would soil bare skin",
    "worn": "Somebody else wears it",
    "gone": "Gone",
    "not-there-yet": "Not there yet",
}
_STATES = {
    "contaminated": "contaminated",
    "clean": "at least clean",
    "disinfected": "at least disinfected",
    "sterile": "sterile",
    "soiled": "soiled",
    "covered": "covered",
    "bare": "bare",
    "there": "there (out of the pack, and not discarded or handed over)",
    "gone": "gone (discarded or handed over)",
}


def text_answer(answer: Answer) -> str:
    """The answer to one question, with a line on what stands behind it."""
    writer = _Writer(answer)
    result = answer.result
    if isinstance(result, Before):
        lines = writer.before(result)
    elif isinstance(result, Can):
        lines = writer.can(result)
    else:
        lines = writer.breach(result)
    told = [f"{answer.protocol.id}  {answer.protocol.title.value}", "", *lines, "", *_behind(answer), SAFE]
    return "\n".join(harmless(line) for line in told) + "\n"


def _behind(answer: Answer) -> Iterator[str]:
    if answer.proved:
        yield f"Every order was tried, with every choice and every answer ({answer.states:,} states)."
    else:
        yield (
            f"NOT PROVED: there are too many orders; the search gave up after {answer.states:,} states. What is said "
            "above holds of the orders tried, and others may be worse."
        )


class _Writer:
    """Puts the answers about one protocol into words."""

    def __init__(self, answer: Answer) -> None:
        self.answer, self.protocol = answer, answer.protocol
        self.naming = Naming(answer.protocol, answer.clinic)
        self.steps: Mapping[str, Step] = {step.id.value: step for step in answer.protocol.steps}
        self.titles = Counter(self.naming.short(name) for name in answer.protocol.subjects)

    def before(self, result: Before) -> Iterator[str]:
        """Everybody's state, and what each may touch."""
        step = self.naming.step(self.steps[result.step])
        if not result.people:
            yield self._unreached(result.step)
            return
        yield f"Just before {step}, {self._in_every_order()}:"
        for person in result.people:
            yield ""
            yield self.naming.role(person.role)
            yield from (f"  {self._part(part)}" for part in person.parts)
            yield from self._touching(person, result.in_place)

    def can(self, result: Can) -> Iterator[str]:
        """Yes, no or it depends; with the orders that show it."""
        if result.holds == "never":
            yield self._unreached(result.step)
            return
        thing, step = self.naming.thing(result.subject), self.naming.step(self.steps[result.step])
        state = f"just before {step} {thing} {thing.be} {_STATES[result.state]}"
        orders = "in every order" if self.answer.proved else "in every order that was tried"
        none = "in no order" if self.answer.proved else "in no order that was tried"
        yield {
            "every": f"Yes, {orders} {state}.",
            "no": f"No, {none} {state}.",
            "some": f"Not always: only in some orders {state}.",
        }[result.holds]
        if result.not_so is not None:
            yield from self._story(f"A shortest order in which {thing.they} {thing.be} not:", result.not_so)
        if result.holds == "some" and result.so is not None:
            yield from self._story(f"A shortest order in which {thing.they} {thing.be}:", result.so)

    def breach(self, result: Breach) -> Iterator[str]:
        """What is lost, what fails, and what brings it back."""
        thing, step = self.naming.thing(result.subject), self.naming.step(self.steps[result.step])
        if result.present == "never":
            yield self._unreached(result.step)
            return
        if result.present == "no":
            yield sentence(f"{thing} {thing.be} not there just before {step}, so nothing can contaminate {thing.them}")
            return
        only = " (in some orders only: in others it is not there)" if result.present == "some" else ""
        yield f"If {thing} {thing.be} contaminated just before {step}{only}:"
        if result.had == (Level.CONTAMINATED,):
            yield f"  Nothing changes: {thing.they} {thing.be} contaminated by then anyway."
            return
        had = listed([level.word for level in result.had], "or")
        yield f"  Without it {thing.they} would be {had}."
        yield from self._lost(result)
        yield from self._failures(result)
        yield from self._restorers(result)

    def _unreached(self, step: str) -> str:
        tried = "no order" if self.answer.proved else "no order that was tried"
        return sentence(f"{tried} reaches {self.naming.step(self.steps[step])}, so nothing can be said of it")

    def _in_every_order(self) -> str:
        return "in every order" if self.answer.proved else "in the orders that were tried (NOT PROVED)"

    def _name(self, name: str) -> str:
        """The title, with the name where two things share the title."""
        title = self.naming.short(name)
        return title if self.titles[title] == 1 else str(self.naming.thing(name))

    def _part(self, part: PartState) -> str:
        level = part.level.word if part.level is part.highest else _between(part.level, part.highest)
        covers = [self._name(cover) for cover in part.coverings if cover is not None]
        bare = None in part.coverings
        if not covers:
            covered = "bare"
        else:
            covered = f"{'bare or ' if bare else ''}covered by {listed(covers, 'or')}"
        soiled = {"no": "", "maybe": ", perhaps soiled", "yes": ", soiled"}[part.soiled]
        return f"{part.subject.rpartition('.')[2].capitalize()}: {level}, {covered}{soiled}."

    def _touching(self, person: Person, in_place: Mapping[str, str]) -> Iterator[str]:
        shown = [name for name in person.safe if name not in in_place]
        yield from _folded("  Safe to touch: ", [self._name(name) for name in shown] or ["nothing"])
        dulled = [self._name(name) for name in person.less_clean if name not in in_place]
        if dulled:
            yield from _folded("    of these less clean afterwards: ", dulled)
        yield "  Not now:"
        for reason in REASONS:
            names = [
                self._name(one.thing) + ("" if one.always else " (in some orders)")
                for one in person.not_now
                if one.reason == reason and one.thing not in in_place
            ]
            if names:
                yield from _folded(f"    {_NOT_NOW[reason]}: ", names)

    def _story(self, head: str, course: Course) -> Iterator[str]:
        yield f"  {head}"
        if course.choices:
            yield f"    (with {self._choices(course)})"
        if not course.steps:
            yield "    it is the first step."
            return
        first, left_out, last = shortened(tuple(self._line(number, course) for number in range(len(course.steps))))
        yield from (f"    {line}  [{line.step}]" for line in first)
        if left_out:
            yield f"     … {left_out} more steps …"
        yield from (f"    {line}  [{line.step}]" for line in last)

    def _line(self, number: int, course: Course) -> Line:
        name, answer = course.steps[number]
        step = self.steps[name]
        do = first_sentence(" ".join(step.do.value.split()))
        return Line(number + 1, self.naming.role(step.role), do, answer, name, step.id.span)

    def _lost(self, result: Breach) -> Iterator[str]:
        # A cover is told with what it covers.
        covers = {(one.outside, one.step) for one in result.lost if one.outside != one.subject}
        told = [one for one in result.lost if (one.subject, one.step) not in covers]
        if not told:
            yield "  Nothing else is lost with it."
            return
        yield "  Lost with it, if nobody notices:"
        for one in told:
            where = "at once" if one.step is None else f"by {self.naming.step(self.steps[one.step])}"
            yield f"    - {self._name(one.subject)}: {one.level.word} instead of {one.would_be.word}, {where}"
            if one.step is not None:
                yield from self._course(one.course)

    def _failures(self, result: Breach) -> Iterator[str]:
        if not result.failures:
            yield "  No step fails: no check of this protocol would tell of it."
            return
        yield "  Steps that then fail:"
        for one in result.failures:
            yield f"    - {self._failing(one)}  [{one.slip.kind}]"
            yield from self._course(one.course)

    def _failing(self, one: Failure) -> str:
        slip, thing = one.slip, self.naming.thing(one.slip.subject)
        step = "the end" if one.step is None else self.naming.step(self.steps[one.step])
        if slip.asked is not None and slip.have is not None:
            if slip.kind == "needs-not-met":
                return f"{step} needs {thing} {slip.asked.word}, but {thing.they} {thing.be} {slip.have.word}"
            by = f" by {self.naming.thing(slip.by)}" if slip.by is not None else ""
            return f"{step}: {thing} {thing.be} made {slip.asked.word}{by}"
        return f"{step}: {thing}"

    def _course(self, course: Course) -> list[str]:
        """A shortest order in few words: what comes before the breach is only counted."""
        before = course.breach_after or 0
        later = [quoted(step) + (f" (answer: {answer})" if answer else "") for step, answer in course.steps[before:]]
        if len(later) > MOST_LATER:
            later = [f"{len(later) - MOST_LATER + 1} more steps", *later[1 - MOST_LATER :]]
        steps = "1 step" if before == 1 else f"{before} steps"
        settled = f" (with {self._choices(course)})" if course.choices else ""
        return _folded("        Shortest order: ", [steps, "the breach", *later], f"{settled}.")

    def _choices(self, course: Course) -> str:
        said = []
        for choice in self.protocol.choices:
            titles = {str(option): title for option, title in choice.options}
            if (picked := course.choices.get(str(choice.id))) is not None:
                said.append(f"{folded(choice.title)}: {folded(titles[picked])}")
        return listed(said)

    def _restorers(self, result: Breach) -> Iterator[str]:
        enough = [one for one in result.restorers if one.enough]
        thing: Named = self.naming.thing(result.subject)
        if not enough:
            yield f"  No step of this protocol brings {thing.them} back to {max(result.had).word}."
            return
        yield f"  Steps that bring {thing.them} back to {max(result.had).word}:"
        for one in enough:
            yield f"    - {self._restorer(one)}"

    def _restorer(self, one: Restorer) -> str:
        how = {"makes": "makes it so", "covers": "puts a fresh cover on", "dons": "puts a fresh one on"}[one.by]
        when = "still to come" if one.comes else "past by then: it would have to be done again"
        return f"{self.naming.step(self.steps[one.step])} {how} ({when})"


def _between(low: Level, high: Level) -> str:
    return f"at least {low.word}, in some orders {high.word}" if low else f"perhaps contaminated, at best {high.word}"


def _folded(head: str, names: Iterable[str], end: str = "") -> list[str]:
    indent = " " * (len(head) - len(head.lstrip()) + 2)
    return textwrap.wrap(head + ", ".join(names) + end, WIDE, subsequent_indent=indent, break_on_hyphens=False)
