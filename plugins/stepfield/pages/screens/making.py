"""Makes the screens of a protocol set: finished pages with one number for all of them, and the script that tells it."""

from __future__ import annotations

import hashlib
import json
import posixpath
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ...changes.drift import is_adopted
from ...checks import Report
from ..addresses import ASSETS, PROBLEMS, Links
from ..reading import Reading
from ..templating import render
from ..views import Link
from ..words import opening
from .groups import Group, Telling
from .paragraphs import Paragraph, lines_of
from .sayings import LOCAL
from .sizes import DO, LEADING, READ, SMALL, Room, Sizes, sizes_of
from .splitting import Card, Deal, deal

FOLDER = "screens"
INDEX = f"{FOLDER}/index.html"
SIZES = f"{FOLDER}/sizes.css"
VERSION = f"{FOLDER}/version.js"
"""Is to be published after everything else: a screen that reads a new number here finds the new pages."""
_BUILD = "\x00"
"""Stands for the number of the build until it is known; no text of a protocol can hold it."""
_ASSET_FOLDER = Path(__file__).parents[1] / "assets"
_EDGE = 0.9
"""Room that the edges of a screen take from its width and from its height."""
_BUTTONS, _FOOT = 8.0, 2.5
"""Width of the three buttons; height of their row."""
_TIGHT = 18.0
"""A lying screen lower than this has one line for who and phase."""
_LEAST_ROOM = 2.6
"""Room for one line of a step. Where long words of warning leave less, a screenful has to be scrolled, and says so."""
_TIME = "2026-12-28 20:08"
"""A long one, to measure with."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A card, or a part of one, with the number of its screenful: on a lying screen, on a standing one, or on both."""

    card: Card
    lying: int | None
    standing: int | None


@dataclass(frozen=True, slots=True)
class Section:
    """A group of cards, dealt out."""

    group: Group
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Parted:
    """A step too long for one screenful, on the screens where it is parted."""

    screen: str
    name: str


@dataclass(frozen=True, slots=True)
class Made:
    """One finished screen, and the steps that are parted on it."""

    text: str
    parted: tuple[Parted, ...]


@dataclass(frozen=True, slots=True)
class Drawn:
    """The screens of one protocol, by address, without the number of the build; the links to them; what is parted."""

    files: tuple[tuple[str, str], ...]
    entries: tuple[Link, ...]
    parted: tuple[Parted, ...]


def screens(report: Report) -> Iterator[tuple[str, bytes]]:
    """Every file of the screens, as address and content; ``VERSION`` comes last."""
    made = Screens(report)
    yield from made.of_all([made.of_protocol(reading) for reading in made.telling.readings.values()])


def _numbered(files: Mapping[str, str]) -> Iterator[tuple[str, bytes]]:
    """The files with the number of their build, which tells of every letter of theirs, and the script that tells it."""
    digest = hashlib.sha256()
    for address, text in sorted(files.items()):
        digest.update(f"{address}\0{len(text)}\0{text}".encode())
    for name in ("wall.css", "wall.js"):
        digest.update((_ASSET_FOLDER / name).read_bytes())
    build = digest.hexdigest()[:32]
    for address, text in files.items():
        yield address, text.replace(_BUILD, build).encode()
    listed = json.dumps([posixpath.relpath(address, FOLDER) for address in sorted(files) if address.endswith(".html")])
    yield VERSION, f'__build("{build}", {listed});\n'.encode()


def _screen_page(protocol: str, role: str) -> str:
    return f"{FOLDER}/protocols/{protocol}/{role}.html"


def _day_page(day: str, role: str | None) -> str:
    return f"{FOLDER}/days/{day}.html" if role is None else f"{FOLDER}/days/{day}/{role}.html"


class Screens:
    """Draws the screens of a checked protocol set."""

    def __init__(self, report: Report) -> None:
        self.report = report
        self.telling = Telling(report)
        self.speech = self.telling.speech
        self.settings = report.facts.protocol_set.screens
        self.adopted = is_adopted(report.facts.protocol_set)
        self.sizes = sizes_of(self.settings.viewing)
        self.words = self._words()
        told = [text for name, text in self.words.items() if name.startswith("is-")]
        self.status = tuple(
            max(lines_of(text.replace("{time}", _TIME), room, SMALL) for text in told) for room in self._status_rooms()
        )

    def addresses(self) -> Iterator[str]:
        """Where each file will be, ``VERSION`` last."""
        for reading in self.telling.readings.values():
            yield from (_screen_page(reading.protocol.id, role) for role in reading.roles)
        for day in self.settings.days:
            yield from (_day_page(day.id.value, role) for role in (None, *self._roles_of_day(day.id.value)))
        yield from (SIZES, INDEX, VERSION)

    def of_protocol(self, reading: Reading) -> Drawn:
        """The screen of every role of one protocol."""
        files, entries = [], []
        parted: list[Parted] = []
        for own in reading.roles:
            address = _screen_page(reading.protocol.id, own)
            title = f"{reading.role(own)}: {reading.protocol.title}"
            screen = self.screen(address, title, list(self.telling.protocol(reading, own, {})))
            files.append((address, screen.text))
            entries.append(Link(reading.role(own), Links(INDEX).to(address)))
            parted += screen.parted
        return Drawn(tuple(files), tuple(entries), tuple(parted))

    def of_all(self, drawn: Sequence[Drawn]) -> Iterator[tuple[str, bytes]]:
        """Every file, ``VERSION`` last; ``drawn`` is what was drawn of each protocol, in their order."""
        yield from _numbered(dict(self._files(drawn)))

    def _files(self, drawn: Sequence[Drawn]) -> Iterator[tuple[str, str]]:
        """Every page and style sheet by address; the number of the build is still to be put in."""
        titles = [reading.protocol.title.value for reading in self.telling.readings.values()]
        protocols = [(title, one.entries) for title, one in zip(titles, drawn, strict=True)]
        parted = [card for one in drawn for card in one.parted]
        for one in drawn:
            yield from one.files
        days = []
        for day in self.settings.days:
            entries = []
            everybody: tuple[str | None, ...] = (None, *self._roles_of_day(day.id.value))
            for role in everybody:
                address = _day_page(day.id.value, role)
                groups = list(self.telling.day(day, role))
                screen = self.screen(address, f"{groups[0].who}: {day.title}", groups)
                yield address, screen.text
                parted += screen.parted
                entries.append(Link(groups[0].who, Links(INDEX).to(address)))
            days.append((day.title, entries))
        yield SIZES, self.style()
        yield INDEX, self.index(protocols, days, parted)

    def _roles_of_day(self, day: str) -> tuple[str, ...]:
        cases = next(found.cases for found in self.settings.days if found.id.value == day)
        readings = [self.telling.readings.get(case.protocol.value) for case in cases]
        return tuple(dict.fromkeys(role for reading in readings if reading is not None for role in reading.roles))

    def screen(self, address: str, title: str, groups: Sequence[Group]) -> Made:
        """One screen."""
        groups = [self._titled(group) for group in groups]
        lying = self._dealt(groups, self.sizes.lying, self.status[0], standing=False)
        standing = self._dealt(groups, self.sizes.standing, self.status[1], standing=True)
        usual = lying if self.settings.viewing.width >= self.settings.viewing.height else standing
        cards = [card for group in groups for card in group.cards]
        parted = tuple(Parted(title, cards[number].name) for number in usual.parted)
        text = render(
            "screens/screen.html",
            self.speech,
            page=posixpath.relpath(address, FOLDER),
            title=title,
            sections=tuple(_sections(groups, lying, standing)),
            marked=self.adopted and any(map(_is_marked, cards)),
            seconds=[dealt.seconds(self.settings.words_a_minute) for dealt in (lying, standing)],
            **self._common(address),
        )
        return Made(text, parted)

    def _titled(self, group: Group) -> Group:
        """A group whose first line is too long for the room of a head begins with all of it.

        The title of the protocol stands in full in the overview.
        """
        rooms = ((self.sizes.lying, False), (self.sizes.standing, True))
        if all(_head(group, room, standing=standing)[0] == _whole_head(group, room)[0] for room, standing in rooms):
            return group
        said = Paragraph("title", group.phase, lead=group.who)
        return replace(group, cards=(Card((said,), opening(group.phase, 30)), *group.cards))

    def index(self, protocols: Sequence[object], days: Sequence[object], parted: Sequence[Parted]) -> str:
        """The list of all screens."""
        viewing = self.settings.viewing
        return render(
            "screens/index.html",
            self.speech,
            title=self.speech.say("Screens"),
            protocols=protocols,
            days=days,
            parted=tuple(dict.fromkeys(parted)),
            viewing=viewing,
            angle=f"{READ:g}",
            letter=f"{self.sizes.letter * 1000:.0f}",
            problems=Links(INDEX).to(PROBLEMS),
            failed=self.report.failed,
            **self._common(INDEX),
        )

    def _common(self, address: str) -> dict[str, object]:
        links = Links(address)
        frame = self.telling.framing.of_site(address, tells_errors=False)
        return {
            "build": _BUILD,
            "speech": self.speech,
            "clinic": frame.clinic,
            "first_things": frame.first_things,
            "notice": frame.notice,
            "words": self.words,
            "built": self.report.facts.today.isoformat(),
            "stale": round(self.settings.stale_after),
            "root": links.to(INDEX).removesuffix("index.html"),
            "styles": (links.to(f"{ASSETS}/wall.css"), links.to(SIZES)),
            "script": links.to(f"{ASSETS}/wall.js"),
        }

    def _words(self) -> dict[str, str]:
        """What the script says, by name; those that begin with is- stand in the line that tells how things are."""
        say, built = self.speech.say, self.report.facts.today.isoformat()
        return {
            "is-built": say("Built %(day)s.", day=built),
            "is-confirmed": say("Built %(day)s. Confirmed %(time)s.", day=built, time="{time}"),
            "is-unconfirmed": say("Built %(day)s. Not confirmed yet.", day=built),
            "is-since": say("Built %(day)s. Not confirmed since %(time)s.", day=built, time="{time}"),
            "is-stale": say("May be out of date: not confirmed since %(time)s.", time="{time}"),
            "is-gone": say("Out of date: no longer published."),
            "is-changing": say("Out of date: a new version is coming."),
            "is-misfit": say("Not made for this shape of screen: scroll to read all."),
            "pause": say("Pause"),
            "go": say("Go on"),
            "place": say("%(number)s of %(count)s", number="{number}", count="{count}"),
        }

    def _status_rooms(self) -> tuple[float, float]:
        place = self.words["place"].replace("{number}", "99").replace("{count}", "99")
        beside = 0.64 * 1.15 * len(place) + 1.2
        lying = self.sizes.lying.width - _EDGE - _BUTTONS - beside
        return lying, self.sizes.standing.width - _EDGE

    def _dealt(self, groups: Sequence[Group], room: Room, status: int, *, standing: bool) -> Deal:
        small = SMALL * LEADING
        foot = _FOOT + status * small if standing else max(_FOOT, status * small + 0.3)
        width = room.width - _EDGE

        def height(group: Group) -> float:
            head = sum(lines * size for lines, size in _head(group, room, standing=standing)) * LEADING + 0.4
            marks = LEADING * lines_of(group.marks, width - 0.6, 1.0, bold=True) + 0.4 if group.marks else 0.0
            below = lines_of(group.foot, width, SMALL) * small + 0.3
            return max(room.height - _EDGE - foot - head - marks - below, _LEAST_ROOM)

        def continued(name: str) -> str:
            return self.speech.say("%(what)s, continued", what=name)

        return deal([(group.cards, width, height(group), group.words) for group in groups], continued)

    def style(self) -> str:
        """The style sheet that sets the type size, and the room of what changes while a screen runs."""
        lying, standing = (
            f"#w-status {{ min-height: {status * SMALL * LEADING:.3f}rem; }}\n"
            f".w-live .w-line {{ max-height: {who * DO * LEADING:.3f}rem; }}\n"
            f".w-live .w-protocol {{ max-height: {title * SMALL * LEADING:.3f}rem; }}\n"
            for status, (who, title) in zip(
                self.status,
                (_most_lines(self.sizes.lying, standing=False), _most_lines(self.sizes.standing, standing=True)),
                strict=True,
            )
        )
        return (
            f"html {{ font-size: {self.sizes.type_size * 100:.3f}vmin; }}\n"
            f"{lying}@media (orientation: portrait) {{\n{standing}}}\n"
            "#w-end { visibility: hidden; }\n"
        )


def _head(group: Group, room: Room, *, standing: bool) -> tuple[tuple[int, float], ...]:
    """The lines of a head that are shown, who and phase first, then the title of the protocol; and their size."""
    most = _most_lines(room, standing=standing)
    found = _whole_head(group, room)
    return tuple((min(lines, limit), size) for (lines, size), limit in zip(found, most, strict=True))


def _most_lines(room: Room, *, standing: bool) -> tuple[int, int]:
    if standing:
        return 3, 2
    return (1 if room.height < _TIGHT else 2), 1


def _whole_head(group: Group, room: Room) -> tuple[tuple[int, float], ...]:
    width = room.width - _EDGE
    first = lines_of(f"{group.who} – {group.phase}", width, DO, bold=True)
    return (first, DO), (lines_of(group.title, width, SMALL), SMALL)


def _is_marked(card: Card) -> bool:
    """Whether something of it differs here from the shared protocol."""
    return any(LOCAL in paragraph.signs for paragraph in card.paragraphs)


def _vmin(sizes: Sizes) -> str:
    return f"{sizes.type_size * 100:.3f}"


def _sections(groups: Sequence[Group], lying: Deal, standing: Deal) -> Iterator[Section]:
    number = 0
    for group in groups:
        pieces: list[Piece] = []
        for _ in group.cards:
            across, up = lying.pieces[number], standing.pieces[number]
            if len(across) == len(up) == 1:
                pieces.append(Piece(across[0][1], across[0][0], up[0][0]))
            else:
                pieces += [Piece(card, place, None) for place, card in across]
                pieces += [Piece(card, None, place) for place, card in up]
            number += 1
        yield Section(group, tuple(pieces))
