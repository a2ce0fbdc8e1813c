"""Where each card and sheet is, and the style sheets that set its paper."""

from __future__ import annotations

FOLDER = "print"
THINGS = f"{FOLDER}/things.html"
A4, A5 = f"{FOLDER}/a4.css", f"{FOLDER}/a5.css"


def card_page(protocol: str, role: str) -> str:
    """A role's card."""
    return f"{FOLDER}/cards/{protocol}/{role}.html"


def whole_page(protocol: str) -> str:
    """All of a protocol."""
    return f"{FOLDER}/protocols/{protocol}.html"


def record_page(protocol: str) -> str:
    """What is written down during a case."""
    return f"{FOLDER}/records/{protocol}.html"


def form_page(protocol: str) -> str:
    """What a protocol rests on, for an inspection."""
    return f"{FOLDER}/forms/{protocol}.html"


def pick_page(protocol: str, options: tuple[str, ...] = ()) -> str:
    """What is to be fetched for a case: whatever is chosen, or with these options; no option has a _ in it."""
    return f"{FOLDER}/picks/{protocol}{'/' if options else ''}{'_'.join(options)}.html"
