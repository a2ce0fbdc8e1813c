"""The messages of the interface, found in the sources and brought into every catalogue: `make words`."""

from __future__ import annotations

import sys
from io import BytesIO
from pathlib import Path

from babel import Locale
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

FOLDER = Path(__file__).parents[2] / "plugins" / "stepfield" / "pages"
LANGUAGES = FOLDER / "languages"
_METHODS = [("**.py", "python"), ("templates/**.html", "jinja2"), ("templates/**.svg", "jinja2")]
_OPTIONS = {"templates/**": {"trimmed": "true", "newstyle_gettext": "true", "silent": "false"}}
_KEYWORDS = {"say": None, "count": (1, 2), "N_": None, "_": None, "gettext": None, "ngettext": (1, 2)}


def found() -> Catalog:
    """Every message of the sources, in the order of the alphabet."""
    catalogue = Catalog()
    for name, _, message, _, _ in extract_from_dir(
        FOLDER, _METHODS, {key: _OPTIONS["templates/**"] for key, _ in _METHODS[1:]}, keywords=_KEYWORDS
    ):
        catalogue.add(message, locations=[(f"pages/{Path(name).as_posix()}", 0)])
    return catalogue


def updated(text: bytes, language: str, messages: Catalog) -> bytes:
    """A catalogue with exactly these messages: those that are new have no translation yet, none is guessed."""
    catalogue = read_po(BytesIO(text), locale=language, abort_invalid=True)
    catalogue.update(messages, no_fuzzy_matching=True, update_header_comment=False)
    body = BytesIO()
    write_po(body, catalogue, width=120, omit_header=True, sort_output=True, ignore_obsolete=True, include_lineno=False)
    return _head(language, catalogue) + body.getvalue()


def _head(language: str, catalogue: Catalog) -> bytes:
    """What tools for translating want to know; no dates, so that the same messages give the same file."""
    name = Locale.parse(language).get_display_name("en")
    values = {
        "Language": language,
        "MIME-Version": "1.0",
        "Content-Type": "text/plain; charset=utf-8",
        "Content-Transfer-Encoding": "8bit",
        "Plural-Forms": catalogue.plural_forms,
    }
    lines = "".join(f'"{key}: {value}\\n"\n' for key, value in values.items())
    note = f"# The words of the interface in {name}; `make words` brings in new ones."
    return f'{note}\nmsgid ""\nmsgstr ""\n{lines}\n'.encode()


def main(folder: Path = LANGUAGES) -> int:
    """Brings every catalogue up to date and tells how many messages each lacks."""
    messages = found()
    for path in sorted(folder.glob("*.po")):
        text = updated(path.read_bytes(), path.stem, messages)
        path.write_bytes(text)
        missing = sum(not all(one.string if one.pluralizable else [one.string]) for one in _read(text, path.stem))
        sys.stdout.write(f"{path.name}: {len(messages)} messages, {missing} without a translation\n")
    return 0


def _read(text: bytes, language: str) -> list[object]:
    return [one for one in read_po(BytesIO(text), locale=language) if one.id]


if __name__ == "__main__":
    sys.exit(main())
