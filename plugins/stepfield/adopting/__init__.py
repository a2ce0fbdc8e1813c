"""How a clinic adopts the protocol set of another: the shared files as they are, and beside them what is its own."""

from .beginning import Source, adopted_clinic
from .taking import CannotAdoptError, source_in

__all__ = ["CannotAdoptError", "Source", "adopted_clinic", "source_in"]
