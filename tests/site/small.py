"""Small protocol sets for the pages, as plain mappings (JSON is YAML), and what a reader sees of a finished page."""

from __future__ import annotations

import copy
import datetime
import json
import re
from collections.abc import Mapping
from html.parser import HTMLParser
from typing import Any

from stepfield.checks import Report, check_set
from stepfield.language import build_set
from stepfield.pages import Page, Site, build_site
from stepfield.pages.reading import Reading

TODAY = datetime.date(2026, 11, 2)
CLINIC: dict[str, Any] = {
    "clinic": "Quillhaven Day Surgery",
    "language": "en",
    "roles": {
        "surgeon": {"title": "Surgeon"},
        "scrub": {"title": "Scrub nurse"},
        "circulating": {"title": "Circulating nurse"},
    },
    "surfaces": {"trolley": {"title": "Prep trolley"}},
    "notice": "The unit's own policy comes first.",
}
CHECK: dict[str, Any] = {
    "kind": "part",
    "title": "Check a pack",
    "for": {"who": "role", "pack": "pack"},
    "steps": [
        {"id": "fetch", "role": "who", "do": "Fetch the pack from the store."},
        {
            "id": "look",
            "role": "who",
            "do": "Look at the wrapper from all sides.",
            "asks": {"question": "Pack whole, dry and in date?", "answers": ["whole", "damaged"]},
            "repeat": {"from": "fetch", "answer": "damaged"},
            "records": ["pack.lot"],
        },
    ],
}
SAMPLE: dict[str, Any] = {
    "kind": "protocol",
    "title": "Release of the wrist tunnel",
    "purpose": "Frees the nerve in the wrist.",
    "version": "0.3.0",
    "status": "draft",
    "owner": "Infection-control lead",
    "team": ["surgeon", "scrub", "circulating"],
    "choices": {"draping": {"title": "Draping", "options": {"one": "One sheet", "two": "Two split sheets"}}},
    "sites": {"palm": {"title": "Skin of the palm"}},
    "items": {
        "gloves": {"title": "Scrub gloves", "starts": "sterile", "worn_on": "hands"},
        "surgeon-gloves": {"title": "Surgeon's gloves", "starts": "sterile", "worn_on": "hands"},
        "swab": {"title": "Swab", "starts": "sterile"},
    },
    "packs": {"pack": {"title": "Hand pack", "holds": {"cover": {"title": "Table cover", "barrier": "fluid-proof"}}}},
    "phases": [
        {
            "phase": "room",
            "title": "Prepare the room",
            "cautions": [{"kind": "chemical", "text": "Disinfectant hurts the eyes."}],
            "steps": [
                {"use": "check", "as": "check", "with": {"who": "circulating", "pack": "pack"}},
                {
                    "id": "wipe",
                    "role": "circulating",
                    "do": "Wipe the trolley. Let it dry.",
                    "why": "Dust falls from above.",
                    "takes": {"least": "2 min", "likely": "3 min", "most": "5 min"},
                    "makes": {"trolley": "disinfected"},
                },
                {"id": "open", "role": "circulating", "do": "Open the hand pack, far corner first.", "opens": ["pack"]},
                {"id": "rub", "role": "scrub", "do": "Rub your hands.", "makes": {"scrub.hands": "disinfected"}},
                {"id": "glove", "role": "scrub", "do": "Put on the gloves.", "dons": ["gloves"]},
                {
                    "id": "cover",
                    "role": "scrub",
                    "after": ["open"],
                    "do": "Spread the cover over the trolley.",
                    "needs": {"scrub.hands": "sterile"},
                    "covers": {"trolley": "cover"},
                },
                {"id": "wash", "role": "surgeon", "do": "Wash.", "makes": {"surgeon.hands": "disinfected"}},
                {
                    "id": "dress-hands",
                    "role": "scrub",
                    "after": ["wash"],
                    "do": "Hold the gloves open for the surgeon.",
                    "covers": {"surgeon.hands": "surgeon-gloves"},
                },
            ],
        },
        {
            "phase": "cut",
            "title": "Operate",
            "steps": [
                {
                    "id": "paint",
                    "role": "scrub",
                    "do": "Paint the palm.",
                    "makes": {"palm": "disinfected"},
                    "confirms": ["painted"],
                },
                {
                    "id": "pause",
                    "role": "surgeon",
                    "with": ["circulating"],
                    "requires": ["painted"],
                    "after": ["paint"],
                    "do": "Say aloud who it is and what is done.",
                },
                {
                    "id": "give-swab",
                    "role": "scrub",
                    "do": "Hand over the swab.",
                    "passes": {"swab": "surgeon"},
                    "cautions": [{"kind": "splash", "text": "Mind the drip."}],
                },
                {
                    "id": "press",
                    "role": "surgeon",
                    "after": ["give-swab"],
                    "waits": [{"for": "paint", "at_least": "3 min"}],
                    "within": [{"of": "open", "at_most": "60 min"}],
                    "do": "Press the swab on the palm.",
                    "uses": {"swab": "palm"},
                },
                {"id": "second", "role": "scrub", "when": {"draping": "two"}, "do": "Lay the second sheet."},
                {
                    "id": "clear",
                    "role": "scrub",
                    "after": ["press"],
                    "ends_field": True,
                    "do": "Clear away.",
                    "uncovers": ["trolley"],
                    "doffs": ["gloves"],
                    "discards": ["gloves", "cover", "swab"],
                },
                {
                    "id": "strip",
                    "role": "surgeon",
                    "after": ["clear"],
                    "do": "Take off your gloves.",
                    "doffs": ["surgeon-gloves"],
                    "discards": ["surgeon-gloves"],
                },
            ],
        },
    ],
}


def sample(**changes: Any) -> dict[str, Any]:
    """A copy of the sample protocol with top-level fields changed."""
    return {**copy.deepcopy(SAMPLE), **changes}


def written(value: Any) -> str:
    """A file of a protocol set with this content."""
    text = json.dumps(value, ensure_ascii=False, indent=1)
    return re.sub("[\x7f-\uffff]", lambda sign: f"\\u{ord(sign.group()):04x}", text)


def checked(
    protocols: Mapping[str, Any] | None = None,
    *,
    clinic: Any = CLINIC,
    today: datetime.date = TODAY,
    files: Mapping[str, Any] | None = None,
) -> Report:
    """Reads and checks a set of protocols by id (the sample, if none is told), with the pack check as a part."""
    parts = {"parts/check": CHECK}
    named = {"clinic": clinic, **(parts if files is None else files), **(protocols or {"wrist": SAMPLE})}
    content = {f"protocols/{name}.yaml": written(value).encode() for name, value in named.items()}
    return check_set(build_set(content), today)


def reading(report: Report, protocol: str = "wrist") -> Reading:
    """One protocol of a report, read for showing."""
    return Reading(report.facts.by_id[protocol], report.facts)


def page(site: Site, address: str) -> Page:
    """The page at an address. Raises StopIteration if there is none."""
    return next(found for found in site.pages if found.address == address)


def drawn(address: str, report: Report | None = None) -> str:
    """The HTML of one page of a checked set (of the sample, if none is told)."""
    return page(build_site(report or checked()), address).html


class Seen(HTMLParser):
    """What stands on a page: its text, its tags with their attributes, and the ids in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)
        self.close()

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    @property
    def ids(self) -> list[str]:
        return [value for _, attrs in self.tags if (value := attrs.get("id"))]

    def with_class(self, name: str) -> list[dict[str, str | None]]:
        return [attrs for _, attrs in self.tags if name in (attrs.get("class") or "").split()]
