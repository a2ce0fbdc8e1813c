"""How long a large clinic's site takes, beside the same pages given to the same site generator as ready Markdown.

    python -m bench.site [--small]

Ours: the protocol set is read, checked in every order, drawn and built with the theme, its search and a short menu,
wall screens and cards included. Theirs: the pages of the same set, drawn and written as Markdown beforehand at no
charge, built with the same theme, its search and its full menu; once with the diagrams standing in the pages, as they
stand in ours, and once with the diagrams as files beside them. Runs take turns; of each the quickest counts. Writes
bench/site.md.
"""

from __future__ import annotations

import datetime
import os
import re
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from stepfield.checks import check_set
from stepfield.language import read_set
from stepfield.pages import build_site
from stepfield.publishing import contents_of, exported, write_export
from tests.large.making import write_large

from .measure import Cost, run

DAY = datetime.date(2026, 11, 2)
TARGET, MOST_MEGABYTES = 0.3, 1024
RUNS = 5
MOST_SECONDS = 1800.0
RESULT = Path(__file__).parent / "site.md"
_SETTINGS = """site_name: Quillhaven
docs_dir: pages
use_directory_urls: false
theme: {name: material, font: false}
markdown_extensions: [tables]
extra: {generator: false, polyfills: [assets/stepfield/iframe-worker.js]}
"""
_IMAGE = re.compile(r"!\[[^\]]*\]\(([^)]*\.svg)\)")


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: what was built, from how many protocols, and what the quickest run cost."""

    name: str
    protocols: int
    pages: int
    cost: Cost


def ours(folder: Path, protocols: int) -> Path:
    """A folder with a protocol set and the settings of its site."""
    write_large(folder / "protocols", protocols)
    (folder / "pages").mkdir()
    plugins = f"plugins: [search, offline, stepfield: {{protocols: protocols, today: {DAY}}}]\n"
    (folder / "mkdocs.yml").write_text(
        _SETTINGS.replace(", polyfills: [assets/stepfield/iframe-worker.js]", "") + plugins
    )
    return folder


def theirs(folder: Path, protocols: int, *, inside: bool) -> Path:
    """A folder with the same pages as Markdown; ``inside`` puts the diagrams into the pages."""
    source = write_large(folder / "protocols", protocols)
    site = build_site(check_set(read_set(source, "protocols"), DAY))
    found = exported(site, contents_of(site, "protocols", DAY.isoformat()))
    pages = folder / "pages"
    write_export(pages, found)
    if inside:
        for address in found.pages:
            _draw_inside(pages / address)
    (folder / "mkdocs.yml").write_text(_SETTINGS + "plugins: [search, offline]\n")
    return folder


def _draw_inside(page: Path) -> None:
    def drawing(found: re.Match[str]) -> str:
        return (page.parent / found.group(1)).read_text(encoding="utf-8").strip()

    page.write_text(_IMAGE.sub(drawing, page.read_text(encoding="utf-8")), encoding="utf-8")


def build(folder: Path) -> Cost:
    """Builds the site of a folder by the command, in a process of its own."""
    # As an installed program, ours keeps its compiled modules, as the site generator does; the first run makes them.
    environment = {
        "NO_MKDOCS_2_WARNING": "1",
        "PYTHONPATH": os.environ.get("PYTHONPATH", ""),
        "PYTHONDONTWRITEBYTECODE": "",
    }
    shutil.rmtree(folder / "site", ignore_errors=True)
    cost = run(
        [sys.executable, "-m", "mkdocs", "build", "--quiet"], folder, most_seconds=MOST_SECONDS, environment=environment
    )
    if cost.code != 0:
        raise RuntimeError(f"the site could not be built: {cost.output}")
    return cost


def side_by_side(folders: dict[str, Path], protocols: int, runs: int = RUNS) -> Iterator[Row]:
    """Builds the sites of several folders in turns; gives the quickest run of each."""
    costs: dict[str, list[Cost]] = {name: [] for name in folders}
    for _ in range(runs):
        for name, folder in folders.items():
            costs[name].append(build(folder))
    for name, folder in folders.items():
        pages = sum(1 for _ in (folder / "site").rglob("*.html"))
        yield Row(name, protocols, pages, min(costs[name], key=lambda cost: cost.seconds))


def measure(sizes: tuple[int, ...], base: int, runs: int) -> list[Row]:
    """The comparison at ``base`` protocols, then ours alone at more."""
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        made: dict[str, Callable[[Path], Path]] = {
            "stepfield": lambda folder: ours(folder, base),
            "Markdown, diagrams in the pages": lambda folder: theirs(folder, base, inside=True),
            "Markdown, diagrams as files": lambda folder: theirs(folder, base, inside=False),
        }
        folders = {title: make(root / str(number)) for number, (title, make) in enumerate(made.items())}
        rows = list(side_by_side(folders, base, runs))
        for size in sizes:
            rows += side_by_side({"stepfield": ours(root / f"more-{size}", size)}, size, max(1, runs // 2))
    return rows


def report(rows: list[Row]) -> str:
    """The table, and what it says of the targets."""
    first, inside, beside = rows[:3]
    lines = [
        "# A large clinic's site",
        "",
        f"{first.protocols} protocols of 44 steps and four roles; two processors; the quickest of the runs, in turns.",
        "Written by `make bench-site`.",
        "",
        "| built from | protocols | pages and screens | seconds | megabytes |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    for row in rows:
        cells = (row.name, row.protocols, row.pages, f"{row.cost.seconds:.1f}", f"{row.cost.megabytes:.0f}")
        lines.append(f"| {' | '.join(map(str, cells))} |")
    inside_too, beside_too = (first.cost.seconds / other.cost.seconds for other in (inside, beside))
    verdict = (
        f"- Ours in {inside_too:.2f} of the time of Markdown with the diagrams in the pages, {beside_too:.2f} with the "
        f"diagrams as files; wanted: {TARGET}."
    )
    lines += ["", verdict]
    grown = [row for row in rows[3:] if row.protocols > first.protocols]
    for row in grown:
        times = row.cost.seconds / first.cost.seconds
        lines.append(f"- {row.protocols / first.protocols:g} times the protocols: {times:.1f} times the time.")
    most = max(row.cost.megabytes for row in rows if row.name == "stepfield")
    lines.append(f"- At most {most:.0f} megabytes; allowed: {MOST_MEGABYTES}.")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Measures, prints and writes the table."""
    small = "--small" in sys.argv
    rows = measure((10,), 5, 1) if small else measure((200, 400), 100, RUNS)
    text = report(rows)
    sys.stdout.write(text)
    if not small:
        RESULT.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
