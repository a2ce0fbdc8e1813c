"""``stepfield things``: what a case or a day needs to have. Only glue."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .command_given import of_set, protocol_in, set_in

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from .language.model import Protocol, ProtocolSet
    from .planning.uses import Picked, Uses
    from .reports.tables import Table
    from .reports.things import DayHaving, Having


@click.command(name="things", short_help="List what a case or a day needs: packs, items, how many, spares.")
@click.argument("protocol", required=False)
@click.option("--day", metavar="NAME", help="All cases of a day of screens.yaml, added up.")
@click.option("--choose", "chosen", multiple=True, metavar="CHOICE=OPTION", help="How a choice is settled.")
@click.option(
    "--open-for",
    metavar="TIME",
    default="30 min",
    show_default=True,
    help="How long a pack may lie open before its first use, where no requirement that its opening step meets says so.",
)
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True, help="What to print."
)
@click.option(
    "--csv", "csv_file", type=click.Path(dir_okay=False, path_type=Path), help="Write a table into this file."
)
@click.option(
    "--xlsx",
    "xlsx_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write a spreadsheet into this file; needs the extra `sheets`.",
)
@of_set
def things(  # noqa: PLR0913, PLR0917 - an argument for each option
    protocol: str | None,
    day: str | None,
    chosen: tuple[str, ...],
    open_for: str,
    form: str,
    csv_file: Path | None,
    xlsx_file: Path | None,
    folder: Path,
) -> None:
    """List what PROTOCOL, an id within the set, needs: a list for each way to choose, and what is worth a look.

    Worth a look is what packs hold for nothing, what is used and cannot be had, what is opened too early, and what lies
    in two packs.
    """
    from .reports.things import day_json, day_tables, day_text, having_json, having_tables, having_text

    if (protocol is None) == (day is None):
        raise click.UsageError("Name a protocol, or a day with --day.")
    if day is not None and chosen:
        raise click.UsageError("--choose goes with a protocol; what a day's cases choose stands in screens.yaml.")
    found = set_in(folder)
    if day is not None:
        of_day = _of_day(found, day)
        put_out(form, lambda: day_text(of_day), lambda: day_json(of_day))
        write_tables(lambda: day_tables(of_day), csv_file, xlsx_file)
    else:
        having = _of_protocol(found, protocol or "", chosen, _seconds(open_for))
        put_out(form, lambda: having_text(having), lambda: having_json(having))
        write_tables(lambda: having_tables(having), csv_file, xlsx_file)


def put_out(form: str, text: Callable[[], str], as_json: Callable[[], str]) -> None:
    """Prints an answer in the form that is asked for."""
    click.echo(as_json() if form == "json" else text(), nl=False)


def write_tables(tables: Callable[[], Sequence[Table]], csv_file: Path | None, xlsx_file: Path | None) -> None:
    """Writes tables into the files that are asked for."""
    from .reports.tables import csv_table
    from .reports.workbook import WorkbookError, xlsx_table

    try:
        if csv_file is not None:
            csv_file.write_bytes(csv_table(tables()))
        if xlsx_file is not None:
            xlsx_file.write_bytes(xlsx_table(tables()))
    except (OSError, WorkbookError) as error:
        raise click.UsageError(f"The table cannot be written: {error}.") from None


def _of_protocol(found: ProtocolSet, name: str, chosen: tuple[str, ...], open_for: float) -> Having:
    from .asepsis import order_of
    from .checks.words import Naming
    from .planning.remarks import limits_of, remarks
    from .planning.uses import Uses
    from .reports.things import Having

    protocol = protocol_in(found, name)
    uses = Uses(protocol)
    ways = _ways(uses, _picked(protocol, chosen))
    order = order_of(protocol)
    told = remarks(uses, order, limits_of(found.requirements), open_for)
    return Having(uses, Naming(protocol, found.clinic), ways, told, open_for)


def _ways(uses: Uses, picked: Picked) -> tuple[Picked, ...]:
    """The ways to list: those that go with what is chosen, or that alone where none does."""
    if not picked:
        return tuple(way.picked for way in uses.ways()) or ((),)
    settled = dict(picked)
    fits = [
        way.picked for way in uses.ways() if all(settled.get(name, option) == option for name, option in way.picked)
    ]
    joined = [tuple((settled | dict(way)).items()) for way in fits]
    return tuple(joined) or (picked,)


def _picked(protocol: Protocol, chosen: tuple[str, ...]) -> Picked:
    options = {choice.id.value: [option.value for option, _ in choice.options] for choice in protocol.choices}
    found: dict[str, str] = {}
    for one in chosen:
        name, equals, option = one.partition("=")
        if not equals:
            raise click.UsageError("Write --choose as CHOICE=OPTION.")
        if name not in options:
            raise click.UsageError(f"There is no choice {name!r}; known are: {', '.join(options) or 'none'}.")
        if option not in options[name]:
            raise click.UsageError(f"{name!r} has no option {option!r}; known are: {', '.join(options[name])}.")
        found[name] = option
    return tuple((name, found[name]) for name in options if name in found)


def _of_day(found: ProtocolSet, name: str) -> DayHaving:
    from .planning.things import of_day, settled
    from .planning.uses import Uses
    from .reports.things import DayHaving, case_title

    day = next((one for one in found.screens.days if one.id.value == name), None)
    if day is None:
        known = ", ".join(one.id.value for one in found.screens.days) or "none"
        raise click.UsageError(f"There is no day {name!r} in screens.yaml; known are: {known}.")
    uses = {one.id: Uses(one) for one in found.protocols}
    cases = [(case, uses.get(case.protocol.value)) for case in day.cases]
    titles = tuple(
        case_title(one.protocol.title.value if one is not None else case.protocol.value, settled(case))
        for case, one in cases
    )
    lost = tuple(number for number, (_, one) in enumerate(cases, start=1) if one is None)
    return DayHaving(day, titles, lost, of_day(cases))


def _seconds(told: str) -> float:
    import re

    shape = re.fullmatch(r"([0-9]{1,6}(?:\.[0-9]{1,3})?) ?(s|min|h|d)", told.strip())
    if shape is None:
        raise click.UsageError(f"{told!r} is no time such as 30 min.")
    return float(shape[1]) * {"s": 1, "min": 60, "h": 3600, "d": 86_400}[shape[2]]
