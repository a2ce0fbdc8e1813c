"""The project from a Python prompt: read a protocol set, check it, ask it.

    from pathlib import Path
    from stepfield import api
    print(api.in_words(api.ask_before(api.read_set(Path("protocols")), "wrist-release", "incise")))

An answer's ``result`` holds plain data: ids, levels and orders of steps.
"""

from __future__ import annotations

from .checks import Answer, QuestionError, Report, ask_before, ask_breach, ask_can, check_set
from .language import read_set
from .reports import json_answer, json_report, text_answer, text_report

__all__ = [
    "QuestionError",
    "as_json",
    "ask_before",
    "ask_breach",
    "ask_can",
    "check_set",
    "in_words",
    "read_set",
]


def in_words(told: Report | Answer) -> str:
    """A report or an answer as the command line prints it."""
    return text_answer(told) if isinstance(told, Answer) else text_report([told])


def as_json(told: Report | Answer) -> str:
    """A report or an answer as a JSON object."""
    return json_answer(told) if isinstance(told, Answer) else json_report([told])
