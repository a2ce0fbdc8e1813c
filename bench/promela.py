"""The same protocol for the general-purpose model checker SPIN, from the language's own description.

A lane is a process; a step is one transition that calls a C function (SPIN's embedded C, in ``world.h``), so that SPIN
works at the speed of compiled code. A step that shares nothing with what other lanes do in its phase is marked as
local, which is what SPIN's partial-order reduction needs to leave orders out. Choices are settled before the lanes
start. Nothing of the engine is used here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from stepfield.language.model import Effect, Kind, Protocol, Requirement, Step

from .promela_things import Things, sharing

HERE = Path(__file__).parent
LEVELS = ("CONTAMINATED", "CLEAN", "DISINFECTED", "STERILE")


def promela(protocol: Protocol, requirements: Iterable[Requirement] = ()) -> dict[str, str]:
    """The files of the model, by name: ``model.pml``, ``tables.h`` and ``world.h``.

    Raises ValueError for what the translation does not know: a repeat that takes back another lane's steps, or a
    condition on an answer given later.
    """
    model = _Model(protocol, {one.id.value: one.at_least or 0.0 for one in requirements})
    return {
        "tables.h": model.tables(),
        "world.h": (HERE / "world.h").read_text(encoding="utf-8"),
        "model.pml": model.processes(),
    }


class _Model:
    def __init__(self, protocol: Protocol, limits: dict[str, float]) -> None:
        self.protocol, self.steps, self.limits = protocol, protocol.steps, limits
        self.things = Things(protocol)
        self.index = {step.id.value: number for number, step in enumerate(self.steps)}
        self.phase = [number for number, phase in enumerate(protocol.phases) for _ in phase.steps]
        self.owner = [step.role.value if step.role else "" for step in self.steps]
        self.facts = list(dict.fromkeys(str(name) for step in self.steps for name in (*step.requires, *step.confirms)))
        self.choices = {choice.id.value: [str(name) for name, _ in choice.options] for choice in protocol.choices}
        self.asked = list(
            dict.fromkeys(str(part.name) for step in self.steps for part in step.when if str(part.name) in self.index)
        )
        self.uses = [
            (number, str(effect.thing))
            for number, step in enumerate(self.steps)
            for effect in step.effects
            if effect.field == "uses"
        ]
        self.waits = [self._waits_for(number) for number in range(len(self.steps))]
        self.watched = sorted({other for others in self.waits for other in others})
        self.redone = {self.phase[number] for number, step in enumerate(self.steps) if step.repeat}
        self.shares = sharing(protocol, self.phase)

    # What comes before what.

    def lane(self, role: str) -> list[int]:
        """The steps a role owns or takes part in."""
        return [
            number
            for number, step in enumerate(self.steps)
            if role == self.owner[number] or role in map(str, step.helpers)
        ]

    def _waits_for(self, number: int) -> list[int]:
        """The steps of the same phase, done by another process, that come right before a step."""
        step, before = self.steps[number], set()
        for role in {self.owner[number], *map(str, step.helpers)}:
            lane = self.lane(role)
            before |= {lane[lane.index(number) - 1]} if lane.index(number) else set()
        before |= {self.index[str(name)] for name in step.after}
        return sorted(
            other
            for other in before
            if self.phase[other] == self.phase[number] and self.owner[other] != self.owner[number]
        )

    def _last_of_phase(self, number: int) -> bool:
        own = [other for other, role in enumerate(self.owner) if role == self.owner[number]]
        return number == max(other for other in own if self.phase[other] == self.phase[number])

    def _lanes_in(self, phase: int) -> int:
        return len({role for number, role in enumerate(self.owner) if self.phase[number] == phase})

    # Text.

    def tables(self) -> str:
        """Sizes, tables, and one C function and a few names for each step."""
        sizes = {
            "WETS": len(self.uses),
            "FACTS": len(self.facts),
            "FLAGS": len(self.watched),
            "PHASES": len(self.protocol.phases),
            "CHOICES": len(self.choices),
            "QUESTIONS": len(self.asked),
        }
        lines = [f"#define N_{name} {max(1, size)}" for name, size in sizes.items()]
        lines += [*self.things.tables(), '#include "world.h"', "#define W (&(now.w))"]
        for number in range(len(self.steps)):
            lines += self._step_text(number)
        last = max(self.phase)
        lines.append(f"#define ALL_DONE (now.w.finished[{last}] == {self._lanes_in(last)})")
        lines.append('#define AT_END do { finish(W); if (bad) uerror("slip at the end"); } while (0)')
        return "\n".join(lines) + "\n"

    def _step_text(self, number: int) -> Iterator[str]:
        step = self.steps[number]
        yield f"static void step_{number}(struct World *w) {{ /* {step.id} */"
        yield from (f"    {line}" for line in self._acts(number, step))
        yield "}"
        met = " && ".join(self._conditions(number, step)) or "1"
        yield f"#define READY_{number} ({self._ready(number)})"
        yield f"#define GO_{number} (READY_{number} && ({met}))"
        yield f"#define PASS_{number} (READY_{number} && !({met}))"
        yield f"#define DONE_{number} do {{ {self._done(number)} }} while (0)"
        slip = f'uerror("slip at {step.id}")'
        yield f"#define STEP_{number} do {{ step_{number}(W); if (bad) {slip}; DONE_{number}; }} while (0)"
        for position, answer in enumerate(step.asks.answers if step.asks else ()):
            yield f"#define ANSWER_{number}_{position} do {{ {self._answer(number, step, str(answer))} }} while (0)"

    def _ready(self, number: int) -> str:
        parts = [f"now.w.done[{self.watched.index(other)}]" for other in self.waits[number]]
        phase = self.phase[number]
        earlier = [other for other in set(self.phase) if other < phase]
        first = not any(
            self.owner[other] == self.owner[number] and self.phase[other] == phase for other in range(number)
        )
        if earlier and first:
            parts.append(f"now.w.finished[{max(earlier)}] == {self._lanes_in(max(earlier))}")
        return " && ".join(parts) or "1"

    def _done(self, number: int) -> str:
        text = f"now.w.done[{self.watched.index(number)}] = 1; " if number in self.watched else ""
        return text + (f"now.w.finished[{self.phase[number]}]++; " if self._last_of_phase(number) else "")

    def _conditions(self, number: int, step: Step) -> Iterator[str]:
        for part in step.when:
            name = str(part.name)
            if name in self.choices:
                slot, options = f"choice[{list(self.choices).index(name)}]", self.choices[name]
            else:
                asks = self.steps[self.index[name]].asks
                if asks is None or self.index[name] >= number:
                    raise ValueError(f"{step.id} depends on an answer that may come later")
                slot, options = f"answer[{self.asked.index(name)}]", [str(answer) for answer in asks.answers]
            yield (
                "(" + " || ".join(f"now.w.{slot} == {options.index(str(option)) + 1}" for option in part.options) + ")"
            )

    def _answer(self, number: int, step: Step, answer: str) -> str:
        text, answers = "", [str(one) for one in step.asks.answers] if step.asks else []
        if str(step.id) in self.asked:
            text += f"now.w.answer[{self.asked.index(str(step.id))}] = {answers.index(answer) + 1}; "
        if step.repeat is not None and str(step.repeat.answer) == answer:
            for undone in self._undone(number):
                if undone in self.watched:
                    text += f"now.w.done[{self.watched.index(undone)}] = 0; "
                if str(self.steps[undone].id) in self.asked:
                    text += f"now.w.answer[{self.asked.index(str(self.steps[undone].id))}] = 0; "
            text += f"now.w.finished[{self.phase[number]}]--; " if self._last_of_phase(number) else ""
        return text

    def _undone(self, number: int) -> list[int]:
        repeat = self.steps[number].repeat
        start = self.index[str(repeat.start)] if repeat else number
        undone = [other for other in self.lane(self.owner[number]) if start <= other <= number]
        if any(self.owner[other] != self.owner[number] for other in undone):
            raise ValueError(f"{self.steps[number].id} takes back another lane's step")
        return undone

    def _acts(self, number: int, step: Step) -> Iterator[str]:
        """What is judged and what happens, in the language's order."""
        for use, (at, _) in enumerate(self.uses):
            if any(self.index[str(wait.step)] == at and wait.seconds >= self._asked(at) for wait in step.waits):
                yield f"w->wet[{use}] = 0;"
        yield from (f"require(w, {self.facts.index(str(name))});" for name in step.requires)
        yield from (f"need(w, {self.things.number(str(need.subject))}, {LEVELS[need.level]});" for need in step.needs)
        if step.ignition:
            yield "ignite(w);"
        for effect in step.effects:
            yield self._effect(number, effect)
        yield from (f"w->facts[{self.facts.index(str(name))}] = 1;" for name in step.confirms)
        yield from (
            f"w->facts[{self.facts.index(str(name))}] = 0;" for name in step.withdraws if str(name) in self.facts
        )
        if step.ends_field:
            yield "w->ended = 1;"

    def _asked(self, number: int) -> float:
        return max((self.limits.get(str(name), 0.0) for name in self.steps[number].meets), default=0.0)

    def _effect(self, number: int, effect: Effect) -> str:
        role, at = self.owner[number], self.things.number
        owner, hands, thing = self.things.role(role), at(f"{role}.hands"), at(str(effect.thing))
        target = at(str(effect.target)) if effect.target and effect.field != "passes" else None
        arguments: tuple[object, ...]
        match effect.field:
            case "opens" | "uncovers":
                arguments = (hands, thing)
            case "touches":
                arguments = (owner, hands, thing)
            case "passes":
                arguments = (owner, hands, thing, at(f"{effect.target}.hands"))
            case "uses":
                arguments = (owner, hands, thing, target, self.uses.index((number, str(effect.thing))))
            case "lays":
                arguments = (owner, hands, thing, target)
            case "presents":
                arguments = (owner, thing, target)
            case "covers":
                arguments = (owner, hands, thing, target, self._wearers_hands(str(effect.thing)))
            case "dons":
                place = self.protocol.subjects[str(effect.thing)].worn_on or "hands"
                arguments = (owner, hands, thing, at(f"{role}.{place}"))
            case "doffs" | "hands_over":
                arguments = (owner, thing)
            case "discards":
                arguments = (owner, thing, 0 if target is None else target + 1)
            case "makes":
                arguments = (thing, LEVELS[effect.level or 0])
            case _:
                arguments = (thing,)
        return f"{effect.field}({', '.join(map(str, ('w', *arguments)))});"

    def _wearers_hands(self, target: str) -> int:
        subject = self.protocol.subjects[target]
        if subject.kind is Kind.PERSON and target.endswith((".hands", ".body")):
            return self.things.number(f"{subject.role}.hands") + 1
        return 0

    def processes(self) -> str:
        """The lanes, and what settles the choices before they start."""
        lanes = list(dict.fromkeys(self.owner))
        lines = ["c_decl {", '\\#include "tables.h"', "};", 'c_state "struct World w" "Global"', ""]
        for number, role in enumerate(lanes):
            lines += [f"proctype lane_{number}() {{ /* {role} */"]
            for step in (step for step, owner in enumerate(self.owner) if owner == role):
                lines += [f"  {line}" for line in self._transition(step)]
            lines += ["  skip", "}", ""]
        lines += ["init {", "  c_code { " + self._beginning() + " };"]
        for slot, options in enumerate(self.choices.values()):
            picks = " ".join(f":: c_code {{ now.w.choice[{slot}] = {at + 1}; }}" for at in range(len(options)))
            lines.append(f"  if {picks} fi;")
        lines.append("  atomic { " + " ".join(f"run lane_{number}();" for number in range(len(lanes))) + " };")
        lines += ["  c_expr { ALL_DONE };", "  c_code { AT_END; }", "}", ""]
        return "\n".join(lines)

    def _beginning(self) -> str:
        return " ".join(
            f"now.w.level[{number}] = {LEVELS[self.protocol.subjects[name].starts]};"
            for number, name in enumerate(self.things.names)
        )

    def _transition(self, number: int) -> Iterator[str]:
        step = self.steps[number]
        apart = self.phase[number] in self.redone or self.shares[number]
        options = [(f"GO_{number}", [f"STEP_{number}"], "")]
        if step.asks and (str(step.id) in self.asked or step.repeat):
            options = [
                (
                    f"GO_{number}",
                    [f"STEP_{number}", f"ANSWER_{number}_{position}"],
                    f" goto S{self.index[str(step.repeat.start)]};"
                    if step.repeat and str(step.repeat.answer) == str(answer)
                    else "",
                )
                for position, answer in enumerate(step.asks.answers)
            ]
            self._undone(number)
        if step.when:
            options.append((f"PASS_{number}", [f"DONE_{number}"], ""))
        texts = [_guarded(guard, acts, apart=apart) + then for guard, acts, then in options]
        back_to = any(other.repeat and self.index[str(other.repeat.start)] == number for other in self.steps)
        whole = "if " + " ".join(f":: {text}" for text in texts) + " fi;"
        yield f"S{number}: {whole}" if back_to else whole if len(texts) > 1 else texts[0]


def _guarded(guard: str, acts: list[str], *, apart: bool) -> str:
    """One transition. SPIN takes embedded C for local when it shows neither a call nor ``now.``."""
    code = " ".join(f"{act};" for act in acts)
    if apart:
        return f"d_step {{ c_expr {{ ({guard}) }}; c_code {{ {code} (void) now.w; }} }};"
    return f"c_expr {{ {guard} }}; c_code {{ {code} }};"
