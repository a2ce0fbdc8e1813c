"""How a clinic adopts the protocol set of another: the shared files as they are, and beside them what is its own."""

from .beginning import Source, adopted_clinic
from .fate import Fate, Met, Row
from .here import CannotCatchUpError
from .newer import CaughtUp, Settling, catch_up
from .settling import EVERY, Settled, UnknownEntryError
from .taking import CannotAdoptError, source_in

__all__ = [
    "EVERY",
    "CannotAdoptError",
    "CannotCatchUpError",
    "CaughtUp",
    "Fate",
    "Met",
    "Row",
    "Settled",
    "Settling",
    "Source",
    "UnknownEntryError",
    "adopted_clinic",
    "catch_up",
    "source_in",
]
