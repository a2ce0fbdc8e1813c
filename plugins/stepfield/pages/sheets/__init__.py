"""Cards and sheets to print: a role's card, the whole protocol, the record sheet, the pick list; and their list."""

from .making import Drawn, File, Sheets, sheets

__all__ = ["Drawn", "File", "Sheets", "sheets"]
