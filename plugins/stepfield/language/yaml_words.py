"""What a YAML syntax error means to somebody who has never heard of YAML."""

from __future__ import annotations

import re
from dataclasses import dataclass

from .yaml_strict import Fault, Mark
from .yaml_text import unseen_name

_SMART = re.compile("[\u2018\u2019\u201a\u201c\u201d\u201e\u00ab\u00bb]")
_TAB_INDENT = re.compile(r"^ *\t")
_ODD_SPACE = re.compile("(?:^ *(?:- *)?|[:,-])(?P<space>[\u00a0\u1680\u2000-\u200b\u202f\u205f\u3000])")
"""A space that looks like one and is read as a letter, where an ordinary one would have meant something."""
_OTHER_DASHES = "\u2010\u2011\u2012\u2013\u2014\u2212\u2022"


@dataclass(frozen=True, slots=True)
class Advice:
    """A message and what to do about it."""

    message: str
    hint: str | None = None


# What the parser says (a piece of it), then what we say.
_KNOWN: tuple[tuple[str, Advice], ...] = (
    (
        "mapping values are not allowed",
        Advice(
            "a colon followed by a space starts a second value on this line", 'put the whole text in quotes: "…: …"'
        ),
    ),
    (
        "could not find expected ':'",
        Advice(
            "this line is neither 'key: value' nor a list entry",
            "add the colon after the key, or indent the line so that it belongs to the text above",
        ),
    ),
    (
        "block sequence entries are not allowed",
        Advice("a list entry ('- …') cannot stand here", "put it on its own line below the key"),
    ),
    (
        "did not find expected '-' indicator",
        Advice("a list stops here: this line does not begin with '- '", "line it up with the other entries"),
    ),
    (
        "did not find expected ',' or ']'",
        Advice(
            "the list opened with '[' in line {opened} is not closed before this",
            "separate its entries with commas and close it with ']'",
        ),
    ),
    (
        "did not find expected ',' or '}'",
        Advice(
            "the mapping opened with '{{' in line {opened} is not closed before this",
            "separate its entries with commas and close it with '}'",
        ),
    ),
    (
        "did not find expected key",
        Advice(
            "this line does not fit the indentation around it, or a bracket or quote closes too early",
            "line it up with its neighbours, with spaces",
        ),
    ),
    (
        "unexpected end of stream",
        Advice(
            "a quote opened here is never closed", 'close it; write a quote inside quotes as \\" or use the other kind'
        ),
    ),
    (
        "unexpected document indicator",
        Advice("a quote opened here is never closed", "close it before the line with '---' or '...'"),
    ),
    (
        "unknown escape character",
        Advice(
            "a backslash inside double quotes means something special, and this one has no meaning",
            "write \\\\ for a backslash, or use single quotes",
        ),
    ),
    (
        "did not find expected hexdecimal number",
        Advice("\\x, \\u and \\U inside double quotes want 2, 4 and 8 hexadecimal digits", None),
    ),
    ("invalid Unicode character escape code", Advice("this escape stands for no character", None)),
    (
        "incompatible YAML document",
        Advice("the file asks for another version of YAML", "delete the %YAML line: files are read as YAML 1.2"),
    ),
    ("document start", Advice("text follows after the end of the document", "keep one document a file")),
    ("tag", Advice("a tag ('!…') is not used in protocol files", "put the text in quotes if the '!' belongs to it")),
    ("anchor", Advice("'&' and '*' have a special meaning at the start of a value", "put the text in quotes")),
    ("alias", Advice("'&' and '*' have a special meaning at the start of a value", "put the text in quotes")),
    ("directive", Advice("a line that begins with '%' has a special meaning", "put the text in quotes")),
    (
        "block scalar",
        Advice("after '|' or '>' the text begins on the next line", "move the text to the next line, indented"),
    ),
    (
        "leading empty line",
        Advice(
            "a blank line above this text has more spaces than the text itself", "delete the spaces of the blank line"
        ),
    ),
    (
        "unexpected ':'",
        Advice("a colon inside brackets that is not followed by a space", "put the text with the colon in quotes"),
    ),
    (
        "expected node content",
        Advice(
            "a value is missing here, or a sign stands in its place",
            "put the value here, in quotes if it begins with a sign",
        ),
    ),
    ("nesting", Advice("values are nested more than 32 deep here", "look for a bracket that is not closed")),
)


_TOLD_WHERE_IT_BEGINS = ("unexpected end of stream", "could not find expected ':'", "document indicator")
"""Complaints the parser makes only where it gives up, far from what is wrong."""


def syntax_fault(error: Exception, text: str) -> Fault:
    """What to say about the parser's complaint, and where."""
    problem = str(getattr(error, "problem", None) or getattr(error, "reason", None) or error)
    place: Mark | None = getattr(error, "problem_mark", None)
    opened: Mark | None = getattr(error, "context_mark", None) or place
    if place is None or any(piece in problem for piece in _TOLD_WHERE_IT_BEGINS):
        place = opened
    line, column = (place.line, place.column) if place else (0, 0)
    lines = text.rstrip().split("\n")
    if line >= len(lines):  # at the end of the file: point behind the last thing in it
        line, column = len(lines) - 1, len(lines[-1])
    for number in (line, line - 1):
        odd = _ODD_SPACE.search(lines[number]) if number >= 0 else None
        if odd is not None:
            name = unseen_name(odd["space"])
            return Fault(
                number,
                odd.start("space"),
                f"a space that is read as a letter stands here: {name}",
                "delete it and type an ordinary space",
            )
    shown = lines[line]
    whole = f"{problem} {getattr(error, 'context', None) or ''}"
    advice = _advice_for(whole, shown, column + 1, opened.line + 1 if opened else 1)
    return Fault(line, column, advice.message, advice.hint)


def _advice_for(problem: str, line: str, column: int, opened: int) -> Advice:
    """What to say about a parser's complaint at a column of a line, about something opened in another line."""
    if _TAB_INDENT.match(line) or "tab character" in problem:
        return Advice("the line is indented with a tab", "use spaces: a tab is as wide as each editor likes")
    if "cannot start any token" in problem:
        return _bad_start(line[column - 1 : column])
    before = line[: column - 1].rstrip()
    if "expected key" in problem and before.endswith(("'", '"')):
        return Advice("text follows after a closing quote", "a quote inside quotes is written twice ('') or as \\\"")
    if "mapping values" in problem and ": " not in before:
        return Advice("this line is indented below a text that is already a value", "line it up with its neighbours")
    known = next((advice for piece, advice in _KNOWN if piece in problem), Advice("this cannot be read as YAML"))
    found = Advice(known.message.format(opened=opened), known.hint)
    if "'-' indicator" in problem and line.lstrip()[:1] in _OTHER_DASHES:
        return Advice(found.message, "begin it with the hyphen of the keyboard and a space: '- '")
    if "expected ':'" in problem and "\uff1a" in line:
        return Advice(found.message, "use the colon of the keyboard (:), and a space after it")
    if _SMART.search(line):
        return Advice(found.message, "use straight quotes (\" or '); the curly ones on this line are read as letters")
    return found


def _bad_start(character: str) -> Advice:
    if character == "\t":
        return Advice("a tab stands where only spaces may", "use spaces: a tab is as wide as each editor likes")
    return Advice(f"a value cannot begin with {character!r}", "put the text in quotes")
