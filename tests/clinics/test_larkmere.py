"""A second clinic takes the demonstration set over, makes it its own with the files kept here, and builds its site."""

from __future__ import annotations

import datetime
import html
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from stepfield.checks import Report, check_set
from stepfield.checks.deviations import grade_of
from stepfield.command import main
from stepfield.language import ProtocolSet, read_set

ROOT = Path(__file__).parents[2]
OWN = Path(__file__).parent / "larkmere" / "protocols"
TODAY = datetime.date(2026, 11, 27)
EPOCH = str(int(datetime.datetime(2026, 11, 27, tzinfo=datetime.UTC).timestamp()))


def ran(*words: object) -> Result:
    return CliRunner().invoke(main, list(map(str, words)))


@pytest.fixture(scope="module")
def clinic(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Larkmere's folder: adopted with the real command, its own files put in."""
    folder = tmp_path_factory.mktemp("clinics") / "larkmere"
    done = ran("adopt", ROOT / "protocols", folder, "--clinic", "Larkmere Minor Surgery", "--version", "2.0.0")
    assert done.exit_code == 0, done.output
    for file in OWN.glob("*.yaml"):
        shutil.copy(file, folder / "protocols")
    return folder


@pytest.fixture(scope="module")
def whole(clinic: Path) -> ProtocolSet:
    return read_set(clinic / "protocols", "protocols")


def checked(folder: Path, today: datetime.date = TODAY) -> Report:
    return check_set(read_set(folder, "protocols"), today)


def test_the_adopted_set_as_the_clinic_does_it_has_no_findings(clinic: Path) -> None:
    done = ran("check", clinic / "protocols", "--today", TODAY, "--no-cache")
    assert done.exit_code == 0, done.output
    assert done.output.startswith("No findings.\n")
    assert "3 protocols" in done.output


def test_one_change_is_stricter_one_neutral_and_one_looser(whole: ProtocolSet) -> None:
    assert whole.tailoring is not None
    grades = {str(one.name): grade_of(one).word for one in whole.tailoring.deviations}
    assert grades == {
        "foot-rest": "neutral",
        "trolley-cover": "neutral",
        "specimen-fridge": "neutral",
        "lesion-prep.check-dry": "stricter",
        "settle": "neutral",
        "take-specimen": "looser",
        "wipe-pot": "stricter",
        "cool-specimen": "stricter",
    }


def test_the_technique_never_used_is_gone_with_its_steps(whole: ProtocolSet) -> None:
    (lesion,) = (one for one in whole.protocols if one.id == "skin-lesion")
    assert lesion.choices == ()
    before = next(one for one in read_set(ROOT / "protocols").protocols if one.id == "skin-lesion")
    gone = {step.id.value for step in before.steps} - {step.id.value for step in lesion.steps}
    assert gone == {
        step.id.value
        for step in before.steps
        if any(str(part.name) == "closure" and "direct" not in map(str, part.options) for part in step.when)
    }
    assert "donor-prep.paint" in gone


def test_a_looser_change_is_told_once_its_day_is_past(clinic: Path) -> None:
    told = {one.rule for one in checked(clinic / "protocols", datetime.date(2027, 11, 2)).findings}
    assert "deviation-expired" in told


def test_one_nurse_does_both_roles_of_the_clinics_own_protocol(whole: ProtocolSet) -> None:
    (own,) = (one for one in whole.protocols if one.id == "stitches-out")
    assert [(str(one.id), sorted(map(str, one.roles))) for one in own.people] == [("nurse", ["circulating", "scrub"])]


def test_what_two_people_cannot_do_is_found_with_the_steps_that_clash(clinic: Path, tmp_path: Path) -> None:
    """Why the wrist release is left out: with it, the nurse would have to be sterile and not."""
    folder = tmp_path / "protocols"
    shutil.copytree(clinic / "protocols", folder)
    tailoring = folder / "tailoring.yaml"
    text = tailoring.read_text(encoding="utf-8")
    assert text.count("leave_out: [wrist-release]\n") == 1
    tailoring.write_text(text.replace("leave_out: [wrist-release]\n", ""), encoding="utf-8")
    found = [one for one in checked(folder).findings if one.protocol == "wrist-release"]
    assert {one.rule for one in found} == {"no-owner", "needs-not-met", "field-broken", "cover-missing"}
    broken = {(one.step, one.subject) for one in found if one.rule == "field-broken"}
    # The nurse in sterile gloves opens packs that are only clean outside.
    assert {("offer-instruments", "scrub.hands"), ("open-surgeon-pack", "scrub.hands")} <= broken
    assert {one.protocol for one in checked(folder).findings} == {"wrist-release"}


def test_its_site_is_whole_and_speaks_of_its_own_rooms(clinic: Path) -> None:
    site = clinic / "site"
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet", "--site-dir", str(site)],
        cwd=clinic,
        env={**os.environ, "SOURCE_DATE_EPOCH": EPOCH, "NO_MKDOCS_2_WARNING": "1"},
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()
    judged = ran("verify", site)
    assert judged.exit_code == 0, judged.output
    pages = {
        page.relative_to(site / "protocols").as_posix(): words(page.read_text(encoding="utf-8"))
        for page in (site / "protocols").rglob("*.html")
    }
    assert {name.partition("/")[0].removesuffix(".html") for name in pages} == {
        "skin-lesion",
        "toenail",
        "stitches-out",
    }
    lesion, toenail = pages["skin-lesion.html"], pages["toenail.html"]
    for local in ("Swivel tray of the chair", "Specimen fridge", "Room nurse", "Put the pot into the specimen fridge"):
        assert local in lesion, local
    for local in ("Leg support of the chair", "Tray cover 90 x 120 cm", "Lay the back of the chair flat"):
        assert local in toenail, local
    for away in ("Patient couch", "Instrument trolley", "thigh"):
        assert away not in toenail, away


def words(page: str) -> str:
    """What a page says, without its tags."""
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", page)).split())
