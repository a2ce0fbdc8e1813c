"""Every form a report can be printed in, by its name on the command line."""

from __future__ import annotations

from collections.abc import Sequence

from ..checks import Report

FORMS = ("text", "json", "sarif", "github", "gitlab", "junit")
"""For people first, then for programs."""


def as_form(form: str, reports: Sequence[Report], *, colour: bool = False) -> str:
    """The reports in one of FORMS; only text may be coloured. A form is loaded when it is asked for.

    Raises ValueError if there is no such form.
    """
    match form:
        case "text":
            from .text import text_report

            return text_report(reports, colour=colour)
        case "json":
            from .as_json import json_report

            return json_report(reports)
        case "sarif":
            from .sarif import sarif_report

            return sarif_report(reports)
        case "github":
            from .forges import github_report

            return github_report(reports)
        case "gitlab":
            from .forges import gitlab_report

            return gitlab_report(reports)
        case "junit":
            from .junit import junit_report

            return junit_report(reports)
    raise ValueError(f"there is no form {form!r}")
