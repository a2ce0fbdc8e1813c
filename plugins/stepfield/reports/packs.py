"""Which packs to keep, in words, as JSON and as tables: the proposal beside the packs of today."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from ..checks.words import folded, listed, quoted
from ..planning.demand import Demand, Pack
from ..planning.packs import Answer, Bill, Costs, Question
from .tables import Cell, Table
from .terminal import harmless
from .things import case_title

NOTES = (
    "Planned is what lies in packs today and starts sterile. What different steps open stays apart; a pack in a pack",
    "is one thing; what may be needed counts as needed. Spares lie unopened beside the packs.",
    "A proposal changes which pack a thing lies in, and so the protocols: write them anew, then `stepfield check`.",
)
_HUNDREDTHS = 100


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan that was asked for. ``packs`` and ``opened`` are the proposal, empty where there is none.

    ``asked_solver`` tells that a solver was asked, ``has_solver`` that it is there.
    """

    demand: Demand
    question: Question
    costs: Costs
    answer: Answer
    today: Bill
    bill: Bill | None
    packs: tuple[Pack, ...]
    opened: tuple[tuple[int, ...], ...]
    has_solver: bool


def packs_text(planned: Planned) -> str:
    """The plan in words."""
    return "".join(f"{harmless(line)}\n" for line in _lines(planned))


def _lines(planned: Planned) -> Iterator[str]:
    yield "Cases a week:"
    for number, case in enumerate(planned.demand.cases, start=1):
        title = case_title(case.uses.protocol.title.value, dict(case.picked))
        yield f"  {number}  {_number(case.rate):>5}  {title}"
    yield ""
    yield from _table(planned)
    yield ""
    yield from _verdict(planned)
    for number, pack in enumerate(planned.packs):
        yield ""
        yield f"{_name(planned, number)}, {_when(planned, number)}:"
        contents = _contents(planned, pack)
        wide = max(len(title) for title, _ in contents)
        yield from (f"  {title:{wide}}  {count}" for title, count in contents)
    lost = _in_no_pack(planned) if planned.packs else []
    if lost:
        yield ""
        yield f"In no proposed pack, as no case needs it: {listed(lost, most=len(lost))}."
    for title, why in planned.demand.aside:
        yield f"{folded(title)} {why}: left as it is."
    yield ""
    yield from NOTES
    yield _rules(planned)
    yield "What a case needs is what its text names."


def _table(planned: Planned) -> Iterator[str]:
    rows = _compared(planned)
    wide = max(len(row[0]) for row in rows)
    for name, today, then in rows:
        yield f"{name:{wide}}  {today:>12}  {then:>12}"


def _compared(planned: Planned) -> list[tuple[str, str, str]]:
    """The comparison, with its headings."""
    today, then = planned.today, planned.bill

    def row(name: str, field: str, scale: int) -> tuple[str, str, str]:
        before, after = (_number(getattr(one, field), scale) if one is not None else "–" for one in (today, then))
        return name, before, after

    return [
        ("A week", "today", "proposed"),
        row("Kinds of packs kept", "kinds", 1),
        row("Packs opened", "opened", _HUNDREDTHS),
        row("Things opened and thrown away", "thrown_away", _HUNDREDTHS),
        row("Reusable things opened, not used", "reprocessed", _HUNDREDTHS),
        row("Sharp ones among these", "sharp_unused", _HUNDREDTHS),
        row("Cost by the weights", "cost", _HUNDREDTHS**2),
    ]


def _verdict(planned: Planned) -> Iterator[str]:
    answer, question = planned.answer, planned.question
    most = f"at most {question.most_packs} kinds of packs"
    if answer.impossible:
        more = " or sharps that are weighed (`sharps: weighed`)" if question.sharps_only_where_used else ""
        yield f"There are no packs that meet every need with {most}: proved. Allow more (`most_packs`){more}."
    elif answer.kept is None:
        yield f"No packs were found that meet every need with {most}; that there are none is not proved."
    elif answer.proved:
        yield f"No packs cost less by these weights with {most}: proved."
    else:
        gap = answer.cost - answer.bound
        share = f", {100 * gap / answer.cost:.0f} % of the cost" if answer.cost else ""
        yield (
            f"Whether other packs cost less with {most} is not proved: none can cost less than "
            f"{_number(answer.bound, _HUNDREDTHS**2)}, so at most {_number(gap, _HUNDREDTHS**2)} could be saved "
            f"beyond the proposal{share}."
        )
    if not planned.has_solver and not answer.proved:
        yield "No solver is there; with the extra `planner` (pip install 'stepfield[planner]') the answer is better."
    if planned.bill is not None and planned.bill.cost >= planned.today.cost:
        even = "as much" if planned.bill.cost == planned.today.cost else "more"
        yield f"The proposal costs {even}: the packs of today are {'as good' if even == 'as much' else 'better'}."


def _rules(planned: Planned) -> str:
    question = planned.question
    apart = "lie apart from what is thrown away" if question.reusables_apart else "may lie beside what is thrown away"
    sharp = (
        "nothing sharp is opened where it is not used"
        if question.sharps_only_where_used
        else "sharp things are weighed like others"
    )
    return f"In the proposal reusable things {apart}, and {sharp}."


def _name(planned: Planned, number: int) -> str:
    """What a proposed pack is called: a base pack is opened in all planned cases of every protocol that opens it."""
    opening = {one.case for one, used in zip(planned.demand.openings, planned.opened, strict=True) if number in used}
    ids = [case.uses.protocol.id for case in planned.demand.cases]
    protocols = {ids[case] for case in opening}
    all_of_these = {case for case, protocol in enumerate(ids) if protocol in protocols}
    return f"Pack {number + 1}, {'base pack' if opening == all_of_these else 'add-on'}"


def _when(planned: Planned, number: int) -> str:
    found: dict[str, list[int]] = {}
    for one, used in zip(planned.demand.openings, planned.opened, strict=True):
        if number in used:
            found.setdefault(one.step, []).append(one.case + 1)
    told = [
        f"{quoted(step)} in {'case' if len(cases) == 1 else 'cases'} {listed([str(case) for case in cases], most=40)}"
        for step, cases in found.items()
    ]
    return f"opened by {listed(told, most=len(told))}"


def _contents(planned: Planned, pack: Pack) -> list[tuple[str, int]]:
    return [(folded(planned.demand.goods[good].title), count) for good, count in sorted(pack.holds.items())]


def _in_no_pack(planned: Planned) -> list[str]:
    held = {good for pack in planned.packs for good in pack.holds}
    return [folded(good.title) for number, good in enumerate(planned.demand.goods) if number not in held]


def _number(value: int, scale: int = _HUNDREDTHS) -> str:
    return f"{value / scale:,.2f}".rstrip("0").rstrip(".")


def packs_json(planned: Planned) -> str:
    """The plan as JSON."""
    answer = planned.answer
    found: dict[str, Any] = {
        "cases": [
            {"protocol": one.uses.protocol.id, "choose": dict(one.picked), "per_week": one.rate / _HUNDREDTHS}
            for one in planned.demand.cases
        ],
        "today": _bill(planned.today),
        "proposed": _bill(planned.bill) if planned.bill is not None else None,
        "proved": answer.proved or answer.impossible,
        "impossible": answer.impossible,
        "least_cost": answer.bound / _HUNDREDTHS**2,
        "most_packs": planned.question.most_packs,
        "reusables_apart": planned.question.reusables_apart,
        "sharps_only_where_used": planned.question.sharps_only_where_used,
        "packs": [
            {
                "name": _name(planned, number),
                "holds": [{"title": title, "count": count} for title, count in _contents(planned, pack)],
                "opened_in": [
                    {"case": one.case + 1, "step": one.step}
                    for one, used in zip(planned.demand.openings, planned.opened, strict=True)
                    if number in used
                ],
            }
            for number, pack in enumerate(planned.packs)
        ],
        "in_no_pack": _in_no_pack(planned) if planned.packs else [],
        "left_as_it_is": [{"title": title, "why": why} for title, why in planned.demand.aside],
    }
    return json.dumps(found, indent=2) + "\n"


def _bill(bill: Bill) -> dict[str, float]:
    return {
        "kinds": bill.kinds,
        "opened": bill.opened / _HUNDREDTHS,
        "thrown_away": bill.thrown_away / _HUNDREDTHS,
        "reprocessed_unused": bill.reprocessed / _HUNDREDTHS,
        "sharp_unused": bill.sharp_unused / _HUNDREDTHS,
        "cost": bill.cost / _HUNDREDTHS**2,
    }


def packs_tables(planned: Planned) -> Sequence[Table]:
    """The comparison, and what the proposed packs hold, as tables."""
    heading, *rows = _compared(planned)
    holds: tuple[tuple[Cell, ...], ...] = tuple(
        (_name(planned, number), title, count, _when(planned, number))
        for number, pack in enumerate(planned.packs)
        for title, count in _contents(planned, pack)
    )
    return (
        Table("Compared", heading, tuple(rows)),
        Table("Proposed packs", ("Pack", "Thing", "How many", "When"), holds),
    )
