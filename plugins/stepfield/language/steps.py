"""Steps and uses of parts as they are written, before parts are unfolded and names looked up."""

from __future__ import annotations

from dataclasses import dataclass

from .model import Caution, Condition, Duration, Effect, Kept, Level, Need, Question, Repeat, Step, Wait
from .quantities import quantity
from .schemas import EffectForm, effect_forms
from .source import Problem, Span, Text
from .values import entries, flag, items, level, mappings, seconds, shape_problem, text, text_if, texts
from .yaml_nodes import Mapping, Node, Scalar, Sequence


@dataclass(frozen=True, slots=True)
class Use:
    """The use of a part: which, under what name, and what its names stand for."""

    part: Text
    name: Text
    bindings: tuple[tuple[Text, Text], ...]
    when: tuple[Condition, ...]
    after: tuple[Text, ...]
    span: Span


Line = Step | Use


def read_lines(node: Node | None, problems: list[Problem]) -> tuple[Line, ...]:
    """The list under ``steps``: steps and uses in written order."""
    return tuple(_use(line) if line.entry("use") else _step(line, problems) for line in mappings(node))


def read_cautions(node: Node | None) -> tuple[Caution, ...]:
    """The list under ``cautions``."""
    return tuple(Caution(_must(caution, "kind"), _must(caution, "text")) for caution in mappings(node))


def _use(line: Mapping) -> Use:
    return Use(
        part=_must(line, "use"),
        name=_must(line, "as"),
        bindings=tuple((entry.key, text(entry.value)) for entry in entries(line.get("with"))),
        when=_conditions(line.get("when")),
        after=texts(line, "after"),
        span=line.span,
    )


def _step(line: Mapping, problems: list[Problem]) -> Step:
    role = text_if(line, "role")
    return Step(
        id=_must(line, "id"),
        role=role,
        helpers=texts(line, "with"),
        do=_must(line, "do"),
        why=text_if(line, "why"),
        after=texts(line, "after"),
        when=_conditions(line.get("when")),
        needs=_needs(line, role),
        requires=texts(line, "requires"),
        effects=tuple(effect for form in effect_forms() for effect in _effects(form, line.get(form.field))),
        confirms=texts(line, "confirms"),
        withdraws=texts(line, "withdraws"),
        asks=_asks(line.get("asks")),
        repeat=_repeat(line.get("repeat")),
        takes=_takes(line, problems),
        waits=_waits(line.get("waits"), "for", "at_least"),
        within=_waits(line.get("within"), "of", "at_most"),
        cautions=read_cautions(line.get("cautions")),
        records=texts(line, "records"),
        meets=_meets(line),
        ignition=flag(line, "ignition"),
        ends_field=flag(line, "ends_field"),
        span=line.span,
        keeps=_keeps(line),
    )


def _must(mapping: Mapping, key: str) -> Text:
    node = mapping.get(key)
    assert node is not None, key
    return text(node)


def _conditions(node: Node | None) -> tuple[Condition, ...]:
    return tuple(
        Condition(
            entry.key,
            tuple(map(text, items(entry.value))) if isinstance(entry.value, Sequence) else (text(entry.value),),
        )
        for entry in entries(node)
    )


def _needs(line: Mapping, role: Text | None) -> tuple[Need, ...]:
    """What the step needs; ``sterile`` stands for the owner's hands and body, unless more than that is asked for."""
    written = [Need(entry.key, level(entry.value, Level.STERILE)) for entry in entries(line.get("needs"))]
    sterile = line.entry("sterile")
    if sterile is None or role is None or not flag(line, "sterile"):
        return tuple(written)
    own = [Need(Text(f"{role}.{part}", sterile.key.span), Level.STERILE) for part in ("hands", "body")]
    replaced = {need.subject.value for need in own}
    return tuple([need for need in written if need.subject.value not in replaced] + own)


def _effects(form: EffectForm, node: Node | None) -> tuple[Effect, ...]:
    if node is None:
        return ()
    if isinstance(node, Sequence):
        return tuple(Effect(form.field, text(item)) for item in node.items)
    if form.form == "levels":
        return tuple(Effect(form.field, entry.key, level=level(entry.value, Level.STERILE)) for entry in entries(node))
    return tuple(Effect(form.field, entry.key, text(entry.value)) for entry in entries(node))


def _asks(node: Node | None) -> Question | None:
    return Question(_must(node, "question"), texts(node, "answers")) if isinstance(node, Mapping) else None


def _repeat(node: Node | None) -> Repeat | None:
    return Repeat(_must(node, "from"), _must(node, "answer")) if isinstance(node, Mapping) else None


def _takes(line: Mapping, problems: list[Problem]) -> Duration | None:
    node = line.get("takes")
    if node is None:
        return None
    if isinstance(node, Scalar):
        only = seconds(text(node))
        return Duration(only, only, only, node.span)
    assert isinstance(node, Mapping)
    least, likely, most = (seconds(_must(node, key)) for key in ("least", "likely", "most"))
    if not least <= likely <= most:
        message = "the three durations must grow: least, then likely, then most"
        problems.append(shape_problem(node.span, message, "takes", step=_must(line, "id").value))
    return Duration(least, likely, most, node.span)


def _keeps(line: Mapping) -> tuple[Kept, ...]:
    return tuple(
        Kept(entry.key, quantity(text(entry.value).value), entry.value.span) for entry in entries(line.get("keeps"))
    )


def _meets(line: Mapping) -> tuple[Text, ...]:
    """What the step answers, with a value or without."""
    told = texts(line, "meets")
    names = {name.value for name in told}
    return (*told, *(entry.key for entry in entries(line.get("keeps")) if entry.key.value not in names))


def _waits(node: Node | None, step: str, bound: str) -> tuple[Wait, ...]:
    return tuple(Wait(_must(wait, step), seconds(_must(wait, bound))) for wait in mappings(node))
