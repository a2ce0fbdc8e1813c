"""What somebody could try who sends in a changed protocol set: each threat with its number, and what stands against it.

The numbers are those of the project's threat table. What is not tried here is listed in OPEN, with its place or the
reason.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import pkgutil
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import stepfield
from stepfield.language import Problem, build_set, read_set
from stepfield.language.intake import MOST_FILES
from stepfield.language.schemas import KINDS, SHARED, schema
from stepfield.language.yaml_reader import MOST_DEPTH, MOST_NODES, read_yaml
from stepfield.language.yaml_scalars import MOST_DIGITS, typed
from stepfield.language.yaml_text import MOST_BYTES
from tests.language.small import CLINIC, FILES, PART, PROTOCOL, build, changed
from tests.language.test_load import laid_out
from tests.language.test_yaml_reader import SCALARS

OPEN = {
    "T2": "no workflow of a hosting service is shipped yet; nothing there could hold a token",
    "T8": "does not apply: no Graphviz is used, diagrams are laid out and written by the project itself",
    "T9": "tests/site: hostile text through every field into every page",
    "T10": "no version control is called yet; comes with the comparison of two sets",
    "T12": "reading and printing are here, pages in tests/site; tables, calendars and test reports are not written yet",
    "T13": "names are here; texts that mix scripts are not told, since there is no rule for it",
    "T14": "the locked packages are here; a bill of materials and signed releases come with the first release",
    "T15": "tests/docs: a failed build leaves the last site; the build's mark on each page is not there yet",
    "T16": "no rule looks for names of people yet; the language has no field for them",
}
HERE_TOO = {"T12", "T13", "T14"}


def test_every_threat_is_tried_or_listed() -> None:
    tests = "".join(path.read_text("utf-8") for path in Path(__file__).parent.glob("test_*.py"))
    tried = {number.upper() for number in re.findall(r"^def test_(t[0-9]+)_", tests, re.MULTILINE)}
    assert tried | set(OPEN) == {f"T{number}" for number in range(1, 17)}
    assert tried & set(OPEN) == HERE_TOO


def is_refused(problems: tuple[Problem, ...]) -> bool:
    """Whether a file was refused."""
    return any(problem.rule in ("bad-shape", "bad-yaml") for problem in problems)


def run(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Runs Python in a folder with the package at hand and nothing else of this process."""
    path = str(Path(stepfield.__file__).parents[1])
    environment = {**os.environ, "PYTHONPATH": path, "PYTHONDONTWRITEBYTECODE": "1", "NO_COLOR": "1"}
    return subprocess.run(
        [sys.executable, *arguments], cwd=cwd, env=environment, capture_output=True, text=True, check=False, timeout=60
    )


def seconds(data: str | bytes) -> float:
    """The processor time that reading a text takes."""
    start = time.process_time()
    read_yaml(data if isinstance(data, bytes) else data.encode(), "x")
    return time.process_time() - start


# T1: mkdocs.yml is code --------------------------------------------------------------------------------------


def hostile_project(folder: Path) -> Path:
    """A project whose site configuration, hooks and same-named modules leave a mark when they are run."""
    laid_out(folder / "protocols")
    mark = "open('ran-' + __name__ + '.txt', 'w')\n"
    (folder / "mkdocs.yml").write_text(
        "site_name: x\nhooks: [hook.py]\nx: !!python/object/apply:os.system ['touch ran-yaml.txt']\n", "utf-8"
    )
    for name in ("hook.py", "protocols/conftest.py", "protocols/sitecustomize.py", "protocols/yaml.py"):
        (folder / name).write_text(mark, "utf-8")
    return folder


def test_t1_the_checker_runs_nothing_of_the_project_it_checks(tmp_path: Path) -> None:
    project = hostile_project(tmp_path)
    ran = run("-P", "-m", "stepfield.command", "check", "protocols", "--format", "json", cwd=project)
    assert "findings" in json.loads(ran.stdout), ran.stderr
    assert list(project.rglob("ran-*")) == []


def test_t1_the_checker_never_loads_the_site_generator(tmp_path: Path) -> None:
    code = (
        "import sys; from stepfield.command import main\n"
        "try: main(['check', 'protocols'], standalone_mode=False)\n"
        "except SystemExit: pass\n"
        "print('loaded:', sorted({'mkdocs', 'jinja2', 'material', 'markdown'} & set(sys.modules)))"
    )
    ran = run("-P", "-c", code, cwd=hostile_project(tmp_path))
    assert "loaded: []" in ran.stdout, ran.stderr


# T3: alias and merge bombs, and their cousin: parts that multiply --------------------------------------------


def test_t3_an_alias_bomb_is_refused_at_once() -> None:
    layers = "".join(f"l{n}: &l{n} [{', '.join([f'*l{n - 1}'] * 10)}]\n" for n in range(1, 30))
    bomb = "l0: &l0 x\n" + layers
    problems = read_yaml(bomb.encode(), "x").problems
    assert len(problems) == 30 + 290
    assert seconds(bomb) < 0.5


def test_t3_merge_keys_are_refused() -> None:
    assert read_yaml(b"<<: {a: 1}", "x").problems
    assert read_yaml(b"a: &a {b: 1}\nc: {<<: *a}", "x").problems


def test_t3_parts_that_multiply_are_refused_at_once() -> None:
    parts = {
        f"parts/p{n}": "kind: part\ntitle: P\nsteps:\n"
        + "".join(f"  - {{use: p{n + 1}, as: u{m}}}\n" for m in range(20))
        for n in range(8)
    }
    head = FILES[PROTOCOL].partition("    steps:\n")[0]
    files = {CLINIC: FILES[CLINIC], PROTOCOL: f"{head}    steps: [{{use: p0, as: u}}]\n"}
    start = time.process_time()
    found = build(files, **parts, **{"parts/p8": "kind: part\ntitle: P\nsteps: [{id: a, do: D}]\n"})
    assert time.process_time() - start < 2
    assert (found.unreadable, found.protocols) == (("release",), ())
    assert any("once its parts are unfolded" in problem.message for problem in found.problems)


# T4: depth, size, count, length ------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [MOST_DEPTH - 1, MOST_DEPTH, MOST_DEPTH + 1])
def test_t4_depth(count: int) -> None:
    assert (not read_yaml(b"[" * count + b"]" * count, "x").problems) == (count <= MOST_DEPTH)


@pytest.mark.parametrize("size", [MOST_BYTES - 1, MOST_BYTES, MOST_BYTES + 1])
def test_t4_size(size: int) -> None:
    assert (not read_yaml(b"a: b\n#".ljust(size, b"x"), "x").problems) == (size <= MOST_BYTES)


@pytest.mark.parametrize("count", [MOST_NODES - 1, MOST_NODES, MOST_NODES + 1])
def test_t4_number_of_values(count: int) -> None:
    assert (not read_yaml(b"[" + b"a," * (count - 1) + b"]", "x").problems) == (count <= MOST_NODES)


@pytest.mark.parametrize("digits", [MOST_DIGITS - 1, MOST_DIGITS, MOST_DIGITS + 1, 100_000])
def test_t4_length_of_numbers(digits: int) -> None:
    assert (not read_yaml(b"a: " + b"7" * digits, "x").problems) == (digits <= MOST_DIGITS)


@pytest.mark.parametrize(
    "data",
    [
        b"[" * MOST_BYTES,
        b"{" * MOST_BYTES,
        b"- " * (MOST_BYTES // 2),
        b"[a," * (MOST_BYTES // 3),
        b"a" * MOST_BYTES,
        b"a: |\n" + b" \n" * (MOST_BYTES // 2 - 8),
        b'"' + b"\\u0041" * (MOST_BYTES // 6 - 1) + b'"',
        b"\0" * MOST_BYTES,
        b"a: b\n" * (MOST_BYTES // 5),
        b"[" + b"?," * (MOST_BYTES // 2 - 2) + b"]",
        b"&a " * (MOST_BYTES // 3),
        b'"a\n' + b"\n" * (MOST_BYTES - 8) + b'"',
    ],
    ids=lambda data: repr(data[:6]),
)
def test_t4_a_mebibyte_of_anything_is_read_or_refused_in_seconds(data: bytes) -> None:
    """Measured at about one second for the slowest; the bound leaves room for a busy machine."""
    assert seconds(data) < 10


def test_t4_a_file_that_is_wrong_all_over_is_told_in_seconds() -> None:
    lines = "".join(
        f"      - {{id: s{n}, role: x, do: D, after: [nowhere-{n}], covers: {{a{n}: b{n}}}}}\n" for n in range(1500)
    )
    start = time.process_time()
    found = build({**FILES, PROTOCOL: FILES[PROTOCOL] + lines})
    assert time.process_time() - start < 20
    assert len(found.problems) > 1000


def test_t4_number_of_files(tmp_path: Path) -> None:
    laid_out(tmp_path)
    for number in range(MOST_FILES + 5 - len(FILES)):
        (tmp_path / f"z{number}.yaml").touch()
    found = read_set(tmp_path, shown_as="p")
    told = [problem for problem in found.problems if "more than" in problem.message]
    assert len(told) == 1
    assert len(found.sources) == MOST_FILES


# T5: what older YAML made of plain words ---------------------------------------------------------------------


def test_t5_words_that_older_yaml_gave_a_meaning_are_text() -> None:
    """The whole table is held against a second reader in tests/language/test_yaml_suite.py."""
    assert len(SCALARS) >= 40
    for word in ("no", "NO", "yes", "on", "off", "y", "2:30", "1:30:00", "012", "2026-10-01", "1_000", "0b1", "0777"):
        assert typed(word) == word


def test_t5_a_key_written_twice_never_wins_silently() -> None:
    (problem,) = build(changed("sterile: true", "sterile: true\n        sterile: false")).problems
    assert (problem.rule, problem.subject) == ("bad-yaml", "sterile")


# T11: patterns that take for ever ----------------------------------------------------------------------------


def schema_patterns(at: Any) -> Iterator[str]:
    """Every pattern in a schema."""
    if isinstance(at, dict):
        if isinstance(at.get("pattern"), str):
            yield at["pattern"]
        for inner in at.values():
            yield from schema_patterns(inner)
    elif isinstance(at, list):
        for inner in at:
            yield from schema_patterns(inner)


def modules() -> Iterator[tuple[dict[str, Any], str]]:
    """What every module of the package holds, and its source."""
    for info in pkgutil.walk_packages(stepfield.__path__, "stepfield."):
        if info.name != "stepfield.mkdocs":
            module = importlib.import_module(info.name)
            yield vars(module), Path(str(module.__file__)).read_text("utf-8")


def own_patterns() -> Iterator[tuple[re.Pattern[str], str]]:
    """Every pattern a module of the package keeps, with each way in which it is used (all, if none is seen)."""
    found = list(modules())
    for names, _ in found:
        for name, value in names.items():
            if isinstance(value, re.Pattern) and isinstance(value.pattern, str):
                used = {way for _, source in found for way in re.findall(rf"\b{name}\.(match|fullmatch|\w+)\(", source)}
                yield from ((value, way) for way in used or {"match", "fullmatch", "search"})


PATTERNS = sorted(
    {(pattern, "search") for kind in (*KINDS, SHARED) for pattern in schema_patterns(schema(kind))}
    | {(pattern.pattern, "match" if "match" in way else "search") for pattern, way in own_patterns()}
)
LONG = [
    sign * 100_000 + "!"
    for sign in ("a", "0", " ", "-", ".", "a.", "a-", "[", "1.", "\n ", "\t", "|", "a: ", "*", "`", "<")
]


@pytest.mark.parametrize(("pattern", "way"), PATTERNS)
def test_t11_no_pattern_takes_long_on_long_text(pattern: str, way: str) -> None:
    assert len(PATTERNS) > 20
    compiled = re.compile(pattern)
    for text in LONG:
        start = time.process_time()
        for ways in ("match", "fullmatch") if way == "match" else ("search",):
            getattr(compiled, ways)(text)
        assert time.process_time() - start < 0.5, text[:3]


# T12: what a terminal, a log or a page would obey ------------------------------------------------------------

NASTY = "\x1b[31mred\x1b[0m \u202etxt\u2066 \x07 \r::error file=x::y \x9b1m"


def test_t12_characters_that_are_obeyed_never_get_past_reading() -> None:
    found = build_set({path: text.encode() for path, text in FILES.items()} | {PROTOCOL: f"title: {NASTY}".encode()})
    assert {problem.rule for problem in found.problems} >= {"bad-yaml"}
    everything = str(found.problems) + "".join(found.sources.values())
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", everything.replace("\n", ""))


@pytest.mark.parametrize("escape", ["\\e[31m", "\\x07", "\\u202e", "\\x9b", "\\0", "\\r", "\\b", "\\L", "\\N"])
def test_t12_nor_do_they_as_escapes(escape: str) -> None:
    problems = build(changed("title: Open release", f'title: "a{escape}b"')).problems
    assert [problem.rule for problem in problems] == ["bad-yaml"]


def test_t12_no_message_has_a_second_line() -> None:
    """So that no line of the output can begin as a log's command does."""
    text = json.dumps("x\n::error::y\n" * 3)
    files = {path: text_.encode() for path, text_ in FILES.items()}
    for old in (
        "role: circulating\n",
        "kind: sharps,",
        "count: 10",
        "status: approved",
        "sterile: true",
        "id: open-pack",
    ):
        key, _, rest = old.partition(":")
        end = rest[-1] if rest[-1] in ",\n" else ""
        found = build_set({**files, PROTOCOL: FILES[PROTOCOL].replace(old, f"{key}: {text}{end}").encode()})
        assert found.problems
        for problem in found.problems:
            assert "\n" not in f"{problem.message}{problem.hint}"


@pytest.mark.parametrize("form", ["text", "json"])
def test_t12_what_is_printed_holds_nothing_a_terminal_obeys(tmp_path: Path, form: str) -> None:
    folder = laid_out(tmp_path / "protocols")
    (folder / "release.yaml").write_text(f'title: "{NASTY}\\n::error::x"\nrole: {NASTY}\n', "utf-8")
    with contextlib.suppress(OSError):  # some systems allow no such file name
        (folder / "\x1b[31m\n::error::x.yaml").write_text("a: b", "utf-8")
    ran = run("-P", "-m", "stepfield.command", "check", "protocols", "--format", form, cwd=tmp_path)
    assert ran.returncode == 1, ran.stderr
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", ran.stdout)
    assert not re.search(r"^::", ran.stdout, re.MULTILINE)


# T13: letters that look like others --------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", ["prep-trоlley", "рrep-trolley", "prep\u2010trolley", "prep-tro\u200blley", "prep-trolleу"]
)
def test_t13_names_are_of_plain_letters(name: str) -> None:
    (problem, *_) = build(changed("covers: {prep-trolley: table-cover}", f"covers: {{{name}: table-cover}}")).problems
    assert (problem.rule, problem.step) == ("bad-shape", "cover-trolley")


def test_t13_a_letter_that_looks_like_another_is_named() -> None:
    (problem,) = build(changed("touches: [towel]", "touches: [tоwel]", PART)).problems
    assert "cyrillic small letter o" in f"{problem.hint}"


def test_t13_different_bytes_that_look_alike_are_never_equal_names() -> None:
    """The same name in two spellings of Unicode (composed and not) is no name at all."""
    for name in ("caf\u00e9", "cafe\u0301"):
        assert is_refused(build(changed("id: open-pack", f"id: {name}")).problems)


# T14: packages that are not the ones that were looked at ------------------------------------------------


@pytest.mark.parametrize("name", ["requirements.txt", "requirements-dev.txt"])
def test_t14_every_package_is_locked_with_its_digest(name: str) -> None:
    root = Path(__file__).parents[2]
    text = re.sub(r"(?m)^ *#.*\n", "", (root / name).read_text("utf-8")).replace("\\\n", " ")
    packages = [line.split() for line in text.splitlines() if line.strip()]
    assert len(packages) > 5
    for package, *rest in packages:
        assert re.fullmatch(r"[a-z0-9-]+==[0-9a-z.]+", package)
        digests = [word for word in rest if word.startswith("--hash=")]
        assert digests
        assert all(re.fullmatch(r"--hash=sha256:[0-9a-f]{64}", digest) for digest in digests)
    makefile = (root / "Makefile").read_text("utf-8")
    assert all("--require-hashes" in line for line in makefile.splitlines() if f"-r {name}" in line)
