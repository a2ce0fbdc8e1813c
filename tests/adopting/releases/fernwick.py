"""An invented clinic that adopted the demonstration set, and what its lead writes when a release is taken in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

NAME = "Fernwick Hand and Foot Clinic"
TAILORING = (Path(__file__).parent / "fernwick.yaml").read_bytes()
"""What it does otherwise from the beginning on."""


@dataclass(frozen=True, slots=True)
class Settling:
    """What is decided on catching up, and then written into tailoring.yaml by hand, as (before, after)."""

    keep: frozenset[str] = frozenset()
    writes: tuple[tuple[str, str], ...] = ()

    def written(self, tailoring: bytes) -> bytes:
        """The text of tailoring.yaml with what is written by hand."""
        text = tailoring.decode()
        for before, after in self.writes:
            assert text.count(before) == 1, before
            text = text.replace(before, after)
        return text.encode()


def _kept(*names: str) -> frozenset[str]:
    return frozenset(names)


SETTLED: Mapping[str, Settling] = {
    # The towel goes on once the signal is in the other hand.
    "3.1.0": Settling(writes=(("place: {after: settle}", "place: {after: call-signal}"),)),
    # Lost entries are kept, and then say the new names.
    "3.4.0": Settling(_kept("wrist-release/stop-bleeding"), (("drop: stop-bleeding", "drop: seal-vessels"),)),
    "3.5.0": Settling(_kept("wrist-release/warm-hand"), (("place: {after: call-signal}", "place: {after: settle}"),)),
    # Five minutes are still more than the four of the baseline.
    "3.6.0": Settling(_kept("wrist-release/skin.check-dry")),
    "3.8.0": Settling(_kept("toenail/settle"), (("protocol: toenail", "protocol: ingrown-nail"),)),
}
"""By the version taken in; with every other one there is nothing to decide."""


def settled(version: str) -> Settling:
    """What the lead does about a release."""
    return SETTLED.get(version, Settling())
