"""Small protocols for the engine's tests: only what a case is about is written, the rest stands here."""

from __future__ import annotations

import textwrap

from stepfield.asepsis import Moment, Proof, World, compile_protocol, prove, replay
from stepfield.language import build_set
from stepfield.language.model import Level, Protocol

CLINIC = """
clinic: Quillhaven Day Surgery
language: en
roles:
  surgeon: {title: Surgeon}
  scrub: {title: Scrub nurse}
  circulating: {title: Circulating nurse}
surfaces: {}
"""

HEADER = """
kind: protocol
title: A small case
purpose: Shows one thing.
version: 1.0.0
status: draft
owner: infection-control lead
team: [surgeon, scrub, circulating]
"""

THINGS = """
surfaces:
  trolley: {title: Trolley}
  table: {title: Table, starts: sterile}
sites:
  palm: {title: Palm, starts: disinfected}
  thigh: {title: Thigh}
items:
  probe: {title: Probe, starts: sterile}
  cloth: {title: Cloth, starts: clean}
  glove: {title: Glove, starts: sterile, worn_on: hands}
  gown: {title: Gown, starts: sterile, worn_on: body}
  mask: {title: Mask, starts: clean, worn_on: face}
  sheet: {title: Sheet, starts: sterile}
  film: {title: Film, starts: sterile, barrier: fluid-proof}
  swab: {title: Swab, starts: sterile, counted: true}
  blade: {title: Blade, starts: sterile, sharp: true}
  box: {title: Sharps box, starts: clean, sharps: true}
  bin: {title: Bin}
  spirit: {title: Spirit, starts: disinfected, hazard: fire}
packs:
  outer:
    title: Outer pack
    holds:
      forceps: {title: Forceps}
      inner: {title: Inner pack, holds: {needle: {title: Needle}}}
"""


def protocol(phases: str, head: str = "") -> Protocol:
    """The protocol with these phases; ``head`` adds choices."""
    text = HEADER + textwrap.dedent(head) + THINGS + "phases:\n" + textwrap.indent(textwrap.dedent(phases), "  ")
    read = build_set({"protocols/clinic.yaml": CLINIC.encode(), "protocols/small.yaml": text.encode()})
    assert [problem.message for problem in read.problems] == []
    return read.protocols[0]


def one_phase(steps: str, head: str = "") -> Protocol:
    """The protocol whose single phase has these steps."""
    return protocol("- phase: all\n  title: All\n  steps:\n" + textwrap.indent(textwrap.dedent(steps), "    "), head)


def proof(steps: str, head: str = "") -> Proof:
    """What is proved of a single phase."""
    return prove(compile_protocol(one_phase(steps, head)))


def slips(steps: str, head: str = "") -> set[tuple[str, str | None, str]]:
    """(kind, step, subject) of everything that goes wrong in some order."""
    found = proof(steps, head)
    names = [step.id.value for step in found.graph.steps]
    return {
        (seen.slip.kind, None if seen.slip.step is None else names[seen.slip.step], seen.slip.subject)
        for seen in found.occurrences
    }


class After:
    """The world after the steps of a single phase have happened in written order."""

    def __init__(self, steps: str) -> None:
        graph = compile_protocol(one_phase(steps))
        moments: list[Moment] = replay(graph, range(len(graph.steps)))
        self.world, self.number = World(graph, moments[-1].after), graph.number
        self.slips = [(slip.kind, slip.subject) for moment in moments for slip in moment.slips]

    def level(self, name: str) -> Level:
        """The level of the thing's outside."""
        return self.world.level(self.number[name])

    def is_soiled(self, name: str) -> bool:
        """Whether the thing's outside is soiled."""
        return self.world.is_soiled(self.world.outside(self.number[name]))
