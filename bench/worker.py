"""One measurement of the engine, in a process of its own so that its memory can be told: prints one line of JSON."""

from __future__ import annotations

import gc
import json
import sys
import time
from pathlib import Path


def main(folder: str, protocol: str, reduced: str, limit: str) -> None:
    """Reads the set, and proves the one protocol; once as a first run, and quick ones twice more."""
    # As the command does.
    gc.set_threshold(100_000)
    from stepfield.asepsis import compile_protocol, prove
    from stepfield.checks.facts import proved
    from stepfield.language import read_set

    runs: list[tuple[float, float]] = []
    while True:
        started = time.perf_counter()
        whole = read_set(Path(folder))
        asked = next(one for one in whole.protocols if one.id == protocol)
        read = time.perf_counter()
        graph, solved = compile_protocol(asked, whole.requirements), False
        if reduced == "on":
            proof, solved, _ = proved(graph, int(limit))
        else:
            proof = prove(graph, int(limit), reduced=False)
        runs.append((read - started, time.perf_counter() - read))
        if len(runs) == 3 or sum(runs[-1]) > 2:
            break
    told = {
        "read": min(run[0] for run in runs),
        "prove": min(run[1] for run in runs),
        "later": sum(sum(run) for run in runs[1:]),
        "states": proof.states,
        "complete": proof.complete or solved,
        "slips": len(proof.occurrences),
    }
    sys.stdout.write(json.dumps(told) + "\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
