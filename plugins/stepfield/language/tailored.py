"""What a clinic changes in a set it adopted, and where that set came from: frozen values that know their places."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field

from .model import Approval, Choice, Phase, Step, Subject
from .source import Span, Text


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is changed, who agreed to it, and on which day it ends; each None if it is not said."""

    because: Text | None = None
    agreed: Approval | None = None
    until: tuple[datetime.date, Span] | None = None


@dataclass(frozen=True, slots=True)
class Deviation:
    """One change that took effect.

    ``what`` is set, drop or add for a step of ``protocol``, or thing; ``name`` is that of the step or thing. ``before``
    and ``after`` are what it was and is, with all names as the protocol has them; None where it is not there, so that
    a thing which the adopted text does not have has no ``before``.
    ``fields`` are the fields of the step that are set, ``span`` is the place to point at.
    """

    what: str
    protocol: str | None
    name: Text
    span: Span
    reason: Reason
    before: Step | Subject | None
    after: Step | Subject | None
    fields: tuple[Text, ...] = ()
    timed: tuple[str, ...] = ()
    """For a step that is left out: the steps that counted a time from its end."""
    emptied: str | None = None
    """For a step that is left out or never done: the phase that goes with it, cautions and all, since none is left."""


@dataclass(frozen=True, slots=True)
class Tailoring:
    """What tailoring.yaml came to. ``away`` are, by protocol, the steps that are left out or differ, as adopted."""

    path: str
    baseline: Text
    version: Text
    deviations: tuple[Deviation, ...] = ()
    settled: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    """The choices settled for good: by protocol, the option of each choice."""
    left_out: frozenset[str] = frozenset()
    own: frozenset[str] = frozenset()
    away: Mapping[str, tuple[Step, ...]] = field(default_factory=dict)
    adopted: Mapping[str, tuple[Phase, ...]] = field(default_factory=dict)
    """The phases of each protocol as adopted, with parts unfolded, before anything is changed or looked up."""
    choices: Mapping[str, tuple[Choice, ...]] = field(default_factory=dict)
    """The choices of each protocol that are settled for good, as adopted."""


@dataclass(frozen=True, slots=True)
class Upstream:
    """What upstream.yaml says; the files by their path in the set, each with its place and SHA-256 digest."""

    path: str
    name: Text
    version: Text
    digests: Mapping[str, tuple[Text, str]]
    found: Mapping[str, str]
    """The digests of the files as they are now; other line ends than those of the adopted file make no difference."""
