"""``stepfield packs``: which packs to keep. Only glue."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from .command_given import of_set, set_in
from .command_things import put_out, write_tables

if TYPE_CHECKING:
    from .language.model import ProtocolSet
    from .language.pack_plan import PackPlan
    from .reports.packs import Planned


@click.command(name="packs", short_help="Propose packs that waste little, and compare them with those of today.")
@click.argument("plan", required=False, type=click.Path(dir_okay=False, path_type=Path))
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True, help="What to print."
)
@click.option("--csv", "csv_file", type=click.Path(dir_okay=False, path_type=Path), help="Write tables into this file.")
@click.option(
    "--xlsx",
    "xlsx_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write a spreadsheet into this file; needs the extra `sheets`.",
)
@of_set
def packs(plan: Path | None, form: str, csv_file: Path | None, xlsx_file: Path | None, folder: Path) -> None:
    """Propose base packs and add-ons for the cases in PLAN, which says how often each is done and what costs what.

    Without PLAN: the file packs.yaml of the set. Every case gets all that it needs, for the least cost of packs opened
    and of things opened and thrown away. Ends with 0, with 1 if PLAN must be mended or there are no such packs,
    and with 2 if it was called wrongly.
    """
    from .planning.demand import CannotPlanError
    from .reports.packs import packs_json, packs_tables, packs_text

    found = set_in(folder)
    path = plan if plan is not None else folder / "packs.yaml"
    try:
        planned = _planned(_plan(path, found), found)
    except CannotPlanError as error:
        click.echo(f"{error}.", err=True)
        sys.exit(1)
    put_out(form, lambda: packs_text(planned), lambda: packs_json(planned))
    write_tables(lambda: packs_tables(planned), csv_file, xlsx_file)
    sys.exit(1 if planned.answer.kept is None else 0)


def _plan(path: Path, found: ProtocolSet) -> PackPlan:
    """The plan in a file; ends the program where something in it must be mended."""
    from .checks.words import sentence
    from .language.pack_plan import plan_from
    from .language.yaml_text import MOST_BYTES
    from .reports.terminal import harmless

    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise click.UsageError(f"The plan {path} cannot be read: {error.strerror}.") from None
    plan, problems = plan_from(data, path.as_posix(), found)
    for one in problems:
        place = f"{one.span.path}:{one.span.line}:{one.span.column}"
        click.echo(harmless(f"{place}  {one.rule}  {sentence(one.message)}"), err=True)
        if one.hint:
            click.echo(harmless(f"  What to do: {sentence(one.hint)}"), err=True)
    if plan is None:
        sys.exit(1)
    return plan


def _planned(plan: PackPlan, found: ProtocolSet) -> Planned:
    from .planning.demand import CannotPlanError, Kindred, demand_of
    from .planning.pack_solver import best_packs, has_solver
    from .planning.packs import Costs, Rules, bill, proposed, question_of
    from .planning.things import settled
    from .planning.uses import Uses
    from .reports.packs import Planned

    uses = {one.id: Uses(one) for one in found.protocols if one.id not in found.unsound}
    for one in plan.cases:
        if one.case.protocol.value not in uses:
            raise CannotPlanError(f"{one.case.protocol.value} cannot be read as meant; `stepfield check` tells why")
    demand = demand_of(
        [Kindred(uses[one.case.protocol.value], tuple(settled(one.case).items()), one.rate) for one in plan.cases]
    )
    costs = Costs(plan.opening, plan.thrown_away, plan.reprocessed)
    question = question_of(demand, costs, Rules(plan.most_packs, plan.sharps_only_where_used, plan.reusables_apart))
    answer = best_packs(question)
    made, opened = proposed(demand, question, answer.kept) if answer.kept is not None else ((), ())
    return Planned(
        demand=demand,
        question=question,
        costs=costs,
        answer=answer,
        today=bill(demand, costs, demand.today, [one.today for one in demand.openings]),
        bill=bill(demand, costs, made, opened) if answer.kept is not None else None,
        packs=made,
        opened=opened,
        has_solver=has_solver(),
    )
