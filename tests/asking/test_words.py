"""Answers as a nurse reads them, and as a program does."""

from __future__ import annotations

import json
from dataclasses import replace

from stepfield.checks import Answer, ask_before
from stepfield.language import Text
from stepfield.reports import SAFE, json_answer, text_answer
from tests.asking.small import GLOVED, a_set, before, breach, can

WORK = """
- {id: take, role: scrub, do: Take the probe. Hold it up., needs: {scrub.hands: sterile}, touches: [probe]}
- {id: lay, role: scrub, do: Lay it down., needs: {probe: sterile}, lays: {probe: table}}
"""
LOOK = "- {id: look, role: circulating, do: Look.}\n"
WAY = "choices: {way: {title: The way, options: {left: To the left, right: To the right}}}\n"


def words(answer: Answer) -> str:
    """What stands between the title and what is said below every answer."""
    text = text_answer(answer)
    assert text.startswith("small  A small case\n\n")
    assert text.endswith(f"{SAFE}\n")
    return text.removeprefix("small  A small case\n\n").removesuffix(f"{SAFE}\n")


def test_a_breach_in_full() -> None:
    assert words(breach(GLOVED + WORK, "scrub.hands", "take")) == (
        "If Scrub nurse's hands ('scrub.hands') are contaminated just before 'take' (Scrub nurse):\n"
        "  Without it they would be sterile.\n"
        "  Lost with it, if nobody notices:\n"
        "    - Probe: contaminated instead of sterile, by 'take' (Scrub nurse)\n"
        "        Shortest order: 2 steps, the breach, 'take'.\n"
        "    - Table: contaminated instead of sterile, by 'lay' (Scrub nurse)\n"
        "        Shortest order: 2 steps, the breach, 'take', 'lay'.\n"
        "  Steps that then fail:\n"
        "    - 'take' (Scrub nurse) needs Scrub nurse's hands ('scrub.hands') sterile, but they are contaminated"
        "  [needs-not-met]\n"
        "        Shortest order: 2 steps, the breach, 'take'.\n"
        "  Steps that bring them back to sterile:\n"
        "    - 'glove' (Scrub nurse) puts a fresh one on (past by then: it would have to be done again)\n"
        "\n"
        "Every order was tried, with every choice and every answer (5 states).\n"
    )


def test_a_breach_that_leads_to_nothing() -> None:
    told = words(breach(GLOVED + WORK, "trolley", "take"))
    assert "  Nothing changes: it is contaminated by then anyway.\n" in told
    told = words(breach(GLOVED + WORK, "needle", "take"))
    assert told.startswith("'needle' is not there just before 'take' (Scrub nurse), so nothing can contaminate it.\n")
    told = words(breach(GLOVED + LOOK, "film", "look"))
    assert "  Nothing else is lost with it.\n  No step fails: no check of this protocol would tell of it.\n" in told
    assert "  No step of this protocol brings it back to sterile.\n" in told


def test_a_long_order_is_cut() -> None:
    more = "".join(f"- {{id: more-{n}, role: scrub, do: More.}}\n" for n in range(9))
    told = words(breach(GLOVED + more + WORK, "scrub.hands", "more-0"))
    cut = "Shortest order: 2 steps, the breach, 5 more steps, 'more-5', 'more-6', 'more-7', 'more-8', 'take'.\n"
    assert cut in told


def test_yes_no_and_not_always() -> None:
    late = LOOK.replace("do: Look.", "do: Look., after: [glove]")
    told = words(can(GLOVED + late, "scrub.hands sterile", "look"))
    yes = "Yes, in every order just before 'look' (Circulating nurse) Scrub nurse's hands ('scrub.hands') are sterile."
    assert told.startswith(f"{yes}\n\n")
    told = words(can(GLOVED + LOOK, "circulating.hands clean", "look"))
    assert told.startswith(
        "No, in no order just before 'look' (Circulating nurse) Circulating nurse's hands ('circulating.hands') are "
        "at least clean.\n  A shortest order in which they are not:\n    it is the first step.\n\n"
    )
    told = words(can(GLOVED + LOOK, "scrub.hands sterile", "look"))
    assert told.startswith("Not always: only in some orders just before 'look' (Circulating nurse) Scrub nurse's hands")
    assert (
        "  A shortest order in which they are not:\n    it is the first step.\n"
        "  A shortest order in which they are:\n"
        "    1. Scrub nurse: Rub.  [rub]\n    2. Scrub nurse: Glove.  [glove]\n" in told
    )


def test_a_choice_is_told_by_its_title() -> None:
    steps = "- {id: rub, role: circulating, do: Rub., makes: {circulating.hands: clean}, when: {way: left}}\n" + LOOK
    told = words(can(steps, "circulating.hands clean", "look", WAY))
    assert (
        "  A shortest order in which they are not:\n    (with The way: To the right)\n    it is the first step.\n"
        in told
    )


def test_people_and_what_they_may_touch() -> None:
    open_ = "- {id: open, role: surgeon, do: Open., opens: [outer]}\n"
    told = words(before(GLOVED + open_ + LOOK.replace("do: Look.", "do: Look., after: [glove]"), "look"))
    assert told.startswith("Just before 'look' (Circulating nurse), in every order:\n\nSurgeon\n")
    scrub = told.split("\n\n")[2]
    assert scrub.startswith(
        "Scrub nurse\n"
        "  Hands: sterile, covered by Glove.\n"
        "  Body: contaminated, bare.\n"
        "  Face: contaminated, bare.\n"
        "  Safe to touch: Table, Palm, Probe, Gown, Sheet, Film, Swab, Blade\n"
        "  Not now:\n"
        "    It would lower the level of these hands: Surgeon's hands, Surgeon's body, Surgeon's face, Scrub nurse's\n"
    )
    assert "    Not there yet: Forceps (in some orders), " in scrub
    circulating = told.split("\n\n")[3]
    assert "    of these less clean afterwards: Cloth, Mask, Sharps box, Spirit, Outer pack" in circulating
    assert "    These hands would contaminate it: Scrub nurse's hands, Table, Palm, " in circulating
    assert "Glove" not in circulating, "a glove that somebody wears is told as that person's hands"


def test_a_step_that_no_order_reaches() -> None:
    never = "- {id: never, role: scrub, do: No., when: {look: good, way: left}}\n"
    asks = "- {id: look, role: scrub, do: Look., asks: {question: Q, answers: [good, bad]}, when: {way: right}}\n"
    for answer in (
        before(asks + never, "never", WAY),
        can(asks + never, "probe sterile", "never", WAY),
        breach(asks + never, "probe", "never", WAY),
    ):
        assert words(answer).startswith("No order reaches 'never' (Scrub nurse), so nothing can be said of it.\n")


def test_what_is_not_proved_is_said_aloud() -> None:
    wide = "".join(
        f"- {{id: {role}-{n}, role: {role}, do: Rub., makes: {{{role}.hands: {level}}}}}\n"
        for role in ("surgeon", "scrub", "circulating")
        for n, level in enumerate(("clean", "disinfected", "sterile"))
    )
    answer = ask_before(a_set(wide), "small", "surgeon-1", limit=10)
    assert not answer.proved
    told = words(answer)
    assert "in the orders that were tried (NOT PROVED):" in told
    assert "\nNOT PROVED: there are too many orders; the search gave up after " in told
    assert json.loads(json_answer(answer))["proved"] is False
    assert ask_before(a_set(wide), "small", "surgeon-1").proved


def test_text_of_a_protocol_cannot_steer_a_terminal() -> None:
    answer = breach(GLOVED + WORK, "scrub.hands", "take")
    title = Text("Wipe \x1b[2J it", answer.protocol.title.span)
    told = text_answer(replace(answer, protocol=replace(answer.protocol, title=title)))
    assert told.startswith("small  Wipe \\x1b[2J it\n")


def test_json_of_the_three_answers() -> None:
    told = json.loads(json_answer(before(GLOVED + LOOK, "look")))
    assert told["asked"] == {"protocol": "small", "before": "look"}
    scrub = next(person for person in told["answer"]["people"] if person["role"] == "scrub")
    assert scrub["parts"][0] == {
        "subject": "scrub.hands",
        "level": "contaminated",
        "highest": "sterile",
        "coverings": [None, "glove"],
        "soiled": "no",
    }
    assert {"thing": "needle", "reason": "not-there-yet", "by": "inner", "always": True} in scrub["not_now"]
    told = json.loads(json_answer(can(GLOVED + LOOK, "scrub.hands sterile", "look")))
    assert told["asked"] == {"protocol": "small", "can": "scrub.hands sterile", "at": "look"}
    assert told["answer"] == {
        "holds": "some",
        "so": {"choices": {}, "order": ["rub", "glove"], "answers": [None, None]},
        "not_so": {"choices": {}, "order": [], "answers": []},
    }
    told = json.loads(json_answer(breach(GLOVED + WORK, "scrub.hands", "take")))
    order = {"choices": {}, "order": ["rub", "glove", "take"], "answers": [None, None, None], "breach_after": 2}
    assert told["asked"] == {"protocol": "small", "breach": "scrub.hands", "at": "take"}
    assert told["answer"]["failures"] == [{"rule": "needs-not-met", "step": "take", "subject": "scrub.hands", **order}]
    assert told["answer"]["lost"][0] == {
        "subject": "probe",
        "outside": "probe",
        "level": "contaminated",
        "would_be": "sterile",
        "step": "take",
        **order,
    }
    assert told["answer"]["restored_by"][-1] == {
        "step": "glove",
        "by": "dons",
        "level": "sterile",
        "enough": True,
        "comes": False,
    }
