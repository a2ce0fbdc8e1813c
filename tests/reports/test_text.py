"""The text form: the place marked, the story, what to do, and a summary that claims no more than was checked."""

from __future__ import annotations

import re

import pytest

from stepfield.asepsis import Count
from stepfield.checks import Rule, all_rules
from stepfield.checks.manual import summary_of
from stepfield.reports import SAFE, checked_of, text_report
from stepfield.reports.scope import orders_in_words
from stepfield.reports.text import first_sentence

from .small import CLEAN, CLINIC, HEAD, WIPED, long, report

WHOLE = """\
room  Small room

set/room.yaml:16:17  needs-not-met  In some orders step 'set-out' (Scrub nurse) needs 'side-table' disinfected, \
but it is only contaminated then: no step before it has made it disinfected.
   |
16 |         needs: {side-table: disinfected}
   |                 ^^^^^^^^^^
  The shortest order that shows it:
    1. Scrub nurse: Set out the dressings.  [set-out, line 13]
  What to do: Let 'set-out' wait for 'wipe-table': write `after: [wipe-table]` in 'set-out' (line 13).
  Proved to help: do 'wipe-table' before 'set-out'.

1 error.
Checked as of 2026-07-01: 1 protocol, 2 steps, 1 scenario, 4 states; every one of 2 orders is covered.
"""


def test_a_finding_and_its_summary() -> None:
    text = text_report([report(WIPED)])
    assert text.startswith(WHOLE)
    assert text.endswith(f"\n{SAFE}\n")
    assert "\x1b" not in text


def test_without_findings_the_summary_still_says_what_was_not_checked() -> None:
    text = text_report([report(CLEAN)])
    checked = "1 protocol, 2 steps, 1 scenario, 3 states; the only order is covered."
    assert text.startswith(f"No findings.\nChecked as of 2026-07-01: {checked}\n")
    assert "Not looked at: whether the steps are the right ones for the operation" in " ".join(text.split())
    assert text.endswith(f"\n{SAFE}\n")


def test_a_long_story_tells_its_beginning_and_its_end() -> None:
    story = re.findall(r"^ +(?:([0-9]+)\.|… ([0-9]+) more steps …)", text_report([report(long(30))]), re.MULTILINE)
    assert [a or b for a, b in story] == ["1", "2", "19", *(str(n) for n in range(22, 31))]


@pytest.mark.parametrize(("steps", "shortened"), [(12, False), (13, True)])
def test_only_a_long_story_is_shortened(steps: int, shortened: bool) -> None:
    assert ("more steps" in text_report([report(long(steps))])) is shortened


def test_colour_marks_the_place_and_the_severity_only_when_asked_for() -> None:
    text = text_report([report(WIPED)], colour=True)
    assert "\x1b[31mneeds-not-met\x1b[0m" in text
    assert re.sub(r"\x1b\[[0-9]+m", "", text) == text_report([report(WIPED)])


def test_warnings_and_notes_say_that_they_are_no_errors() -> None:
    body = WIPED.replace(
        "surfaces:\n", "items:\n  bowl: {title: Bowl, reusable: true}\n  cup: {title: Cup}\nsurfaces:\n"
    )
    text = text_report([report(body.replace("        needs:", "        discards: [bowl]\n        needs:"))])
    assert "  reusable-discarded (warning)  " in text
    assert "  unused-name (note)  " in text
    assert "\n1 error, 1 warning and 1 note.\n" in text


def test_errors_come_before_warnings_and_notes() -> None:
    body = "items:\n  cup: {title: Cup}\n" + WIPED
    rules = re.findall(r"^set/\S+  ([a-z-]+)", text_report([report(body)]), re.MULTILINE)
    assert rules == ["needs-not-met", "unused-name"]


def test_text_of_a_protocol_cannot_steer_the_terminal() -> None:
    head = HEAD.replace("Small room", r'"Small \e[31m room"')
    body = WIPED.replace("Set out the dressings.", r'"Set \e]8;;x\a out \u202e now."')
    text = text_report([report(body, head=head)])
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert "needs-not-met" in text or "bad-yaml" in text


def test_the_mark_stands_under_its_place_after_wide_characters() -> None:
    body = long(1).replace("do: Set out.", "do: 手術 ä.")
    lines = text_report([report(body)]).split("\n")
    place = next(number for number, line in enumerate(lines) if "手術 ä., needs" in line and "|" in line)
    before = lines[place][: lines[place].index("side-table")]
    assert lines[place + 1].index("^") == len(before) + len("手術")
    assert lines[place + 1].count("^") == len("side-table")


def test_a_very_long_line_is_cut_round_the_place() -> None:
    body = WIPED.replace("needs: {side", "needs: {" + " " * 600 + "side") + "        why: x\n"
    text = text_report([report(body)])
    line = next(line for line in text.split("\n") if "side-table: disinfected" in line and "|" in line)
    assert len(line) < 180
    assert "…" in line


def test_scenarios_are_told_in_the_fewest_words() -> None:
    choice = "choices:\n  turnover: {title: Turnover, options: {full: Full one, short: Short one}}\n"
    choice += "  light: {title: Light, options: {day: Day, night: Night}}\n"
    body = choice + CLEAN.replace(
        "        role: circulating\n", "        role: circulating\n        when: {turnover: full}\n"
    )
    body = body.replace("        role: scrub\n", "        role: scrub\n        when: {light: [day, night]}\n")
    assert "\n  Only with Turnover: Short one.\n" in text_report([report(body)])


def test_scenarios_that_are_no_product_are_listed() -> None:
    choice = "choices:\n  a: {title: A, options: {x: Xa, y: Ya}}\n  b: {title: B, options: {x: Xb, y: Yb}}\n"
    wipes = "      - {id: w1, role: scrub, do: Wipe., when: {a: x, b: x}, makes: {side-table: disinfected}}\n"
    wipes += "      - {id: w2, role: scrub, do: Wipe., when: {a: y, b: y}, makes: {side-table: disinfected}}\n"
    need = "      - {id: n, role: scrub, do: Set out., needs: {side-table: disinfected}}\n"
    body = f"{choice}surfaces: {{side-table: {{title: T}}}}\nphases:\n  - phase: room\n    steps:\n{wipes}{need}"
    assert "\n  Only with A: Xa and B: Yb; or with A: Ya and B: Xb.\n" in text_report([report(body)])


def test_what_was_not_proved_is_said() -> None:
    text = text_report([report(CLEAN, limit=1)])
    assert "not-proved" in text
    assert "not every order was tried." in text
    assert "\nNot proved: room: it has more than 1 states" in text


def test_of_what_was_proved_the_orders_are_told_even_if_not_all_was() -> None:
    text = text_report([report(WIPED), report(CLEAN, limit=1, path="other")])
    assert "; not every order was tried; of the rest, every one of 2 orders is covered.\n" in text


@pytest.mark.parametrize(
    ("at_least", "at_most", "words"),
    [
        (0, 0, "every order"),
        (0, 5, "every order"),
        (1, 1, "the only order"),
        (1, 2, "every one of at least 1 order"),
        (2, 2, "every one of 2 orders"),
        (1234567, 1234567, "every one of 1,234,567 orders"),
        (1234567, 10**30, "every one of at least 1,234,567 orders"),
        (10**15, 10**15, "every one of 1,000,000,000,000,000 orders"),
        (10**15 + 1, 10**15 + 1, "every one of more than 10^15 orders"),
        (10**16, 10**16, "every one of more than 10^15 orders"),
        (10**20 + 1, 10**20 + 1, "every one of more than 10^20 orders"),
        (10**21 - 1, 10**22, "every one of more than 10^20 orders"),
    ],
)
def test_a_number_of_orders_is_told_in_plain_words(at_least: int, at_most: int, words: str) -> None:
    assert orders_in_words(Count(at_least, at_most)) == words


def test_a_number_of_orders_too_long_for_python_to_write_is_told_all_the_same() -> None:
    # Python refuses to turn whole numbers of more than 4,300 digits into text (its manual: integer string conversion).
    assert orders_in_words(Count.of(10**9000 + 1)) == "every one of more than 10^9000 orders"


def test_an_unreadable_protocol_counts_as_not_proved() -> None:
    checked = checked_of([report("phases: [\n")])
    assert (checked.protocols, checked.steps, checked.complete) == (1, 0, False)
    assert [one.protocol for one in checked.unproved] == ["room"]


def test_what_no_rule_looks_at_yet_is_named_and_goes_when_a_rule_does() -> None:
    from stepfield.reports.scope import not_checked

    names = [rule.name for rule in all_rules()]
    with_one_less = [name for name in names if name != "tailoring-lost"]
    assert len(list(not_checked(with_one_less))) == len(list(not_checked(names))) + 1


def test_several_sets_are_told_one_after_the_other() -> None:
    text = text_report([report(WIPED), report(CLEAN, path="other")])
    assert "Checked as of 2026-07-01: 2 protocols, 4 steps, 2 scenarios, 7 states; every one of 3 orders" in text


def test_nothing_checked_is_no_report() -> None:
    with pytest.raises(ValueError, match="nothing"):
        checked_of([])


def test_findings_of_the_clinic_stand_under_the_whole_set() -> None:
    text = text_report([report(CLEAN, clinic=CLINIC + "surfaces: {lamp: {title: Lamp}}\n")])
    assert text.startswith("The whole set\n\nset/clinic.yaml:5:12  unused-name (note)")


@pytest.mark.parametrize("rule", all_rules(), ids=lambda rule: rule.name)
def test_summaries_fit_a_line(rule: Rule) -> None:
    assert len(summary_of(rule.page)) <= 100


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("Wipe the table.", "Wipe the table."),
        ("Wipe it. Let it dry.", "Wipe it. …"),
        ("Whole? Then open it.", "Whole? …"),
        ("Take 2.5 ml", "Take 2.5 ml"),
        ("", ""),
    ],
)
def test_the_first_sentence_stands_for_a_step_the_finding_is_not_about(text: str, first: str) -> None:
    assert first_sentence(text) == first


def test_the_steps_a_finding_is_about_are_told_whole() -> None:
    body = WIPED.replace("Set out the dressings.", "Set out the dressings. Leave room.")
    body = body.replace(
        "      - id: set-out", "      - {id: fetch, role: scrub, do: Fetch them. All of them.}\n      - id: set-out"
    )
    text = text_report([report(body)])
    assert "1. Scrub nurse: Fetch them. …  [fetch, line 13]" in text
    assert "2. Scrub nurse: Set out the dressings. Leave room.  [set-out, line 14]" in text
