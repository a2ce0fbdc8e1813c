"""A large set judged by several processes, each judging some of its protocols."""

from __future__ import annotations

import datetime
import gc
import os
from collections.abc import Sequence

from ..checks import check_set
from ..language import Taken, set_of
from ..language.files import place_of
from .judged import Judged, judged_in

ENOUGH = 100
"""So many protocols are worth several processes; starting these takes as long as judging some."""
MOST_PROCESSES = 8


def judged_together(
    taken: Taken, protocols: Sequence[str], today: datetime.date, limit: int, processes: int | None = None
) -> list[Judged]:
    """What several processes judge of these files of a set, where they are many; nothing where they are few.

    How many processes is told by how many processors there are, if not by ``processes``.
    """
    if processes is None:
        processes = min(_processors(), MOST_PROCESSES) if len(protocols) >= ENOUGH else 1
    if processes < 2:
        return []
    # Loaded here, as that takes a while and most sets are small.
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    shared = {path: file for path, file in taken.files.items() if place_of(taken.inside(path), "").kind != "protocol"}
    shares = [protocols[start :: 4 * processes] for start in range(4 * processes)]
    jobs = [Taken(taken.shown, shared | {path: taken.files[path] for path in share}, ()) for share in shares]
    try:
        with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
            found = list(pool.map(_judge, jobs, [today] * len(jobs), [limit] * len(jobs)))
    except (OSError, BrokenProcessPool):
        return []
    return [one for some in found for one in some]


def _judge(taken: Taken, today: datetime.date, limit: int) -> list[Judged]:
    gc.set_threshold(100_000)
    return list(judged_in(check_set(set_of(taken), today, limit=limit)))


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
