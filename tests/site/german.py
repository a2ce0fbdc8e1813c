"""A small set in German, of an invented clinic: the sample of the pages with every word that is read exchanged."""

from __future__ import annotations

from typing import Any

from tests.site.small import CHECK, CLINIC, SAMPLE

WORDS = {
    "Quillhaven Day Surgery": "Tagesklinik Quillhaven",
    "en": "de",
    "Surgeon": "Chirurgin",
    "Scrub nurse": "Instrumentierende Pflegefachperson",
    "Circulating nurse": "Springerin",
    "Prep trolley": "Vorbereitungsbeistellwagen",
    "The unit's own policy comes first.": "Die Vorgaben der Tagesklinik haben Vorrang.",
    "Check a pack": "Packung kontrollieren",
    "Fetch the pack from the store.": "Die Packung aus dem Sterilgutlager holen.",
    "Look at the wrapper from all sides.": "Die Umhüllung von allen Seiten ansehen.",
    "Pack whole, dry and in date?": "Packung unversehrt, trocken und nicht abgelaufen?",
    "whole": "unversehrt",
    "damaged": "beschaedigt",
    "pack.lot": "pack.chargennummer",
    "Release of the wrist tunnel": "Karpaltunnelspaltung",
    "Frees the nerve in the wrist.": "Befreit den Nerv im Handgelenk.",
    "Infection-control lead": "Krankenhaushygienebeauftragte",
    "Draping": "Abdeckung",
    "One sheet": "Ein Lochtuch",
    "Two split sheets": "Zwei Schlitztücher",
    "Skin of the palm": "Haut der Handfläche",
    "Scrub gloves": "Handschuhe der Instrumentierenden",
    "Surgeon's gloves": "Handschuhe der Chirurgin",
    "Swab": "Tupfer",
    "Hand pack": "Handoperationsset",
    "Table cover": "Instrumentiertischabdeckung",
    "Prepare the room": "Operationssaalvorbereitung",
    "Disinfectant hurts the eyes.": "Flächendesinfektionsmittel schadet den Augen.",
    "Wipe the trolley. Let it dry.": "Den Wagen abwischen. Trocknen lassen.",
    "Dust falls from above.": "Staub fällt von oben.",
    "Open the hand pack, far corner first.": "Das Handoperationsset öffnen, die hintere Ecke zuerst.",
    "Rub your hands.": "Hände einreiben.",
    "Put on the gloves.": "Handschuhe anziehen.",
    "Spread the cover over the trolley.": "Die Abdeckung über den Wagen breiten.",
    "Wash.": "Hände waschen.",
    "Hold the gloves open for the surgeon.": "Der Chirurgin die Handschuhe aufhalten.",
    "Operate": "Eingriff",
    "Paint the palm.": "Die Handfläche bestreichen.",
    "painted": "handflaeche-bestrichen",
    "Say aloud who it is and what is done.": "Laut sagen, wer es ist und was gemacht wird.",
    "Hand over the swab.": "Den Tupfer reichen.",
    "Mind the drip.": "Auf Tropfen achten.",
    "Press the swab on the palm.": "Den Tupfer auf die Handfläche drücken.",
    "Lay the second sheet.": "Das zweite Tuch legen.",
    "Clear away.": "Abräumen.",
    "Take off your gloves.": "Die Handschuhe ausziehen.",
}


def in_german(value: Any) -> Any:
    """A part of a set with its words exchanged, wherever they stand."""
    if isinstance(value, dict):
        return {WORDS.get(key, key): in_german(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [in_german(inner) for inner in value]
    return WORDS.get(value, value) if isinstance(value, str) else value


GERMAN_CLINIC: dict[str, Any] = in_german(CLINIC)
EVIDENCE: dict[str, Any] = {
    "requirements": {
        "trockenzeit": {
            "text": "Hautdesinfektionsmittel trocknet vollständig.",
            "source": "Hygieneplan der Tagesklinik Quillhaven",
            "limit": {"at_least": "3 min"},
        }
    }
}


def german_files(**changes: Any) -> dict[str, Any]:
    """The files of the set by name; the fields of its protocol can be changed."""
    protocol = {**in_german(SAMPLE), **changes}
    protocol["phases"][1]["steps"][3]["meets"] = ["trockenzeit"]
    return {"clinic": GERMAN_CLINIC, "evidence": EVIDENCE, "parts/check": in_german(CHECK), "handgelenk": protocol}


def slip(**changes: Any) -> dict[str, Any]:
    """The same set with an error in its protocol: the table may be covered before the pack is open."""
    files = german_files(**changes)
    for step in files["handgelenk"]["phases"][0]["steps"]:
        if step.get("id") == "cover":
            del step["after"]
    return files
