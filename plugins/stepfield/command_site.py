"""``stepfield verify`` and ``stepfield export``: judge a built site, or write it as plain files. Only glue."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    import datetime

    from .pages import Site
    from .publishing import Contents


@click.command(short_help="Judge a built or published site.")
@click.argument("site", type=click.Path(path_type=Path))
@click.option(
    "--protocols",
    type=click.Path(path_type=Path),
    default=None,
    help="The folder of the protocol set that the site should show; without it, the site's own list is trusted.",
)
def verify(site: Path, protocols: Path | None) -> None:
    """Judge SITE, a built or published site: whether all is there, of one build, and asks no other machine.

    Looked at are pages, style sheets and pictures; what a script that is not ours does is not. Ends with 0 if nothing
    is wrong, 1 if something is, and 2 if it was called wrongly.
    """
    from .publishing import verify as judge

    if not site.is_dir():
        raise click.UsageError(f"There is no folder {site}.")
    expected = _expected(site, protocols) if protocols is not None else None
    try:
        verdict = judge(site, expected)
    except OSError as error:
        raise click.UsageError(f"{error.filename} cannot be read: {error.strerror}.") from None
    for flaw in verdict.flaws:
        click.echo(f"{(site / flaw.address).as_posix()}: {flaw.kind}: {flaw.message}")
    looked = f"{verdict.pages} pages, {verdict.files} files"
    if verdict.flaws:
        click.echo(f"{len(verdict.flaws)} flaw{'s' if len(verdict.flaws) > 1 else ''}. Looked at: {looked}.")
        sys.exit(1)
    asked = "all that the protocols ask for is there" if expected is not None else "all that its list names is there"
    click.echo(f"Nothing is wrong with this site: {looked}, of build {(verdict.build or '')[:12]}; {asked}.")


@click.command(short_help="Write the site as plain files for another generator.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--protocols",
    type=click.Path(path_type=Path),
    default=Path("protocols"),
    show_default=True,
    help="The folder of the protocol set.",
)
def export(folder: Path, protocols: Path) -> None:
    """Write every page as Markdown, and pictures and style sheets beside them, into FOLDER, which must be empty.

    Ends with 0, also if errors were found: the pages say so. Ends with 2 if it was called wrongly.
    """
    import datetime

    from .publishing import exported, write_export

    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise click.UsageError(f"{folder} is not an empty folder; nothing is overwritten.")
    today = datetime.date.today()  # noqa: DTZ011 - the day where the clinic is
    drawn, contents = _drawn(protocols, protocols.as_posix(), today)
    found = exported(drawn, contents)
    try:
        write_export(folder, found)
    except OSError as error:
        raise click.UsageError(f"{error.filename} cannot be written: {error.strerror}.") from None
    click.echo(f"Wrote {len(found.pages)} pages and {len(found.files) - len(found.pages)} other files to {folder}.")


def _expected(site: Path, protocols: Path) -> Contents:
    """What a protocol set asks for, as of the day that the site was drawn for."""
    import datetime

    from .publishing import CONTENTS, Unreadable, read_contents

    shown_as, today, url = protocols.as_posix(), datetime.date.today(), ""  # noqa: DTZ011 - the day where the clinic is
    try:
        listed = read_contents((site / CONTENTS).read_bytes())
        shown_as, today, url = listed.protocols, datetime.date.fromisoformat(listed.today), listed.url
    except (OSError, Unreadable, ValueError):
        pass  # the verdict tells that the list is not there, or is none
    return _drawn(protocols, shown_as, today, url)[1]


def _drawn(protocols: Path, shown_as: str, today: datetime.date, url: str = "") -> tuple[Site, Contents]:
    from .checks import check_set
    from .language import read_set
    from .pages import build_site
    from .publishing import contents_of

    if not (protocols / "clinic.yaml").is_file():
        raise click.UsageError(f"There is no protocol set in {protocols}: it has no clinic.yaml.")
    site = build_site(check_set(read_set(protocols, shown_as), today), url)
    return site, contents_of(site, shown_as, today.isoformat())
