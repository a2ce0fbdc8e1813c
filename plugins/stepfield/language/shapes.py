"""What does not fit a schema, told at its place: what was expected, what stands there, and what is nearest to it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from .guesses import guess, stands
from .names import listed, near, quoted
from .schemas import KINDS, Misfit, misfits
from .source import Problem, Span
from .yaml_nodes import Document, Mapping, Route, Scalar

MOST_TOLD = 500


def shape_problems(kind: str, document: Document, protocol: str | None) -> list[Problem]:
    """Every place where a document does not fit the schema of its kind, at most 500 of them.

    What only follows from another slip is left out: a field that is missing because it is misspelled is told once,
    and of a file of another kind only that is told.
    """
    teller = _Teller(document, protocol)
    wrong = _wrong_kind(kind, document)
    if wrong is not None:
        return [teller.problem(("kind",), wrong[0], "kind", wrong[1])]
    found = list(islice(misfits(kind, document.plain()), MOST_TOLD))
    if not found:
        return [
            teller.problem(
                (), "the file does not fit its schema, in a way that cannot be told more closely", kind, None
            )
        ]
    return list(teller.told(found))


def _wrong_kind(kind: str, document: Document) -> tuple[str, str] | None:
    node = document.at(("kind",))
    if (
        kind not in ("protocol", "part")
        or not isinstance(node, Scalar)
        or node.value == kind
        or node.value not in KINDS
    ):
        return None
    where = "the folder parts" if kind == "part" else "the set's folder"
    message = f"a file in {where} must be a {kind}, and this one says kind: {node.value}"
    parts_live = "parts lie in the folder parts, protocols beside it"
    return message, f"move the file ({parts_live}), or write kind: {kind}"


class _Teller:
    """Turns misfits of one document into problems."""

    def __init__(self, document: Document, protocol: str | None) -> None:
        self.document = document
        self.protocol = protocol

    def told(self, found: list[Misfit]) -> Iterator[Problem]:
        """One problem for each slip behind the misfits."""
        strange = {misfit.route: _strange_keys(misfit) for misfit in found if _is_strange(misfit)}
        uses = [route for route, guesses in strange.items() if "use" in guesses.values()]
        told: set[tuple[Route, str, str]] = set()
        for misfit in found:
            guesses = strange.get(misfit.route, {})
            if _follows(misfit, uses):
                continue
            for problem in self._problems(misfit, guesses):
                key = (misfit.route, misfit.keyword, problem.subject or "")
                if key not in told:
                    told.add(key)
                    yield problem

    def _problems(self, misfit: Misfit, guesses: dict[str, str | None]) -> Iterator[Problem]:
        if misfit.of_key:
            yield self._bad_key(misfit)
        elif _is_strange(misfit):
            yield from self._strange(misfit, guesses)
        elif misfit.keyword in ("required", "dependentRequired"):
            yield from self._missing(misfit, guesses)
        else:
            yield self._unfit(misfit)

    def problem(self, route: Route, message: str, subject: str, hint: str | None, span: Span | None = None) -> Problem:
        """A problem about the value at a route."""
        at = span or self.document.span_of(route)
        return Problem("bad-shape", at, message, self.protocol, self._step(route), subject, hint)

    def _bad_key(self, misfit: Misfit) -> Problem:
        key = str(misfit.instance)
        where = f" under {quoted(_last(misfit.route))}" if misfit.route else ""
        message = f"{quoted(key)} cannot be a key{where}: {_expected(misfit)} is wanted there"
        span = self.document.span_of((*misfit.route, key), "key")
        return self.problem(misfit.route, message, key, guess(misfit), span)

    def _strange(self, misfit: Misfit, guesses: dict[str, str | None]) -> Iterator[Problem]:
        lookalike = "use" in guesses.values()
        for key, nearest in guesses.items():
            if lookalike and nearest != "use":
                continue
            known = sorted(_known(misfit))
            close = f"the nearest is {quoted(nearest)}" if nearest else f"known here: {listed(known[:12], 'and')}"
            if len(known) > 12 and not nearest:
                close = "no known field comes near"
            message = f"{self._owner(misfit.route)} has no field {quoted(key)}; {close}"
            hint = f"write {quoted(nearest)}" if nearest else "take it out"
            yield self.problem(misfit.route, message, key, hint, self.document.span_of((*misfit.route, key), "key"))

    def _missing(self, misfit: Misfit, guesses: dict[str, str | None]) -> Iterator[Problem]:
        present = misfit.instance
        if misfit.keyword == "dependentRequired":
            wanted = [
                (field, f" when {quoted(key)} is there")
                for key, fields in misfit.wanted.items()
                if key in present
                for field in fields
            ]
        else:
            draft = (
                "for a protocol that is no draft" if not misfit.route and misfit.wanted == ["version", "owner"] else ""
            )
            wanted = [(field, f" ({draft})" if draft else "") for field in misfit.wanted]
        for field, why in wanted:
            if field not in present and field not in guesses.values():
                message = f"{self._owner(misfit.route)} lacks {quoted(field)}{why}"
                yield self.problem(misfit.route, message, field, f"add {field}: …", self._head(misfit.route))

    def _unfit(self, misfit: Misfit) -> Problem:
        field = self._field(misfit.route)
        if misfit.keyword in ("minItems", "minProperties"):
            message = f"{field} is empty; {_expected(misfit)} is wanted here"
        else:
            message = f"{field} must be {_expected(misfit)}; here stands {stands(misfit.instance)}"
        return self.problem(misfit.route, message, _last(misfit.route) or "file", guess(misfit))

    def _field(self, route: Route) -> str:
        """What to call the value at a route."""
        if not route:
            return "the file"
        if isinstance(route[-1], int):
            return f"entry {route[-1] + 1} of {quoted(_last(route))}"
        outer = route[-2] if len(route) > 1 else None
        return f"{quoted(route[-1])} under {quoted(outer)}" if isinstance(outer, str) else quoted(route[-1])

    def _owner(self, route: Route) -> str:
        """What to call the mapping at a route."""
        named = self.document.at(route)
        if len(route) > 1 and isinstance(route[-1], int) and isinstance(named, Mapping):
            for key, what in (("id", "step"), ("use", "use of"), ("phase", "phase")):
                name = named.get(key)
                if isinstance(name, Scalar) and isinstance(name.value, str):
                    return f"{what} {quoted(name.value)}"
        return self._field(route)

    def _head(self, route: Route) -> Span:
        """Where to point when something is missing in a mapping: its key, or the first line of a list entry."""
        if route and isinstance(route[-1], str):
            return self.document.span_of(route, "key")
        node = self.document.at(route)
        if isinstance(node, Mapping) and node.entries:
            return node.entries[0].key.span
        return self.document.span_of(route)

    def _step(self, route: Route) -> str | None:
        """The id of the step (or the name of the use) that a route leads into."""
        for number in range(len(route) - 1, 0, -1):
            if isinstance(route[number], int) and route[number - 1] == "steps":
                for key in ("id", "as"):
                    name = self.document.at((*route[: number + 1], key))
                    if isinstance(name, Scalar) and isinstance(name.value, str):
                        return name.value
        return None


def _follows(misfit: Misfit, uses: list[Route]) -> bool:
    """Whether a misfit lies in an entry meant as a use of a part, so that it was held against the wrong schema."""
    inside = any(misfit.route[: len(route)] == route for route in uses)
    return inside and not (_is_strange(misfit) and misfit.route in uses)


def _is_strange(misfit: Misfit) -> bool:
    return misfit.keyword == "additionalProperties" and not misfit.of_key


def _strange_keys(misfit: Misfit) -> dict[str, str | None]:
    """The keys no field is called, each with the field it is probably meant to be."""
    known = _known(misfit)
    free = [field for field in known if field not in misfit.instance]
    found: dict[str, str | None] = {}
    for key in misfit.instance:
        if key not in known:
            close = near(key, free)
            found[key] = close[0] if close else None
    return found


def _known(misfit: Misfit) -> set[str]:
    """The fields a mapping may have; an entry of a list of steps may be a step or a use."""
    fields: set[str] = set()
    for layer in misfit.layers:
        fields |= set(layer.get("properties", ()))
        if "else" in layer:
            fields |= {"use", "as"}
    return fields


def _expected(misfit: Misfit) -> str:
    """What the schema wants, in its own words, of the most particular schema that has some."""
    for layer in misfit.layers:
        if "x-expects" in layer:
            return str(layer["x-expects"])
    if misfit.keyword == "type":
        return {"object": "a mapping", "array": "a list", "string": "text"}.get(str(misfit.wanted), str(misfit.wanted))
    if misfit.keyword == "enum":
        return listed([str(word) for word in misfit.wanted])
    return "something else"


def _last(route: Route) -> str:
    """The last key on a route."""
    return next((step for step in reversed(route) if isinstance(step, str)), "")
