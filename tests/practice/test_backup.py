"""`backup` and `restore`: what comes back is what was there, and nothing is lost by mistake."""

import json
import re
import shutil
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from pytest_django import Settings

from practice.models import Client, HorseRole, Rider
from practice.services.backups import make_backup, restore_backup
from tests.factories import make_client, make_horse, make_user
from tests.practice.site import Site

FILL = (
    "from tests.factories import *\n"
    "make_practice(); make_user(username='fitter')\n"
    "make_measurement(make_horse(make_client(name='Garrick Nettleworth')))\n"
)


@pytest.fixture
def filled(site: Site) -> Site:
    filling = site.run("shell", "-c", FILL)
    assert filling.returncode == 0, filling.stderr
    (site.folder / "media" / "marks").mkdir(parents=True)
    (site.folder / "media" / "marks" / "left.jpg").write_bytes(b"a picture")
    return site


def copy_of(tmp_path: Path, empty_install: Path) -> Site:
    shutil.copytree(empty_install, tmp_path / "other")
    return Site(tmp_path / "other")


def to_the_millisecond(row: tuple[object, ...]) -> str:
    return re.sub(r"(:\d\d\.\d{3})\d{3}", r"\1", repr(row))


def contents(site: Site) -> dict[str, list[str]]:
    """Return every row of every table that holds the practice's records."""
    tables = [
        name
        for (name,) in site.rows("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY 1")
        if name.startswith(("practice_", "horses_", "fitting_"))
    ]
    return {
        name: sorted(map(to_the_millisecond, site.rows(f"SELECT * FROM {name}"))) for name in tables
    }


@pytest.mark.parametrize("options", [(), ("--portable",)], ids=["sqlite", "portable"])
def test_everything_comes_back_in_an_empty_install(
    filled: Site, tmp_path: Path, empty_install: Path, options: tuple[str, ...]
) -> None:
    archive = tmp_path / "backup.zip"
    made = filled.run("backup", str(archive), *options)
    assert made.returncode == 0, made.stderr
    assert archive.stat().st_mode & 0o077 == 0, "only its owner may read it"

    other = copy_of(tmp_path, empty_install)
    restored = other.run("restore", str(archive))
    assert restored.returncode == 0, restored.stderr
    assert contents(other) == contents(filled)
    assert len(contents(other)["horses_sectionprofile"]) > 0
    assert (other.folder / "media" / "marks" / "left.jpg").read_bytes() == b"a picture"


def test_restore_does_not_touch_records_unless_told(filled: Site, tmp_path: Path) -> None:
    archive = tmp_path / "backup.zip"
    assert filled.run("backup", str(archive)).returncode == 0
    later = "from practice.models import Client; Client.objects.create(name='Came later')"
    assert filled.run("shell", "-c", later).returncode == 0

    refused = filled.run("restore", str(archive))
    assert refused.returncode == 1
    assert "--replace" in refused.stderr
    assert len(filled.rows("SELECT * FROM practice_client")) == 2

    assert filled.run("restore", "--replace", str(archive)).returncode == 0
    assert filled.rows("SELECT name FROM practice_client") == [("Garrick Nettleworth",)]


# --- The services, on whichever database the tests run ------------------------------------------


@pytest.fixture
def data_dir(settings: Settings, tmp_path: Path) -> Path:
    settings.DATA_DIR = tmp_path
    settings.MEDIA_ROOT = tmp_path / "media"
    return tmp_path


def rewritten(archive: Path, change: Callable[[dict[str, object]], None]) -> Path:
    """Return a copy of a backup whose manifest was changed."""
    changed = archive.with_name("changed.zip")
    with zipfile.ZipFile(archive) as old, zipfile.ZipFile(changed, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "manifest.json":
                manifest = json.loads(content)
                change(manifest)
                content = json.dumps(manifest).encode()
            new.writestr(name, content)
    return changed


@pytest.mark.django_db(transaction=True)
def test_a_portable_backup_comes_back_on_this_database(data_dir: Path) -> None:
    make_user()
    owner = make_client(name="Garrick Nettleworth")
    horse = make_horse(owner)
    made = make_backup(path=data_dir / "backup.zip", is_portable=True)
    assert made.database == "database.json"
    call_command("flush", interactive=False, verbosity=0)
    assert not Client.objects.exists()

    restore_backup(path=data_dir / "backup.zip")
    assert Client.objects.get() == owner
    assert HorseRole.objects.filter(horse=horse, client=owner).exists()
    assert Rider.objects.create(name="New").pk, "numbers given out go on after the restored ones"


@pytest.mark.django_db(transaction=True)
def test_a_backup_of_a_newer_version_is_refused(data_dir: Path) -> None:
    make_backup(path=data_dir / "backup.zip", is_portable=True)
    newer = rewritten(
        data_dir / "backup.zip", lambda m: m["migrations"].append("horses.9999_not_yet")
    )
    with pytest.raises(ValidationError, match="newer version"):
        restore_backup(path=newer)


@pytest.mark.django_db(transaction=True)
def test_a_portable_backup_of_an_older_version_is_refused(data_dir: Path) -> None:
    make_backup(path=data_dir / "backup.zip", is_portable=True)
    older = rewritten(data_dir / "backup.zip", lambda m: m["migrations"].pop())
    with pytest.raises(ValidationError, match="only be restored by the version that made it"):
        restore_backup(path=older)


def _places_inside(archive: Path) -> list[int]:
    """Bytes of the packed data: damage to them is a wrong sum, or data that cannot be unpacked."""
    whole, places = archive.read_bytes(), []
    with zipfile.ZipFile(archive) as opened:
        for info in opened.infolist():
            name, extra = struct.unpack_from("<HH", whole, info.header_offset + 26)
            start = info.header_offset + 30 + name + extra
            places += [start + info.compress_size * fifth // 5 for fifth in range(1, 5)]
    return places


@pytest.mark.django_db(transaction=True)
def test_a_damaged_backup_changes_nothing(data_dir: Path) -> None:
    make_client(name="Garrick Nettleworth")
    archive = data_dir / "backup.zip"
    make_backup(path=archive, is_portable=True)
    whole = archive.read_bytes()
    for at in _places_inside(archive):
        archive.write_bytes(whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :])
        with pytest.raises(ValidationError, match="not a whole backup"):
            restore_backup(path=archive, may_replace=True)
        assert Client.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_rows_that_do_not_fit_change_nothing(data_dir: Path) -> None:
    make_client(name="Garrick Nettleworth")
    archive = data_dir / "backup.zip"
    make_backup(path=archive, is_portable=True)
    wrong = data_dir / "wrong.zip"
    with zipfile.ZipFile(archive) as old, zipfile.ZipFile(wrong, "w") as new:
        new.writestr("manifest.json", old.read("manifest.json"))
        new.writestr("database.json", '[{"model": "practice.client", "fields": {"nme": "x"}}]')
    with pytest.raises(ValidationError, match="not a whole backup"):
        restore_backup(path=wrong, may_replace=True)
    assert Client.objects.get().name == "Garrick Nettleworth"


@pytest.mark.django_db
def test_what_is_no_backup_is_refused(data_dir: Path) -> None:
    (data_dir / "notes.zip").write_text("not a zip")
    with pytest.raises(ValidationError, match="not a whole backup"):
        restore_backup(path=data_dir / "notes.zip")
    with pytest.raises(ValidationError, match="not a whole backup"):
        restore_backup(path=data_dir / "missing.zip")


@pytest.mark.django_db(transaction=True)
def test_a_file_removed_meanwhile_does_not_stop_the_backup(
    data_dir: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = data_dir / "media"
    folder.mkdir()
    (folder / "kept.jpg").write_bytes(b"a picture")
    (folder / "gone.jpg").write_bytes(b"another")
    write = zipfile.ZipFile.write

    def removed_first(archive: zipfile.ZipFile, path: Path, name: str) -> None:
        if name.endswith("gone.jpg"):
            path.unlink()
        write(archive, path, name)

    monkeypatch.setattr(zipfile.ZipFile, "write", removed_first)
    make_backup(path=data_dir / "backup.zip", is_portable=True)
    with zipfile.ZipFile(data_dir / "backup.zip") as archive:
        names = [name for name in archive.namelist() if name.startswith("media/")]
    assert names == ["media/kept.jpg"]


def test_a_backup_is_never_written_over_a_file(data_dir: Path) -> None:
    (data_dir / "backup.zip").write_text("last year's")
    with pytest.raises(ValidationError, match="already there"):
        make_backup(path=data_dir / "backup.zip")
    assert (data_dir / "backup.zip").read_text() == "last year's"


@pytest.mark.django_db(transaction=True)
def test_files_cannot_be_written_outside_their_folder(data_dir: Path) -> None:
    make_client(name="Garrick Nettleworth")
    archive = data_dir / "backup.zip"
    make_backup(path=archive, is_portable=True)
    with zipfile.ZipFile(archive, "a") as added:
        added.writestr("media/../../escaped.txt", "out")
    restore_backup(path=archive, may_replace=True)
    assert not list(data_dir.parent.glob("escaped.txt"))
    assert not (data_dir / "escaped.txt").exists()
