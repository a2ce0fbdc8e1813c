"""The engine: in which order steps can happen, what they do to asepsis, and what that proves.

Pure: it knows frozen protocol values and nothing of YAML, files or pages.
"""

from .counting import count_orders
from .explore import Exploration, explore
from .extensions import Count
from .graph import StepGraph, compile_protocol
from .mend import Allowance, Links, mends_of
from .order import Link, Order, bits, order_of
from .proof import DEFAULT_LIMIT, Occurrence, Proof, prove
from .trace import Moment, cause_of, replay, slips_at_end
from .world import Slip, World

__all__ = [
    "DEFAULT_LIMIT",
    "Allowance",
    "Count",
    "Exploration",
    "Link",
    "Links",
    "Moment",
    "Occurrence",
    "Order",
    "Proof",
    "Slip",
    "StepGraph",
    "World",
    "bits",
    "cause_of",
    "compile_protocol",
    "count_orders",
    "explore",
    "mends_of",
    "order_of",
    "prove",
    "replay",
    "slips_at_end",
]
