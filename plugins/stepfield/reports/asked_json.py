"""Answers to questions for other programs, as JSON."""

from __future__ import annotations

import json
from typing import Any

from ..asepsis.breach import Breach, Failure, Lost
from ..asepsis.queries import Before, Can, Course, Person
from ..checks import Answer


def json_answer(answer: Answer) -> str:
    """One answer and what stands behind it, as one JSON object in ASCII."""
    result = answer.result
    if isinstance(result, Before):
        asked, told = {"before": result.step}, _before(result)
    elif isinstance(result, Can):
        asked, told = {"can": f"{result.subject} {result.state}", "at": result.step}, _can(result)
    else:
        asked, told = {"breach": result.subject, "at": result.step}, _breach(result)
    found: dict[str, Any] = {
        "asked": {"protocol": answer.protocol.id, **asked},
        "proved": answer.proved,
        "states": answer.states,
        "answer": told,
    }
    return json.dumps(found, indent=2) + "\n"


def _before(result: Before) -> dict[str, Any]:
    return {
        "reached": bool(result.people),
        "people": [_person(person) for person in result.people],
        "in_place": dict(result.in_place),
    }


def _person(person: Person) -> dict[str, Any]:
    return {
        "role": person.role,
        "parts": [
            {
                "subject": part.subject,
                "level": part.level.word,
                "highest": part.highest.word,
                "coverings": list(part.coverings),
                "soiled": part.soiled,
            }
            for part in person.parts
        ],
        "safe": list(person.safe),
        "less_clean": list(person.less_clean),
        "not_now": [
            {"thing": one.thing, "reason": one.reason, "by": one.by, "always": one.always} for one in person.not_now
        ],
    }


def _can(result: Can) -> dict[str, Any]:
    return {
        "holds": result.holds,
        "so": None if result.so is None else _course(result.so),
        "not_so": None if result.not_so is None else _course(result.not_so),
    }


def _breach(result: Breach) -> dict[str, Any]:
    return {
        "present": result.present,
        "had": [level.word for level in result.had],
        "lost": [_lost(one) for one in result.lost],
        "failures": [_failure(one) for one in result.failures],
        "restored_by": [
            {"step": one.step, "by": one.by, "level": one.level.word, "enough": one.enough, "comes": one.comes}
            for one in result.restorers
        ],
    }


def _lost(one: Lost) -> dict[str, Any]:
    return {
        "subject": one.subject,
        "outside": one.outside,
        "level": one.level.word,
        "would_be": one.would_be.word,
        "step": one.step,
        **_course(one.course),
    }


def _failure(one: Failure) -> dict[str, Any]:
    return {"rule": one.slip.kind, "step": one.step, "subject": one.slip.subject, **_course(one.course)}


def _course(course: Course) -> dict[str, Any]:
    told: dict[str, Any] = {
        "choices": dict(course.choices),
        "order": [step for step, _ in course.steps],
        "answers": [answer for _, answer in course.steps],
    }
    return told if course.breach_after is None else {**told, "breach_after": course.breach_after}
