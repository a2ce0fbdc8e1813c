"""The wheel carries all that the package reads: it checks a protocol set without the clone it was built from."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.docs.blocks import blocks_of

ROOT = Path(__file__).parents[2]
CHECK = "import sys; from stepfield.command import main; sys.exit(main(sys.argv[1:]))"


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (wheel,) = folder.glob("stepfield-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder / "unpacked")
    return folder / "unpacked"


def test_everything_of_the_package_and_every_schema_is_in_it(unpacked: Path) -> None:
    package = {
        path.relative_to(ROOT / "plugins") for path in (ROOT / "plugins" / "stepfield").rglob("*") if path.is_file()
    }
    expected = {path.as_posix() for path in package if "__pycache__" not in path.parts}
    expected |= {f"stepfield/schema/{path.name}" for path in (ROOT / "schema").glob("*.json")}
    held = {path.relative_to(unpacked).as_posix() for path in unpacked.rglob("*") if path.is_file()}
    assert expected - held == set()
    assert any(name.startswith("stepfield/schema/") for name in held)


def test_it_checks_a_protocol_set_on_its_own(unpacked: Path, tmp_path: Path) -> None:
    for block in blocks_of((ROOT / "README.md").read_text(encoding="utf-8")):
        if block.language == "yaml":
            path = tmp_path / block.body.splitlines()[0].removeprefix("# ")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(block.body, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", CHECK, "check", "--format", "json"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(unpacked)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1, done.stdout + done.stderr
    assert [finding["rule"] for finding in json.loads(done.stdout)["findings"]] == ["not-available"]
