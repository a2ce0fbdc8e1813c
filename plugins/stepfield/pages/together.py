"""Drawing on several processors, where that saves time: many things at once, or some beside other work."""

from __future__ import annotations

import gc
import multiprocessing
import os
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Generic, TypeVar, cast

ENOUGH = 28
"""So many things to draw are worth several processes: a dozen protocols, and the pages of the whole set."""
MOST_PROCESSES = 8
_Drawn = TypeVar("_Drawn")
_draw: list[Callable[[int], object]] = []
"""What the processes are to do; they find it here because they begin as copies of this one."""


def drawn_together(draw: Callable[[int], _Drawn], count: int, processes: int | None = None) -> list[_Drawn]:
    """What ``draw`` gives for each number below ``count``, in order.

    How many processes share this is told by how many processors there are, if not by ``processes``. It is done in this
    process alone where copies of it are not safe to make (see ``can_copy``).
    """
    if processes is None:
        processes = min(_processors(), MOST_PROCESSES) if count >= ENOUGH else 1
    if processes < 2 or not can_copy():
        return [draw(number) for number in range(count)]
    _draw.append(draw)
    try:
        # What a process begins with is needed to its end: it is not searched for what is no longer needed.
        with multiprocessing.get_context("fork").Pool(processes, gc.freeze) as pool:
            return cast("list[_Drawn]", pool.map(_drawn, range(count), chunksize=max(1, count // (64 * processes))))
    finally:
        _draw.pop()


def can_copy() -> bool:
    """Whether copies of this process are safe to make: on Linux, beside no other thread, and not in a copy itself."""
    is_copy = multiprocessing.parent_process() is not None
    return sys.platform == "linux" and threading.active_count() == 1 and not is_copy


class Beside(Generic[_Drawn]):
    """Something worked out by a copy of this process while this one goes on with other things.

    Where there is no second processor, or copies are not safe to make, it is worked out when its result is asked for.
    """

    def __init__(self, work: Callable[[], _Drawn]) -> None:
        self._work = work
        self._copy: multiprocessing.process.BaseProcess | None = None
        if _processors() > 1 and can_copy():
            ours, theirs = multiprocessing.Pipe(duplex=False)
            self._copy = multiprocessing.get_context("fork").Process(target=self._send, args=(theirs,), daemon=True)
            self._copy.start()
            theirs.close()
            self._ours = ours

    def result(self) -> _Drawn:
        """What came of it. What ends without a result, for whatever reason, is worked out here once more."""
        if self._copy is None:
            return self._work()
        try:
            return cast("_Drawn", self._ours.recv())
        except EOFError:
            return self._work()
        finally:
            self.stop()

    def stop(self) -> None:
        """Ends it: nobody will ask for the result."""
        if self._copy is not None:
            self._copy.kill()
            self._copy.join()
            self._ours.close()
            self._copy = None

    def _send(self, way: Connection) -> None:
        gc.freeze()
        with suppress(Exception):  # it is met again, and told, where the result is asked for
            way.send(self._work())


def _drawn(number: int) -> object:
    return _draw[-1](number)


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
