"""Drawing many things at once, shared by several processes where that saves time."""

from __future__ import annotations

import gc
import multiprocessing
import os
import sys
import threading
from collections.abc import Callable
from typing import TypeVar, cast

ENOUGH = 28
"""So many things to draw are worth several processes: a dozen protocols, and the pages of the whole set."""
MOST_PROCESSES = 8
_Drawn = TypeVar("_Drawn")
_draw: list[Callable[[int], object]] = []
"""What the processes are to do; they find it here because they begin as copies of this one."""


def drawn_together(draw: Callable[[int], _Drawn], count: int, processes: int | None = None) -> list[_Drawn]:
    """What ``draw`` gives for each number below ``count``, in order.

    How many processes share this is told by how many processors there are, if not by ``processes``. It is done in this
    process alone where copies of it are not safe to make: beside other threads, and on other systems than Linux.
    """
    if processes is None:
        processes = min(_processors(), MOST_PROCESSES) if count >= ENOUGH else 1
    if processes < 2 or sys.platform != "linux" or threading.active_count() > 1:
        return [draw(number) for number in range(count)]
    _draw.append(draw)
    try:
        # What a process begins with is needed to its end: it is not searched for what is no longer needed.
        with multiprocessing.get_context("fork").Pool(processes, gc.freeze) as pool:
            return cast("list[_Drawn]", pool.map(_drawn, range(count), chunksize=max(1, count // (64 * processes))))
    finally:
        _draw.pop()


def _drawn(number: int) -> object:
    return _draw[-1](number)


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
