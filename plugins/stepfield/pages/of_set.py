"""The pages of a whole protocol set: where one begins, and what lies behind the protocols."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import replace
from functools import partial
from typing import Any

from ..changes import RULES as RULES_OF_CHANGES
from ..changes.approvals import Approved
from ..changes.approved import Since
from ..changes.drift import drift_of, is_adopted
from ..checks import Report, Rule, Severity, all_rules
from ..checks.tracing import trace
from ..checks.words import sentence
from ..language.schemas import KINDS, SHARED, schema
from ..planning.teams import Teams
from ..reports import checked_of, covered
from .addresses import (
    ABOUT,
    CHANGES,
    DATES,
    DIFFERS,
    EVIDENCE,
    HOME,
    LANGUAGE,
    PEOPLE,
    PROBLEMS,
    RULES,
    Links,
    role_page,
)
from .dates import dates_values
from .differs import differs_values
from .evidence import evidence_values
from .fewest import notes_of
from .fields import reference
from .frame import Framing
from .home import missing, protocol_cards, role_cards, ways
from .news import LINES, news_of
from .page import HEAVY, Page, finished
from .people import people_of
from .problems import counted, problems
from .prose import blocks
from .reading import Reading
from .screens import INDEX as SCREENS
from .speech import N_
from .views import Link
from .words import SEVERITIES

_BEHIND = (
    (N_("Wall screens"), SCREENS),
    (N_("What this rests on"), EVIDENCE),
    (N_("Dates"), DATES),
    (N_("Problems"), PROBLEMS),
    (N_("What is checked"), ABOUT),
    (N_("Rules"), RULES),
    (N_("Language reference"), LANGUAGE),
)
"""What those look for who write protocols or hang them up; title and address."""
_PEOPLE = N_("How few people can do it")


class SetPages:
    """Draws the pages of a checked protocol set that are of no single protocol."""

    def __init__(
        self,
        report: Report,
        readings: Mapping[str, Reading],
        framing: Framing,
        since: Since | None,
        teams: Mapping[str, Teams | str] | None,
        approvals: Sequence[Approved] | None,
    ) -> None:
        self.report, self.facts, self.readings = report, report.facts, readings
        self.framing, self.since, self.teams, self.approvals = framing, since, teams, approvals
        self.trace = trace(self.facts.protocol_set, self.facts.today)
        self.rules: tuple[Rule, ...] = all_rules()
        self.adopted = is_adopted(self.facts.protocol_set)
        self.behind = ((N_("What differs here"), DIFFERS), *_BEHIND) if self.adopted else _BEHIND

    def ways(self) -> list[Callable[[], Page]]:
        """Each page but the home page as a piece of work of its own."""
        found: list[Callable[[], Page]] = [
            self.evidence, self.dates, self.problem_page, self.rule_page, self.language, self.about, self.changes
        ]  # fmt: skip
        found += [partial(self.people, self.teams)] if self.teams is not None else []
        found += [self.differs] if self.adopted else []
        return found + [partial(self.role, card.id, card.link.text) for card in role_cards(self.all, HOME)]

    def say(self, message: str) -> str:
        """A message in the clinic's language."""
        return self.framing.speech.say(message)

    @property
    def all(self) -> list[Reading]:
        """The readings of all protocols."""
        return list(self.readings.values())

    def home(self, documents: Set[str]) -> Page:
        """Who one is, the protocols, and what lies behind them."""
        frame = self.framing.of_site(HOME, tells_errors=True)
        values = {
            "roles": role_cards(self.all, HOME),
            "protocols": protocol_cards(self.all, HOME),
            "missing": missing(self.facts.protocol_set.unreadable, HOME),
            "ways": ways(documents, HOME, frame.speech),
            "counts": counted(self.report, frame.speech),
            "to_problems": Links(HOME).to(PROBLEMS),
            "to_people": None if self.teams is None else Links(HOME).to(PEOPLE),
            "to_changes": Links(HOME).to(CHANGES),
            "changed": None if self.since is None else len(self.since.review.protocols),
            "behind": tuple(Link(self.say(text), Links(HOME).to(page)) for text, page in self.behind),
        }
        headings = ((self.say("Who are you?"), "choose_role"), (self.say("Protocols"), "choose_protocol"))
        return finished("home", HOME, self.say("Home"), frame, values, headings, weight=0.2, title_shown=frame.clinic)

    def role(self, role: str, title: str) -> Page:
        """The protocols in which a role takes part."""
        address = role_page(role)
        frame = replace(
            self.framing.of_site(address, tells_errors=True), path=(Link(self.say("Home"), Links(address).to(HOME)),)
        )
        values = {"protocols": protocol_cards(self.all, address, role)}
        return finished("role", address, title, frame, values, (), in_menu=False, weight=0.0)

    def people(self, teams: Mapping[str, Teams | str]) -> Page:
        """How few people can do each protocol."""
        found = people_of(self.all, teams, PEOPLE)
        notes = notes_of(self.framing.speech)
        values = {"protocols": found, "notes": notes, "to_problems": Links(PEOPLE).to(PROBLEMS)}
        headings = tuple((one.link.text, f"people_{one.id}") for one in found)
        return self._site_page("people", PEOPLE, self.say(_PEOPLE), values, headings)

    def changes(self) -> Page:
        """What changed since the last approved text."""
        speech, clinic = self.framing.speech, self.facts.protocol_set.clinic
        names = {role.id.value: role.title for role in clinic.roles} if clinic is not None else {}
        news = news_of(self.since, CHANGES, names) if self.since is not None else ()
        values = {"since": self.since.named if self.since is not None else None, "news": news, "lines": LINES}
        headings = tuple((one.link.text, f"news_{one.id}") for one in news)
        return self._site_page("changes", CHANGES, speech.say("What changed"), values, headings)

    def differs(self) -> Page:
        """What an adopted set does otherwise than the shared protocols."""
        drift = drift_of(self.facts.protocol_set, self.facts.today)
        values = differs_values(drift, self.facts.protocol_set, DIFFERS, self.framing.speech)
        headings = tuple((section.title, section.anchor) for section in values["sections"])
        return self._site_page("differs", DIFFERS, self.say("What differs here"), values, headings)

    def evidence(self) -> Page:
        """What the protocols rest on, from requirements to steps and back."""
        values = evidence_values(self.trace, EVIDENCE, self.framing.speech)
        headings = (
            (self.say("Gaps"), "gaps"),
            (self.say("From the requirement to the steps"), "from_requirements"),
            (self.say("From the step to the requirements"), "from_steps"),
        )
        shown = headings if values["asked"] else ()
        title = self.say("What this rests on")
        page = self._site_page("evidence", EVIDENCE, title, values, shown)
        if len(page.html.encode()) <= HEAVY:
            return page
        fewer = evidence_values(self.trace, EVIDENCE, self.framing.speech, most_links=0)
        return self._site_page("evidence", EVIDENCE, title, fewer, shown)

    def dates(self) -> Page:
        """What falls due when, and who approved what."""
        values = dates_values(self.facts.protocol_set, self.facts.today, self.approvals, self.framing.speech)
        headings = (
            *(((self.say("Overdue"), "overdue"),) if values["overdue"] else ()),
            (self.say("Coming"), "coming"),
            (self.say("Who approved which version"), "approvals"),
        )
        return self._site_page("dates", DATES, self.say("Dates"), values, headings)

    def problem_page(self) -> Page:
        """Every finding."""
        speech = self.framing.speech
        values = {
            "problems": problems(self.report, self.readings, speech),
            "counts": counted(self.report, speech),
        }
        return self._site_page("problems", PROBLEMS, self.say("Problems"), values, ())

    def rule_page(self) -> Page:
        """What each rule means, with its example."""
        every = sorted((*self.rules, *RULES_OF_CHANGES), key=lambda rule: rule.name)
        rules = tuple(
            (rule, rule.severity.value, self.say(SEVERITIES[rule.severity.value]), blocks(rule.page)) for rule in every
        )
        headings = tuple((rule.name, f"rule_{rule.name}") for rule in every)
        return self._site_page("rules", RULES, self.say("Rules"), {"rules": rules}, headings)

    def language(self) -> Page:
        """The reference of the language, drawn from the schemas."""
        kinds: Mapping[str, Any] = {kind: schema(kind) for kind in KINDS}
        found = reference(kinds, schema(SHARED))
        headings = (
            *((shape.title, shape.anchor) for shape in found.files),
            (self.say("Shapes inside the files"), "inside_files"),
            (self.say("How words and values are written"), "small_words"),
        )
        return self._site_page("language", LANGUAGE, self.say("Language reference"), {"reference": found}, headings)

    def about(self) -> Page:
        """What was checked and what was not."""
        proofs = [one.proof for one in self.facts.examined if one.proof is not None]
        values = {
            "protocols": len(self.facts.examined),
            "scenarios": sum(proof.scenarios for proof in proofs),
            "states": sum(proof.states for proof in proofs),
            "covered": sentence(covered(checked_of([self.report]))),
            "unproved": tuple(
                (one.protocol.title.value, one.unproved) for one in self.facts.examined if one.unproved is not None
            ),
            "missing": missing(self.facts.protocol_set.unreadable, ABOUT),
            "errors": sum(1 for finding in self.report.findings if finding.severity is Severity.ERROR),
            "rule_count": len(self.rules),
            "to_rules": Links(ABOUT).to(RULES),
            "to_problems": Links(ABOUT).to(PROBLEMS),
        }
        title = self.say("What is checked")
        headings = ((title, "is_checked"), (self.say("What is not checked"), "not_checked"))
        return self._site_page("about", ABOUT, title, values, headings)

    def _site_page(
        self, kind: str, address: str, title: str, values: Mapping[str, object], headings: tuple[tuple[str, str], ...]
    ) -> Page:
        frame = self.framing.of_site(address, tells_errors=False)
        return finished(kind, address, title, frame, values, headings, weight=0.2)
