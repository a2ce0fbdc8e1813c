"""A clinic that adopted a set beside that set: what is different, why, who agreed and until when; for many too."""

from .beside import drift_of, drift_of_protocol, is_adopted
from .model import Agreement, Difference, Drift, Field, Missed, ProtocolDrift, Renamed, Settled

__all__ = [
    "Agreement",
    "Difference",
    "Drift",
    "Field",
    "Missed",
    "ProtocolDrift",
    "Renamed",
    "Settled",
    "drift_of",
    "drift_of_protocol",
    "is_adopted",
]
