"""A second reading of adopted sets, from plain YAML and by nothing but names: what each step guards, and whom.

It shares nothing with the product but the language's page. It knows parts, choices, answers and the entries of
tailoring.yaml as far as the small sets need that the laws of this folder are tried on.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any

import yaml

LEVELS = ("contaminated", "clean", "disinfected", "sterile")
Guards = Counter[tuple[str, str, int]]
"""How often each thing is asked for: its kind, whom or what it is about, and at which level."""
Scenario = Mapping[str, str]
"""The option of every choice, and the answer of every step that asks."""


@dataclass(slots=True)
class Plain:
    """A protocol: its phases with their cautions, each step with its phase, and the things that are counted."""

    cautions: dict[str, list[str]] = field(default_factory=dict)
    steps: dict[str, tuple[str, dict[str, Any]]] = field(default_factory=dict)
    items: set[str] = field(default_factory=set)
    counted: set[str] = field(default_factory=set)
    choices: dict[str, list[str]] = field(default_factory=dict)


def loaded(files: Mapping[str, bytes]) -> dict[str, Any]:
    """Every file as plain data."""
    return {path: yaml.safe_load(data) for path, data in files.items()}


def protocols_of(documents: Mapping[str, Any]) -> dict[str, Plain]:
    """Every protocol among the documents, with its parts unfolded."""
    return {
        path.removesuffix(".yaml"): _protocol(one, documents)
        for path, one in documents.items()
        if isinstance(one, dict) and one.get("kind") == "protocol"
    }


def _protocol(document: Mapping[str, Any], documents: Mapping[str, Any]) -> Plain:
    plain = Plain(choices={name: list(one["options"]) for name, one in document.get("choices", {}).items()})
    plain.items = set(document.get("items", {}))
    plain.counted = {name for name, thing in document.get("items", {}).items() if thing.get("counted")}
    for phase in document["phases"]:
        plain.cautions[phase["phase"]] = [one["kind"] for one in phase.get("cautions", [])]
        for line in phase["steps"]:
            plain.steps |= {name: (phase["phase"], step) for name, step in _unfolded(line, documents)}
    return plain


def _unfolded(line: Mapping[str, Any], documents: Mapping[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    if "use" not in line:
        yield line["id"], dict(line)
        return
    bound = line.get("with", {})
    for step in documents[f"parts/{line['use']}.yaml"]["steps"]:
        yield f"{line['as']}.{step['id']}", _bound(step, bound)


def _bound(value: Any, bound: Mapping[str, str]) -> Any:
    """A value with the names that a part binds replaced, alone or before a dot."""
    if isinstance(value, dict):
        return {_bound(key, bound): _bound(one, bound) for key, one in value.items()}
    if isinstance(value, list):
        return [_bound(one, bound) for one in value]
    name, dot, rest = str(value).partition(".")
    return f"{bound[name]}{dot}{rest}" if name in bound and " " not in str(value) else value


def scenarios(plain: Plain) -> Iterator[Scenario]:
    """Every combination of options and answers."""
    asked = {name: step["asks"]["answers"] for name, (_, step) in plain.steps.items() if "asks" in step}
    open_ = {**plain.choices, **asked}
    for values in itertools.product(*open_.values()):
        yield dict(zip(open_, values, strict=True))


def done_in(plain: Plain, scenario: Scenario) -> dict[str, dict[str, Any]]:
    """The steps that are done; one that waits for the answer of a step that is not done is not done either."""
    done = {name: step for name, (_, step) in plain.steps.items()}
    while True:
        kept = {name: step for name, step in done.items() if _met(step, scenario, done, plain)}
        if len(kept) == len(done):
            return kept
        done = kept


def _met(step: Mapping[str, Any], scenario: Scenario, done: Mapping[str, Any], plain: Plain) -> bool:
    for name, wanted in step.get("when", {}).items():
        if name not in plain.choices and name not in done:
            return False
        if scenario.get(name) not in ([wanted] if isinstance(wanted, str) else wanted):
            return False
    return True


def guards_of(step: Mapping[str, Any]) -> Guards:
    """What a step guards, each as many times as it holds at its level or a lower one.

    The hands and body of whoever does the step are the same, whoever that is.
    """
    own = f"{step['role']}."
    found: Guards = Counter()
    needs = dict(step.get("needs", {}))
    if step.get("sterile"):
        needs |= {f"{own}hands": "sterile", f"{own}body": "sterile"}
    for subject, level in needs.items():
        name = f"own.{subject.removeprefix(own)}" if subject.startswith(own) else subject
        found.update(("need", name, number) for number in range(1, LEVELS.index(level) + 1))
    for subject, level in step.get("makes", {}).items():
        found.update(("reset", subject, number) for number in range(LEVELS.index(level) + 1))
    for thing in step.get("counts", []):
        found["count", thing, 0] = 1
    found.update(("caution", one["kind"], 0) for one in step.get("cautions", []))
    return found


def tailored(plain: Plain, name: str, tailoring: Mapping[str, Any]) -> Plain:
    """A protocol as the entries of a tailoring.yaml make it, each taken to meet what it names."""
    found = deepcopy(plain)
    changes = [one for one in tailoring.get("changes") or [] if one["protocol"] == name]
    for one in changes:
        if "step" in one:
            phase, step = found.steps[one["step"]]
            left = {key: value for key, value in step.items() if key not in one.get("clear", [])}
            found.steps[one["step"]] = phase, {**left, **one.get("set", {})}
        elif "add" in one:
            (anchor,) = one["place"].values()
            found.steps[one["add"]["id"]] = found.steps[anchor][0], dict(one["add"])
    for one in changes:
        if "drop" in one:
            del found.steps[one["drop"]]
    for item, thing in (tailoring.get("items") or {}).items():
        if "counted" in thing and item in found.items:
            found.counted = found.counted | {item} if thing["counted"] else found.counted - {item}
    for choice, option in (tailoring.get("choose") or {}).get(name, {}).items():
        found.choices[choice] = [option]
    return found


@dataclass(frozen=True, slots=True)
class Lost:
    """Something that the one text guards and the other does not: at which step, phase or thing."""

    protocol: str
    where: str
    name: str
    what: tuple[object, ...]


def lost_between(protocol: str, before: Plain, after: Plain, settled: Sequence[Scenario]) -> Iterator[Lost]:
    """What the first text guards and the second does not, in any of the scenarios."""
    for scenario in settled:
        was, now = done_in(before, scenario), done_in(after, scenario)
        for name, step in was.items():
            gone = guards_of(step) - (guards_of(now[name]) if name in now else Counter())
            if gone:
                yield Lost(protocol, "step", name, (*gone, *sorted(scenario.items())))
        for phase in {before.steps[name][0] for name in was}:
            missing = Counter(before.cautions[phase]) - Counter(after.cautions.get(phase, ()))
            if missing:
                yield Lost(protocol, "phase", phase, (*missing,))
    yield from (Lost(protocol, "thing", name, ("counted",)) for name in sorted(before.counted - after.counted))
