"""Waits that mend: the smallest sets, the weakest first, and a word where not all could be tried."""

from __future__ import annotations

import json

from stepfield.checks import Wait
from stepfield.reports import json_report, text_report
from tests.mends.small import finding, said, small
from tests.mends.texts import report_of

TWICE_DIRTIED = """
- {id: wipe, role: circulating, do: Wipe., makes: {table: disinfected}}
- {id: set-out, role: circulating, do: Set out., needs: {table: disinfected}}
- {id: lean, role: scrub, do: Lean., contaminates: [table]}
- {id: rest, role: surgeon, do: Rest., contaminates: [table]}
"""


def test_one_wait_is_offered_where_one_is_enough() -> None:
    texts = small("\n".join(TWICE_DIRTIED.strip().split("\n")[:3]))
    assert said(texts, "needs-not-met") == ["do 'set-out' before 'lean'", "do 'lean' before 'wipe'"]


def test_two_waits_are_offered_where_no_single_one_helps() -> None:
    found = finding(small(TWICE_DIRTIED), "needs-not-met")
    assert not found.always
    assert {frozenset(mend.waits) for mend in found.mends} <= {
        frozenset({Wait("lean", ("set-out",)), Wait("rest", ("set-out",))}),
        frozenset({Wait("wipe", ("lean",)), Wait("rest", ("set-out",))}),
        frozenset({Wait("lean", ("set-out",)), Wait("wipe", ("rest",))}),
        frozenset({Wait("wipe", ("lean", "rest"))}),
    }
    assert len(found.mends) == 3
    assert all(" together with " in mend.say for mend in found.mends if len(mend.waits) > 1)


def test_json_tells_only_what_is_the_after_of_one_step() -> None:
    report = report_of(small(TWICE_DIRTIED))
    (told,) = (one for one in json.loads(json_report([report]))["findings"] if one["rule"] == "needs-not-met")
    whole = [mend for mend in finding(small(TWICE_DIRTIED), "needs-not-met").mends if len(mend.waits) == 1]
    assert [(mend["step"], mend["after"]) for mend in told["mends"]] == [
        (mend.waits[0].step, list(mend.waits[0].after)) for mend in whole
    ]
    assert all(mend.keys() == {"say", "step", "after"} for mend in told["mends"])


def test_three_dirtying_steps_are_more_than_pairs_can_mend() -> None:
    texts = small(TWICE_DIRTIED + "- {id: lay, role: runner, do: Lay., contaminates: [table]}\n")
    clinic = texts["protocols/clinic.yaml"].replace("surfaces:", "  runner: {title: Runner}\nsurfaces:")
    room = texts["protocols/room.yaml"].replace("circulating]", "circulating, runner]")
    found = finding({"protocols/clinic.yaml": clinic, "protocols/room.yaml": room}, "needs-not-met")
    assert not found.always
    assert all(mend.addition is not None for mend in found.mends)


def test_where_the_allowance_runs_out_the_report_says_so() -> None:
    found = finding(small(TWICE_DIRTIED), "needs-not-met", states=60, readings=0)
    assert (found.mends, found.all_tried) == ((), False)
    words = "Not every change that might help was tried: that would have taken too long."
    assert words in text_report([report_of(small(TWICE_DIRTIED), states=60, readings=0)])
    assert words not in text_report([report_of(small(TWICE_DIRTIED))])
