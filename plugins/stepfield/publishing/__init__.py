"""What leaves the house: a list of what a site holds, a judgement of it, and plain files to take on."""

from .contents import CONTENTS, Contents, Unreadable, contents_of, publish_contents, read_contents
from .documents import Documents
from .export import Exported, exported, write_export
from .verify import Flaw, Verdict, verify

__all__ = [
    "CONTENTS",
    "Contents",
    "Documents",
    "Exported",
    "Flaw",
    "Unreadable",
    "Verdict",
    "contents_of",
    "exported",
    "publish_contents",
    "read_contents",
    "verify",
    "write_export",
]
