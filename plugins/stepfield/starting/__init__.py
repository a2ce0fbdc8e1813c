"""How a new text begins: small commented files that check clean, a whole new clinic, a draft from a table of steps."""

from .beginning import Refused, new_clinic, new_part, new_protocol
from .drafting import Draft, draft_from
from .sheets import Table, TableError, read_table

__all__ = [
    "Draft",
    "Refused",
    "Table",
    "TableError",
    "draft_from",
    "new_clinic",
    "new_part",
    "new_protocol",
    "read_table",
]
