"""Every slip tried on every clean protocol, what was said of it, and the table of those of which nothing was said.

``python -m tests.mutation.shares`` prints the share found of each kind.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path

import yaml

from stepfield.checks import Severity, check_set
from stepfield.language import read_set
from stepfield.language.model import Protocol, ProtocolSet
from tests.demo.changes import TODAY, demonstration
from tests.mutation.slips import KINDS

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Row:
    """Places at which a kind of slip stays unseen, for one reason; ``harmless`` or else a limit of the language."""

    kind: str
    harmless: bool
    because: str
    where: tuple[str, ...]


@dataclass(frozen=True)
class Share:
    """How one kind of slip fared: how often it was tried, found, and unseen without and with harm."""

    kind: str
    tried: int
    found: int
    harmless: int
    unseen: int

    def __str__(self) -> str:
        matter = self.tried - self.harmless
        share = f"{self.found / matter:.0%}" if matter else "-"
        return f"{self.kind:26}{self.tried:6}{self.found:7}{self.harmless:10}{self.unseen:7}{share:>22}"


@cache
def small_set() -> ProtocolSet:
    """Three small clean protocols with effects the demonstration set makes no use of."""
    return read_set(HERE / "small", "small")


@cache
def table() -> tuple[Row, ...]:
    """The slips that stay unseen, with their reasons."""
    rows = yaml.safe_load((HERE / "survivors.yaml").read_text(encoding="utf-8"))
    return tuple(Row(row["kind"], row["kept"] == "harmless", row["because"], tuple(row["where"])) for row in rows)


def is_told(changed: Protocol, within: ProtocolSet) -> bool:
    """Whether the checker finds an error or a warning in a changed protocol."""
    report = check_set(replace(within, protocols=(changed,)), TODAY)
    return any(finding.severity is not Severity.NOTE for finding in report.findings)


def clean_protocols() -> Iterator[tuple[ProtocolSet, Protocol]]:
    """Every protocol the slips are tried on, with the set it belongs to."""
    for protocol_set in (demonstration(), small_set()):
        yield from ((protocol_set, one) for one in protocol_set.protocols)


@cache
def told_of(kind: str) -> dict[str, bool]:
    """For every place where a kind of slip applies ("PROTOCOL PLACE"), whether the checker told it."""
    told: dict[str, bool] = {}
    for within, whole in clean_protocols():
        for place, changed in KINDS[kind](whole):
            name = f"{whole.id} {place}"
            assert name not in told, f"two slips of one name: {name}"
            told[name] = is_told(changed, within)
    return told


def rows_for(kind: str, place: str) -> list[Row]:
    """The rows of the table that speak of a place."""
    return [row for row in table() if row.kind == kind and any(fnmatchcase(place, glob) for glob in row.where)]


def share_of(kind: str) -> Share:
    """How one kind of slip fared."""
    told = told_of(kind)
    unseen = [place for place, seen in told.items() if not seen]
    harmless = sum(any(row.harmless for row in rows_for(kind, place)) for place in unseen)
    return Share(kind, len(told), len(told) - len(unseen), harmless, len(unseen) - harmless)


def main() -> None:
    """Prints the share found of each kind, and of all of them."""
    shares = [share_of(kind) for kind in KINDS]
    sums = (sum(getattr(one, name) for one in shares) for name in ("tried", "found", "harmless", "unseen"))
    head = f"{'kind of slip':26}{'tried':>6}{'found':>7}{'harmless':>10}{'limit':>7}{'found of what matters':>22}"
    sys.stdout.write("\n".join([head, *map(str, shares), str(Share("all", *sums))]) + "\n")


if __name__ == "__main__":
    main()
