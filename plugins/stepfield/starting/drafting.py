"""A draft protocol from a table of steps. What was not understood is listed, and kept as comments beside its step."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..checks.words import listed
from .beginning import as_id, checked_id, modeline, titled
from .columns import find_header, plain
from .sheets import Table, TableError

_TIME = re.compile(r"(\d{1,4}(?:[.,]\d{1,2})?)\s*(s|sec|secs|seconds?|m|min|mins|minutes?|h|hours?)?", re.IGNORECASE)
_UNITS = {"s": "s", "m": "min", "h": "h"}


@dataclass(frozen=True, slots=True)
class Draft:
    """The text of the protocol and, line by line, what of the table was not understood."""

    text: str
    not_understood: tuple[str, ...]


@dataclass(slots=True)
class _Row:
    """One step on its way: the row it stands in, its fields as YAML, and comments."""

    number: int
    id: str
    role: str
    do: str
    phase: str
    fields: dict[str, str] = field(default_factory=dict)
    comments: list[str] = field(default_factory=list)
    helpers: tuple[str, ...] = ()


def draft_from(table: Table, name: str, roles: Mapping[str, str]) -> Draft:
    """A protocol from the rows of a table; ``roles`` maps the clinic's role ids to their titles.

    Raises TableError if no row names the columns, and Refused if the name is no id.
    """
    checked_id(name, "protocol")
    header = find_header(table.rows)
    if header is None:
        first = listed([f"'{cell}'" for _, cells in table.rows[:1] for cell in cells if cell][:8])
        raise TableError(f"no row names the columns: at least 'role' and 'step' are needed; the first row has {first}")
    position, meant = header
    maker = _Maker(roles, meant, table.rows[position][1])
    for number, cells in table.rows[position + 1 :]:
        maker.row(number, cells)
    if not maker.rows:
        raise TableError("there is no step below the headings")
    maker.orders()
    return Draft(maker.text(name), tuple(maker.missed))


class _Maker:
    def __init__(self, roles: Mapping[str, str], meant: Mapping[int, str], headings: Sequence[str]) -> None:
        self.roles, self.meant, self.headings = roles, meant, headings
        self.rows: list[_Row] = []
        self.labels: dict[str, str] = {}
        self.waits: list[tuple[_Row, str]] = []
        self.missed = [
            f"column '{heading}': not understood; its cells are kept as comments"
            for column, heading in enumerate(headings)
            if heading and column not in meant
        ]
        self.new_roles: dict[str, str] = {}

    def row(self, number: int, cells: Sequence[str]) -> None:
        """Takes one row in; a row without a step is a heading of its own, or is listed."""
        told = {self.meant[column]: cell for column, cell in enumerate(cells) if cell and column in self.meant}
        if "do" not in told:
            text = " ".join(cell for cell in cells if cell)
            self.missed.append(f"row {number}: no step in it: '{text[:80]}'")
            return
        role, helpers = self.people(told.get("role", ""), number)
        phase = told.get("phase") or (self.rows[-1].phase if self.rows else "Steps")
        made = _Row(number, self.name(told["do"]), role, told["do"], phase)
        made.helpers = helpers
        self.rows.append(made)
        for label in (told.get("number", ""), told["do"], made.id):
            if label:
                self.labels.setdefault(plain(label), made.id)
                self.labels.setdefault(f"step {plain(label)}", made.id)
        self.details(made, told, number)
        made.comments += [
            f"{self.headings[column]}: {cell}" if column < len(self.headings) and self.headings[column] else cell
            for column, cell in enumerate(cells)
            if cell and column not in self.meant
        ]

    def details(self, made: _Row, told: Mapping[str, str], number: int) -> None:
        """The fields beside who and what."""
        if "why" in told:
            made.fields["why"] = _quoted(told["why"])
        if "caution" in told:
            made.fields["cautions"] = f"[{{kind: general, text: {_quoted(told['caution'])}}}]"
        if "takes" in told:
            found = _TIME.fullmatch(told["takes"].strip())
            if found is not None and float(found[1].replace(",", ".")) > 0:
                unit = _UNITS[(found[2] or "min")[0].lower()]
                made.fields["takes"] = f"{float(found[1].replace(',', '.')):g} {unit}"
            else:
                self.miss(made, f"row {number}: '{told['takes']}' is no length of time such as 2 min", "takes", told)
        if "with" in told:
            people = [self.known_role(word) for word in _words(told["with"])]
            others = [one for one in people if one is not None and one != made.role]
            if others and None not in people:
                made.helpers = tuple(dict.fromkeys((*made.helpers, *others)))
            else:
                made.comments.append(f"with: {told['with']}")
        if "after" in told:
            self.waits.append((made, told["after"]))

    def miss(self, made: _Row, message: str, name: str, told: Mapping[str, str]) -> None:
        self.missed.append(message)
        made.comments.append(f"{name}: {told[name]}")

    def orders(self) -> None:
        """Finds the steps that "after" speaks of, by their number or by their words."""
        for made, text in self.waits:
            whole = self.labels.get(plain(text))
            parts = [whole] if whole else [self.labels.get(plain(word)) for word in _words(text)]
            found = [one for one in parts if one is not None and one != made.id]
            if not found or None in parts:
                self.missed.append(f"row {made.number}: no step is meant by after '{text}'")
                made.comments.append(f"after: {text}")
            if found:
                made.fields["after"] = f"[{', '.join(dict.fromkeys(found))}]"

    def known_role(self, text: str) -> str | None:
        """The clinic's role that a text names, by id or title."""
        wanted = plain(text)
        for role, title in self.roles.items():
            if wanted and wanted in (plain(role), plain(title)):
                return role
        near = [role for role, title in self.roles.items() if wanted and wanted in plain(title).split()]
        return near[0] if len(near) == 1 else None

    def people(self, text: str, number: int) -> tuple[str, tuple[str, ...]]:
        """The role of a row, and those who take part where several known ones stand in the cell."""
        several = [self.known_role(word) for word in _words(text)]
        known = list(dict.fromkeys(one for one in several if one is not None))
        if len(known) > 1 and None not in several:
            return known[0], tuple(known[1:])
        return self.role(text, number), ()

    def role(self, text: str, number: int) -> str:
        """The role of a row; one the clinic lacks keeps its own name, one left empty is that of the row above."""
        if not text:
            above = self.rows[-1].role if self.rows else "nobody"
            self.missed.append(f"row {number}: no role; taken as '{above}', as above")
            return above
        known = self.known_role(text)
        if known is not None:
            return known
        made = as_id(text) or "nobody"
        if made not in self.new_roles:
            self.missed.append(f"role '{text}': the clinic has none of that name; written as {made}")
            self.new_roles[made] = text
        return made

    def name(self, do: str) -> str:
        """An id from the first words of a step, told apart from the others."""
        words = [word for word in plain(do).split() if word not in {"the", "a", "an", "your", "of", "and", "to"}]
        base = as_id("-".join(words[:4]), 34) or "step"
        taken = {row.id for row in self.rows}
        return next(one for one in (base, *(f"{base}-{turn}" for turn in range(2, 5000))) if one not in taken)

    def text(self, name: str) -> str:
        """The whole file."""
        team = ", ".join(dict.fromkeys(one for row in self.rows for one in (row.role, *row.helpers)))
        lines = [
            modeline("protocol", 1).rstrip(),
            "# Drafted from a table. It says who does what, and nothing yet about asepsis: add needs, makes, opens,",
            "# touches and so on to each step, and order across roles with after; then run `stepfield check`.",
            *(f"# Not understood: {_comment(line)}" for line in self.missed),
            "kind: protocol",
            f"title: {_quoted(titled(name))}",
            "purpose: Drafted from a table; say here in a sentence or two what this protocol is for.",
            "version: 0.1.0",
            "status: draft",
            "owner: infection-control lead",
            f"team: [{team}]",
            "phases:",
        ]
        taken = {row.id for row in self.rows}
        before = None
        for row in self.rows:
            if row.phase != before:
                before, phase = row.phase, as_id(row.phase, 34) or "phase"
                phase = next(
                    one for one in (phase, *(f"{phase}-p{turn}" for turn in range(2, 5000))) if one not in taken
                )
                taken.add(phase)
                lines += [f"  - phase: {phase}", f"    title: {_quoted(row.phase)}", "    steps:"]
            lines += [f"      - id: {row.id}", f"        role: {row.role}"]
            lines += [f"        with: [{', '.join(row.helpers)}]"] if row.helpers else []
            lines.append(f"        do: {_quoted(row.do)}")
            lines += [f"        {key}: {value}" for key, value in row.fields.items()]
            lines += [f"        # {_comment(comment)}" for comment in row.comments]
        return "\n".join(lines) + "\n"


def _words(text: str) -> list[str]:
    return [word.strip() for word in re.split(r"[,;/&+]|\band\b", text) if word.strip()]


def _quoted(text: str) -> str:
    """A text as YAML: quoted, with whatever can't stand in a file written as its code or left out."""
    return json.dumps(_shown(text), ensure_ascii=False)


def _comment(text: str) -> str:
    return " ".join(_shown(text).split())


def _shown(text: str) -> str:
    return "".join(char for char in text if char.isprintable()).strip() or "-"
