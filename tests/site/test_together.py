"""Several processes draw the same pages as one."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from jinja2 import Environment, FileSystemBytecodeCache

from stepfield.pages import begin_site, build_site, templating
from stepfield.pages.together import ENOUGH, Beside, drawn_together
from tests.site.small import checked, sample


@pytest.mark.parametrize("processes", [1, 2, 3])
@pytest.mark.parametrize("count", [0, 1, 7, 40])
def test_everything_is_drawn_once_and_in_order(count: int, processes: int) -> None:
    assert drawn_together(lambda number: (number, f"page {number}"), count, processes) == [
        (number, f"page {number}") for number in range(count)
    ]


@pytest.mark.parametrize("processes", [1, 2])
def test_a_failure_is_told(processes: int) -> None:
    def draw(number: int) -> int:
        return 1 // (number - 3)

    with pytest.raises(ZeroDivisionError):
        drawn_together(draw, 8, processes)
    assert drawn_together(lambda number: number, 2, processes) == [0, 1]


@contextmanager
def another_thread() -> Iterator[None]:
    """Beside it everything is drawn in this process alone."""
    done = threading.Event()
    thread = threading.Thread(target=done.wait)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def test_beside_another_thread_it_is_done_alone() -> None:
    own: list[int] = []
    with another_thread():
        assert drawn_together(lambda number: own.append(number) or number, 4, 2) == [0, 1, 2, 3]  # type: ignore[func-returns-value]
    assert own == [0, 1, 2, 3]


def test_a_site_drawn_together_is_that_drawn_alone() -> None:
    many = {f"wrist-{number}": sample(title=f"Release {number}") for number in range(ENOUGH)}
    whole = build_site(checked(many))
    few = build_site(checked({name: many[name] for name in ("wrist-0", "wrist-1")}))
    drawn = {page.address: page for page in whole.pages}
    for page in few.pages:
        if page.address.startswith("protocols/"):
            assert drawn[page.address] == page


def test_pages_screens_and_sheets_are_the_same_to_the_byte_however_many_draw() -> None:
    report = checked({f"wrist-{number}": sample(title=f"Release {number}") for number in range(ENOUGH)})
    together = build_site(report)
    with another_thread():
        assert build_site(report) == together


def test_beside_the_work_is_done_once_by_another_process_or_here_when_it_is_asked_for() -> None:
    assert Beside(lambda: ("pages", 2)).result() == ("pages", 2)
    with another_thread():
        asked = Beside(os.getpid)
        assert asked.result() == os.getpid()


def test_a_copy_is_in_no_need_of_copies_itself() -> None:
    assert Beside(lambda: drawn_together(lambda number: number, 3, 2)).result() == [0, 1, 2]


def test_what_fails_beside_is_met_again_where_its_result_is_asked_for() -> None:
    failing = Beside(lambda: 1 // 0)
    with pytest.raises(ZeroDivisionError):
        failing.result()


def test_work_whose_process_is_lost_is_done_here() -> None:
    own = os.getpid()

    def work() -> int:
        if os.getpid() != own:
            os._exit(9)
        return 7

    assert Beside(work).result() == 7


def test_work_that_nobody_waits_for_any_more_is_ended() -> None:
    waiting = threading.Event()
    endless = Beside(waiting.wait) if (os.cpu_count() or 1) > 1 else None
    if endless is not None:
        endless.stop()
        waiting.set()
        assert endless.result() is True


def test_compiled_templates_are_kept_only_where_compiled_modules_are(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = Environment(autoescape=True)
    own = Environment(autoescape=True, bytecode_cache=FileSystemBytecodeCache("/nowhere"))
    folder = Path(templating.__file__).parent / "__pycache__"
    folder.mkdir(exist_ok=True)
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    templating.keep_compiled(kept)
    assert kept.bytecode_cache is None
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    for environment in (kept, own):
        templating.keep_compiled(environment)
    assert isinstance(kept.bytecode_cache, FileSystemBytecodeCache)
    assert Path(kept.bytecode_cache.directory) == folder
    assert isinstance(own.bytecode_cache, FileSystemBytecodeCache)
    assert own.bytecode_cache.directory == "/nowhere"


def test_the_addresses_of_documents_are_known_before_they_are_drawn() -> None:
    many = {"wrist-1": sample(), "wrist-2": sample(title="Another")}
    days = {"screens": {"days": {"monday": {"title": "Monday", "cases": [{"protocol": "wrist-1"}]}}}}
    begun = begin_site(checked({**many, **days}))
    assert sorted(begun.coming) == sorted(one.address for one in begun.documents())
    assert "screens/days/monday.html" in begun.coming
    assert not set(begun.coming) & {one.address for one in begun.site.assets}
