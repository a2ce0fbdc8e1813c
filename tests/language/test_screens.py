"""The file screens.yaml: what it says is read with its place, and what it names must exist."""

from __future__ import annotations

import pytest

from stepfield.language import ProtocolSet, build_set
from stepfield.language.model import Screens, Viewing
from tests.language.small import FILES

PATH = "protocols/screens.yaml"
SCREENS = """\
viewing: {distance: 400 cm, width: 3840, height: 2160, diagonal: 1.1 m}
stale_after: 6 h
words_a_minute: 120
days:
  monday:
    title: Monday, room 2
    cases:
      - {protocol: release, choices: {draping: one-sheet}}
      - {protocol: release}
"""


def read(text: str) -> ProtocolSet:
    return build_set({path: content.encode() for path, content in {**FILES, PATH: text}.items()})


def told(text: str) -> list[tuple[str, int, int, str | None]]:
    found = read(text).problems
    return [(one.rule, one.span.line, one.span.column, one.subject) for one in found if one.span.path == PATH]


def test_what_the_file_says_is_read() -> None:
    found = read(SCREENS)
    assert found.problems == ()
    assert found.screens.viewing == Viewing(4.0, 3840, 2160, 1.1)
    assert (found.screens.stale_after, found.screens.words_a_minute) == (6 * 3600, 120)
    (day,) = found.screens.days
    assert (day.id.value, day.title) == ("monday", "Monday, room 2")
    assert [case.protocol.value for case in day.cases] == ["release", "release"]
    assert [(name.value, option.value) for name, option in day.cases[0].choices] == [("draping", "one-sheet")]
    assert day.cases[1].protocol.span.line == 9


def test_without_the_file_the_usual_holds() -> None:
    found = build_set({path: content.encode() for path, content in FILES.items()})
    assert found.screens == Screens()
    assert read("stale_after: 1 h\n").screens == Screens(stale_after=3600)


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ("protocol: release, ch", "protocol: releace, ch", ("unknown-name", 8, 20, "releace")),
        ("draping: one", "drape: one", ("unknown-name", 8, 39, "drape")),
        ("one-sheet", "one-sheets", ("unknown-name", 8, 48, "one-sheets")),
        ("words_a_minute: 120", "words_a_minute: fast", ("bad-shape", 3, 17, "words_a_minute")),
        ("400 cm", "400 km", ("bad-shape", 1, 21, "distance")),
        ("400 cm", "0 m", ("bad-shape", 1, 21, "distance")),
        ("400 cm", "4.4 m", ("bad-shape", 1, 21, "distance")),
        ("width: 3840", "width: 8000", ("bad-shape", 1, 10, "viewing")),
        ("    title: Monday, room 2\n", "", ("bad-shape", 5, 3, "title")),
        ("  monday:", "  con:", ("bad-shape", 5, 3, "con")),
        ("stale_after", "stale_afterr", ("bad-shape", 2, 1, "stale_afterr")),
    ],
)
def test_a_slip_is_told_once_at_its_place(old: str, new: str, where: tuple[str, int, int, str]) -> None:
    assert told(SCREENS.replace(old, new, 1)) == [where]


def test_how_far_away_a_screen_may_be_is_told() -> None:
    """A picture of 1.1 m at 16 to 9 is 0.539 m high: eight times that is 4.3 m."""
    (problem,) = read(SCREENS.replace("400 cm", "5 m")).problems
    assert "shorter side is 0.54 m; at most 8 times that side is possible, 4.3 m" in problem.message
    assert read(SCREENS.replace("400 cm", "4.31 m")).problems == ()
    upright = SCREENS.replace("400 cm", "4.31 m").replace("width: 3840, height: 2160", "width: 2160, height: 3840")
    assert read(upright).problems == ()


def test_a_missing_protocol_is_told_with_the_nearest_and_stays_as_it_is_written() -> None:
    """Whoever guessed here would put the steps of another operation on the wall."""
    found = read(SCREENS.replace("protocol: release}", "protocol: releace}"))
    (problem,) = found.problems
    assert "'release'" in problem.message
    assert problem.hint == "write 'release'"
    assert found.screens.days[0].cases[1].protocol.value == "releace"


def test_a_protocol_that_cannot_be_read_is_not_said_to_be_missing() -> None:
    text = FILES["protocols/release.yaml"].replace("kind: protocol", "kind: protocol\nkind: protocol", 1)
    files = {**FILES, "protocols/release.yaml": text, PATH: SCREENS}
    found = build_set({path: content.encode() for path, content in files.items()})
    assert [one for one in found.problems if one.span.path == PATH] == []
    assert len(found.screens.days[0].cases) == 2
