"""What a rule reports: plain data, the same for every output form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from ..language.source import Span


class Severity(Enum):
    """How grave a finding is; only errors make a check fail."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Cause:
    """The step that brought the trouble about."""

    step: str
    span: Span


@dataclass(frozen=True, slots=True)
class Note:
    """A second place that belongs to a finding, with a few words on what it is."""

    span: Span
    text: str


@dataclass(frozen=True, slots=True)
class Wait:
    """``step`` comes after each of the steps (or uses) named in ``after``."""

    step: str
    after: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Addition:
    """A line to be written into a protocol, right before (or ``behind``) the line that step ``beside`` comes from.

    It is the use of ``part`` with its names ``bound``, or the step ``again`` once more; ``name`` is what it is called.
    """

    name: str
    beside: str
    behind: bool = False
    part: str | None = None
    bound: tuple[tuple[str, str], ...] = ()
    again: str | None = None
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Mend:
    """A change that was tried, makes the finding go away and brings no other: steps that wait, or a line added."""

    say: str
    waits: tuple[Wait, ...]
    addition: Addition | None = None

    @property
    def is_order_of_one_step(self) -> bool:
        """Whether it is told whole by one step and what it comes after."""
        return self.addition is None and len(self.waits) == 1


@dataclass(frozen=True, slots=True)
class Finding:
    """One root cause, told once; it is identified by (rule, protocol, step, subject).

    ``message`` is one plain sentence, ``advice`` what to do about it. ``witness`` is a shortest order of step ids up to
    and including the failing one, for the first scenario listed; empty where no order is involved.
    """

    rule: str
    severity: Severity
    span: Span
    message: str
    protocol: str | None = None
    step: str | None = None
    subject: str | None = None
    advice: str | None = None
    cause: Cause | None = None
    related: tuple[Note, ...] = ()
    scenarios: tuple[Mapping[str, str], ...] = ()
    always: bool = True
    witness: tuple[str, ...] = ()
    shortest: bool = True
    """False where the search for a shorter witness was given up."""
    mends: tuple[Mend, ...] = ()
    all_tried: bool = True
    """False where looking for mends was given up because it would have taken too long."""

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What identifies the finding from one version of the text to the next."""
        return (self.rule, self.protocol or "", self.step or "", self.subject or "")
