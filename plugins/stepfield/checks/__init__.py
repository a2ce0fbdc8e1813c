"""The rules, what they look at and what they report. One module of ``rules`` is one rule or a tight family."""

from .facts import Examined, Facts, examine
from .finding import Cause, Finding, Mend, Note, Severity
from .mending import with_mends
from .rule import Rule, all_rules
from .run import Report, check_set

__all__ = [
    "Cause",
    "Examined",
    "Facts",
    "Finding",
    "Mend",
    "Note",
    "Report",
    "Rule",
    "Severity",
    "all_rules",
    "check_set",
    "examine",
    "with_mends",
]
