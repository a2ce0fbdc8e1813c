"""What an editor offers where a step says what it answers, and a protocol what it adopts."""

from __future__ import annotations

from stepfield.lsp.completing import fitting
from tests.demo.changes import demonstration

STEP = ["phases:", "  - phase: room", "    steps:", "      - id: arrange", "        role: circulating"]


def offered(line: str, above: list[str] | None = None) -> set[str]:
    found = demonstration()
    return {one.word for one in fitting(found, found.protocols[0], [*(STEP if above is None else above), line])}


def test_a_step_may_meet_every_requirement_and_every_case_of_a_table() -> None:
    assert {one.id.value for one in demonstration().requirements} == offered("        meets: [")
    assert "air-clear-99-at-15" in offered("        meets: [")


def test_a_step_may_keep_a_value_only_for_what_limits_no_time() -> None:
    words = offered("        keeps: {")
    assert {"furniture-distance", "sharps-three-quarters", "air-changes"} <= words
    assert not {"scrub-time", "jewellery-off", "air-clear-99-at-15"} & words
    assert offered("        keeps: {furniture-distance: ") == set()


def test_a_protocol_adopts_sets() -> None:
    assert offered("adopts: [", []) == {*demonstration().sets}
