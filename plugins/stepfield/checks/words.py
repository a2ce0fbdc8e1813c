"""How messages name things: the title people know and the name the protocol uses, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..language.model import PERSON_PARTS, Clinic, Kind, Protocol, Step
from ..language.source import Span

LONGEST = 60
"""How many characters of a title a message repeats."""


@dataclass(frozen=True, slots=True)
class Named:
    """A thing as a sentence speaks of it: its words, and whether they are plural."""

    text: str
    plural: bool = False

    def __str__(self) -> str:
        return self.text

    @property
    def be(self) -> str:
        """The verb after it: is or are."""
        return "are" if self.plural else "is"

    @property
    def they(self) -> str:
        """It or they, as the one that acts."""
        return "they" if self.plural else "it"

    @property
    def them(self) -> str:
        """It or them, as the one acted on."""
        return "them" if self.plural else "it"


def quoted(name: object) -> str:
    """A name as it stands in the file, in quotes."""
    return f"'{name}'"


def listed(words: Iterable[str], last: str = "and", most: int = 4) -> str:
    """Words as a list in a sentence: a, b and c; only so many of them, and how many more there are."""
    known = list(words)
    if len(known) > most:
        known = [*known[: most - 1], f"{len(known) - most + 1} more"]
    return known[0] if len(known) == 1 else f"{', '.join(known[:-1])} {last} {known[-1]}" if known else ""


def folded(text: str, most: int = LONGEST) -> str:
    """Text on one line, cut where it grows too long for a sentence."""
    line = " ".join(text.split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


def sentence(text: str) -> str:
    """The text as a sentence: a capital at its start, and an end."""
    end = "" if text.endswith((".", "!", "?", "…")) else "."
    return text[:1].upper() + text[1:] + end


def is_plural(title: str) -> bool:
    """Whether an English title reads as several things."""
    words = title.split("(", maxsplit=1)[0].split(",", maxsplit=1)[0].split()
    return bool(words) and words[-1].endswith("s") and not words[-1].endswith(("ss", "us", "is"))


class Naming:
    """The titles of one protocol and its clinic, put into words."""

    def __init__(self, protocol: Protocol, clinic: Clinic | None) -> None:
        self.protocol = protocol
        self.roles = {role.id.value: role.title for role in clinic.roles} if clinic is not None else {}

    def role(self, role: object) -> str:
        """What a role is called."""
        return folded(self.roles.get(str(role), str(role)))

    def thing(self, name: str) -> Named:
        """A subject with its title and its name."""
        subject = self.protocol.subjects.get(name)
        if subject is None:
            return Named(quoted(name))
        if subject.kind is Kind.PERSON and subject.role is not None:
            part = name.rpartition(".")[2]
            return Named(f"{self.role(subject.role)}'s {part} ({quoted(name)})", part in ("hands", "feet"))
        title = folded(subject.title)
        if title.casefold().replace("-", " ") == name.replace("-", " "):
            return Named(quoted(name), is_plural(title) or subject.count > 1)
        return Named(f"{title} ({quoted(name)})", is_plural(title) or subject.count > 1)

    def short(self, name: str) -> str:
        """A subject by its title alone; a part of a person as whose part it is."""
        subject = self.protocol.subjects.get(name)
        if subject is None:
            return quoted(name)
        if subject.kind is Kind.PERSON and subject.role is not None:
            return f"{self.role(subject.role)}'s {name.rpartition('.')[2]}"
        return folded(subject.title)

    def step(self, step: Step) -> str:
        """A step by its name and its owner."""
        owner = f" ({self.role(step.role)})" if step.role is not None else ""
        return f"{quoted(step.id)}{owner}"


def at(span: Span, path: str) -> str:
    """Where something stands, told to somebody who looks at the file ``path``."""
    return f"line {span.line}" if span.path == path else f"{span.path} line {span.line}"


def steps_at(steps: Sequence[Step], path: str) -> str:
    """Some steps with their lines, as a list in a sentence."""
    return listed([f"{quoted(step.id)} ({at(step.id.span, path)})" for step in steps], "or")


def part_of(name: str) -> str | None:
    """Which part of a person a name like ``scrub.hands`` stands for."""
    part = name.rpartition(".")[2]
    return part if part in PERSON_PARTS and "." in name else None
