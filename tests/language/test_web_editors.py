"""What web editors, word processors and copied mails put into a file: it just works, or a message helps."""

from __future__ import annotations

import datetime
from collections.abc import Callable

import pytest

from stepfield.checks import check_set
from stepfield.language import build_set
from stepfield.starting import draft_from, new_protocol, read_table

TODAY = datetime.date(2026, 11, 2)
CLINIC = b"clinic: Quillhaven\nroles: {scrub: {title: Scrub nurse}, circulating: {title: Circulating nurse}}\n"
TEXT = new_protocol("room", ["scrub", "circulating"])
RUB, WIPE = "        do: Rub your hands", "      - id: wipe-table"


def swap(old: str, new: str) -> Callable[[str], bytes]:
    def act(text: str) -> bytes:
        assert text.count(old) == 1
        return text.replace(old, new).encode()

    return act


def found_in(content: bytes) -> list[tuple[str, int, str]]:
    """Each finding as its rule, its line, and all its words."""
    report = check_set(build_set({"p/clinic.yaml": CLINIC, "p/room.yaml": content}), TODAY)
    return [(one.rule, one.span.line, f"{one.message} {one.advice}") for one in report.findings]


WORKS: dict[str, Callable[[str], bytes]] = {
    "as it is": str.encode,
    "line ends of Windows": lambda text: text.replace("\n", "\r\n").encode(),
    "a byte order mark": lambda text: text.encode("utf-8-sig"),
    "both of them": lambda text: text.replace("\n", "\r\n").encode("utf-8-sig"),
    "spaces at every line's end": lambda text: text.replace("\n", "   \n").encode(),
    "tabs behind values": lambda text: "".join(f"{line}\t\n" if line else "\n" for line in text.split("\n")).encode(),
    "tabs between key and value": lambda text: text.replace("do: ", "do:\t").encode(),
    "no line end at the end": lambda text: text.rstrip("\n").encode(),
    "many at the end": lambda text: f"{text}\n\n  \n".encode(),
    "curly quotes, dashes and dots in a sentence": swap(RUB, f"{RUB[:-10]} the nurse’s “hands” – twice… "),
    "a no-break space in a sentence": swap(RUB, RUB.replace("your hands", "your\u00a0hands")),
}


@pytest.mark.parametrize("habit", WORKS, ids=list(WORKS))
def test_it_just_works(habit: str) -> None:
    assert found_in(WORKS[habit](TEXT)) == []


HELPS: dict[str, tuple[Callable[[str], bytes], str, int, str]] = {
    "a tab for indentation": (swap(RUB, RUB.replace("        ", "\t\t")), "bad-yaml", 20, "Use spaces: a tab"),
    "a tab alone on a line": (lambda text: text.replace("\n\n", "\n\t\n").encode(), "bad-yaml", 10, "Use spaces"),
    "curly quotes round a sentence with a colon": (
        swap(RUB, RUB.replace("Rub", "“First: rub”")),
        "bad-yaml",
        20,
        "Use straight quotes",
    ),
    "curly quotes round a word": (swap("draft  ", "“draft”  "), "bad-shape", 7, "curly quotes out"),
    "curly quotes round a name": (swap("[wipe-table]", "[‘wipe-table’]"), "bad-shape", 32, "curly quotes out"),
    "curly quotes round a key": (swap("status:", "“status”:"), "bad-shape", 7, "Write 'status'"),
    "another hyphen in a name": (swap("[wipe-table]", "[wipe\u2011table]"), "bad-shape", 32, "Write 'wipe-table'"),
    "a dash in a name": (swap("[wipe-table]", "[wipe–table]"), "bad-shape", 32, "Write 'wipe-table'"),
    "a dash before a list entry": (swap(WIPE, WIPE.replace("-", "–", 1)), "bad-yaml", 23, "hyphen of the keyboard"),
    "a bullet before a list entry": (swap(WIPE, WIPE.replace("-", "•", 1)), "bad-yaml", 23, "hyphen of the keyboard"),
    "a colon of another script": (swap("status:", "status："), "bad-yaml", 7, "colon of the keyboard"),
    "a no-break space after the colon": (swap(RUB, RUB.replace("do: ", "do:\u00a0")), "bad-yaml", 20, "U+00A0"),
    "a no-break space as indentation": (swap(RUB, f"\u00a0{RUB[1:]}"), "bad-yaml", 20, "type an ordinary space"),
    "a no-break space after the hyphen": (
        swap(WIPE, WIPE.replace("- ", "-\u00a0")),
        "bad-yaml",
        23,
        "type an ordinary space",
    ),
    "a no-break space beside a word": (swap("draft  ", "\u00a0draft  "), "bad-shape", 7, "type an ordinary one"),
    "a space without width in a name": (swap("[wipe-table]", "[wipe-table\u200b]"), "bad-shape", 32, "'wipe-table'"),
    "a line break that only some see": (swap(RUB, f"{RUB}\u2028"), "bad-yaml", 20, "U+2028"),
    "line ends of old": (lambda text: text.replace("\n", "\r").encode(), "bad-yaml", 1, "carriage return alone"),
    "a Western code page": (swap(RUB, f"{RUB}“"), "bad-yaml", 20, "Save it as UTF-8"),
    "UTF-16": (lambda text: text.encode("utf-16"), "bad-yaml", 1, "looks like UTF-16"),
}


@pytest.mark.parametrize("habit", HELPS, ids=list(HELPS))
def test_a_message_helps(habit: str) -> None:
    change, rule, line, words = HELPS[habit]
    content = change(TEXT)
    if habit == "a Western code page":
        content = content.decode().encode("cp1252")
    found = found_in(content)
    assert [one[:2] for one in found if words in one[2]][:1] == [(rule, line)], found


TABLE = "Role;Step;After\nScrub nurse;Open the pack;\nCirculating nurse;{};Open the pack\n"
TABLES: dict[str, tuple[bytes, str]] = {
    "line ends of Windows": (TABLE.format("Wipe").replace("\n", "\r\n").encode(), "Wipe"),
    "line ends of old": (TABLE.format("Wipe").replace("\n", "\r").encode(), "Wipe"),
    "a byte order mark": (TABLE.format("Wipe").encode("utf-8-sig"), "Wipe"),
    "UTF-16": (TABLE.format("Wipe").encode("utf-16"), "Wipe"),
    "a Western code page": (TABLE.format("“Wipe” – twice").encode("cp1252"), "“Wipe” – twice"),
    "a tab inside a cell": (TABLE.format("Wipe\tthe table").encode(), "Wipe the table"),
    "spaces around": (TABLE.format("  Wipe  ").replace("Scrub nurse", " Scrub\u00a0nurse ").encode(), "Wipe"),
    "quotes, colons and number signs": (TABLE.format('"Say: ""stop"" # now"').encode(), 'Say: "stop" # now'),
}


@pytest.mark.parametrize("habit", TABLES, ids=list(TABLES))
def test_a_table_with_such_habits_becomes_a_clean_draft(habit: str) -> None:
    content, said = TABLES[habit]
    draft = draft_from(
        read_table("a.csv", content), "room", {"scrub": "Scrub nurse", "circulating": "Circulating nurse"}
    )
    assert draft.not_understood == ()
    assert found_in(draft.text.encode()) == []
    (room,) = build_set({"p/clinic.yaml": CLINIC, "p/room.yaml": draft.text.encode()}).protocols
    assert [(str(step.role), step.do.value) for step in room.steps] == [
        ("scrub", "Open the pack"),
        ("circulating", said),
    ]
    assert [str(name) for name in room.steps[1].after] == [room.steps[0].id.value]
