"""Findings as people and programs read them: text with the story of each slip, and JSON. Nothing is judged here."""

from .as_json import json_report
from .asked_json import json_answer
from .asked_text import text_answer
from .forms import FORMS, as_form
from .scope import SAFE, Checked, Unproved, checked_of, covered
from .story import Line, shortened, story_of
from .text import text_report

__all__ = [
    "FORMS",
    "SAFE",
    "Checked",
    "Line",
    "Unproved",
    "as_form",
    "checked_of",
    "covered",
    "json_answer",
    "json_report",
    "shortened",
    "story_of",
    "text_answer",
    "text_report",
]
