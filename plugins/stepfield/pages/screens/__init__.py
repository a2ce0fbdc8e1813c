"""Wall screens: what a team sees of its protocols from across the room, in screenfuls that turn by themselves."""

from .making import INDEX, VERSION, Drawn, Screens, screens
from .publishing import publish

__all__ = ["INDEX", "VERSION", "Drawn", "Screens", "publish", "screens"]
