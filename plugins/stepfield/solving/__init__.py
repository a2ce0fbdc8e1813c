"""The exploration's question put to a general-purpose solver: for phases in which hardly two steps commute.

It is asked only where the search has grown too wide, and every order it names is replayed before it is told.
"""

from .answers import Unanswered, settled

__all__ = ["Unanswered", "settled"]
