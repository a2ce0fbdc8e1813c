"""What a change does to the order of the steps: not where they stand in the text, but who waits for whom."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ..asepsis import Order, bits, order_of
from ..checks.words import quoted
from ..language.model import Protocol, Step
from .grades import Grade, of_field
from .matching import Matching
from .model import Detail


def people_of(step: Step) -> tuple[str, ...]:
    """Who takes part in a step, the owner first."""
    owner = [step.role.value] if step.role is not None else []
    return tuple(dict.fromkeys([*owner, *(helper.value for helper in step.helpers)]))


def order_details(matching: Matching) -> dict[int, list[Detail]]:
    """For the new number of a step what differs in what comes before it.

    Only steps that both texts have are compared. What follows from a difference that is told is not told as well.
    """
    found: dict[int, list[Detail]] = {}
    before, after = order_of(matching.old), order_of(matching.new)
    if before.loops or after.loops:
        return found
    was, now = _pairs(before, set(matching.forth)), _pairs(after, set(matching.back))
    moved = {(matching.forth[one], matching.forth[other]) for one, other in was}
    lost, gained = moved - now, now - moved
    direct = _direct(moved, lost)
    follows = _least(moved, {pair for pair in lost if not _is_turned(matching, pair, now)}) - direct
    for pair in sorted(direct | follows, key=_by_later):
        found.setdefault(pair[1], []).append(_lost(matching, pair, now, follows=pair in follows))
    for earlier, later in sorted(_direct(now, gained), key=_by_later):
        if (later, earlier) not in moved:
            grading = of_field("order")
            told = f"after {_told(matching.new.steps[earlier])}"
            found.setdefault(later, []).append(Detail("order", grading.grade, grading.reason, (), (told,)))
    return found


def phase_details(matching: Matching, phases: dict[str, str]) -> Iterator[tuple[int, Detail]]:
    """The steps that stand in another phase now; ``phases`` maps old names of phases to new ones."""
    grading = of_field("phase")
    was, now = _phase_names(matching.old), _phase_names(matching.new)
    for old, new in matching.pairs:
        if phases.get(was[old], was[old]) != now[new]:
            lost, gained = f"in phase {quoted(was[old])}", f"in phase {quoted(now[new])}"
            yield new, Detail("phase", grading.grade, grading.reason, (lost,), (gained,))


def _phase_names(protocol: Protocol) -> list[str]:
    return [phase.id.value for phase in protocol.phases for _ in phase.steps]


def _pairs(order: Order, only: set[int]) -> set[tuple[int, int]]:
    """Every pair of steps of which the one always comes before the other."""
    return {
        (earlier, later) for later, mask in enumerate(order.ancestors()) if later in only
        for earlier in bits(mask) if earlier in only
    }  # fmt: skip


def _by_later(pair: tuple[int, int]) -> tuple[int, int]:
    return pair[1], pair[0]


def _direct(pairs: set[tuple[int, int]], some: set[tuple[int, int]]) -> set[tuple[int, int]]:
    """Of some of the pairs those with no step between."""
    between = _between(pairs)
    return {pair for pair in some if not between(pair)}


def _least(pairs: set[tuple[int, int]], some: set[tuple[int, int]]) -> set[tuple[int, int]]:
    """Of some of the pairs those that do not follow from another of them."""
    between = _between(pairs)
    return {
        (earlier, later)
        for earlier, later in some
        if not any((earlier, middle) in some or (middle, later) in some for middle in between((earlier, later)))
    }


def _between(pairs: set[tuple[int, int]]) -> Callable[[tuple[int, int]], set[int]]:
    behind: dict[int, set[int]] = {}
    ahead: dict[int, set[int]] = {}
    for earlier, later in pairs:
        behind.setdefault(earlier, set()).add(later)
        ahead.setdefault(later, set()).add(earlier)
    return lambda pair: behind[pair[0]] & ahead[pair[1]]


def _is_turned(matching: Matching, pair: tuple[int, int], now: set[tuple[int, int]]) -> bool:
    """Whether somebody who does both steps does them the other way round: nobody else waits less for that."""
    if (pair[1], pair[0]) not in now:
        return False
    one, other = (set(people_of(matching.new.steps[number])) for number in pair)
    old, old_other = (set(people_of(matching.old.steps[matching.back[number]])) for number in pair)
    return bool(one & other) and bool(old & old_other)


def _lost(matching: Matching, pair: tuple[int, int], now: set[tuple[int, int]], *, follows: bool) -> Detail:
    """A step need no longer come after another; ``follows`` if that comes of an order told elsewhere."""
    grading = of_field("order")
    grade, reason = grading.grade, grading.reason
    if follows:
        reason = "It follows from the order in which somebody else works."
    elif not _is_turned(matching, pair, now):
        grade, reason = Grade.SAFETY, "Somebody need no longer wait."
    one = _told(matching.new.steps[pair[0]])
    told = f"before {one}" if (pair[1], pair[0]) in now else f"before or after {one}, as it comes"
    return Detail("order", grade, reason, (f"after {one}",), (told,))


def _told(step: Step) -> str:
    who = f" ({', '.join(people_of(step))})" if people_of(step) else ""
    return f"{quoted(step.id)}{who}"
