"""Says of a step that it is done: "Open the gown pack and hold it out" becomes "opened the gown pack".

Only for English, and only where the text begins with a verb of the lists below; what is not recognised is quoted
instead, because a wrong sentence is worse than a longer one.
"""

from __future__ import annotations

import re

_REGULAR = """
add adjust agree aim announce answer apply arrange ask assemble assist attach call carry cause change check
clamp clean clear close collect complete confirm connect cool count cover cuff curl deflate describe discard
disconnect disinfect dismiss doff drape dress dry empty ensure enter expose fasten fetch fill finish fix flush
fold gather glove gown hand help inflate inject insert inspect irrigate join label lift list load lock loop
loosen lower mark measure mix moisten mount move name note offer open pack paint pass peel perform place point
position pour prepare press prime pull push raise reach receive recheck record release remove repeat replace
report request return rinse roll seal secure separate smear soak spray squeeze start state stitch store stow
stretch suture switch tape test tidy tighten touch transfer tuck turn uncover undress unfold unlock unpack use
verify wait walk warm warn wash watch weigh wheel wipe work
"""
_DOUBLED = """
clip dab don drop flip mop pat pin rip scan scrub slip snap step stop strap strip swab tip unpin unwrap wrap
"""
_IRREGULAR = """
bring:brought cut:cut do:done draw:drawn find:found get:got give:given go:gone hang:hung hold:held keep:kept
lay:laid lead:led leave:left let:let make:made meet:met put:put read:read rub:rubbed say:said see:seen send:sent
set:set show:shown shut:shut sit:sat slide:slid speak:spoken spread:spread stand:stood take:taken tear:torn
tell:told throw:thrown tie:tied undo:undone untie:untied wear:worn wet:wetted write:written
"""
"""Verbs that take -ed, those that double their last letter before it, and those with a form of their own."""
_BREAKS = frozenset(("and", "then", "while", "until", "so", "as", "before", "after", "when"))
_MARKS = re.compile(r"[.,;:!?()\u2014\u2013]|\s-\s")


def _past(verb: str) -> str:
    if verb.endswith("e"):
        return f"{verb}d"
    if verb.endswith("y") and verb[-2] not in "aeiou":
        return f"{verb[:-1]}ied"
    return f"{verb}ed"


_PAST = {
    **{verb: _past(verb) for verb in re.findall(r"\w+", _REGULAR)},
    **{verb: f"{verb}{verb[-1]}ed" for verb in re.findall(r"\w+", _DOUBLED)},
    **dict(re.findall(r"(\w+):(\w+)", _IRREGULAR)),
}


def has_done(do: str, language: str = "en") -> str | None:
    """What somebody has done once a step with this text is over, or None where that can't be said safely."""
    if language.partition("-")[0].lower() != "en":
        return None
    words = _MARKS.split(" ".join(do.split()), maxsplit=1)[0].split()
    verb = words[0].lower() if words else ""
    if verb not in _PAST or len(words) < 2:
        return None
    for position, word in enumerate(words[1:-1], start=1):
        if word in _BREAKS and _starts_anew(word, words, position):
            words = words[:position]
            break
    if len(words) < 2 or {"you", "yours", "not"} & {word.lower() for word in words}:
        return None
    swap = {"your": "their", "yourself": "themselves"}
    return " ".join([_PAST[verb], *(swap.get(word, word) for word in words[1:])])


def _starts_anew(word: str, words: list[str], position: int) -> bool:
    """Whether a second action begins here; "the table and the trolley" goes on."""
    following = words[position + 1].lower()
    if word in ("and", "then"):
        return following in _PAST or following in ("then", "again")
    return word in _BREAKS
