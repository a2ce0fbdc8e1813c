"""What catching up comes to, told: for a terminal, and as Markdown for the pull request. One content for both."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from ..changes import Review
from ..changes.as_markdown import markdown_review, plain
from ..changes.as_text import text_review
from ..checks import Finding
from ..reports.terminal import harmless
from .fate import Fate, Row
from .newer import CaughtUp, Settling

_WIDEST = 100
"""How many characters of a field are told on one line of a terminal."""
_HEADS = ("field", "baseline before", "baseline now", "here")


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that is told, with what belongs to it: more lines, and fields side by side."""

    text: str
    more: tuple[str, ...] = ()
    rows: tuple[Row, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """Things of one kind, with a sentence on what they are."""

    title: str
    items: tuple[Item, ...]
    intro: str = ""


def text_report(found: CaughtUp) -> str:
    """The whole report as text."""
    lines = [title_of(found), *opening(found), ""]
    for section in sections_of(found):
        lines += [section.title, *([f"  {section.intro}"] if section.intro else [])]
        for item in section.items:
            lines += [f"  - {item.text}", *(f"      {line}" for line in item.more)]
            lines += [f"      {line}" for row in item.rows for line in _beside(row)]
        lines.append("")
    told = "\n".join(harmless(line) for line in lines)
    if found.review is None:
        return f"{told.rstrip()}\n"
    return f"{told}\nWhat is new in the baseline\n\n{text_review(_named(found))}"


def markdown_report(found: CaughtUp) -> str:
    """The whole report as Markdown, in which nothing of a protocol's text can be more than text."""
    lines = [f"# {plain(title_of(found))}", "", *(plain(line) + "\n" for line in opening(found))]
    for section in sections_of(found):
        lines += [f"## {plain(section.title)}", ""]
        lines += [plain(section.intro), ""] if section.intro else []
        for item in section.items:
            lines += [f"- {plain(item.text)}", *(f"  - {plain(line)}" for line in item.more)]
            lines += list(_table(item.rows)) if item.rows else []
        lines += [""] if lines[-1] else []
    if found.review is not None:
        lines += ["## What is new in the baseline", "", *_lower(markdown_review(_named(found)))]
    return "\n".join(lines).rstrip() + "\n"


def title_of(found: CaughtUp) -> str:
    """What is caught up with."""
    return f"Catching up with {found.name}: {found.old_version} → {found.version}"


def opening(found: CaughtUp) -> Iterator[str]:
    """What it comes to, in a few sentences."""
    if not found.changed and not found.removed:
        yield f"Nothing to do: version {found.version} is the one that is here."
        return
    new = [path for path in found.changed if path not in found.before]
    other = [path for path in found.changed if path in found.before and path not in ("tailoring.yaml", "upstream.yaml")]
    gone = len(found.removed)
    yield f"Shared files: {len(new)} new, {len(other)} changed, {gone} no longer there."
    if found.entries:
        counted = [sum(one.met.fate is fate for one in found.entries) for fate in Fate]
        told = "; ".join(f"{_FATES[fate]}: {number}" for fate, number in zip(Fate, counted, strict=True) if number)
        yield f"Entries in tailoring.yaml that {told}."
    appear, vanish = len(found.appeared), len(found.vanished)
    yield f"The result has {_findings(appear)} that the set had not, and loses {_findings(vanish)}."
    yield "That nothing is found does not say that it is safe: whoever approves it reads what is new."
    yield from found.remarks


def sections_of(found: CaughtUp) -> tuple[Section, ...]:
    """Everything there is to tell but the review of the baseline, the gravest first; none is empty."""
    asked = [one for one in found.entries if one.met.asks]
    beside = [one for one in found.entries if one.met.fate is Fate.FITS and (one.met.beside or one.met.needless)]
    sections = (
        Section(
            "To be decided",
            tuple(_entry(one) for one in asked if one.decision is None),
            "Nothing is written before: --keep ENTRY lets an entry go on, --take ENTRY takes what the baseline says. "
            "What is told below is what comes of keeping them.",
        ),
        Section("Decided", tuple(_entry(one) for one in asked if one.decision is not None)),
        Section("Needless now", tuple(_entry(one) for one in found.entries if one.met.fate is Fate.NEEDLESS)),
        Section("Where the baseline changed something else in the same step", tuple(_entry(one) for one in beside)),
        Section(
            "Without effect already before",
            tuple(_entry(one) for one in found.entries if one.met.fate is Fate.LOST_BEFORE),
            "These entries stay as they are, and stepfield check tells of them.",
        ),
        Section("Guarded less by the newer baseline", tuple(Item(one.say) for one in found.loosened)),
        Section("Findings that appear", tuple(_finding(one) for one in found.appeared)),
        Section("Findings that vanish", tuple(_finding(one) for one in found.vanished)),
        Section("What clinic.yaml lacks", tuple(Item(line) for line in found.lacking)),
        Section("Entries that go on as they are", tuple(_fitting(found))),
    )
    return tuple(section for section in sections if section.items)


_COMMENT = "What the baseline replaces became a comment in tailoring.yaml."
_FATES = {
    Fate.FITS: "still fit",
    Fate.NEEDLESS: "are needless now",
    Fate.MEETS: "meet a change of the same field",
    Fate.LOST: "are lost",
    Fate.LOST_BEFORE: "had no effect before either",
}


def _fitting(found: CaughtUp) -> Iterator[Item]:
    for one in found.entries:
        met = one.met
        if met.fate is Fate.FITS and not met.beside and not met.needless:
            yield Item(f"{met.entry.name} (tailoring.yaml line {met.entry.span.line}): {met.why}{_taken(one)}")


def _entry(one: Settling) -> Item:
    met = one.met
    because = met.entry.written.reason.because if met.entry.written is not None else None
    because = met.entry.thing.reason.because if met.entry.thing is not None else because
    more = [f"because: {' '.join(because.value.split())}"] if because is not None else []
    more += [line for line in (_decided(one),) if line]
    text = f"{met.entry.name} (tailoring.yaml line {met.entry.span.line}): {met.why}."
    return Item(text, tuple(more), (*met.rows, *met.beside))


def _decided(one: Settling) -> str:
    fate = one.met.fate
    if one.decision is None or fate is Fate.LOST_BEFORE:
        return ""
    if fate is Fate.FITS:
        return _COMMENT if one.met.needless and one.decision == "keep" else _taken(one).lstrip("; ").capitalize()
    if one.decision == "take":
        return f"{'' if fate is Fate.NEEDLESS else 'The baseline is taken. '}{_COMMENT}"
    if fate is Fate.MEETS:
        return "The entry is kept, over what the baseline says now."
    return "The entry stays, without effect; stepfield check tells of it until somebody mends it or takes it out."


def _taken(one: Settling) -> str:
    return "; the baseline is taken, and the entry became a comment" if one.decision == "take" else ""


def _finding(one: Finding) -> Item:
    place = f"{one.span.path}:{one.span.line}:{one.span.column}"
    return Item(f"{place} {one.rule} ({one.severity.value}): {one.message}")


def _beside(row: Row) -> Iterator[str]:
    """A field side by side on one line; below each other where that would be too long to read."""
    told = (f"before {row.before}", f"now {row.now}", f"here {row.ours}")
    if sum(map(len, told)) <= _WIDEST:
        yield f"{row.field}: {'; '.join(told)}"
    else:
        yield f"{row.field}:"
        yield from (f"  {line}" for line in told)


def _table(rows: Iterable[Row]) -> Iterator[str]:
    yield ""
    yield f"  | {' | '.join(_HEADS)} |"
    yield f"  |{' --- |' * len(_HEADS)}"
    for row in rows:
        yield f"  | {' | '.join(plain(cell) for cell in (row.field, row.before, row.now, row.ours))} |"
    yield ""


def _lower(text: str) -> Iterator[str]:
    """A Markdown text below a heading of its own: without its title, its headings a step lower."""
    fenced = False
    for line in text.splitlines()[2:]:
        fenced ^= line.startswith("```")
        yield f"#{line}" if line.startswith("#") and not fenced else line


def _named(found: CaughtUp) -> Review:
    """The review of the baseline, with the names of its texts."""
    assert found.review is not None
    return replace(found.review, base=f"{found.name} {found.old_version}", head=found.version)


def _findings(number: int) -> str:
    return f"{number or 'no'} {'finding' if number == 1 else 'findings'}"
