"""Every file finds its schema the way an editor looks for it, and fits it, references followed from file to file.

How an editor looks: a modeline in the file itself goes before the patterns of the settings, and two patterns that both
fit are a muddle (the README of the YAML language server that most editors use). Values are read by a second reader of
YAML 1.2, the PyPI package py-yaml12.
"""

from __future__ import annotations

import fnmatch
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit
from urllib.request import url2pathname

import pytest
import yaml12
from jsonschema import Draft202012Validator
from referencing import Registry, Resource

from stepfield.language.schemas import KINDS, schema_folder
from stepfield.starting import new_clinic, new_part

ROOT = Path(__file__).parents[2]
MODELINE = "# yaml-language-server: $schema="


def opened(address: str) -> Resource[Any]:
    """A schema by its address; only files are opened, as in an editor without a network."""
    assert address.startswith("file:"), address
    text = Path(url2pathname(unquote(urlsplit(address).path))).read_text(encoding="utf-8")
    return Resource.from_contents(json.loads(text))


REGISTRY: Registry[Any] = Registry(retrieve=opened)


def schema_of(folder: Path, file: Path) -> Path:
    """The schema that an editor takes for a file of an opened folder."""
    first = file.read_text(encoding="utf-8").partition("\n")[0]
    if first.startswith(MODELINE):
        return (file.parent / first.removeprefix(MODELINE)).resolve()
    patterns = json.loads((folder / ".vscode/settings.json").read_text(encoding="utf-8"))["yaml.schemas"]
    name = file.relative_to(folder).as_posix()
    (found,) = [schema for schema, pattern in patterns.items() if fnmatch.fnmatchcase(name, pattern)]
    return (folder / found).resolve()


def misfits(schema: Path, text: str) -> list[str]:
    checker = Draft202012Validator({"$ref": schema.as_uri()}, registry=REGISTRY)
    return [error.message for error in checker.iter_errors(yaml12.parse_yaml(text))]


def begun(folder: Path) -> Path:
    for path, text in new_clinic("Quillhaven").items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(text, encoding="utf-8")
    (folder / "protocols/parts").mkdir()
    (folder / "protocols/parts/hand-rub.yaml").write_text(new_part("hand-rub"), encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    ("made", "least"), [(lambda _: ROOT, 15), (begun, 3)], ids=["the demonstration set", "a new clinic"]
)
def test_every_file_finds_its_schema_and_fits_it(tmp_path: Path, made: Callable[[Path], Path], least: int) -> None:
    folder = made(tmp_path)
    files = sorted((folder / "protocols").rglob("*.yaml"))
    assert len(files) >= least
    for file in files:
        schema = schema_of(folder, file)
        kind = "part" if file.parent.name == "parts" else file.stem if file.stem in KINDS else "protocol"
        assert schema == (folder / f"schema/{kind}.schema.json").resolve()
        assert misfits(schema, file.read_text(encoding="utf-8")) == [], file.name


def test_a_file_that_does_not_fit_is_underlined() -> None:
    text = (ROOT / "protocols/toenail.yaml").read_text(encoding="utf-8")
    schema = schema_of(ROOT, ROOT / "protocols/toenail.yaml")
    assert misfits(schema, text.replace("\nstatus:", "\nstate:", 1))
    assert misfits(schema, text.replace("        do: ", "        does: ", 1))


def test_the_settings_name_every_kind_that_has_a_file_of_its_own() -> None:
    settings = json.loads((ROOT / ".vscode/settings.json").read_text(encoding="utf-8"))
    named = {Path(schema).name.removesuffix(".schema.json") for schema in settings["yaml.schemas"]}
    assert named == set(KINDS) - {"protocol"}  # a protocol may be called anything: its modeline says what it is
    assert settings == json.loads(new_clinic("Q")[".vscode/settings.json"])


@pytest.mark.parametrize("kind", KINDS)
def test_hovering_a_field_tells_what_it_is(kind: str) -> None:
    schema = json.loads((schema_folder() / f"{kind}.schema.json").read_text(encoding="utf-8"))
    bare = [name for name, field in schema["properties"].items() if not field.get("description")]
    assert bare == []
