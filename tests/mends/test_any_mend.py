"""Whatever mend is offered for a slip in the demonstration set, written into its texts it does what it says."""

from __future__ import annotations

import pytest

from stepfield.checks import Report, check_set
from stepfield.checks.fixing import Fixing
from stepfield.language import build_set
from tests.mends.texts import TODAY, Texts, demonstration, report_of, slips

EVERY = 9
"""One slip of so many is tried; where that begins differs from file to file."""
PROTOCOLS = ("protocols/skin-lesion.yaml", "protocols/toenail.yaml", "protocols/wrist-release.yaml")
PARTS = sorted(path for path in demonstration() if "/parts/" in path)


@pytest.mark.parametrize("path", PROTOCOLS)
def test_mends_for_a_slip_in_a_protocol_do_what_they_say(path: str) -> None:
    tried = [text for _, texts in list(slips(path))[::EVERY] for text in mends_that_hold(texts)]
    assert tried


def test_mends_for_a_wait_forgotten_in_a_part_do_what_they_say() -> None:
    forgotten = [texts for path in PARTS for name, texts in slips(path) if name.endswith("without its after")]
    tried = [text for texts in forgotten[::2] for text in mends_that_hold(texts)]
    assert tried


def mends_that_hold(texts: Texts) -> list[str]:
    """What the mends for a slipped set say, each written into its texts and judged by a check of its own."""
    report, said = report_of(texts), []
    for finding in report.findings:
        for mend in finding.mends:
            changed = Fixing(report).texts(finding, mend)
            files = {path: text.encode() for path, text in {**texts, **changed}.items()}
            after = check_set(build_set(files), TODAY)
            assert keys(after) <= keys(report) - {finding.key}, mend.say
            assert all(only_adds(texts[path], text) for path, text in changed.items())
            said.append(mend.say)
    return said


def keys(report: Report) -> set[tuple[str, str, str, str]]:
    return {finding.key for finding in report.findings}


def only_adds(before: str, after: str) -> bool:
    """Whether every character of the one text stands in the other, in order, every line whole or with more in it."""
    left = iter(after)
    return all(character in left for character in before)
