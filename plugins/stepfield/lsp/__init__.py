"""What an editor is told while somebody writes: findings, names, places, states. One module knows the wire protocol."""

from .desk import Desk

__all__ = ["Desk"]
