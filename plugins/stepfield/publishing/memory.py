"""How often memory is searched for what is no longer needed while a site is drawn."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def few_collections() -> Iterator[None]:
    """Looks seldom for what is no longer needed: a large set fills the memory with what is all needed to the end.

    What was drawn is then left out of the searches for such things while the site generator works.
    """
    usual = gc.get_threshold()
    gc.unfreeze()
    gc.set_threshold(500_000, *usual[1:])
    try:
        yield
        gc.freeze()
    finally:
        gc.set_threshold(*usual)
