"""What the order of steps means for the clock: whether waits and time limits can be kept, and how. Pure."""

from .clashes import Clash, clashes
from .network import Bound, Network

__all__ = ["Bound", "Clash", "Network", "clashes"]
