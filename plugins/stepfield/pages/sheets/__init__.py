"""Cards and sheets to print: a role's card, the whole protocol, the record sheet, the pick list; and their list."""

from .making import Drawn, Sheets, sheets

__all__ = ["Drawn", "Sheets", "sheets"]
