"""Golden cases: protocol files that say at the line what a rule has to find there.

A case is a protocol file (or a folder with a whole set) under ``<rule>/fails`` or ``<rule>/mended``. What is expected
stands in a comment on the line: ``# expect: rule subject``; without a subject the finding must have none.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from pathlib import Path

from stepfield.asepsis import DEFAULT_LIMIT
from stepfield.checks import Finding, Report, all_rules, check_set, with_acceptances
from stepfield.language import ProtocolSet, build_set

HERE = Path(__file__).parent
TODAY = datetime.date(2026, 7, 1)
_EXPECT = re.compile(r"# expect: (?P<rule>[a-z-]+)(?: (?P<subject>[a-z][\w.-]*))?")
_LIMIT = re.compile(r"\(max-states: ([0-9]+)\)")

Place = tuple[str, int, str, str | None]
"""Path, line, rule and subject of a finding."""


@dataclass(frozen=True, slots=True)
class Case:
    """One case: the files of its set, below ``protocols/``."""

    rule: str
    kind: str
    name: str
    files: dict[str, bytes]

    def __str__(self) -> str:
        return f"{self.rule}-{self.name}"

    @property
    def limit(self) -> int:
        """The bound on states that a case asks for."""
        found = [_LIMIT.search(data.decode()) for data in self.files.values()]
        return next((int(match[1]) for match in found if match), DEFAULT_LIMIT)

    @property
    def expected(self) -> list[Place]:
        """What the comments of the files say, sorted."""
        return sorted(
            (path, number, match["rule"], match["subject"])
            for path, data in self.files.items()
            for number, line in enumerate(data.decode().split("\n"), 1)
            for match in _EXPECT.finditer(line)
        )

    def read(self) -> ProtocolSet:
        return build_set(self.files)

    def judge(self, rule: str | None = None) -> Report:
        """The report by one rule, or by all."""
        rules = [one for one in all_rules() if one.name == rule] if rule is not None else None
        return with_acceptances(check_set(self.read(), TODAY, limit=self.limit, rules=rules))


def place(finding: Finding) -> Place:
    return (finding.span.path, finding.span.line, finding.rule, finding.subject)


def cases(kind: str) -> list[Case]:
    """Every case of a kind, ``fails`` or ``mended``."""
    return [
        Case(folder.parent.name, kind, path.stem, _files(path))
        for folder in sorted(HERE.glob(f"*/{kind}"))
        for path in sorted(folder.iterdir())
    ]


def _files(path: Path) -> dict[str, bytes]:
    files = {"protocols/clinic.yaml": (HERE / "clinic.yaml").read_bytes()}
    if path.is_file():
        return {**files, f"protocols/{path.name}": path.read_bytes()}
    inside = {file.relative_to(path).as_posix(): file.read_bytes() for file in path.rglob("*.yaml")}
    return {**files, **{f"protocols/{name}": data for name, data in sorted(inside.items())}}
