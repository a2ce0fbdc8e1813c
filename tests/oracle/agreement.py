"""Puts the engine and the second reading side by side for one small protocol."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stepfield import asepsis
from stepfield.language import build_set
from stepfield.language.model import Protocol, ProtocolSet
from tests.oracle.naive import Scene, Slip
from tests.oracle.naive_runs import Place, Runs, Settling, Verdict, Walk, judge, run_all, settlings, shortest, unfolded

Case = dict[str, Any]


def read(case: Case) -> ProtocolSet:
    """The set as the project reads it; JSON is YAML."""
    names = {"clinic": "clinic.yaml", "protocol": "small.yaml", "evidence": "evidence.yaml", "part": "parts/moved.yaml"}
    protocol_set = build_set({f"protocols/{names[part]}": json.dumps(case[part]).encode() for part in case})
    told = [problem.message for problem in protocol_set.problems if problem.rule != "unused-name"]
    assert told == []
    return protocol_set


@dataclass
class Opinion:
    """What the second reading says of a protocol: all runs and verdicts by settling, and the steps that no run does."""

    runs: dict[Settling, Runs]
    verdicts: dict[Settling, dict[Slip, Verdict]]
    never: set[str]


def second_opinion(case: Case) -> Opinion:
    """Runs the whole protocol the slow way."""
    scene = Scene(case["clinic"], case["protocol"], case.get("evidence", {}))
    runs = {choices: run_all(scene, case["protocol"], choices) for choices in settlings(case["protocol"])}
    done = {name for some in runs.values() for edges in some.edges for name, _, _, _ in edges}
    steps = {step["id"] for phase in case["protocol"]["phases"] for step in phase["steps"]}
    return Opinion(runs, {choices: judge(some) for choices, some in runs.items()}, steps - done)


def tracked(case: Case) -> set[str]:
    """Steps whose answer some condition looks at."""
    steps = [step for phase in case["protocol"]["phases"] for step in phase["steps"]]
    return {name for step in steps for name in step.get("when", {})} & set(unfolded(steps))


def differences(case: Case, engine_reads: Case | None = None) -> list[str]:
    """Everything in which the engine and the second reading differ; empty when they agree.

    ``engine_reads`` gives the engine another case to read, to try that a difference is seen.
    """
    protocol_set = read(engine_reads or case)
    (protocol,) = protocol_set.protocols
    graph = asepsis.compile_protocol(protocol, protocol_set.requirements)
    proof = asepsis.prove(graph)
    assert proof.complete
    opinion = second_opinion(case)
    never = {protocol.steps[number].id.value for number in proof.never}
    told = [f"never done: {sorted(never)}, expected {sorted(opinion.never)}"] if never != opinion.never else []
    engine = {_key(protocol, occurrence): occurrence for occurrence in proof.occurrences}
    naive = {slip for verdicts in opinion.verdicts.values() for slip in verdicts}
    told += [f"missing {slip}" for slip in sorted(naive - set(engine), key=str)]
    told += [f"too much {slip}" for slip in sorted(set(engine) - naive, key=str)]
    for slip in sorted(naive & set(engine), key=str):
        told += [f"{slip}: {text}" for text in _compare(case, slip, engine[slip], opinion)]
        told += [f"{slip}: {text}" for text in _replays(case, protocol, graph, engine[slip])]
    return told


def _key(protocol: Protocol, occurrence: asepsis.Occurrence) -> Slip:
    slip = occurrence.slip
    return (slip.kind, None if slip.step is None else protocol.steps[slip.step].id.value, slip.subject)


def _compare(case: Case, slip: Slip, occurrence: asepsis.Occurrence, opinion: Opinion) -> list[str]:
    """Scenarios by their meaning, ``always``, and the length of the witness in the first of them.

    A scenario stands for every complete run with its choices and its answers. Together those listed must stand for just
    the runs among which some make the slip.
    """
    told = []
    looked_at = tracked(case)
    always = True
    for settling, verdicts in opinion.verdicts.items():
        verdict = verdicts.get(slip, Verdict())
        with_it, without = ({_only(end, looked_at) for end in ends} for ends in (verdict.slipping, verdict.clean))
        always = always and not with_it & without
        for _, end in opinion.runs[settling].ends.values():
            answers = _only(end, looked_at)
            facts = {*settling, *answers}
            if any(set(scenario.items()) <= facts for scenario in occurrence.scenarios) != (answers in with_it):
                told.append(f"scenarios {[dict(scenario) for scenario in occurrence.scenarios]}, at {sorted(facts)}")
    if occurrence.always != always:
        told.append(f"always {occurrence.always}, expected {always}")
    length = _shortest_in_first(occurrence, slip, opinion)
    if len(occurrence.witness) != length:
        told.append(f"witness of {len(occurrence.witness)}, expected {length}")
    return sorted(set(told))


def _only(answers: Settling, names: set[str]) -> Settling:
    return tuple(pair for pair in answers if pair[0] in names)


def _shortest_in_first(occurrence: asepsis.Occurrence, slip: Slip, opinion: Opinion) -> int | None:
    """Steps of a shortest run that shows the slip in the first scenario listed; what that does not name is free."""
    lengths = []
    for settling, runs in opinion.runs.items():
        if fits(occurrence.scenarios[0], settling):
            answers = {name: answer for name, answer in occurrence.scenarios[0].items() if name not in dict(settling)}
            lengths.append(shortest(runs, slip, answers))
    return min((length for length in lengths if length is not None), default=None)


def fits(scenario: Mapping[str, str], settling: Settling) -> bool:
    """Whether a scenario allows this settling of the choices."""
    return all(scenario.get(name, option) == option for name, option in settling)


def _replays(case: Case, protocol: Protocol, graph: asepsis.StepGraph, occurrence: asepsis.Occurrence) -> list[str]:
    """The witness must be a run of the protocol, and show the slip when it is replayed."""
    steps = [number for number, _ in occurrence.witness]
    moments = asepsis.replay(graph, steps)
    shown = [*(moments[-1].slips if moments else ()), *asepsis.slips_at_end(graph, moments)]
    told = []
    if (occurrence.slip.kind, occurrence.slip.step, occurrence.slip.subject) not in {
        (s.kind, s.step, s.subject) for s in shown
    }:
        told.append("the witness does not show it")
    settled = [choices for choices in settlings(case["protocol"]) if fits(occurrence.scenarios[0], choices)]
    walks = [Walk(case["protocol"], choices) for choices in settled]
    places = {(walk, walk.pass_over(Place())) for walk in walks}
    for number, answer in occurrence.witness:
        name = protocol.steps[number].id.value
        places = {
            (walk, there)
            for walk, place in places
            if name in walk.ready(place)
            for given, there in walk.after(place, name)
            if answer in (None, given)
        }
        if not places:
            return [*told, f"the witness cannot do {name} with the answer {answer} then"]
    return told
