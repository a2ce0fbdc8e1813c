"""Applying what tailoring.yaml asks for to each protocol of the adopted set, once its parts are unfolded."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from .declared import Scope, new_things
from .leaving_out import can_be_settled, counts_from, depends_on, settled_for_good, without_steps
from .model import Choice, Clinic, Kind, Phase, Step, Subject
from .names import listed, near, quoted
from .source import Problem, Span, Text
from .tailored import Deviation, Tailoring
from .tailoring import Thing, Wishes, Written, fields_of
from .tailoring_fields import bare, field_of, with_fields
from .things import with_attributes
from .values import text_if
from .yaml_nodes import Entry

Phases = tuple[Phase, ...]
_LOOK = "look at what the adopted text says now, and change the entry or take it out"


@dataclass(slots=True)
class Tailor:
    """Applies the entries of one tailoring.yaml, and notes those that meet nothing or change nothing.

    Sets come first, then what is added, then what is left out: so the order of entries for different steps makes no
    difference.
    """

    wishes: Wishes
    problems: list[Problem]
    deviations: list[Deviation] = field(default_factory=list)
    away: dict[str, list[Step]] = field(default_factory=dict)
    adopted: dict[str, Phases] = field(default_factory=dict)
    choices: dict[str, tuple[Choice, ...]] = field(default_factory=dict)
    settled: dict[str, dict[str, str]] = field(default_factory=dict)
    met: dict[Text, bool] = field(default_factory=dict)
    """The things met so far, with whether anything was changed in one."""

    def clinic(self, clinic: Clinic) -> Clinic:
        """The clinic with its roles and surfaces as they are told of here."""
        titles = {role.value: title for role, title in self.wishes.roles}
        known = {role.id.value: role for role in clinic.roles}
        for role, title in self.wishes.roles:
            if role.value not in known:
                self._lost(role, f"no role of the clinic is called {quoted(str(role))}", known)
            elif known[role.value].title == title.value:
                self._lost(role, f"the role {quoted(str(role))} has this title already", ())
        roles = tuple(
            replace(role, title=titles[role.id.value].value) if role.id.value in titles else role
            for role in clinic.roles
        )
        return replace(clinic, roles=roles, surfaces=tuple(map(self._thing, clinic.surfaces)))

    def leaves_out(self, protocol: str) -> bool:
        """Whether a protocol of the adopted set is not used here."""
        return any(one.value == protocol for one in self.wishes.leave_out)

    def scope(self, protocol: str, scope: Scope) -> Scope:
        """What a protocol declares, with its things as they are here and those that it has only here."""
        subjects = {name: self._thing(one) for name, one in scope.subjects.items()}
        for thing in self.wishes.things:
            if any(one.value == protocol for one in thing.new_in):
                self._declare(protocol, thing, subjects)
        return replace(scope, subjects=subjects)

    def phases(self, protocol: str, scope: Scope, phases: Phases) -> tuple[Scope, Phases]:
        """The protocol's steps as they are done here, and what it declares without the choices that are settled."""
        self.adopted[protocol] = phases
        mine = [one for one in self.wishes.changes if one.protocol.value == protocol]
        settled = self._settled(protocol, scope, phases)
        _, unused = settled_for_good(phases, settled)
        mine = [one for one in mine if not self._is_never(one, unused, protocol)]
        adopted = {step.id.value: step for step in _steps(phases)}
        uses = {name[:end] for name in adopted for end, sign in enumerate(name) if sign == "."}
        phases = self._set(protocol, [one for one in mine if one.what == "set"], phases)
        phases = self._add(protocol, [one for one in mine if one.what == "add"], phases, uses)
        phases, never = settled_for_good(phases, settled)
        gone = self._gone(protocol, [one for one in mine if one.what == "drop"], phases, never)
        where = {choice.value: option.span for _, choice, option in self._choices(protocol)}
        reason = next(iter(where.values()), None)
        if reason is not None:
            gone |= dict.fromkeys(sorted(never), reason)
        phases = without_steps(phases, gone)
        self._note_emptied(protocol, phases, unused)
        left = {step.id.value: step for step in _steps(phases)}
        self.away[protocol] = [step for name, step in adopted.items() if bare(left.get(name)) != bare(step)]
        return replace(scope, choices=tuple(one for one in scope.choices if one.id.value not in settled)), phases

    def done(self, names: Collection[str], unread: Collection[str], *, judged: bool) -> Tailoring:
        """What it all came to. ``names`` are the protocols there, ``unread`` those of them that could not be read.

        ``judged`` is False where some protocols were not looked at, so that it is not known what meets nothing.
        """
        wishes = self.wishes
        for entry in wishes.leave_out:
            if entry.value not in names and judged:
                self._lost(entry, f"no protocol of the adopted set is called {quoted(str(entry))}", names)
        for entry in wishes.own:
            if entry.value not in names and judged:
                self._lost(entry, f"this clinic has no protocol called {quoted(str(entry))}", names)
        named = [(one.protocol, one.name) for one in wishes.changes]
        named += [(protocol, choice) for protocol, choices in wishes.choose for choice, _ in choices]
        named += [(protocol, thing.name) for thing in wishes.things for protocol in thing.new_in]
        for protocol, _ in named:
            self._without_protocol(protocol, names, judged=judged)
        if judged and not unread:
            for thing in wishes.things:
                if not thing.new_in:
                    self._without_thing(thing)
        return Tailoring(
            path=wishes.path,
            baseline=wishes.baseline,
            version=wishes.version,
            deviations=tuple(sorted(self.deviations, key=lambda one: one.span)),
            settled=self.settled,
            left_out=frozenset(one.value for one in wishes.leave_out),
            own=frozenset(one.value for one in wishes.own),
            away={protocol: tuple(steps) for protocol, steps in self.away.items() if steps},
            adopted=self.adopted,
            choices=self.choices,
        )

    def _without_protocol(self, protocol: Text, names: Collection[str], *, judged: bool) -> None:
        if self.leaves_out(protocol.value):
            self._lost(protocol, f"{quoted(str(protocol))} is left out here, so that nothing in it can be changed", ())
        elif protocol.value not in names and judged:
            self._lost(protocol, f"no protocol is called {quoted(str(protocol))}", names)

    def _without_thing(self, thing: Thing) -> None:
        what = "surface" if thing.surface else "item or pack"
        if thing.name not in self.met:
            self._lost(thing.name, f"no {what} of the set is called {quoted(str(thing.name))}", ())
        elif not self.met[thing.name]:
            self._lost(thing.name, f"{quoted(str(thing.name))} is so already: nothing is changed", ())

    def _declare(self, protocol: str, thing: Thing, subjects: dict[str, Subject]) -> None:
        """Adds a thing that the adopted text of a protocol does not have, with what it holds."""
        held_in = text_if(thing.node, "pack")
        pack = None if held_in is None else subjects.get(held_in.value)
        if held_in is not None and (pack is None or pack.kind is not Kind.PACK):
            packs = [name for name, one in subjects.items() if one.kind is Kind.PACK]
            message = f"{quoted(protocol)} has no pack called {quoted(str(held_in))}"
            self._lost(held_in, message, packs, protocol)
            held_in = None
        for new in new_things(Entry(thing.name, thing.node), thing.kind, None if held_in is None else held_in.value):
            first = subjects.setdefault(new.name.value, new)
            if first is not new:
                message = f"{quoted(protocol)} has {quoted(str(new.name))} already: it cannot be new in there"
                self._lost(new.name, message, (), protocol, related=((first.name.span, "it is declared here"),))
            elif new.name not in self.met:
                self.met[new.name] = True
                self.deviations.append(Deviation("thing", None, new.name, new.name.span, thing.reason, None, new))

    def _thing(self, subject: Subject) -> Subject:
        for thing in self.wishes.things:
            kinds = (Kind.SURFACE,) if thing.surface else (Kind.ITEM, Kind.PACK)
            if thing.new_in or subject.kind not in kinds or thing.name.value != subject.name.value:
                continue
            new = with_attributes(subject, thing.node)
            differs = bare(new) != bare(subject)
            if differs and not self.met.get(thing.name):
                self.deviations.append(
                    Deviation("thing", None, thing.name, thing.name.span, thing.reason, subject, new)
                )
            self.met[thing.name] = self.met.get(thing.name, False) or differs
            subject = new
        return subject

    def _choices(self, protocol: str) -> Iterator[tuple[Text, Text, Text]]:
        for name, choices in self.wishes.choose:
            if name.value == protocol:
                yield from ((name, choice, option) for choice, option in choices)

    def _settled(self, protocol: str, scope: Scope, phases: Phases) -> dict[str, str]:
        """The choices that are settled; one that is not there, or has no such option, is noted."""
        known = {choice.id.value: choice for choice in scope.choices}
        settled = {}
        for _, choice, option in self._choices(protocol):
            found = known.get(choice.value)
            if found is None:
                self._lost(
                    choice, f"{quoted(str(protocol))} has no choice called {quoted(str(choice))}", known, protocol
                )
                continue
            options = [name.value for name, _ in found.options]
            if option.value not in options:
                message = f"the choice {quoted(str(choice))} has no option {quoted(str(option))}"
                self._lost(replace(option, value=choice.value), message, options, protocol, wrong=option.value)
            elif can_be_settled(phases, found):
                settled[choice.value] = option.value
        if settled:
            self.settled[protocol] = settled
            self.choices[protocol] = tuple(known[name] for name in settled)
        return settled

    def _is_never(self, one: Written, never: Collection[str], protocol: str) -> bool:
        if one.name.value not in never or one.what == "add":
            return False
        message = f"{quoted(str(one.name))} is never done with the choices that are settled here: nothing is changed"
        self._lost(one.name, message, (), protocol, step=one.name.value)
        return True

    def _set(self, protocol: str, changes: list[Written], phases: Phases) -> Phases:
        seen: dict[tuple[str, str], Text] = {}
        for one in changes:
            step = _find(phases, one.name.value)
            if step is None:
                self._no_step(one.name, phases, protocol)
                continue
            new = self._with(one, step, seen, protocol)
            if new is not None:
                self.deviations.append(
                    Deviation("set", protocol, one.name, one.span, one.reason, step, new, one.fields)
                )
                phases = _mapped(phases, step, (new,))
        return phases

    def _with(self, one: Written, step: Step, seen: dict[tuple[str, str], Text], protocol: str) -> Step | None:
        """The step with its fields set; None, with the reason noted, if they are not."""
        at = step.id.value
        for name in one.fields:
            first = seen.setdefault((at, name.value), name)
            if first is not name:
                message = f"{quoted(str(name))} of {quoted(at)} is set in line {first.span.line} already: one is lost"
                self._lost(name, message, (), protocol, step=at, related=((first.span, "it is set here first"),))
                return None
        found: list[Problem] = []
        if one.expected is not None:
            expected = fields_of(one.expected, step.id, step.role, found)
            for name in one.expects:
                if field_of(expected, name.value) != field_of(step, name.value):
                    message = (
                        f"{quoted(str(name))} of {quoted(at)} is no longer what this change expects it to be; "
                        "until somebody looks at it, the adopted text holds"
                    )
                    related = ((step.span, "the adopted step"),)
                    self._lost(name, message, (), protocol, step=at, related=related)
                    return None
        assert one.node is not None
        given = fields_of(one.node, step.id, step.role, found)
        if found:
            self.problems += [replace(problem, protocol=protocol, step=at) for problem in found]
            return None
        new = with_fields(step, given, [name.value for name in one.fields])
        if bare(new) == bare(step):
            message = f"the adopted text of {quoted(at)} says the same already: nothing is changed"
            self._lost(one.fields[0], message, (), protocol, step=at)
            return None
        return new

    def _add(self, protocol: str, changes: list[Written], phases: Phases, uses: Collection[str]) -> Phases:
        waiting, added = changes, dict[str, str]()
        while waiting:
            later = []
            for one in waiting:
                assert one.anchor is not None
                assert one.step is not None
                placed = self._placed(one, phases, added, protocol, uses)
                if placed is None:
                    later.append(one)
                else:
                    phases = placed
            if len(later) == len(waiting):
                break
            waiting = later
        for one in waiting:
            assert one.anchor is not None
            self._no_step(one.anchor, phases, protocol, step=one.name.value)
        return phases

    def _placed(
        self, one: Written, phases: Phases, added: dict[str, str], protocol: str, uses: Collection[str]
    ) -> Phases | None:
        """The phases with a step added; None if the step it is placed beside is not there.

        ``added`` are the steps that were added so far, each with the step it was placed beside.
        """
        assert one.anchor is not None
        assert one.step is not None
        name = one.anchor.value
        inside = [step for step in _steps(phases) if step.id.value == name] or [
            step for step in _steps(phases) if step.id.value.startswith(f"{name}.") and name in uses
        ]
        if not inside:
            return None
        other = _find(phases, one.name.value)
        if other is not None and bare(replace(one.step, span=other.span)) == bare(other):
            message = f"the adopted text has the very step {quoted(str(one.name))} already: nothing is changed"
            self._lost(one.name, message, (), protocol, step=one.name.value, related=((other.id.span, "it is here"),))
            return phases
        if other is not None:
            related = ((other.id.span, "it is declared here first"),)
            message = f"the name {quoted(str(one.name))} is declared a second time"
            hint = "give the added step another name"
            self.problems.append(
                Problem("taken-name", one.span, message, protocol, one.name.value, one.name.value, hint, related)
            )
            return phases
        anchor = inside[0] if one.before else inside[-1]
        added[one.name.value] = anchor.id.value
        if not one.before:
            anchor = _last_added(phases, anchor, added)
        self.deviations.append(Deviation("add", protocol, one.name, one.span, one.reason, None, one.step))
        return _mapped(phases, anchor, (one.step, anchor) if one.before else (anchor, one.step))

    def _gone(self, protocol: str, changes: list[Written], phases: Phases, never: Collection[str]) -> dict[str, Span]:
        """The steps to be left out, with the places that say so."""
        gone: dict[str, Written] = {}
        for one in changes:
            first = gone.get(one.name.value)
            if _find(phases, one.name.value) is None:
                self._no_step(one.name, phases, protocol)
            elif first is not None:
                message = f"{quoted(str(one.name))} is already left out in line {first.span.line}"
                self._lost(one.name, message, (), protocol, step=one.name.value)
            else:
                gone[one.name.value] = one
        for name in list(gone):
            asking = [s for s in _steps(phases) if depends_on(s, name) and s.id.value not in {*gone, *never}]
            if asking:
                one = gone.pop(name)
                shown = listed([step.id.value for step in asking[:4]], "and")
                message = f"{quoted(str(name))} cannot be left out: whether {shown} is done depends on its answer"
                related = tuple((step.id.span, "it depends on the answer") for step in asking[:4])
                self._lost(one.name, message, (), protocol, step=name, related=related)
        for entry in self.deviations:
            if entry.what == "set" and entry.protocol == protocol and entry.name.value in gone:
                first = gone[entry.name.value]
                message = f"{quoted(str(entry.name))} is left out in line {first.span.line}: setting its fields is lost"
                related = ((first.span, "it is left out here"),)
                self._lost(entry.name, message, (), protocol, step=entry.name.value, related=related)
        for name, one in gone.items():
            timed = tuple(step.id.value for step in _steps(phases) if counts_from(step, name))
            before = _find(phases, name)
            self.deviations.append(
                Deviation("drop", protocol, one.name, one.span, one.reason, before, None, timed=timed)
            )
        return {name: one.span for name, one in gone.items()}

    def _note_emptied(self, protocol: str, left: Phases, unused: Collection[str]) -> None:
        """Notes at entries which phases with cautions go because of them, and not of a settled choice alone."""
        kept = {phase.id.value for phase in left}
        emptied = {
            step.id.value: phase.id.value
            for phase in self.adopted[protocol]
            if phase.cautions and phase.id.value not in kept
            for step in phase.steps
            if step.id.value not in unused
        }
        self.deviations = [
            replace(one, emptied=emptied.get(one.name.value))
            if one.protocol == protocol and (one.what == "drop" or "when" in {name.value for name in one.fields})
            else one
            for one in self.deviations
        ]

    def _no_step(self, name: Text, phases: Phases, protocol: str, step: str | None = None) -> None:
        known = [one.id.value for one in _steps(phases)]
        message = f"{quoted(str(protocol))} has no step called {quoted(str(name))}"
        self._lost(name, message, known, protocol, step=step or name.value)

    def _lost(
        self,
        name: Text,
        message: str,
        known: Iterable[str],
        protocol: str | None = None,
        step: str | None = None,
        related: tuple[tuple[Span, str], ...] = (),
        wrong: str | None = None,
    ) -> None:
        """Notes an entry that has no effect."""
        close = near(wrong or name.value, known)
        if close:
            message = f"{message}; the nearest name is {listed(close)}"
        self.problems.append(Problem("tailoring-lost", name.span, message, protocol, step, name.value, _LOOK, related))


def _steps(phases: Phases) -> Iterator[Step]:
    return (step for phase in phases for step in phase.steps)


def _find(phases: Phases, name: str) -> Step | None:
    return next((step for step in _steps(phases) if step.id.value == name), None)


def _mapped(phases: Phases, step: Step, into: tuple[Step, ...]) -> Phases:
    """The phases with one step replaced by several."""
    return tuple(
        replace(phase, steps=tuple(new for one in phase.steps for new in (into if one is step else (one,))))
        for phase in phases
    )


def _last_added(phases: Phases, anchor: Step, added: Mapping[str, str]) -> Step:
    """The last of the steps that were placed behind a step, or beside one of these, or that step itself.

    So the listed order is kept among them, and what was placed before the step that follows stays there.
    """
    lane = list(next(phase.steps for phase in phases if anchor in phase.steps))
    place = lane.index(anchor)
    while place + 1 < len(lane) and _leads_to(lane[place + 1].id.value, anchor.id.value, added):
        place += 1
    return lane[place]


def _leads_to(name: str, anchor: str, added: Mapping[str, str]) -> bool:
    """Whether an added step was placed beside another, or beside one that was, and so on."""
    while name in added:
        name = added[name]
        if name == anchor:
            return True
    return False
