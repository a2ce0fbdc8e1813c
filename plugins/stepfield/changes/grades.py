"""How grave a change is, by what it does: one table with the reasons, for steps, things and whole protocols.

A change of one field of a step has the grade of that field. It may be raised, never lowered, by what the step is:
who does a sterile step, and what it touches, is a matter of safety, as is leaving out a step that guards something.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from ..language.model import Level, Protocol, Step


class Grade(IntEnum):
    """How grave a change is; higher is graver."""

    WORDING = 1
    WORKING = 2
    SAFETY = 3

    @property
    def word(self) -> str:
        """The grade as reviews write it."""
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Grading:
    """The grade of a field, and the reason for it in a sentence."""

    grade: Grade
    reason: str


_W, _K, _S = Grade.WORDING, Grade.WORKING, Grade.SAFETY
_LAYERS = "What lies on what decides which outside is touched."
_CONTACT = "Who touches what with what is how the work is done."
_LEAVES = "Where something leaves the scene decides who is endangered by it."
_KNOWN = "It tells of germs or of soil that the rest of the text has to reckon with."
_FACT = "Something must hold before somebody goes on."
_SHARE = "Another thing is told of in the same words."

STEPS: dict[str, Grading] = {
    "id": Grading(_W, "A name is no work."),
    "do": Grading(_W, "The same is done, told in other words."),
    "why": Grading(_W, "A reason is no work."),
    "question": Grading(_W, "The same is asked, in other words."),
    "role": Grading(_K, "Somebody else does it."),
    "with": Grading(_K, "Somebody else takes part."),
    "order": Grading(_K, "It is done at another time."),
    "phase": Grading(_K, "It is done in another phase."),
    "when": Grading(_K, "It is done in other cases."),
    "asks": Grading(_K, "Other answers can be given."),
    "takes": Grading(_K, "The time to reckon with is another."),
    "records": Grading(_K, "Other lines are to be filled in."),
    "waits": Grading(_K, "Somebody waits longer."),
    "within": Grading(_K, "There is less time for it."),
    "opens": Grading(_K, _CONTACT),
    "touches": Grading(_K, _CONTACT),
    "passes": Grading(_K, _CONTACT),
    "uses": Grading(_K, _CONTACT),
    "lays": Grading(_K, _CONTACT),
    "presents": Grading(_K, _CONTACT),
    "covers": Grading(_S, _LAYERS),
    "uncovers": Grading(_S, _LAYERS),
    "dons": Grading(_S, _LAYERS),
    "doffs": Grading(_S, _LAYERS),
    "makes": Grading(_S, "This is what makes something clean, disinfected or sterile."),
    "wets": Grading(_S, _KNOWN),
    "contaminates": Grading(_S, _KNOWN),
    "soils": Grading(_S, _KNOWN),
    "counts": Grading(_S, "The count is what shows that nothing was left in the patient."),
    "discards": Grading(_S, _LEAVES),
    "hands_over": Grading(_S, _LEAVES),
    "needs": Grading(_S, "It says how clean something must be."),
    "requires": Grading(_S, _FACT),
    "confirms": Grading(_S, _FACT),
    "withdraws": Grading(_S, _FACT),
    "repeat": Grading(_S, "A check that is repeated until it holds keeps what fails from going on."),
    "cautions": Grading(_S, "A warning is there to be read before the step."),
    "meets": Grading(_S, "It says which published requirement is answered here."),
    "keeps": Grading(_S, "It is the value that a published requirement limits."),
    "ignition": Grading(_S, "A spark near what burns is a fire."),
    "ends_field": Grading(_S, "From there on nobody guards the sterile field."),
}
"""Every field of a step; effects that are added to the language later count as safety until they stand here."""

THINGS: dict[str, Grading] = {
    "name": Grading(_W, "A name is no work."),
    "title": Grading(_W, "The same thing, told in other words."),
    "spare": Grading(_K, "Another number is to be had ready."),
    "held_in": Grading(_K, "It comes from elsewhere."),
    "kind": Grading(_S, "Another sort of thing is treated by other rules."),
    "starts": Grading(_S, "It says how clean something is to begin with."),
    "worn_on": Grading(_S, _LAYERS),
    "fluid_proof": Grading(_S, "What is wet through is no barrier."),
    "count": Grading(_S, "The count is reckoned from it."),
    "counted": Grading(_S, "The count is what shows that nothing was left in the patient."),
    "sharp": Grading(_S, "A sharp thing injures whoever finds it."),
    "sharps": Grading(_S, "A sharp thing must go into a container that holds it."),
    "reusable": Grading(_S, "It decides what goes to reprocessing."),
    "hazard": Grading(_S, "A danger is to be warned of."),
}
"""Every attribute of a thing."""

WHOLE: dict[str, Grading] = {
    "title": Grading(_W, _SHARE),
    "purpose": Grading(_W, _SHARE),
    "owner": Grading(_W, "It says whom to ask, not what to do."),
    "options": Grading(_K, "The case can be settled otherwise."),
    "choice": Grading(_K, "The case is settled otherwise before it starts."),
    "team": Grading(_K, "Other people take part."),
    "phase": Grading(_K, "The case is divided otherwise."),
    "thing": Grading(_K, "Other things are to be had ready."),
    "retired": Grading(_K, "Whether anybody works by this text at all."),
    "adopts": Grading(_S, "It says which published requirements are to be met."),
    "cautions": Grading(_S, "A warning is there to be read before the phase."),
    "limit": Grading(_S, "A time or another value that is asked for is another."),
    "requirement": Grading(_W, "The same is asked for, in other words."),
    "part": Grading(_K, "A text that protocols share comes or goes."),
}
"""What belongs to no single step or thing."""


def of_field(field: str) -> Grading:
    """The grading of a field of a step."""
    return STEPS.get(field, Grading(Grade.SAFETY, "What it does is not known to be harmless."))


def is_sterile(step: Step, protocol: Protocol) -> bool:
    """Whether a step asks for, makes or handles something disinfected or sterile."""
    if any(need.level >= Level.DISINFECTED for need in step.needs):
        return True
    for effect in step.effects:
        if effect.level is not None and effect.level >= Level.DISINFECTED:
            return True
        names = [effect.thing, *([effect.target] if effect.target is not None else [])]
        if effect.field == "opens":
            names += [one.name for one in protocol.subjects.values() if one.held_in == effect.thing.value]
        found = [protocol.subjects.get(name.value) for name in names]
        if any(one is not None and one.starts >= Level.DISINFECTED for one in found):
            return True
    return False


def guards(step: Step, protocol: Protocol) -> bool:
    """Whether leaving the step out would take away something that keeps patient or team safe."""
    plain = (step.needs, step.requires, step.confirms, step.withdraws, step.waits, step.within, step.cautions)
    if any((*plain, step.meets, step.keeps, step.repeat, step.ignition, step.ends_field)) or is_sterile(step, protocol):
        return True
    return any(of_field(effect.field).grade is Grade.SAFETY for effect in step.effects)
