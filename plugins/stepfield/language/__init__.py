"""What a protocol is: strict YAML with positions, schemas, parts, and the frozen values everything else works on.

``read_set`` reads a folder, ``build_set`` the bytes of files; both give a ``ProtocolSet`` and never fail on bad text.
"""

from .build import build_set
from .load import content_of, read_set
from .model import ProtocolSet
from .source import Problem, Span, Text

__all__ = ["Problem", "ProtocolSet", "Span", "Text", "build_set", "content_of", "read_set"]
