"""What ``stepfield new`` writes: it checks clean at once, builds a site, and overwrites nothing."""

from __future__ import annotations

import datetime
import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from stepfield.checks import check_set
from stepfield.command import main
from stepfield.language import build_set, read_set
from stepfield.starting import Refused, new_clinic, new_part, new_protocol
from stepfield.starting.beginning import ID, as_id

TODAY = datetime.date(2026, 11, 2)


def ran(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["new", *arguments])


def clinic(folder: Path) -> Path:
    result = ran("clinic", "Harbour Lane Day Surgery", "--into", str(folder / "clinic"))
    assert result.exit_code == 0, result.output
    return folder / "clinic"


def test_a_new_clinic_checks_clean(tmp_path: Path) -> None:
    found = read_set(clinic(tmp_path) / "protocols")
    assert check_set(found, TODAY).findings == ()
    assert [one.id for one in found.protocols] == ["first-protocol"]
    assert found.clinic is not None
    assert found.clinic.name == "Harbour Lane Day Surgery"


@pytest.mark.parametrize("name", ["O\"Hara's: # & Söhne @VERSION@", "診療所", "- [x]", "no", "a\\b"])
def test_a_clinic_may_be_called_anything(name: str) -> None:
    files = {path: text.encode() for path, text in new_clinic(name).items()}
    found = build_set({path: text for path, text in files.items() if path.startswith("protocols/")})
    assert found.clinic is not None
    assert found.clinic.name == name
    assert check_set(found, TODAY).findings == ()


@pytest.mark.parametrize("name", ["", "  ", "two\nlines", "x" * 201])
def test_a_clinic_needs_a_name_on_one_line(name: str) -> None:
    with pytest.raises(Refused):
        new_clinic(name)


def test_a_new_clinic_builds_a_site(tmp_path: Path) -> None:
    folder = clinic(tmp_path)
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet"], cwd=folder, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()
    assert "Wipe the work table" in (folder / "site/protocols/first-protocol.html").read_text(encoding="utf-8")


def test_a_new_clinic_brings_the_schemas_that_its_files_name(tmp_path: Path) -> None:
    folder = clinic(tmp_path)
    for path in (folder / "protocols").glob("*.yaml"):
        first = path.read_text(encoding="utf-8").splitlines()[0]
        assert first.startswith("# yaml-language-server: $schema=")
        assert (path.parent / first.partition("$schema=")[2]).is_file()
    for text in (folder / "schema").glob("*.json"):
        jsonschema.Draft202012Validator.check_schema(json.loads(text.read_text(encoding="utf-8")))
    settings = json.loads((folder / ".vscode/settings.json").read_text(encoding="utf-8"))
    assert all((folder / schema).is_file() for schema in settings["yaml.schemas"])


def test_a_protocol_and_a_part_join_a_set_that_stays_clean(tmp_path: Path) -> None:
    folder = clinic(tmp_path) / "protocols"
    for kind, name in (("protocol", "knot-removal"), ("part", "hand-rub")):
        result = ran(kind, name, "--into", str(folder))
        assert result.exit_code == 0, result.output
        assert "stepfield check" in result.output
    findings = check_set(read_set(folder), TODAY).findings
    assert [(one.rule, one.severity.value) for one in findings] == [("unused-name", "note")]  # the part has no use yet
    used = (folder / "knot-removal.yaml").read_text(encoding="utf-8")
    use = "    steps:\n      - {use: hand-rub, as: rub-first, with: {who: scrub}}\n"
    (folder / "knot-removal.yaml").write_text(used.replace("    steps:", use.rstrip(), 1), encoding="utf-8")
    assert check_set(read_set(folder), TODAY).findings == ()


def test_what_is_written_is_laid_out_already(tmp_path: Path) -> None:
    folder = clinic(tmp_path) / "protocols"
    (tmp_path / "table.csv").write_text("Who,What,With\nSurgeon,Count the swabs,Scrub nurse\n", encoding="utf-8")
    assert ran("part", "hand-rub", "--into", str(folder)).exit_code == 0
    drafted = ran("protocol", "knot", "--into", str(folder), "--from", str(tmp_path / "table.csv"))
    assert drafted.exit_code == 0, drafted.output
    result = CliRunner().invoke(main, ["format", "--check", str(folder)])
    assert (result.exit_code, result.output) == (0, "")


def test_the_comments_of_a_new_protocol_are_true() -> None:
    """It says that without one line the check fails: so it must."""
    files = {"p/clinic.yaml": b"clinic: Quillhaven\nroles: {a: {title: A}, b: {title: B}}\n"}
    text = new_protocol("knot-removal", ["a", "b"])
    line = next(line for line in text.splitlines(keepends=True) if "without this line the check fails" in line)
    findings = check_set(build_set({**files, "p/knot.yaml": text.replace(line, "").encode()}), TODAY).findings
    assert [one.rule for one in findings] == ["needs-not-met"]


@pytest.mark.parametrize("roles", [["only"], ["a", "b", "c"]])
def test_a_protocol_takes_the_roles_there_are(roles: list[str]) -> None:
    said = f"clinic: Q\nroles: {{{', '.join(f'{role}: {{title: {role}}}' for role in roles)}}}\n"
    files = {"p/clinic.yaml": said.encode(), "p/new-one.yaml": new_protocol("new-one", roles).encode()}
    assert check_set(build_set(files), TODAY).findings == ()


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["protocol", "Knot Removal"], "for instance knot-removal"),
        (["protocol", "../escape"], "for instance escape"),
        (["part", "手"], "can't be the name of a part"),
        (["protocol", "first-protocol"], "is there already; nothing was written"),
        (["part", "x", "--from", "table.csv"], "--from drafts a protocol"),
        (["protocol", "x", "--from", "no-such.csv"], "no-such.csv cannot be read"),
    ],
)
def test_what_can_not_be_begun_is_refused_in_words(tmp_path: Path, arguments: list[str], told: str) -> None:
    folder = clinic(tmp_path) / "protocols"
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    result = ran(*arguments, "--into", str(folder))
    assert result.exit_code == 2
    assert told in " ".join(result.output.split())
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_without_a_set_the_way_to_one_is_told(tmp_path: Path) -> None:
    result = ran("protocol", "knot", "--into", str(tmp_path))
    assert result.exit_code == 2
    assert "stepfield new clinic" in result.output


def test_a_clinic_never_overwrites_one(tmp_path: Path) -> None:
    folder = clinic(tmp_path)
    result = ran("clinic", "Other", "--into", str(folder))
    assert result.exit_code == 2
    assert "nothing was written" in result.output


@given(st.text(max_size=80))
def test_an_id_made_from_any_text_is_one(text: str) -> None:
    made = as_id(text)
    assert made == "" or ID.fullmatch(made)


def test_no_part_without_an_id() -> None:
    with pytest.raises(Refused):
        new_part("-x")
