"""``stepfield ask``: one question at a time, by id or by file, and never a traceback."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from stepfield.command import main

PROTOCOLS = Path(__file__).parents[2] / "protocols"
HEAD = "kind: protocol\ntitle: T\nteam: [scrub]\nphases:\n- {phase: p, steps: "
WRIST = str(PROTOCOLS / "wrist-release.yaml")


def ask(*words: str) -> Result:
    return CliRunner().invoke(main, ["ask", *words])


@pytest.mark.parametrize(
    ("question", "said"),
    [
        (["--before", "incise"], "Just before 'incise' (Surgeon), in every order:"),
        (["--can", "surgeon.hands sterile", "--at", "incise"], "Yes, in every order just before 'incise' (Surgeon)"),
        (["--breach", "surgeon.hands", "--at", "incise"], "are contaminated just before 'incise' (Surgeon):"),
    ],
    ids=["before", "can", "breach"],
)
def test_each_question_by_id_and_by_file(question: list[str], said: str) -> None:
    by_id = ask("wrist-release", "--set", str(PROTOCOLS), *question)
    assert by_id.exit_code == 0, by_id.output
    assert said in by_id.output
    assert ask(WRIST, *question).output == by_id.output
    told = ask(WRIST, *question, "--format", "json")
    assert json.loads(told.output)["proved"] is True


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([WRIST], "Ask one question"),
        ([WRIST, "--before", "incise", "--can", "x"], "Ask one question"),
        ([WRIST, "--before", "incise", "--at", "incise"], "--before names its step itself"),
        ([WRIST, "--can", "surgeon.hands sterile"], "need --at STEP"),
        ([WRIST, "--breach", "surgeon.hands"], "need --at STEP"),
        ([WRIST, "--before", "incize"], "The nearest: 'incise'"),
        ([WRIST, "--before", "glove"], "The nearest: 'scrub-dress.glove' or 'surgeon-dress.glove'"),
        ([WRIST, "--before", "xyzzy"], "None comes near. The names: "),
        ([WRIST, "--before", ""], "There is no step"),
        ([WRIST, "--breach", "surgeon.hand", "--at", "incise"], "The nearest: 'surgeon.hands'"),
        ([WRIST, "--can", "surgeon.hands spotless", "--at", "incise"], "There is no state 'spotless'"),
        (["wrist-relese", "--set", str(PROTOCOLS), "--before", "incise"], "The nearest: 'wrist-release'"),
        (["wrist-release", "--set", "nowhere", "--before", "incise"], "The protocol set cannot be read"),
        ([str(PROTOCOLS), "--before", "incise"], "is a folder; name one protocol of it"),
        ([str(PROTOCOLS / "clinic.yaml"), "--before", "incise"], "is no protocol; the protocols of its set: "),
        ([str(PROTOCOLS / "none.yaml"), "--before", "incise"], "is neither a folder nor a file"),
        ([WRIST, "--before", "incise", "--max-states", "0"], "0 is not in the range"),
    ],
)
def test_a_wrong_question_ends_with_2_and_says_what_would_be_right(words: list[str], said: str) -> None:
    done = ask(*words)
    assert done.exit_code == 2
    assert said in done.output.replace("\n", " ")


def test_a_low_limit_is_said_aloud_and_is_no_failure() -> None:
    done = ask(WRIST, "--can", "surgeon.hands sterile", "--at", "incise", "--max-states", "20")
    assert done.exit_code == 0
    assert "NOT PROVED" in done.output


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("kind: protocol\ntitle: [\n", "cannot be read as meant"),
        (
            f"{HEAD}[{{id: a, role: scrub, do: A., after: [b]}}, {{id: b, role: scrub, do: B.}}]}}\n",
            "its steps wait for each other in a loop",
        ),
        (f"{HEAD}[{{id: a, do: A.}}]}}\n", "have no owner"),
    ],
    ids=["unreadable", "loop", "no owner"],
)
def test_a_protocol_that_must_be_mended_first(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "clinic.yaml").write_text("clinic: C\nroles: {scrub: {title: Scrub nurse}}\n", encoding="utf-8")
    (tmp_path / "small.yaml").write_text(text, encoding="utf-8")
    for named in (["small", "--set", str(tmp_path)], [str(tmp_path / "small.yaml")]):
        done = ask(*named, "--before", "a")
        assert done.exit_code == 2
        assert said in done.output
