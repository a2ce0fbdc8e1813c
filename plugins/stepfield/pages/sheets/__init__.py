"""Cards and sheets to print: a role's card, the whole protocol, the record sheet, the pick list; and their list."""

from .making import sheets

__all__ = ["sheets"]
