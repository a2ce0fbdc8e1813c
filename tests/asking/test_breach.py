"""What a breach leads to, worked out by hand."""

from __future__ import annotations

from stepfield.asepsis import compile_protocol
from stepfield.asepsis.breach import Breach
from stepfield.asepsis.onward import Onward
from stepfield.asepsis.stepping import Stepping
from stepfield.language.model import Level
from tests.asepsis.small import one_phase
from tests.asking.small import GLOVED, a_set, breach

WORK = """
- {id: take, role: scrub, do: Take the probe., sterile: false, needs: {scrub.hands: sterile}, touches: [probe]}
- {id: lay, role: scrub, do: Lay it down., needs: {probe: sterile}, lays: {probe: table}}
"""


def ask(steps: str, subject: str, step: str, head: str = "") -> Breach:
    result = breach(steps, subject, step, head).result
    assert isinstance(result, Breach)
    return result


def told(result: Breach) -> tuple[list[tuple[str, str | None]], list[tuple[str, str | None, str]]]:
    """What is lost by which step, and what fails."""
    return (
        [(one.subject, one.step) for one in result.lost],
        [(one.slip.kind, one.step, one.slip.subject) for one in result.failures],
    )


def test_loss_goes_on_where_a_check_would_have_stopped_it() -> None:
    """The need of ``take`` fails. If nobody looks, the probe is lost there, and the table it is laid on after that."""
    lost, fails = told(ask(GLOVED + WORK, "scrub.hands", "take"))
    assert lost == [("probe", "take"), ("table", "lay")]
    assert fails == [("needs-not-met", "take", "scrub.hands")]


def test_the_field_is_told_where_it_is_broken() -> None:
    lost, fails = told(ask(GLOVED + WORK, "probe", "lay"))
    assert set(lost) == {("scrub.hands", "lay"), ("glove", "lay"), ("table", "lay")}
    assert fails == [("needs-not-met", "lay", "probe")]


def test_orders_are_shortest_and_say_where_the_breach_is() -> None:
    free = "- {id: other, role: circulating, do: Anything.}\n"
    result = ask(GLOVED + WORK + free, "scrub.hands", "take")
    (failure,) = result.failures
    assert ([step for step, _ in failure.course.steps], failure.course.breach_after) == (["rub", "glove", "take"], 2)
    assert (result.had, result.present) == ((Level.STERILE,), "every")


def test_what_rests_on_a_surface_is_lost_with_it_at_once() -> None:
    steps = GLOVED + WORK + "- {id: look, role: scrub, do: Look.}\n"
    result = ask(steps, "table", "look")
    assert told(result)[0] == [("probe", None)]
    assert result.lost[0].course.breach_after == len(result.lost[0].course.steps)


def test_the_cover_that_is_the_outside_is_the_breached_thing_itself() -> None:
    assert told(ask(GLOVED + "- {id: look, role: scrub, do: Look.}\n", "scrub.hands", "look")) == ([], [])


def test_a_breach_by_its_cover_reaches_the_wearer() -> None:
    assert told(ask(GLOVED + "- {id: look, role: scrub, do: Look.}\n", "glove", "look"))[0] == [("scrub.hands", None)]


def test_steps_that_restore_are_told_with_what_they_bring_and_whether_they_come() -> None:
    steps = GLOVED + WORK + "- {id: wash, role: scrub, do: Wash., makes: {scrub.hands: clean}}\n"
    result = ask(steps, "scrub.hands", "take")
    restorers = [(one.step, one.by, one.level, one.enough, one.comes) for one in result.restorers]
    assert restorers == [
        ("rub", "makes", Level.DISINFECTED, False, False),
        ("glove", "dons", Level.STERILE, True, False),
        ("wash", "makes", Level.CLEAN, False, True),
    ]


def test_a_cover_put_on_by_somebody_else_restores() -> None:
    steps = GLOVED + "- {id: assist, role: surgeon, do: Glove., covers: {scrub.hands: film}}\n"
    restorers = [(one.step, one.by) for one in ask(steps, "scrub.hands", "glove").restorers if one.enough]
    assert ("assist", "covers") in restorers


def test_what_is_not_there_cannot_be_contaminated() -> None:
    steps = "- {id: look, role: scrub, do: Look.}\n- {id: open, role: circulating, do: Open., opens: [outer]}\n"
    assert ask(steps, "needle", "look").present == "no"
    assert ask(steps, "forceps", "look").present == "some"
    assert ask(steps, "probe", "look").present == "every"


def test_a_repeat_can_heal_and_the_orders_without_it_fail() -> None:
    steps = """
- {id: rub, role: scrub, do: Rub., makes: {scrub.hands: disinfected}}
- {id: look, role: scrub, do: Look., asks: {question: Dry?, answers: [wet, dry]}, repeat: {from: rub, answer: wet}}
- {id: take, role: scrub, do: Take., needs: {scrub.hands: disinfected}}
"""
    result = ask(steps, "scrub.hands", "look")
    (failure,) = result.failures
    assert failure.course.steps == (("rub", None), ("look", "dry"), ("take", None))
    (rub,) = result.restorers
    assert (rub.step, rub.enough, rub.comes) == ("rub", True, True)


def test_what_the_protocol_fails_in_anyway_is_not_told_again() -> None:
    steps = "- {id: take, role: scrub, do: Take., needs: {probe: sterile, cloth: sterile}}\n"
    assert told(ask(steps, "cloth", "take"))[1] == []
    assert told(ask(steps, "probe", "take"))[1] == [("needs-not-met", "take", "probe")]


def test_nothing_changes_for_what_is_contaminated_anyway() -> None:
    result = ask(GLOVED + WORK, "trolley", "take")
    assert (told(result), result.had) == (([], []), (Level.CONTAMINATED,))


def test_steps_of_others_may_lie_between_the_breach_and_the_step() -> None:
    others = (
        "- {id: ready, role: circulating, do: Scrub., makes: {circulating.hands: sterile}}\n"
        "- {id: touch, role: circulating, do: Touch., touches: [probe]}\n"
    )
    result = ask(GLOVED + WORK + others, "probe", "take")
    (lost,) = (one for one in result.lost if one.subject == "circulating.hands")
    assert [step for step, _ in lost.course.steps][lost.course.breach_after :] == ["touch"]


def test_the_set_of_these_cases_is_sound() -> None:
    assert a_set(GLOVED + WORK).unsound == frozenset()


def test_a_check_of_hands_does_not_stop_what_is_lost_either() -> None:
    """A sterile glove goes onto contaminated hands; told as a slip, and the hands under it are no better for that."""
    steps = GLOVED + (
        "- {id: off, role: scrub, do: Glove off., doffs: [glove]}\n"
        "- {id: fold, role: scrub, do: Fold., touches: [cloth]}\n"
    )
    assert told(ask(steps, "scrub.hands", "glove")) == (
        [("cloth", "fold")],
        [("needs-not-met", "glove", "scrub.hands")],
    )


def test_the_shortest_order_counts_what_comes_before_the_breach_too() -> None:
    """One contact after nine steps of the scrub nurse, or two contacts at once: the film is lost soonest by the two."""
    steps = (
        "- {id: first, role: circulating, do: Scrub., makes: {circulating.hands: sterile}}\n"
        "- {id: look, role: circulating, do: Look.}\n"
        "- {id: near, role: circulating, do: Do., uses: {probe: sheet}}\n"
        "- {id: nearer, role: circulating, do: Do., uses: {sheet: film}}\n"
        "- {id: ready, role: scrub, do: Scrub., makes: {scrub.hands: sterile}}\n"
        + "".join(f"- {{id: idle-{n}, role: scrub, do: Wait.}}\n" for n in range(8))
        + "- {id: direct, role: scrub, do: Do., uses: {probe: film}}\n"
        + "- {id: last, role: surgeon, do: Look., needs: {film: sterile}}\n"
    )
    (failure,) = ask(steps, "probe", "look").failures
    assert [step for step, _ in failure.course.steps] == ["first", "look", "near", "nearer", "last"]
    assert failure.course.breach_after == 1


def test_a_start_that_is_reached_sooner_from_another_one_counts_as_reached_so() -> None:
    graph = compile_protocol(one_phase(GLOVED))
    stepping = Stepping(graph, reduced=False)
    onward = Onward(stepping, lambda _, state: (state, ()), lambda *_: False, 100)
    onward.begin(1, "state", (), 5, 50)
    onward.begin(0, "state", (), 0, 7)
    ways = [onward.way(seen.node)[:2] for seen in onward.run()]
    assert ways == [(7, ()), (7, ((0, None),)), (7, ((0, None), (1, None)))]


def test_a_search_that_grows_too_large_is_given_up_and_says_so() -> None:
    stepping = Stepping(compile_protocol(one_phase(GLOVED)), reduced=False)
    onward = Onward(stepping, lambda _, state: (state, ()), lambda *_: False, 1)
    onward.begin(0, "state", (), 0, 0)
    assert len(list(onward.run())) == 1
    assert not onward.complete
