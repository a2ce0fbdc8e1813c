"""What a change of a protocol set does: steps matched, changes graded, and told to each role in plain words."""

from .grades import Grade
from .history import HistoryError, commit_of, earlier_texts, taken_from
from .model import Change, Detail, Duty, Review, Reviewed
from .review import review_sets
from .version import RULES

__all__ = [
    "RULES",
    "Change",
    "Detail",
    "Duty",
    "Grade",
    "HistoryError",
    "Review",
    "Reviewed",
    "commit_of",
    "earlier_texts",
    "review_sets",
    "taken_from",
]
