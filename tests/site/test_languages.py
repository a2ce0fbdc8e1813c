"""The words of the interface: every one is in every catalogue, and none comes out in English on a German page."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po

from stepfield.checks import Report
from stepfield.checks.staffing import staffing
from stepfield.pages import Site, build_site
from stepfield.pages.speech import languages, speech
from stepfield.pages.words import length, one_of
from tests.site.german import german_files, slip
from tests.site.messages import FOLDER, LANGUAGES, found, main, updated
from tests.site.small import CLINIC, Seen, checked, page, sample

WORD = re.compile(r"[^\W\d_]{2,}")
SIGNS = {"kb", "qr", "iso", "mkdocs", "yml", "site", "url", "approved", "changed", "since", "protocols", "yaml"}
"""Latin letters that are no words of English: units, and what stands in settings and paths."""
CATALOGUES = sorted(LANGUAGES.glob("*.po"))


class Read(HTMLParser):
    """What a reader of a page meets outside English regions, by eye or by ear; code is no language."""

    SPOKEN = ("aria-label", "aria-description", "title", "alt", "placeholder", "data-overdue", "data-place")
    WALK = ("data-matching", "data-started", "data-half", "data-over", "data-stopped", "data-one", "data-all")
    """Attributes with words for eyes and ears; what scripts say."""
    EMPTY = frozenset({"meta", "link", "br", "img", "input", "hr", "use", "path", "rect", "circle", "col"})

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self._open: list[tuple[str, bool]] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        before = self._open[-1][1] if self._open else True
        read = named["lang"] != "en" if named.get("lang") else before
        read = read and tag not in ("code", "pre", "script", "style")
        if tag not in self.EMPTY:
            self._open.append((tag, read))
        if read:
            self.words += [named[name] or "" for name in named if name in self.SPOKEN + self.WALK]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in self.EMPTY:
            self._open.pop()

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        if not self._open or self._open[-1][1]:
            self.words.append(data)


def words(texts: Any) -> set[str]:
    """The words of texts, in small letters; values, addresses and what was cut off are none."""
    plain = (re.sub(r"%\(\w+\)s|<[^>]*>|\S+…|\S+[.]html|[{]\w+[}]", " ", text) for text in texts)
    return {word.casefold() for text in plain for word in WORD.findall(text)}


def texts(value: Any) -> list[str]:
    """Every text and every name in a part of a set."""
    if isinstance(value, dict):
        return [text for key, inner in value.items() for text in (key, *texts(inner))]
    if isinstance(value, list):
        return [text for inner in value for text in texts(inner)]
    return [str(value)]


def read(path: Path) -> Catalog:
    return read_po(BytesIO(path.read_bytes()), locale=path.stem, abort_invalid=True)


def both(message: Message) -> list[tuple[str, str]]:
    """A message with its translation; both forms of each where it depends on a number."""
    if isinstance(message.id, str):
        return [(message.id, str(message.string))]
    return [(message.id[min(place, 1)], said) for place, said in enumerate(message.string)]


def report_of(files: dict[str, Any], **more: Any) -> Report:
    rest = dict(files)
    return checked({"handgelenk": rest.pop("handgelenk")}, clinic=rest.pop("clinic"), files=rest, **more)


@pytest.mark.parametrize("path", CATALOGUES, ids=lambda path: path.stem)
def test_a_catalogue_says_every_message_of_the_sources_and_no_other(path: Path) -> None:
    known = {message.id: message for message in read(path) if message.id}
    wanted = {message.id for message in found() if message.id}
    assert wanted - known.keys() == set(), "`make words` brings them into the catalogue"
    assert known.keys() - wanted == set(), "`make words` takes them out of the catalogue"
    assert [message.id for message in known.values() if message.fuzzy] == []
    assert [message.id for message in known.values() if not all(said for _, said in both(message))] == []


@pytest.mark.parametrize("path", CATALOGUES, ids=lambda path: path.stem)
def test_a_translation_has_the_values_and_the_tags_of_its_message(path: Path) -> None:
    marks = re.compile(r"%\(\w+\)s|%%|</?\w+[^>]*>|%")
    for message in read(path):
        for text, said in both(message) if message.id else ():
            assert sorted(marks.findall(said)) == sorted(marks.findall(text)), text


def test_the_same_messages_give_the_same_file(tmp_path: Path) -> None:
    assert "de" in languages()
    assert ("en", *(path.stem for path in CATALOGUES)) == languages()
    for path in CATALOGUES:
        (tmp_path / path.name).write_bytes(path.read_bytes())
    assert main(tmp_path) == 0
    for path in CATALOGUES:
        assert (tmp_path / path.name).read_bytes() == path.read_bytes(), "`make words` puts it in order"


def test_a_new_message_waits_for_its_translation_and_an_old_one_goes() -> None:
    messages = Catalog()
    messages.add("Home, sweet home")
    text = updated(b'msgid "Home"\nmsgstr "Startseite"\n', "de", messages).decode()
    assert 'msgid "Home, sweet home"\nmsgstr ""\n' in text
    assert "Startseite" not in text


def test_every_message_said_by_name_is_found() -> None:
    """Messages that are looked up by a variable have to be marked where they are listed."""
    known = {message.id for message in found()}
    assert {"sterile", "hands", "Sharps", "%(number)s min", "in review", "Wall screens"} <= known
    assert (FOLDER / "templates" / "part.html").is_file()


@pytest.fixture(scope="module")
def german() -> Site:
    report = report_of(german_files())
    whole = report.facts.protocol_set
    return build_site(report, teams={one.id: staffing(one, whole, None) for one in whole.protocols})


@pytest.fixture(scope="module")
def wrong() -> Site:
    """Withdrawn, and with an error: every mark and banner there is."""
    report = report_of(slip(status="retired"))
    assert report.failed
    return build_site(report)


@pytest.fixture(scope="module")
def english() -> Site:
    return build_site(checked())


@pytest.mark.parametrize("which", ["german", "wrong"])
def test_german_pages_have_no_word_of_english(which: str, request: pytest.FixtureRequest) -> None:
    files, site = german_files(), request.getfixturevalue(which)
    catalogue = [pair for message in read(LANGUAGES / "de.po") if message.id for pair in both(message)]
    known = words(said for _, said in catalogue)
    own = words(texts(files)) - words(text for text, _ in catalogue)
    pages = {one.address: one.html for one in site.pages}
    pages |= {one.address: one.content.decode() for one in site.assets if one.address.endswith(".html")}
    assert len(pages) > 15
    for address, html in pages.items():
        seen = words(Read(html).words)
        assert seen - known - own - SIGNS == set(), address
    titles = words(text for one in site.pages for text in (one.title, *(place.text for place in one.headings[:1])))
    assert titles - known - own == set()


def test_an_english_word_would_be_seen() -> None:
    html = '<div lang="de"><p lang="en">Not these words</p><p title="nor this">Jetzt</p><code>x</code> Touch now</div>'
    assert words(Read(html).words) == {"nor", "this", "jetzt", "touch", "now"}


def test_english_pages_say_what_the_sources_say(english: Site) -> None:
    assert "Safe to touch now" in Seen(page(english, "protocols/wrist/scrub.html").html).text
    assert "Takes 2 min to 5 min, usually 3 min" in Seen(page(english, "protocols/wrist.html").html).text


def test_numbers_and_alternatives_follow_the_language() -> None:
    assert (length(2.5, speech("en")), length(2.5, speech("de"))) == ("2.5 s", "2,5 s")
    assert length(129_600.25, speech("de-AT")) == "1 d 12 h 0,25 s"
    assert one_of(["a", "b", "c"], speech("de")) == "a, b oder c"


def test_a_part_of_the_world_has_the_words_of_its_language() -> None:
    told = speech("de-CH")
    assert (told.language, told.spoken, told.direction) == ("de-CH", "de-CH", "ltr")
    assert told.say("Home") == "Startseite"


@pytest.mark.parametrize("language", ["ar", "he", "fr", "xx", ""])
def test_without_a_catalogue_things_are_said_in_english(language: str) -> None:
    told = speech(language)
    assert (told.language, told.spoken, told.direction, told.say("Home")) == (language, "en", "ltr", "Home")


def test_without_a_catalogue_the_clinics_words_are_marked_on_english_pages() -> None:
    language = "he"
    site = build_site(checked({"wrist": sample(title="שחרור")}, clinic={**CLINIC, "language": language}))
    for one in site.pages:
        assert '<div class="sf-page' in one.html
        tags = Seen(one.html).tags
        pages = [attrs for tag, attrs in tags if "sf-page" in (attrs.get("class") or "").split()]
        assert [(attrs["lang"], attrs["dir"]) for attrs in pages] == [("en", "ltr")]
        own = [attrs.get("lang") for _, attrs in tags if attrs.get("dir") == "auto"]
        assert set(own) <= {language, "en"}
        assert language in own


def test_what_the_checker_says_is_marked_as_english_and_the_page_says_so(wrong: Site, english: Site) -> None:
    note = speech("de").say("What comes from the checker itself is written in English.")
    for address in ("problems.html", "rules.html", "language.html"):
        html = page(wrong, address).html
        assert note in Seen(html).text
        assert ' lang="en"' in html
    assert note not in page(english, "rules.html").html
