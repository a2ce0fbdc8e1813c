"""What to change, and where: which step to wait for and how to write that, in a protocol or in a part."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..language.model import Condition, Level, Step
from .slips import Case, Setting
from .words import at, listed, part_of, quoted


def bring_before(case: Case, candidates: Sequence[int]) -> str | None:
    """What makes one of the candidates come before the failing step: the change, or None if no candidate is of use.

    A candidate that may come either way round is waited for; one that comes later is to be moved; one that is skipped
    at times is to be done always.
    """
    setting, step, path = case.setting, case.step, case.span.path
    for number in candidates:
        change, other = link(case, case.number, number), setting.steps[number]
        if change is not None:
            always = "" if _is_done_with(setting, other, step) else f" {_do_always(other, step, path)}"
            return f"Let {quoted(step.id)} wait for {quoted(other.id)}: {change}.{always}"
    later = [setting.steps[number] for number in candidates if setting.comes_before(case.number, number)]
    if later:
        place = at(later[0].id.span, path)
        return (
            f"{quoted(later[0].id)} ({place}) comes only later: move it, or add one like it, before {quoted(step.id)}."
        )
    others = [setting.steps[number] for number in candidates if number != case.number]
    skipped = [other for other in others if not _is_done_with(setting, other, step)]
    return _do_always(skipped[0], step, path) if skipped else None


def _is_done_with(setting: Setting, other: Step, step: Step) -> bool:
    """Whether one step is done in every case in which the other is, as far as their own conditions tell."""
    wanted = {condition.name.value: {option.value for option in condition.options} for condition in step.when}
    return all(_holds_with(setting, condition, wanted) for condition in other.when)


def _holds_with(setting: Setting, condition: Condition, wanted: dict[str, set[str]]) -> bool:
    name, options = condition.name.value, {option.value for option in condition.options}
    if wanted.get(name, {""}) <= options:
        return True
    asking = next((one for one in setting.steps if one.id.value == name), None)
    if asking is None or asking.asks is None:
        return False
    back = {asking.repeat.answer.value} if asking.repeat is not None else set()
    return {answer.value for answer in asking.asks.answers} - back <= options


def _do_always(other: Step, step: Step, path: str) -> str:
    return (
        f"{quoted(other.id)} ({at(other.id.span, path)}) is done only when {when_text(other.when)}: "
        f"do it in every case before {quoted(step.id)}, or give that the same `when`."
    )


def link(case: Case, later: int, earlier: int) -> str | None:
    """How to write that one step comes after another, where that can help.

    It can't where every order has the slip, nor where the two are ordered already.
    """
    if case.occurrence.always or not case.setting.are_free(later, earlier):
        return None
    return wait_for(case.setting, later, earlier, case.span.path)


def wait_for(setting: Setting, number: int, earlier: int, path: str) -> str | None:
    """How to write that a step comes after another; None where ``after`` can't say it without a loop.

    Inside a part its own steps go by their short names; what stands outside is waited for by the whole use of the part.
    """
    step, other = setting.steps[number], setting.steps[earlier]
    mine, theirs = step.id.value.split("."), other.id.value.split(".")
    depth = 0
    while depth < min(len(mine), len(theirs)) - 1 and mine[depth] == theirs[depth]:
        depth += 1
    name = ".".join(theirs[depth:])
    if depth == len(mine) - 1:
        place = at(step.id.span, path)
        if step.after:
            return f"add `{name}` to the `after` of {quoted(step.id)} ({place})"
        return f"write `after: [{name}]` in {quoted(step.id)} ({place})"
    use = ".".join(mine[: depth + 1])
    within = setting.steps_where(lambda one: one.id.value.startswith(f"{use}."))
    if any(setting.comes_before(one, earlier) or one == earlier for one in within) or len(step.used_at) <= depth:
        return None
    return f"write `after: [{name}]` at the use {quoted(mine[depth])} ({at(step.used_at[depth], path)})"


def when_text(conditions: Iterable[Condition]) -> str:
    """Conditions as the file writes them."""
    return listed(f"`{one.name}: {' or '.join(str(option) for option in one.options)}`" for one in conditions)


def raisers(setting: Setting, subject: str, level: Level) -> tuple[int, ...]:
    """The steps that bring a subject's outside to a level: by treating it, or by what they put on it.

    Gloves and gowns are the way to sterile hands and bodies only: below that, hands are washed and rubbed.
    """
    return setting.steps_where(lambda step: _raises(setting, step, subject, level))


def _raises(setting: Setting, step: Step, subject: str, level: Level) -> bool:
    part = part_of(subject)
    for effect in step.effects:
        named = effect.thing.value
        if effect.field == "makes" and named == subject and (effect.level or Level.CONTAMINATED) >= level:
            return True
        if part is not None and level < Level.STERILE:
            continue
        if effect.field == "covers" and named == subject and effect.target is not None:
            item = setting.protocol.subjects[effect.target.value]
        elif effect.field == "dons" and part is not None and subject == f"{step.role}.{part}":
            item = setting.protocol.subjects[named]
        else:
            continue
        worn_there = effect.field == "covers" or (item.worn_on or "hands") == part
        if worn_there and item.starts >= level:
            return True
    return False


def steps_with(setting: Setting, field: str, thing: str) -> tuple[int, ...]:
    """The steps that have an effect on a thing, by the effect's field."""
    return setting.steps_where(
        lambda step: any(effect.field == field and effect.thing.value == thing for effect in step.effects)
    )


def line(case: Case, step: Step) -> str:
    """A step with its owner and the place to look at."""
    return f"{quoted(step.id)} ({at(step.id.span, case.span.path)})"
