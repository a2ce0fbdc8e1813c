"""Every kind of slip, from the modules that say what they are."""

from __future__ import annotations

from tests.mutation import left_out, out_of_place
from tests.mutation.kinds import KINDS

__all__ = ["KINDS", "left_out", "out_of_place"]
