"""`format`: whatever a file looks like, its meaning and its comments stay, and a second time changes nothing."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stepfield.changes.plain import plain
from stepfield.language import build_set
from stepfield.language.key_order import Shape
from stepfield.language.layout import WIDEST, comments_of, laid_out

DEMO = Path(__file__).parents[2] / "protocols"
FILES = {path.relative_to(DEMO).as_posix(): path.read_text(encoding="utf-8") for path in sorted(DEMO.rglob("*.yaml"))}


def lay(text: str, name: str = "case.yaml") -> str:
    laid = laid_out(text.encode(), name, name)
    assert laid.problems == ()
    return laid.text


def comments(text: str) -> Counter[str]:
    """Comments by a reader of our own: the rest of a line behind a token that no token covers."""
    lines = text.split("\n")
    covered: dict[int, int] = {}
    inside: set[int] = set()
    for token in yaml.scan(text):
        if isinstance(token, yaml.ScalarToken):
            start, end = token.start_mark, token.end_mark
            if token.style in ("|", ">"):
                inside.update(range(start.line + 1, end.line if end.column == 0 else end.line + 1))
            else:
                for number in range(start.line, end.line + 1):
                    covered[number] = end.column if number == end.line else len(lines[number])
    found: Counter[str] = Counter()
    for number, line in enumerate(lines):
        at = line.find("#", covered.get(number, 0))
        while at > 0 and line[at - 1] not in " \t":
            at = line.find("#", at + 1)
        if at >= 0 and number not in inside:
            found[line[at:].strip()] += 1
    return found


def written(value: Any, draw: random.Random, column: int = 0, key: str = "") -> list[str]:
    """A value as somebody with habits of their own might write it, behind a key or a dash."""
    pad = " " * column
    if isinstance(value, dict) and value and draw.random() < 0.7:
        deeper = column + draw.choice([1, 2, 2, 4])
        lines = []
        for name, inner in value.items():
            if draw.random() < 0.2:
                lines.append(f"{' ' * draw.choice([0, deeper, deeper + 3])}# note {draw.randrange(1000)}")
            if draw.random() < 0.1:
                lines += ["", ""]
            lines += entry(f"{' ' * deeper}{name}:", inner, draw, deeper)
        return ["", *lines]
    if isinstance(value, list) and value and draw.random() < 0.7:
        deeper = column + draw.choice([0, 2, 2, 3]) if key and not key.rstrip().endswith("-") else column + 2
        lines = []
        for inner in value:
            if draw.random() < 0.15:
                lines.append(f"{' ' * deeper}#about the next {draw.randrange(1000)}")
            part = entry(f"{' ' * deeper}-", inner, draw, deeper)
            if (
                isinstance(inner, dict)
                and part[0].strip() == "-"
                and draw.random() < 0.8
                and not part[1].lstrip().startswith("#")
                and part[1].strip()
                and len(part[1]) - len(part[1].lstrip()) >= deeper + 2
            ):
                first = part[1]
                indent = len(first) - len(first.lstrip())
                part = [f"{' ' * deeper}-{' ' * (indent - deeper - 1)}{first.lstrip()}", *part[2:]]
            lines += part
        return ["", *lines]
    if isinstance(value, str) and len(value) > 20 and value == " ".join(value.split()):
        words = value.split(" ")
        style = draw.choice([">-", ">", "|-", "plain", "quoted"])
        cut = draw.randrange(1, len(words)) if len(words) > 1 else len(words)
        pieces = [" ".join(words[:cut]), " ".join(words[cut:])] if cut < len(words) else [value]
        if style in (">-", "|-", ">"):
            return [f" {style}", *(f"{pad}    {piece}" for piece in pieces)]
        if style == "quoted":
            return [f" {yaml.safe_dump(value, width=10**6, default_style=chr(34)).strip()}"]
    dumped = yaml.safe_dump(value, default_flow_style=True, width=10**6, allow_unicode=True).strip()
    return [f" {dumped.removesuffix('...').strip()}"]


def entry(lead: str, value: Any, draw: random.Random, column: int) -> list[str]:
    first, *more = written(value, draw, column, lead)
    remark = f"  # remark {draw.randrange(1000)}" if draw.random() < 0.1 and not more else ""
    return [f"{lead}{first}{remark}{' ' * draw.choice([0, 0, 0, 2])}", *more]


def shuffled(value: Any, shape: Shape, draw: random.Random) -> Any:
    """The content with its keys in any order where that means nothing."""
    if isinstance(value, dict):
        keys = list(value)
        if shape.keys(keys):
            draw.shuffle(keys)
        return {key: shuffled(value[key], shape.below(key), draw) for key in keys}
    if isinstance(value, list):
        return [shuffled(inner, shape.below(number), draw) for number, inner in enumerate(value)]
    return value


KIND = {"clinic.yaml": "clinic", "evidence.yaml": "evidence", "packs.yaml": "packs", "screens.yaml": "screens"}


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(sorted(FILES)), st.integers(0, 10**6))
def test_meaning_and_comments_stay_and_a_second_time_changes_nothing(name: str, seed: int) -> None:
    judge(name, seed)


@pytest.mark.slow
@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(sorted(FILES)), st.integers(0, 10**6))
def test_the_same_of_many_more(name: str, seed: int) -> None:
    judge(name, seed)


def judge(name: str, seed: int) -> None:
    draw = random.Random(seed)  # noqa: S311 - no secret
    kind = KIND.get(name, "part" if "/" in name else "protocol")
    content = shuffled(yaml.load(FILES[name], yaml.BaseLoader), Shape.of(kind), draw)  # noqa: S506 - as text
    content = typed(content)
    text = (
        "\n".join(["# head", *[line[2:] if line.startswith("  ") else line.lstrip() for line in top(content, draw)]])
        + "\n"
    )
    before = build_set({**{f"p/{one}": body.encode() for one, body in FILES.items()}, f"p/{name}": text.encode()})
    assert not [one for one in before.problems if one.rule == "bad-yaml"], (text, before.problems)
    laid = laid_out(text.encode(), name, name)
    assert laid.problems == (), text
    after = build_set({**{f"p/{one}": body.encode() for one, body in FILES.items()}, f"p/{name}": laid.text.encode()})
    assert model(before) == model(after)
    assert comments(laid.text) == comments(text)
    assert comments_of(text) == comments(text)
    assert lay(laid.text, name) == laid.text
    assert in_order(yaml.load(laid.text, yaml.BaseLoader), Shape.of(kind))  # noqa: S506 - as text


def in_order(value: Any, shape: Shape) -> bool:
    if isinstance(value, dict):
        known = shape.keys(value)
        places = [known.index(key) for key in value if key in known]
        return places == sorted(places) and all(in_order(inner, shape.below(key)) for key, inner in value.items())
    return not isinstance(value, list) or all(in_order(one, shape.below(n)) for n, one in enumerate(value))


def top(content: Any, draw: random.Random) -> list[str]:
    lines = []
    for key, inner in content.items():
        if draw.random() < 0.3:
            lines += ["", f"# about {key}"]
        lines += entry(f"{key}:", inner, draw, 0)
    # What stands at the very left is the first level.
    return ["  " + line if line.strip() else line for line in lines]


def typed(value: Any, key: str = "") -> Any:
    if isinstance(value, dict):
        return {name: typed(inner, name) for name, inner in value.items()}
    if isinstance(value, list):
        return [typed(inner, key) for inner in value]
    if value in ("true", "false"):
        return value == "true"
    return (
        int(value)
        if value.isdigit() and key in ("count", "spare", "year", "width", "height", "words_a_minute")
        else value
    )


def model(found: Any) -> Any:
    return [plain(getattr(found, name)) for name in ("clinic", "protocols", "requirements", "screens")]


@pytest.mark.parametrize("name", FILES)
def test_the_demonstration_set_is_laid_out(name: str) -> None:
    assert lay(FILES[name], name) == FILES[name]


def test_keys_come_in_the_order_of_the_schema_with_their_comments() -> None:
    text = """\
# set
kind: part
steps:
    # first of all
    -   do: Rub.
        # who does it
        role: who  # bound
        id: rub


        takes: {most: 3 min, least: 1 min, likely: 2 min}
for: {b: role, a: item}
title: Rub
# end
"""
    assert (
        lay(text, "parts/rub.yaml")
        == """\
# set
kind: part
title: Rub
for: {b: role, a: item}
steps:
  # first of all
  - id: rub
    # who does it
    role: who  # bound
    do: Rub.

    takes: {least: 1 min, likely: 2 min, most: 3 min}
# end
"""
    )


def test_a_long_text_is_put_into_several_lines_and_keeps_its_words() -> None:
    words = " ".join(f"word{number}" for number in range(60))
    text = f"kind: part\ntitle: T\nsteps:\n  - id: a\n    role: who\n    do: {words}\n"
    laid = lay(text, "parts/rub.yaml")
    assert max(map(len, laid.split("\n"))) <= WIDEST
    assert yaml.safe_load(laid) == yaml.safe_load(text)


@pytest.mark.parametrize("habit", ["crlf", "bom", "spaces", "no end", "many ends"])
def test_habits_of_editors_are_put_right(habit: str) -> None:
    text = FILES["parts/hand-rub.yaml"]
    odd = {
        "crlf": text.replace("\n", "\r\n"),
        "bom": "\ufeff" + text,
        "spaces": text.replace("title: Hand rub\n", "title: Hand rub   \n"),
        "no end": text.rstrip("\n"),
        "many ends": text + "\n\n\n",
    }[habit]
    assert odd != text
    assert lay(odd, "parts/hand-rub.yaml") == text


def test_spaces_that_belong_to_a_text_stay() -> None:
    head = "kind: part\ntitle: T\nsteps:\n  - id: a\n    role: who\n"
    text = f"{head}    do: |\n      One.  \n\n      # no comment\n    why: x\n"
    assert lay(text, "parts/rub.yaml") == text


@pytest.mark.parametrize("text", ["a: [", "a: 1\na: 2\n", "a:\n\tb: 1\n", "\x00"])
def test_what_cannot_be_read_is_left_alone_with_the_reason(text: str) -> None:
    laid = laid_out(text.encode(), "case.yaml", "case.yaml")
    assert laid.problems
