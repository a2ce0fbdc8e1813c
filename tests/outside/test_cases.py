"""The main job against published material: each case with its source, which sources.yaml names in full."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.outside.cases import Case, findings_of, load_all, neighbours, protocol_of, told

SOURCES: dict[str, dict[str, Any]] = yaml.safe_load(
    Path(__file__).with_name("sources.yaml").read_text(encoding="utf-8")
)
CASES = load_all()


@pytest.mark.parametrize("case", CASES, ids=str)
def test_a_case_gives_the_findings_it_must_and_no_other(case: Case) -> None:
    findings = findings_of(protocol_of(case.scene, case.steps), case.scene.get("rules"), case.scene.get("evidence"))
    assert told(findings) == case.finds, [SOURCES[name] for name in case.sources]


@pytest.mark.parametrize("case", [case for case in CASES if case.kind == "right" and case.published], ids=str)
def test_every_wrong_neighbour_in_a_published_order_is_found_or_listed_with_its_reason(case: Case) -> None:
    swapped = {other.swapped for other in CASES if other.topic == case.topic and other.came_from == case.name}
    missing = [sorted(pair) for pair in neighbours(case.published) if pair not in swapped]
    assert missing == []


@pytest.mark.parametrize("case", CASES, ids=str)
def test_a_case_says_where_it_comes_from_and_what_follows(case: Case) -> None:
    assert case.sources
    assert set(case.sources) <= set(SOURCES)
    assert bool(case.finds) == (case.kind == "wrong")
    assert bool(case.because) == (case.kind in ("harmless", "unseen"))


@pytest.mark.parametrize("name", SOURCES)
def test_every_principle_is_tried_or_listed_as_unexpressed(name: str) -> None:
    """A row with ``not_tried`` says why; a row without has at least one case (in a file, or in the test it names)."""
    row = SOURCES[name]
    tried = any(name in case.sources for case in CASES) or "tried_in" in row
    assert tried != ("not_tried" in row)
    assert "tried_in" not in row or name in Path(__file__).with_name(row["tried_in"]).read_text(encoding="utf-8")
