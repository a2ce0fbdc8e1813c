"""What a rule is, and how the rules are found: every module of ``checks/rules`` is one rule (or a tight family)."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache

from .facts import Facts
from .finding import Finding, Severity


@dataclass(frozen=True, slots=True)
class Rule:
    """A named rule: how grave it is, what it looks at, and its manual page (the module's docstring).

    A protocol is judged by its own text and by the files of the whole set, not by other protocols: what is told of it
    may be kept until one of these changes.
    """

    name: str
    severity: Severity
    check: Callable[[Facts], Iterable[Finding]]
    page: str


@cache
def all_rules() -> tuple[Rule, ...]:
    """Every rule, by name; a module hands out ``RULES``, a tuple of Rule.

    Raises ValueError if two modules claim one name.
    """
    from . import rules as folder

    found: dict[str, Rule] = {}
    for module in sorted(info.name for info in pkgutil.iter_modules(folder.__path__)):
        for rule in importlib.import_module(f"{folder.__name__}.{module}").RULES:
            if rule.name in found:
                raise ValueError(f"two modules claim the rule {rule.name!r}")
            found[rule.name] = rule
    return tuple(found[name] for name in sorted(found))
