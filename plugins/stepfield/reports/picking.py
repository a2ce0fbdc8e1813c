"""Which mend a user picks: findings and mends by name, the question that is asked, and what was written."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..asepsis import DEFAULT_LIMIT
from ..checks import Finding, Mend, Report
from ..checks.fixing import Fixing
from ..language.editing import CannotEditError
from .terminal import harmless
from .text import finding_text

QUESTION = "Which one? A number, or Enter for none"
_PICK = re.compile(
    r"(?P<rule>[a-z-]+):(?:(?P<protocol>[a-z0-9-]*)/)?(?P<step>[a-z0-9.-]*)(?::(?P<subject>[^=:]*))?(?:=(?P<number>[0-9]{1,4}))?"
)


class PickError(Exception):
    """What was picked is not there, or is not the only one; says so, for people."""


@dataclass(frozen=True, slots=True)
class Picked:
    """A mend of a finding, and which of the reports offers it."""

    place: int
    finding: Finding
    mend: Mend


Save = Callable[[int, Report, Mapping[str, str]], None]
"""Writes changed texts into the files of the set whose report is told, with its number among the reports."""


def name_of(finding: Finding) -> str:
    """The name by which a finding is picked: RULE:PROTOCOL/STEP:SUBJECT; a slip of the end has no STEP."""
    subject = "" if finding.subject is None else f":{finding.subject}"
    return f"{finding.rule}:{finding.protocol or ''}/{finding.step or ''}{subject}"


def picked(reports: Sequence[Report], words: str) -> Picked:
    """The mend that RULE:STEP[:SUBJECT][=N] names; STEP may be PROTOCOL/STEP.

    Raises PickError if that is no pick, or names no finding, or several, or one of several mends without a number.
    """
    pick = _PICK.fullmatch(words)
    if pick is None:
        raise PickError(f"{words!r} is no pick; one is written RULE:STEP, RULE:PROTOCOL/STEP:SUBJECT or RULE:STEP=2.")
    found = _meant(reports, pick)
    if not found:
        raise PickError(f"There is no finding {words!r}.")
    if len(found) > 1:
        raise PickError(f"{words!r} may mean {', or '.join(name_of(finding) for _, finding in found)}.")
    place, finding = found[0]
    number = int(pick["number"] or (1 if len(finding.mends) == 1 else 0))
    if not finding.mends:
        raise PickError(f"No mend was found for {name_of(finding)}.")
    if not 1 <= number <= len(finding.mends):
        told = "; ".join(f"={place} {mend.say}" for place, mend in enumerate(finding.mends, 1))
        raise PickError(f"Say which mend of {name_of(finding)}: {told}.")
    return Picked(place, finding, finding.mends[number - 1])


def _meant(reports: Sequence[Report], pick: re.Match[str]) -> list[tuple[int, Finding]]:
    return [
        (place, finding)
        for place, report in enumerate(reports)
        for finding in report.findings
        if _is_meant(finding, pick)
    ]


def _is_meant(finding: Finding, pick: re.Match[str]) -> bool:
    return (
        finding.rule == pick["rule"]
        and (finding.step or "") == pick["step"]
        and pick["protocol"] in (None, "", finding.protocol)
        and pick["subject"] in (None, finding.subject)
    )


def write_picked(
    load: Callable[[], Sequence[Report]],
    save: Save,
    tell: Callable[[str], None],
    picks: Sequence[str],
    limit: int = DEFAULT_LIMIT,
) -> None:
    """Writes the mends that are named, one after the other; what an earlier one has mended already is passed over.

    Raises PickError for a name that fits no finding, before anything is written; or for a mend that can't be written.
    """
    reports = load()
    for words in picks:
        picked(reports, words)
    for words in picks:
        pick = _PICK.fullmatch(words)
        if pick is not None and not _meant(reports, pick):
            tell(f"{words}: mended already by what was written before.\n")
            continue
        chosen = picked(reports, words)
        report = reports[chosen.place]
        try:
            texts = Fixing(report, limit).texts(chosen.finding, chosen.mend)
        except CannotEditError as error:
            raise PickError(f"{words} can only be written by hand: {error}.") from None
        save(chosen.place, report, texts)
        tell(written(report, texts))
        reports = load()


def ask_for_mends(
    load: Callable[[], Sequence[Report]],
    save: Save,
    ask: Callable[[str], str | None],
    tell: Callable[[str], None],
    *,
    limit: int = DEFAULT_LIMIT,
    colour: bool = False,
) -> None:
    """Shows every finding with its mends, asks which is wanted, has it saved, and goes on with what is found then.

    ``ask`` gives None when there is nobody to answer any more.
    """
    reports, asked = load(), set[tuple[object, ...]]()
    while True:
        mended = ((place, one) for place, report in enumerate(reports) for one in report.findings if one.mends)
        place, finding = next(((at, one) for at, one in mended if (at, one.key) not in asked), (0, None))
        if finding is None:
            if not asked:
                tell("There is no finding that a mend was found for.\n")
            return
        asked.add((place, finding.key))
        report = reports[place]
        ways = [_way(Fixing(report, limit), finding, mend) for mend in finding.mends]
        tell(finding_text(finding, report.facts, colour=colour) + "".join(_offered(finding, ways)))
        if not any(isinstance(way, dict) for way in ways):
            continue
        chosen = _asked(ways, ask, tell)
        if chosen is None:
            return
        if chosen:
            save(place, report, chosen)
            tell(written(report, chosen) + "\n")
            reports = load()


def _way(fixing: Fixing, finding: Finding, mend: Mend) -> dict[str, str] | str:
    """The texts with the mend written into them, or why that is left to the user."""
    try:
        return fixing.texts(finding, mend)
    except CannotEditError as error:
        return str(error)


def _offered(finding: Finding, ways: Sequence[dict[str, str] | str]) -> Iterator[str]:
    yield f"  To be picked ({name_of(finding)}):\n"
    for number, (mend, way) in enumerate(zip(finding.mends, ways, strict=True), 1):
        by_hand = f" (only by hand: {way})" if isinstance(way, str) else ""
        yield harmless(f"    {number}  {mend.say}{by_hand}") + "\n"


def _asked(
    ways: Sequence[dict[str, str] | str], ask: Callable[[str], str | None], tell: Callable[[str], None]
) -> dict[str, str] | None:
    """The texts that were picked, none of them for "leave it", or None where nobody answers."""
    while True:
        answer = ask(QUESTION)
        if answer is None or not answer.strip():
            return None if answer is None else {}
        number = int(answer) if re.fullmatch(r"\s*[0-9]{1,4}\s*", answer) else 0
        way = ways[number - 1] if 1 <= number <= len(ways) else "there is no such number"
        if isinstance(way, dict):
            return way
        tell(f"  Not that one: {way}.\n")


def written(report: Report, texts: Mapping[str, str]) -> str:
    """What is new in some texts, with the lines around it."""
    lines: list[str] = []
    for path, text in texts.items():
        old, new = report.facts.protocol_set.sources.get(path, "").splitlines(), text.splitlines()
        lines += [f"Written into {path}:"]
        lines += [f"  {line}" for line in list(difflib.unified_diff(old, new, n=1, lineterm=""))[2:]]
    return "".join(harmless(line) + "\n" for line in lines)
