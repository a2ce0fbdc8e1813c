"""From the bytes of a folder's files to a protocol set. Pure: nothing is read or written here but the schemas."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from collections.abc import Mapping as Map
from dataclasses import dataclass, field, replace

from . import schemas
from .accepted import read_accepted
from .evidence import Evidence, read_evidence
from .files import folder_of, is_reserved, misplaced, place_of, unstorable
from .heads import read_clinic
from .model import Accepted, Clinic, Passed, Protocol, ProtocolSet, Screens
from .names import Lookup, quoted
from .pack_plan import read_pack_plan
from .parts import loops, twice_named
from .protocols import Surroundings, read_protocol
from .renaming import Part
from .resolve import Requirements
from .screens import read_screens
from .source import Problem, Span, Text
from .steps import read_lines
from .tailor import Tailor
from .tailored import Upstream
from .tailoring import read_tailoring, read_upstream
from .unused import unused_binds, unused_parts, unused_surfaces
from .values import entries, text, text_if
from .yaml_nodes import Document, Mapping
from .yaml_reader import read_yaml
from .yaml_text import decoded


def build_set(files: Map[str, bytes], folder: str | None = None, passed: Iterable[Passed] = ()) -> ProtocolSet:
    """Builds a protocol set from the bytes of its files. Never raises, whatever the bytes.

    ``files`` maps each file's path, as findings shall show it (``protocols/clinic.yaml``), to its content.
    ``folder`` is the set's folder as it stands in those paths; if it is not given, it is the one clinic.yaml lies in.
    Files of protocols that ``passed`` an earlier check are not read.
    What is wrong stands in ``problems`` of the result.
    """
    building = _Building(folder_of(files) if folder is None else folder)
    building.passed = {one.path: one for one in passed}
    for path in sorted(files):
        if path in building.passed:
            building.sources[path] = decoded(files[path], path)[0]
        else:
            building.take(path, files[path])
    building.upstream = building.read_upstream(files)
    return building.done()


@dataclass(slots=True)
class _Building:
    """A protocol set on the way: the documents that can be used, by kind of file, and the problems of all."""

    folder: str
    problems: list[Problem] = field(default_factory=list)
    sources: dict[str, str] = field(default_factory=dict)
    documents: dict[str, dict[str, Document | None]] = field(default_factory=dict)
    passed_over: bool = False
    """Whether some file is read as nothing, because of its name or place."""
    passed: dict[str, Passed] = field(default_factory=dict)
    upstream: Upstream | None = None

    def take(self, path: str, data: bytes) -> None:
        """Reads one file and holds it against the schema of its kind."""
        place = place_of(path, self.folder)
        problem = misplaced(place)
        reading = read_yaml(data, path)
        self.sources[path] = reading.text
        found = [problem] if problem else []
        self.passed_over = self.passed_over or not place.kind
        if place.kind:
            found += [replace(problem, protocol=place.protocol) for problem in reading.problems]
            document = reading.document
            if document is not None and not schemas.fits(place.kind, document.plain()):
                from .shapes import shape_problems

                found += shape_problems(place.kind, document, place.protocol)
            self.documents.setdefault(place.kind, {})[place.id] = None if found else document
        self.problems += found

    def done(self) -> ProtocolSet:
        """The set, once every file is taken."""
        tailor = self._tailor()
        clinic = self._clinic()
        if clinic is not None and tailor is not None:
            clinic = tailor.clinic(clinic)
        evidence = self._evidence()
        names = None if evidence is None else Requirements(evidence.names, evidence.set_names)
        around = Surroundings(clinic, self._parts(), self._places(), names, tailor)
        protocols: list[Protocol] = []
        unsound: set[str] = set()
        unreadable: list[str] = []
        written = self.documents.get("protocol", {})
        for name, document in sorted(written.items()):
            protocol, sound = None, True
            if tailor is not None and tailor.leaves_out(name):
                continue
            if document is not None:
                protocol, sound = read_protocol(name, document, around, self.problems)
            if protocol is None:
                unreadable.append(name)
            else:
                protocols.append(protocol)
                if not sound:
                    unsound.add(name)
        tailoring = None if tailor is None else tailor.done(written, unreadable, judged=not self.passed)
        parts = [part for part in around.parts.values() if part]
        used: list[Protocol | Passed] = [*protocols, *self.passed.values()]
        if used and not (unsound or unreadable or self.passed_over or len(parts) < len(around.parts)):
            self.problems += unused_parts((part for part in parts if not self._is_adopted(part.path)), used)
            self.problems += unused_surfaces(clinic, used) if clinic else ()
        self.problems += list(unused_binds(parts, self.problems))
        screens = self._screens(protocols, unreadable)
        accepted = self._accepted()
        self._packs(protocols, unreadable)
        problems = tuple(_once(self.problems))
        return ProtocolSet(
            clinic,
            tuple(protocols),
            () if evidence is None else evidence.requirements,
            problems,
            self.sources,
            frozenset(unsound),
            tuple(unreadable),
            screens,
            tuple(self.passed.values()),
            {} if evidence is None else evidence.sets,
            None if evidence is None else evidence.aged_after,
            tailoring=tailoring,
            upstream=self.upstream,
            accepted=accepted,
        )

    def read_upstream(self, files: Map[str, bytes]) -> Upstream | None:
        """Where the set came from, if it was adopted from another."""
        document = self.documents.get("upstream", {}).get("upstream")
        return None if document is None else read_upstream(document, files, self.folder)

    def _is_adopted(self, path: str) -> bool:
        """Whether a file came with an adopted set: that it is not used here is no slip in it."""
        inside = path.removeprefix(f"{self.folder}/") if self.folder else path
        return self.upstream is not None and inside in self.upstream.digests

    def _tailor(self) -> Tailor | None:
        document = self.documents.get("tailoring", {}).get("tailoring")
        return None if document is None else Tailor(read_tailoring(document, self.problems), self.problems)

    def _clinic(self) -> Clinic | None:
        if "clinic" not in self.documents:
            path = f"{self.folder}/clinic.yaml" if self.folder else "clinic.yaml"
            message = "the file clinic.yaml is missing: it names the clinic, its roles and its surfaces"
            hint = "add it beside the protocols: clinic: …, roles: {…}"
            self.problems.append(Problem("bad-shape", Span(path, 1, 1, 1, 1), message, subject="clinic", hint=hint))
        document = self.documents.get("clinic", {}).get("clinic")
        if document is None:
            return None
        clinic = read_clinic(document, self.problems)
        self.problems += [
            Problem(
                "bad-shape", role.id.span, unstorable(role.id.value), subject=role.id.value, hint="call it otherwise"
            )
            for role in clinic.roles
            if is_reserved(role.id.value)
        ]
        return clinic

    def _evidence(self) -> Evidence | None:
        document = self.documents.get("evidence", {}).get("evidence")
        return None if document is None else read_evidence(document, self.problems)

    def _screens(self, protocols: list[Protocol], unreadable: list[str]) -> Screens:
        document = self.documents.get("screens", {}).get("screens")
        return Screens() if document is None else read_screens(document, protocols, unreadable, self.problems)

    def _packs(self, protocols: list[Protocol], unreadable: list[str]) -> None:
        """Notes what a plan for packs names and nothing declares; the plan itself is read by who asks for packs."""
        document = self.documents.get("packs", {}).get("packs")
        if document is not None:
            read_pack_plan(document, protocols, unreadable, self.problems)

    def _accepted(self) -> tuple[Accepted, ...]:
        document = self.documents.get("accepted", {}).get("accepted")
        return () if document is None else read_accepted(document, self.problems)

    def _places(self) -> dict[str, Text]:
        """Where each part begins, by its id."""
        found = {}
        for name in self.documents.get("part", {}):
            path = f"{self.folder}/parts/{name}.yaml" if self.folder else f"parts/{name}.yaml"
            found[name] = Text(name, Span(path, 1, 1, 1, 1))
        return found

    def _parts(self) -> dict[str, Part | None]:
        parts: dict[str, Part | None] = {}
        for name, document in self.documents.get("part", {}).items():
            parts[name] = None if document is None else self._part(name, document)
        for loop in loops(parts):
            round_it = [loop[-1].value, *(use.value for use in loop)]
            message = f"parts use one another in a loop: {' → '.join(map(quoted, round_it))}"
            related = tuple((use.span, f"{quoted(use.value)} is used here") for use in loop[1:])
            owner = loop[-1].value
            hint = "take one of these uses out"
            self.problems.append(Problem("order-loop", loop[0].span, message, owner, None, owner, hint, related))
        return parts

    def _part(self, name: str, document: Document) -> Part | None:
        root = document.root
        assert isinstance(root, Mapping)
        found: list[Problem] = []
        title, names = text_if(root, "title"), entries(root.get("for"))
        assert title is not None
        part = Part(
            id=name,
            path=document.path,
            title=title,
            binds={entry.key.value: text(entry.value).value for entry in names},
            declared=tuple(entry.key for entry in names),
            lines=read_lines(root.get("steps"), found),
        )
        lookup = Lookup(name)
        for again, first in twice_named(part):
            lookup.taken(again, first, again.value)
        self.problems += [*(replace(problem, protocol=name) for problem in found), *lookup.problems]
        return None if found else part


def _once(problems: list[Problem]) -> Iterator[Problem]:
    """Every problem once, in the order of the files: a slip in a part is one, however many protocols use the part."""
    seen = set()
    for problem in sorted(problems, key=lambda problem: (problem.span, problem.rule, problem.message)):
        key = (problem.rule, problem.span, problem.message)
        if key not in seen:
            seen.add(key)
            yield problem
