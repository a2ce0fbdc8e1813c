"""The page on waits at the desk says what was measured. No time is asserted anywhere."""

from __future__ import annotations

import asyncio
from pathlib import Path

from bench.desk import Row, Taken, report, typed
from bench.models import Size, as_files, protocol_sized


def test_a_promise_is_judged_by_the_quickest_run() -> None:
    ours, theirs = (Taken(0.61, 0.3), Taken(0.4, 0.2), Taken(0.9, 0.4)), (Taken(0.8, None),)
    page = report([Row("a", 0.5, ours, theirs), Row("b", 0.3, ours, theirs), Row("c", None, ours, theirs)])
    assert "| a | 0.400 | 0.610 | 0.200 | 0.50 | yes | 0.800 |  | 0.50 |" in page
    assert "| b | 0.400 | 0.610 | 0.200 | 0.30 | **no** | 0.800 |  | 0.50 |" in page
    assert "| c | 0.400 | 0.610 | 0.200 |  |  | 0.800 |  | 0.50 |" in page


def test_every_keystroke_is_answered(tmp_path: Path) -> None:
    for path, content in as_files({"typed": protocol_sized(Size(60, 4, 2, 8))}).items():
        (tmp_path / path).parent.mkdir(exist_ok=True)
        (tmp_path / path).write_bytes(content)
    waits = asyncio.run(typed(tmp_path / "protocols/typed.yaml", 4))
    assert len(waits) == 4
    assert min(waits) > 0
