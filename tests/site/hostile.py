"""Text that tries to be more than text: markup, scripts, attributes, templates, Markdown, in the manner of the OWASP
collections on cross-site scripting (own strings; each would set a mark on the page if it came alive)."""

from __future__ import annotations

import copy
import re
from typing import Any

from tests.site.small import CLINIC, SAMPLE

HOSTILE = (
    "<script>window.hit=1</script>",
    "<ScRiPt >window.hit=1</sCrIpT>",
    "<img src=x onerror=window.hit=1>",
    '"><svg onload=window.hit=1>',
    "' onmouseover='window.hit=1' x='",
    '" autofocus onfocus="window.hit=1',
    "</title><script>window.hit=1</script>",
    "</text></svg><script>window.hit=1</script>",
    "</td></tr></table><iframe srcdoc='<script>parent.hit=1</script>'></iframe>",
    "<!-- --><script>window.hit=1</script><!--",
    "<![CDATA[<script>window.hit=1</script>]]>",
    "<a href='javascript:window.hit=1'>x</a>",
    "javascript:window.hit=1",
    "[x](javascript:window.hit=1) ![x](x:y)",
    "<https://elsewhere.invalid/x> https://elsewhere.invalid/y",
    "{{ 7 * 7 }} {% raw %} ${7*7} #{7*7}",
    "&lt;script&gt;window.hit=1&lt;/script&gt;",
    "&#x3c;img src=x onerror=window.hit=1&#x3e;",
    "&amp;lt;script&amp;gt;window.hit=1",
    "<base href=//elsewhere.invalid/>",
    "<meta http-equiv=refresh content='0;url=//elsewhere.invalid'>",
    "<link rel=stylesheet href=//elsewhere.invalid/x.css>",
    "<style>@import '//elsewhere.invalid/x.css';</style>",
    "<math><mtext><table><mglyph><style><img src=x onerror=window.hit=1>",
    "<details open ontoggle=window.hit=1>",
    "<h1 id=sf_top data-search-exclude>x</h1>",
    "{: onclick=window.hit=1 } *[x]: y",
    '--8<-- "mkdocs.yml"',
    "`<script>window.hit=1</script>`",
    "**<b onclick=window.hit=1>x</b>**",
    '\\"><script>window.hit=1</script>',
    "<x contenteditable onblur=window.hit=1>",
    "caf\u00e9\u00a0\u4f60 \U0001f9e4",
)
_SPECIAL = re.compile(r"[<>&\"'`{}\[\]*#$%\\:]")


def harmless(text: str) -> str:
    """The same text with every sign replaced that means something to a machine."""
    return _SPECIAL.sub("x", text)


def everywhere(text: str) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any]]:
    """The sample (clinic, protocol, evidence) with a text in every field that takes free text."""
    clinic = {**copy.deepcopy(CLINIC), "clinic": text, "notice": text}
    clinic["roles"] = {role: {"title": text} for role in CLINIC["roles"]}
    clinic["surfaces"] = {name: {"title": text} for name in CLINIC["surfaces"]}
    protocol = copy.deepcopy(SAMPLE)
    protocol |= {"title": text, "purpose": text, "owner": text, "approved": {"by": text, "date": "2026-10-01"}}
    protocol["choices"]["draping"] |= {"title": text, "options": {"one": text, "two": text}}
    for group in ("sites", "items", "packs"):
        for thing in protocol[group].values():
            thing["title"] = text
    protocol["packs"]["pack"]["holds"]["cover"]["title"] = text
    for phase in protocol["phases"]:
        phase["title"] = text
        phase["cautions"] = [{"kind": "chemical", "text": text}]
        for step in phase["steps"]:
            if "use" not in step:
                step |= {"do": text, "why": text, "cautions": [{"kind": "fire", "text": text}], "meets": ["told"]}
    ask = protocol["phases"][1]["steps"][1]
    ask["asks"] = {"question": text, "answers": ["well", "ill"]}
    evidence = {"requirements": {"told": {
        "text": text, "source": text, "section": text, "applies_to": text, "certainty": text, "year": 1999,
    }}}  # fmt: skip
    return clinic, protocol, evidence
