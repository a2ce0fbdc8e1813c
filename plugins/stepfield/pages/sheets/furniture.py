"""What every card and sheet carries round its content: standing, marks, the caution line, where it came from."""

from __future__ import annotations

import re
from dataclasses import dataclass
from ipaddress import ip_address
from urllib.parse import urlsplit

from ..addresses import ASSETS, PRINT, Links
from ..frame import Frame, Framing
from ..local import Mark
from ..qr import Qr, qr_of
from ..reading import Reading
from ..speech import Speech
from ..views import Link, Standing
from .places import A4, A5

_WEB = re.compile(r"https?://[^\s/]", re.IGNORECASE)
_PAPERS = {A5: ("148mm 210mm", "8mm 9mm 10mm"), A4: ("210mm 297mm", "11mm 13mm 12mm")}
"""ISO 216: A5 is 148 x 210 mm, A4 is 210 x 297 mm. In lengths, because browsers do not know every name of a size."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a sheet came from: its address in words, and as a code where it is known in full.

    ``missing`` says why there is no code.
    """

    words: str
    code: Qr | None
    missing: str


@dataclass(frozen=True, slots=True)
class Furniture:
    """All that stands round the content of one sheet. ``across`` is the word that is printed across it, if any."""

    name: str
    title: str
    subject: str
    frame: Frame
    facts: tuple[tuple[str, str], ...]
    across: str
    origin: Origin
    built: str
    paper: str
    styles: tuple[str, ...]
    script: str
    to_list: str
    on_screen: Link
    local: tuple[Mark, ...] = ()
    """What is told before the content of how the protocol differs here from the shared one."""


def furniture(  # noqa: PLR0913 - one argument for each thing that differs
    framing: Framing,
    reading: Reading,
    address: str,
    name: str,
    subject: str,
    *,
    paper: str,
    on_screen: Link,
    site_url: str,
    local: tuple[Mark, ...] = (),
) -> Furniture:
    """The furniture of a sheet of one protocol: ``name`` is what the sheet is, ``subject`` whose or what of."""
    links, protocol = Links(address), reading.protocol
    frame = framing.of_protocol(address, protocol, ())
    standing = frame.standing
    assert standing is not None  # every protocol has one
    kinds = [banner.kind for banner in frame.banners]
    marks = [mark.word for mark in standing.marks]
    across = [reading.speech.say("Errors found")] if "error" in kinds else marks
    return Furniture(
        name=name,
        title=protocol.title.value,
        subject=subject,
        frame=frame,
        facts=_facts(standing, reading.speech),
        across=across[0] if across else "",
        origin=origin_of(address, site_url, reading.speech),
        built=reading.facts.today.isoformat(),
        paper="a5" if paper == A5 else "a4",
        styles=(links.to(f"{ASSETS}/sheets.css"), links.to(paper)),
        script=links.to(f"{ASSETS}/sheets.js"),
        to_list=links.to(PRINT),
        on_screen=on_screen,
        local=local,
    )


def origin_of(address: str, site_url: str, speech: Speech) -> Origin:
    """Where a sheet came from; ``site_url`` is the address of the site, empty if it is not known."""
    if not _WEB.match(site_url):
        missing = speech.say("No code: the address of this site is not set (site_url in its settings).")
        return Origin(address, None, missing)
    words = f"{site_url.rstrip('/')}/{address}"
    if _only_here(site_url):
        return Origin(words, None, speech.say("No code: this address is known to one machine alone."))
    code = qr_of(words)
    return Origin(words, code, "" if code is not None else speech.say("No code: the address is too long for one."))


def _only_here(site_url: str) -> bool:
    """Whether an address leads back to the machine that asks: that of a site which is shown while it is written."""
    try:
        host = urlsplit(site_url).hostname or ""
        return host == "localhost" or ip_address(host).is_loopback
    except ValueError:
        return False


def _facts(standing: Standing, speech: Speech) -> tuple[tuple[str, str], ...]:
    return (
        (speech.say("Version"), standing.version),
        (speech.say("Status"), standing.status),
        (speech.say("Approved"), standing.approved or speech.say("not yet")),
        (speech.say("Review by"), standing.review_by or speech.say("not set")),
    )


def paper_styles(speech: Speech) -> dict[str, bytes]:
    """The style sheets that set the size of the paper and number its sheets, by address."""
    numbered = speech.say("Sheet %(number)s of %(count)s", number="\1", count="\2")
    counters = {"\1": "counter(page)", "\2": "counter(pages)"}
    content = " ".join(counters.get(part) or _quoted(part) for part in re.split("([\1\2])", numbered) if part)
    return {
        address: (
            f"@page {{\n  size: {size};\n  margin: {margin};\n  @bottom-center {{\n    content: {content};\n"
            "    font: 9pt Arial, Helvetica, sans-serif;\n  }\n}\n"
        ).encode()
        for address, (size, margin) in _PAPERS.items()
    }


def _quoted(text: str) -> str:
    """A text as a string of a style sheet."""
    return '"' + re.sub(r'[\\"\n<]', lambda sign: f"\\{ord(sign.group()):x} ", text) + '"'
