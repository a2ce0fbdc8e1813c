"""The rules, what they look at and what they report. One module of ``rules`` is one rule or a tight family."""

from .accepting import with_acceptances, without_known
from .asking import ASK_LIMIT, Answer, QuestionError, ask_before, ask_breach, ask_can
from .facts import Examined, Facts, examine
from .finding import Cause, Finding, Mend, Note, Severity, Wait
from .mending import with_mends
from .rule import Rule, all_rules
from .run import Report, check_set

__all__ = [
    "ASK_LIMIT",
    "Answer",
    "Cause",
    "Examined",
    "Facts",
    "Finding",
    "Mend",
    "Note",
    "QuestionError",
    "Report",
    "Rule",
    "Severity",
    "Wait",
    "all_rules",
    "ask_before",
    "ask_breach",
    "ask_can",
    "check_set",
    "examine",
    "with_acceptances",
    "with_mends",
    "without_known",
]
