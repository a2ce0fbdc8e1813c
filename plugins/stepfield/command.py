"""The command line: checks protocol sets and explains rules. Only glue."""

from __future__ import annotations

import datetime
import gc
import os
import re
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import click

from . import __version__
from .command_adopt import adopt
from .command_catch_up import catch_up
from .command_drift import drift
from .command_evidence import evidence
from .command_format import format_
from .command_given import Day
from .command_lsp import lsp
from .command_new import new
from .command_offer import offer
from .command_packs import packs
from .command_review import review, taken_at
from .command_site import export, verify
from .command_tailor import tailor
from .command_team import team
from .command_things import things
from .command_time import time

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from .checks import Report
    from .keeping.shelf import Shelf
    from .language import ProtocolSet, Taken


@dataclass(slots=True)
class Asked:
    """One protocol set that is asked for: its folder as given, and single files of it, or none for all."""

    folder: Path
    files: list[Path] = field(default_factory=list)
    whole: bool = False


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="stepfield")
def main() -> None:
    """Prove that protocols keep asepsis in every order the team could do the steps in."""
    # Nearly all that is read and proved is used to the end: looking for garbage often costs much and finds little.
    gc.set_threshold(100_000)


main.add_command(new)
main.add_command(adopt)
main.add_command(catch_up)
main.add_command(drift)
main.add_command(team)
main.add_command(time)
main.add_command(evidence)
main.add_command(things)
main.add_command(packs)
main.add_command(verify)
main.add_command(export)
main.add_command(lsp)
main.add_command(review)
main.add_command(format_)
main.add_command(tailor)
main.add_command(offer)


@main.command(short_help="Check protocol sets, or single files of them.")
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "sarif", "github", "gitlab", "junit"]),
    default="text",
    show_default=True,
    help="What to print.",
)
@click.option("--today", type=Day(), default=None, help="The day approvals and reviews are judged on; default: today.")
@click.option(
    "--max-states",
    type=click.IntRange(min=1),
    default=None,
    help="How many states of one protocol are looked at before the check gives up and says so.",
)
@click.option(
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    default=None,
    help="Write the report into this file instead of printing it.",
)
@click.option("--fix", is_flag=True, help="Ask for each finding which mend to write into the files; then check again.")
@click.option(
    "--pick",
    "picks",
    multiple=True,
    metavar="RULE:STEP[:SUBJECT][=N]",
    help="With --fix: write this mend, and ask nothing. STEP may be PROTOCOL/STEP; N is the mend's number.",
)
@click.option(
    "--new-only",
    metavar="BASE",
    help="Only what BASE has not: a commit, branch or tag of git, or a folder with a clinic.yaml.",
)
@click.option("--no-cache", is_flag=True, help="Work everything out anew, and keep nothing for the next time.")
def check(  # noqa: PLR0913, PLR0917 - an argument for each option
    paths: tuple[Path, ...],
    form: str,
    today: datetime.date | None,
    max_states: int | None,
    output: Path | None,
    fix: bool,
    picks: tuple[str, ...],
    new_only: str | None,
    no_cache: bool,
) -> None:
    """Check protocol sets: folders with a clinic.yaml, or single files of them; without PATHS, the folder protocols.

    Ends with 0 if no finding is an error, 1 if one is, and 2 if it was called wrongly or there was nothing to check.
    """
    from .keeping.shelf import Kept, Shelf, key_of, usual_folder

    day = today or datetime.date.today()  # noqa: DTZ011 - the day where the clinic is
    sets = _asked(paths or (Path("protocols"),))
    if picks and not fix:
        raise click.UsageError("--pick goes with --fix.")
    if fix and not picks and form != "text":
        raise click.UsageError(f"--fix asks questions; with --format {form}, name the mends with --pick.")

    def load() -> list[Report]:
        return [_report(asked, _taken(asked), day, max_states) for asked in sets]

    if new_only is not None and len(sets) > 1:
        raise click.UsageError("--new-only compares one protocol set with its past; name one.")
    base = None if new_only is None else taken_at(new_only, sets[0].folder)
    if fix:
        _fix(sets, picks, load, max_states)
    colour = form == "text" and output is None and _wants_colour()
    shelf = Shelf(None if no_cache else usual_folder())
    asked = repr((sets, form, colour, day, max_states))
    taken = [_taken(one, narrow=True) for one in sets]
    key = key_of(asked, *(one.content() for one in taken), *((b"since", base.content()) if base else ()))
    kept = shelf.find(key)
    if kept is None:
        from .reports import as_form

        # A form that lists every protocol, found at fault or not, needs every one of them read.
        known = None if form == "junit" else shelf
        reports = [_report(one, files, day, max_states, known) for one, files in zip(sets, taken, strict=True)]
        if base is not None:
            reports = [_only_new(report, base, day, max_states) for report in reports]
        text = as_form(form, reports, colour=colour)
        kept = Kept(text, any(report.failed for report in reports))
        shelf.keep(key, kept)
    _write(kept.text, output)
    sys.exit(1 if kept.failed else 0)


@main.command(short_help="Explain a rule; without RULE, list them all.")
@click.argument("rule", required=False)
def explain(rule: str | None) -> None:
    """Tell what a rule means, why it matters, and how to mend what it finds. Without RULE: list them all."""
    from .changes import RULES
    from .checks import all_rules
    from .checks.manual import summary_of

    rules = {one.name: one for one in sorted((*all_rules(), *RULES), key=lambda one: one.name)}
    if rule is None:
        wide = max(map(len, rules))
        for name, one in rules.items():
            click.echo(f"{name:{wide}}  {one.severity.value:7}  {summary_of(one.page)}")
        return
    if rule not in rules:
        import difflib

        near = difflib.get_close_matches(rule, rules, 4)
        hint = f"The nearest: {', '.join(near)}." if near else "None is near; `stepfield explain` lists them all."
        raise click.UsageError(f"There is no rule {rule!r}. {hint}")
    click.echo(f"{rule} ({rules[rule].severity.value})\n\n{rules[rule].page.strip()}")


@main.command(short_help="Ask what holds before a step, or what a breach would do.")
@click.argument("protocol")
@click.option("--before", metavar="STEP", help="How everybody stands just before STEP, and what each may touch.")
@click.option("--can", metavar="CLAIM", help="Whether a claim such as 'surgeon.hands sterile' holds at STEP.")
@click.option("--breach", metavar="SUBJECT", help="What is lost, and what fails, if SUBJECT is contaminated at STEP.")
@click.option("--at", metavar="STEP", help="Just before which step; for --can and --breach.")
@click.option(
    "--set",
    "folder",
    type=click.Path(path_type=Path),
    default=Path("protocols"),
    show_default=True,
    help="The folder of the protocol set, where PROTOCOL is an id.",
)
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True, help="What to print."
)
@click.option(
    "--max-states",
    type=click.IntRange(min=1),
    default=None,
    help="How many states are looked at before the answer says that it is not proved.",
)
def ask(protocol: str, folder: Path, form: str, max_states: int | None, **asked: str | None) -> None:
    """Ask one question of PROTOCOL, an id within the set or a path to its file: --before, --can or --breach.

    The answer holds over every order the team could do the steps in. Ends with 0, or with 2 if it was called wrongly.
    """
    from .checks import ASK_LIMIT, QuestionError, ask_before, ask_breach, ask_can
    from .reports import json_answer, text_answer

    limit = ASK_LIMIT if max_states is None else max_states
    before, can, breach, at = (asked[name] for name in ("before", "can", "breach", "at"))
    if sum(one is not None for one in (before, can, breach)) != 1:
        raise click.UsageError("Ask one question: --before STEP, --can CLAIM --at STEP, or --breach SUBJECT --at STEP.")
    if (before is None) != (at is not None):
        raise click.UsageError("--can and --breach need --at STEP; --before names its step itself.")
    protocol_set, name = _set_and_id(protocol, folder)
    try:
        if before is not None:
            answer = ask_before(protocol_set, name, before, limit=limit)
        elif can is not None:
            answer = ask_can(protocol_set, name, can, at or "", limit=limit)
        else:
            answer = ask_breach(protocol_set, name, breach or "", at or "", limit=limit)
    except QuestionError as error:
        raise click.UsageError(str(error)) from None
    _write(json_answer(answer) if form == "json" else text_answer(answer), None)


def _set_and_id(protocol: str, folder: Path) -> tuple[ProtocolSet, str]:
    """The set that is asked, and the protocol's id in it; ``protocol`` is an id or the path of a file."""
    from .language import read_set

    if re.fullmatch(r"[\w-]+", protocol) is None:
        (asked,) = _asked((Path(protocol),))
        if not asked.files:
            raise click.UsageError(f"{protocol} is a folder; name one protocol of it, or give the folder as --set.")
        folder, path = asked.folder, _shown(asked.files[0], asked.folder)
        found = read_set(folder)
        ids = {one.path: one.id for one in found.protocols}
        ids |= {f"{folder.as_posix()}/{name}.yaml": name for name in found.unreadable}
        if path not in ids:
            raise click.UsageError(f"{path} is no protocol; the protocols of its set: {', '.join(ids.values())}.")
        return found, ids[path]
    try:
        return read_set(folder), protocol
    except OSError as error:
        raise click.UsageError(f"The protocol set cannot be read: {error}.") from None


def _asked(paths: tuple[Path, ...]) -> list[Asked]:
    """The protocol sets that the paths mean, each once, in the order they were named."""
    found: dict[Path, Asked] = {}
    for path in paths:
        try:
            is_folder, is_file = path.is_dir(), path.is_file()
            folder = path if is_folder else _set_of(path) if is_file else None
            key = folder.resolve() if folder is not None else path
        except OSError as error:
            raise click.UsageError(f"{path} cannot be read: {error.strerror}.") from None
        if folder is None:
            lacks = "is neither a folder nor a file" if not is_file else "belongs to no protocol set: no clinic.yaml"
            where = "" if not is_file else " beside it or above it"
            raise click.UsageError(f"{path} {lacks}{where}.")
        asked = found.setdefault(key, Asked(folder))
        asked.whole = asked.whole or is_folder
        asked.files += [] if is_folder else [path]
    return list(found.values())


def _set_of(file: Path) -> Path | None:
    """The nearest folder at or above a file that holds a clinic.yaml."""
    folder = file.parent
    while not (folder / "clinic.yaml").is_file():
        if folder.resolve() == folder.resolve().parent:
            return None
        folder = folder.parent if folder.name not in ("", "..") else folder / ".."
    return folder


def _taken(asked: Asked, *, narrow: bool = False) -> Taken:
    """The files of a set; with ``narrow`` no more than what decides what is told of the single files asked for."""
    from .language import take_in
    from .language.files import place_of

    names = {file.name for file in asked.files}
    beside = all(file.parent.resolve() == asked.folder.resolve() for file in asked.files)
    alone = beside and all(place_of(name, "").kind == "protocol" for name in names)
    # These files name protocols: whether these are there is told with every file.
    named = any(
        os.path.lexists(asked.folder / f"{name}.yaml") for name in ("packs", "screens", "tailoring", "upstream")
    )
    narrow = narrow and alone and not asked.whole and not named
    return take_in(asked.folder, only=names if narrow else None)


def _report(
    asked: Asked, taken: Taken, today: datetime.date, max_states: int | None, shelf: Shelf | None = None
) -> Report:
    """The report on a set or on single files of it; with a shelf, what is known to have passed is not judged anew."""
    from .asepsis import DEFAULT_LIMIT
    from .checks import check_set, with_acceptances, with_mends
    from .language import set_of

    limit = DEFAULT_LIMIT if max_states is None else max_states
    if not asked.whole:
        from .reports.choosing import only_findings, only_protocols

        whole = set_of(taken)
        paths = _paths(asked, whole)
        report = with_acceptances(check_set(only_protocols(whole, paths), today, limit=limit))
        report = only_findings(report, whole, paths)
    elif shelf is None:
        report = with_acceptances(check_set(whole := set_of(taken), today, limit=limit))
    else:
        from .keeping.earlier import report_of

        report = with_acceptances(report_of(taken, shelf, today, limit))
        whole = report.facts.protocol_set
    if not (whole.protocols or whole.unreadable or whole.passed or report.failed):
        raise click.UsageError(f"There is no protocol in {asked.folder}.")
    return with_mends(report, limit)


def _only_new(report: Report, base: Taken, today: datetime.date, max_states: int | None) -> Report:
    """The report without what was found in the text of the set that ``base`` is."""
    from .asepsis import DEFAULT_LIMIT
    from .checks import check_set, without_known
    from .language import set_of

    before = check_set(set_of(base), today, limit=DEFAULT_LIMIT if max_states is None else max_states)
    return without_known(report, before)


def _paths(asked: Asked, whole: ProtocolSet) -> set[str]:
    """The single files asked for, as findings name them."""
    known = {*whole.sources, *(problem.span.path for problem in whole.problems)}
    paths = {_shown(file, asked.folder) for file in asked.files}
    for path in sorted(paths - known):
        raise click.UsageError(f"{path} is no file of the protocol set in {asked.folder}.")
    return paths


def _fix(sets: list[Asked], picks: tuple[str, ...], load: Callable[[], list[Report]], max_states: int | None) -> None:
    """Writes the mends that are picked, by name or one after the other when asked."""
    from .asepsis import DEFAULT_LIMIT
    from .language.saving import CannotSaveError, save
    from .reports.picking import PickError, ask_for_mends, write_picked

    limit = DEFAULT_LIMIT if max_states is None else max_states

    def keep(place: int, report: Report, texts: Mapping[str, str]) -> None:
        save(sets[place].folder, report.facts.protocol_set.sources, texts)

    try:
        if picks:
            write_picked(load, keep, lambda text: click.echo(text, nl=False, err=True), picks, limit)
        else:
            ask_for_mends(load, keep, _answer, _print, limit=limit, colour=_wants_colour())
    except PickError as error:
        raise click.UsageError(str(error)) from None
    except CannotSaveError as error:
        raise click.UsageError(f"{error}.") from None


def _answer(question: str) -> str | None:
    """What somebody types; None where nobody is there to."""
    try:
        return str(click.prompt(f"  {question}", default="", show_default=False))
    except click.Abort:
        return None


def _shown(file: Path, folder: Path) -> str:
    """A file as findings name it: its place in the set, below the folder as given."""
    inside = (file.parent.resolve() / file.name).relative_to(folder.resolve())
    return (folder / inside).as_posix()


def _wants_colour() -> bool:
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _print(text: str) -> None:
    encoding = sys.stdout.encoding or "utf-8"
    click.echo(text.encode(encoding, "backslashreplace").decode(encoding), nl=False, color=True)


def _write(text: str, output: Path | None) -> None:
    if output is None:
        _print(text)
        return
    try:
        output.write_text(text, encoding="utf-8")
    except OSError as error:
        raise click.UsageError(f"{output} cannot be written: {error.strerror}.") from None


if __name__ == "__main__":
    main()
