"""Writing a mend into the texts of a protocol set, and judging what comes of it. Pure: no file is touched."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from ..asepsis import DEFAULT_LIMIT
from ..language.build import build_set
from ..language.editing import CannotEditError, Editor
from ..language.files import folder_of, place_of
from ..language.model import Protocol, ProtocolSet, Step
from ..language.source import Span
from .finding import Addition, Finding, Mend
from .run import Report, check_set

Keys = frozenset[tuple[str, str, str, str]]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a wait is written: the line at ``span`` comes after ``name``."""

    span: Span
    name: str


def changed_texts(protocol_set: ProtocolSet, protocol: Protocol, mend: Mend) -> dict[str, str]:
    """The texts of the files that a mend changes, by path, with the mend written into them.

    Raises CannotEditError, with the reason, if it can't be written by additions alone.
    """
    steps = {step.id.value: step for step in protocol.steps}
    editors: dict[str, Editor] = {}

    def editor(path: str) -> Editor:
        if path not in editors:
            editors[path] = Editor(protocol_set.sources.get(path, ""), path)
        return editors[path]

    for span, names in _waits(mend, steps):
        editor(span.path).wait(span, names)
    if mend.addition is not None:
        _add(editor(protocol.path), mend.addition, steps)
    return {path: one.result() for path, one in editors.items()}


def wait_place(step: Step, other: str) -> Place:
    """Where it is written that a step comes after another (by its full name), and by which name.

    Inside a part its own steps go by their short names; what stands outside is waited for by the whole use of the part.
    """
    mine, theirs = step.id.value.split("."), other.split(".")
    depth = 0
    while depth < min(len(mine), len(theirs)) - 1 and mine[depth] == theirs[depth]:
        depth += 1
    name = ".".join(theirs[depth:])
    return Place(step.span if depth == len(mine) - 1 else step.used_at[depth], name)


def line_of(step: Step) -> Span:
    """The line of the protocol's own file that a step comes from: the step itself, or the use of a part."""
    return step.used_at[0] if step.used_at else step.span


def judged(
    protocol_set: ProtocolSet,
    changed: Mapping[str, str],
    today: datetime.date,
    limit: int = DEFAULT_LIMIT,
    only: Protocol | None = None,
) -> Report:
    """The report on the set with some of its texts changed; of one protocol with all parts, if ``only`` is given."""
    texts = {**protocol_set.sources, **changed}
    if only is not None:
        others = {*protocol_set.paths.values()} - {only.path}
        # The lists of the days and the plan for packs name the other protocols: without these, all would be missing.
        folder = folder_of(texts)
        others |= {path for path in texts if place_of(path, folder).kind in ("screens", "packs")}
        texts = {path: text for path, text in texts.items() if path not in others}
    return check_set(build_set({path: text.encode() for path, text in texts.items()}), today, limit=limit)


def helps(finding: Finding, before: Report, after: Report, only: Protocol | None = None) -> bool:
    """Whether a finding is gone and no other has come; ``only`` if the later report is on that protocol alone.

    What could be proved before must be proved still.
    """
    told = _keys(after, only)
    unproved = {one.protocol.id for one in before.facts.examined if one.unproved is not None}
    still = all(one.unproved is None or one.protocol.id in unproved for one in after.facts.examined)
    lost = only is not None and only.id not in after.facts.by_id
    return still and not lost and finding.key not in told and told <= _keys(before, only)


def _keys(report: Report, only: Protocol | None) -> Keys:
    return frozenset(
        finding.key
        for finding in report.findings
        if only is None or finding.protocol == only.id or finding.rule in ("bad-yaml", "bad-shape", "unknown-name")
    )


def _waits(mend: Mend, steps: Mapping[str, Step]) -> Iterator[tuple[Span, list[str]]]:
    """The places where waits are written, each once, with all that is waited for there."""
    places: dict[Span, list[str]] = {}
    for wait in mend.waits:
        for other in wait.after:
            place = wait_place(steps[wait.step], other)
            names = places.setdefault(place.span, [])
            if place.name not in names:
                names.append(place.name)
    yield from places.items()


def _add(editor: Editor, addition: Addition, steps: Mapping[str, Step]) -> None:
    beside = line_of(steps[addition.beside])
    if addition.again is not None:
        again = steps[addition.again]
        if again.used_at:
            raise CannotEditError(f"'{again.id}' stands in the part '{again.part}'")
        editor.again(again.span, addition.name, addition.after, beside, behind=addition.behind)
        return
    assert addition.part is not None
    editor.use(
        {
            "use": addition.part,
            "as": addition.name,
            **({"with": dict(addition.bound)} if addition.bound else {}),
            **({"after": list(addition.after)} if addition.after else {}),
        },
        beside,
        behind=addition.behind,
    )


class Fixing:
    """Writes mends of a report's findings into the texts of its whole set, and judges the whole set anew.

    ``limit`` bounds the states of one protocol.
    """

    def __init__(self, report: Report, limit: int = DEFAULT_LIMIT) -> None:
        self.report, self.limit = report, limit
        self.protocol_set, self.today = report.facts.protocol_set, report.facts.today

    @cached_property
    def before(self) -> Report:
        """The report on the whole set as it is, also where only some of its files were asked for."""
        return judged(self.protocol_set, {}, self.today, self.limit)

    def texts(self, finding: Finding, mend: Mend) -> dict[str, str]:
        """The changed texts by path, if the finding is gone with them and no other has come in the whole set.

        Raises CannotEditError, with the reason, if that can't be had.
        """
        examined = self.report.facts.by_id.get(finding.protocol or "")
        if examined is None:
            raise CannotEditError("the protocol cannot be read as meant")
        texts = changed_texts(self.protocol_set, examined.protocol, mend)
        after = judged(self.protocol_set, texts, self.today, self.limit)
        if not helps(finding, self.before, after):
            others = _keys(after, None) - _keys(self.before, None)
            told = ", ".join(sorted({f"{rule} in '{protocol}'" for rule, protocol, *_ in others}))
            raise CannotEditError(f"written there it would bring {told}" if told else "written there it would not do")
        return texts
