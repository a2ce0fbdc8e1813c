"""Questions about small protocols; the things they play with are those of the engine's own small cases."""

from __future__ import annotations

import textwrap

from stepfield.checks import Answer, ask_before, ask_breach, ask_can
from stepfield.language import ProtocolSet, build_set
from tests.asepsis.small import CLINIC, HEADER, THINGS

GLOVED = """
- {id: rub, role: scrub, do: Rub., makes: {scrub.hands: disinfected}}
- {id: glove, role: scrub, do: Glove., dons: [glove]}
"""


def a_set(steps: str, head: str = "") -> ProtocolSet:
    """A set with one protocol named ``small``, of a single phase."""
    phase = "phases:\n- phase: all\n  title: All\n  steps:\n"
    text = HEADER + textwrap.dedent(head) + THINGS + phase + textwrap.indent(textwrap.dedent(steps), "    ")
    return build_set({"protocols/clinic.yaml": CLINIC.encode(), "protocols/small.yaml": text.encode()})


def before(steps: str, step: str, head: str = "") -> Answer:
    return ask_before(a_set(steps, head), "small", step)


def can(steps: str, claim: str, step: str, head: str = "") -> Answer:
    return ask_can(a_set(steps, head), "small", claim, step)


def breach(steps: str, subject: str, step: str, head: str = "") -> Answer:
    return ask_breach(a_set(steps, head), "small", subject, step)
