"""Cases drawn from published material, as files: right ways of working, wrong ones made from them, what stays unseen.

A file names its ``topic``, the ``scene`` its cases share (team, things, ``evidence``, the steps ``before`` and
``after`` each case, the ``rules`` that are run), and then

- ``right``: whole ways of working, which must give no finding; ``published`` lists the steps whose order the source
  gives;
- ``wrong``: a right case (``from``) with a change, and every finding it must give (``finds``);
- ``harmless``: a change that a source allows; ``unseen``: one the source forbids and the language cannot tell. Both say
  ``because`` why, and must give no finding: when the checker learns to see one, its entry has to move.

A finding reads ``[sometimes] RULE at STEP on SUBJECT [if NAME=VALUE ...]``; without ``sometimes`` every order gives it.
"""

from __future__ import annotations

import copy
import datetime
import itertools
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from stepfield.checks import Finding, check_set
from stepfield.checks.rule import all_rules
from stepfield.language import build_set

HERE = Path(__file__).parent
TODAY = datetime.date(2026, 1, 15)
KINDS = ("right", "wrong", "harmless", "unseen")
DANGERS = ("sharps", "fire", "chemical", "splash", "general")
ALWAYS = ("order-loop", "asked-later", "never-reached", "not-proved")
"""Run for every case: a protocol whose orders were not all looked at proves nothing."""
Step = dict[str, Any]


@dataclass(frozen=True)
class Case:
    """One way of working and what must be said of it."""

    topic: str
    kind: str
    name: str
    sources: tuple[str, ...]
    scene: Mapping[str, Any]
    steps: tuple[Step, ...]
    finds: frozenset[str]
    because: str | None
    published: tuple[str, ...]
    came_from: str | None
    swapped: frozenset[str]

    def __str__(self) -> str:
        return f"{'+'.join(self.sources)}: {self.kind}: {self.name}"


def load(path: Path) -> list[Case]:
    """Every case of one file, the changed ones made from the right ones."""
    written = yaml.safe_load(path.read_text(encoding="utf-8"))
    assert set(written) <= {"topic", "scene", *KINDS}, f"{path.name}: unknown field"
    whole = {entry["name"]: entry for entry in written["right"]}
    return [_case(written, kind, entry, whole) for kind in KINDS for entry in written.get(kind, [])]


def load_all() -> list[Case]:
    """The cases of every file."""
    return [case for path in sorted((HERE / "cases").glob("*.yaml")) for case in load(path)]


def _case(written: dict[str, Any], kind: str, entry: dict[str, Any], whole: dict[str, dict[str, Any]]) -> Case:
    origin = entry if kind == "right" else whole[entry["from"]]
    source = entry.get("source", origin["source"])
    return Case(
        topic=written["topic"],
        kind=kind,
        name=entry.get("name") or _told(entry),
        sources=(source,) if isinstance(source, str) else tuple(source),
        scene=written["scene"],
        steps=tuple(changed(copy.deepcopy(origin["steps"]), {} if kind == "right" else entry)),
        finds=frozenset(entry.get("finds", [])),
        because=entry.get("because"),
        published=tuple(origin.get("published", [])),
        came_from=entry.get("from"),
        swapped=frozenset(entry.get("swap", [])),
    )


def _told(entry: dict[str, Any]) -> str:
    verbs = ((verb, entry[verb]) for verb in ("swap", "drop", "set", "add") if verb in entry)
    return "; ".join(f"{verb} {', '.join(what) if isinstance(what, list) else what}" for verb, what in verbs)


def changed(steps: list[Step], change: dict[str, Any]) -> list[Step]:
    """The steps with two of them swapped, some dropped, fields set (null takes one out), or a step added after one."""
    if "swap" in change:
        one, other = (place_of(steps, name) for name in change["swap"])
        steps[one], steps[other] = steps[other], steps[one]
    for name, fields in change.get("set", {}).items():
        step = steps[place_of(steps, name)]
        step |= fields
        for field in [field for field, value in step.items() if value is None]:
            del step[field]
    for name in change.get("drop", []):
        del steps[place_of(steps, name)]
    for name, step in change.get("add", {}).items():
        steps.insert(place_of(steps, name) + 1, step)
    return steps


def place_of(steps: list[Step], name: str) -> int:
    """Where the named step stands; ValueError if there is none."""
    return [step["id"] for step in steps].index(name)


def protocol_of(scene: Mapping[str, Any], steps: tuple[Step, ...]) -> dict[str, Any]:
    """The protocol that a case stands for. Cautions are another rule's business, so every kind is given."""
    things = {name: scene[name] for name in ("choices", "surfaces", "sites", "items", "packs") if name in scene}
    stretches = {"before": scene.get("before", []), "case": steps, "after": scene.get("after", [])}
    cautions = [{"kind": kind, "text": "Take care."} for kind in DANGERS]
    phases = [
        {"phase": name, "cautions": cautions, "steps": [_filled(step, scene["team"][0]) for step in stretch]}
        for name, stretch in stretches.items()
        if stretch
    ]
    return {"kind": "protocol", "title": "A case", "team": scene["team"], **things, "phases": phases}


def _filled(step: Step, role: str) -> Step:
    return {"role": role, "do": step["id"].replace("-", " "), **step}


def findings_of(
    protocol: dict[str, Any], rules: list[str] | None = None, evidence: dict[str, Any] | None = None
) -> tuple[Finding, ...]:
    """What the project says of a protocol, from its text to the findings that are errors or warnings."""
    clinic = {"clinic": "Quillhaven Day Surgery", "roles": {role: {} for role in protocol["team"]}}
    files = {"protocols/clinic.yaml": clinic, "protocols/case.yaml": protocol}
    if evidence is not None:
        files["protocols/evidence.yaml"] = {"requirements": evidence}
    protocol_set = build_set({path: json.dumps(said).encode() for path, said in files.items()})
    assert [problem.message for problem in protocol_set.problems if problem.rule != "unused-name"] == []
    wanted = None if rules is None else {*rules, *ALWAYS}
    chosen = [rule for rule in all_rules() if wanted is None or rule.name in wanted]
    assert wanted is None or len(chosen) == len(wanted), f"unknown rule among {rules}"
    report = check_set(protocol_set, TODAY, rules=chosen)
    return tuple(finding for finding in report.findings if finding.severity.value != "note")


def told(findings: tuple[Finding, ...]) -> frozenset[str]:
    """Findings in the words of a case file."""
    return frozenset(_sentence(finding) for finding in findings)


def _sentence(finding: Finding) -> str:
    facts = sorted({f"{name}={value}" for scenario in finding.scenarios for name, value in scenario.items()})
    when = f" if {' '.join(facts)}" if facts else ""
    sure = "" if finding.always else "sometimes "
    return f"{sure}{finding.rule} at {finding.step or 'the end'} on {finding.subject}{when}"


def neighbours(published: tuple[str, ...]) -> Iterator[frozenset[str]]:
    """Each step of a published order with the next one."""
    yield from (frozenset(pair) for pair in itertools.pairwise(published))
