"""``python -m bench``: measures everything and writes ``results.md`` and ``results.svg`` beside this file.

``--quick`` takes the smallest case of each group, once, and prints the page instead of writing it.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from .cases import all_cases
from .contest import Outcome, outcomes
from .measure import run
from .plot import svg
from .report import markdown
from .targets import targets

HERE = Path(__file__).parent


def main() -> None:
    """Measures, shows how far it is, and writes the results."""
    quick = "--quick" in sys.argv[1:]
    missing = [program for program in ("spin", "gcc") if shutil.which(program) is None]
    if missing:
        sys.exit(f"The benchmark needs {' and '.join(missing)}; on Debian: sudo apt-get install spin gcc libc6-dev")
    measured: list[Outcome] = []
    for one in outcomes(all_cases(small=quick), 1 if quick else 2):
        measured.append(one)
        sys.stderr.write(f"{one.case.group}: {one.case.name}: {one.ours:.2f} s, SPIN {one.theirs:.2f} s\n")
    seen = [] if quick else list(targets(measured))
    page = markdown(measured, seen, run(("spin", "-V"), HERE, most_seconds=10))
    if quick:
        sys.stdout.write(page)
        return
    (HERE / "results.md").write_text(page, encoding="utf-8")
    (HERE / "results.svg").write_text(svg(measured), encoding="utf-8")
    sys.stderr.write("Written: bench/results.md and bench/results.svg\n")


if __name__ == "__main__":
    main()
