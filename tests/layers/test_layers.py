"""What the import contracts in pyproject.toml can't say: no library but the named ones, and sizes a reader can hold."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "plugins" / "stepfield"
MODULES = sorted(PACKAGE.rglob("*.py"))
LIBRARIES = {
    "asepsis/solver.py": {"pysat"},
    "command.py": {"click"},
    "command_adopt.py": {"click"},
    "command_catch_up.py": {"click"},
    "command_given.py": {"click"},
    "command_drift.py": {"click"},
    "command_evidence.py": {"click"},
    "command_format.py": {"click"},
    "command_lsp.py": {"click"},
    "command_new.py": {"click"},
    "command_offer.py": {"click"},
    "command_tailor.py": {"click"},
    "command_packs.py": {"click"},
    "command_things.py": {"click"},
    "command_team.py": {"click"},
    "command_time.py": {"click"},
    "command_review.py": {"click"},
    "command_site.py": {"click"},
    "mkdocs.py": {"mkdocs"},
    "language/schemas.py": {"jsonschema", "jsonschema_rs"},
    "language/yaml_reader.py": {"yaml"},
    "lsp/server.py": {"lsprotocol", "pygls"},
    "planning/simulation.py": {"numpy"},
    "pages/qr.py": {"segno"},
    "planning/solver_schedule.py": {"ortools"},
    "pages/speech.py": {"babel"},
    "pages/templating.py": {"jinja2", "markupsafe"},
    "planning/pack_solver.py": {"ortools"},
    "reports/workbook.py": {"xlsxwriter"},
    "starting/sheets.py": {"openpyxl"},
}


def imported(tree: ast.Module) -> Iterator[str]:
    """The first name of every absolute import, those inside functions included."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (name.name.split(".")[0] for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module.split(".")[0]


def name(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


@pytest.mark.parametrize("path", MODULES, ids=name)
def test_a_module_imports_the_standard_library_and_what_it_alone_may(path: Path) -> None:
    allowed = sys.stdlib_module_names | {"stepfield"} | LIBRARIES.get(name(path), set())
    assert sorted(set(imported(ast.parse(path.read_text(encoding="utf-8")))) - allowed) == []


@pytest.mark.parametrize("path", MODULES, ids=name)
def test_files_and_functions_stay_small(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    long = [
        f"{node.name}: {node.end_lineno - node.lineno + 1} lines"
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and node.end_lineno is not None
        and node.end_lineno - node.lineno >= 70
    ]
    assert long == []
    assert text.count("\n") <= 450


def test_an_import_inside_a_function_is_seen() -> None:
    assert list(imported(ast.parse("def f():\n    import yaml.nodes\n    from . import x\n"))) == ["yaml"]
