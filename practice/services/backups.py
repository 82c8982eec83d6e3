"""One zip with the database and the files, made while the site runs, and its way back.

SQLite is copied page by page and can be restored by any later version. From PostgreSQL, or when
asked for a portable copy, the rows are written as JSON, with times to the millisecond: those fit
either database, but only the version that wrote them. Sessions and sign-in attempts are left out
of the JSON; the secret key is never in a backup.
"""

import io
import json
import shutil
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.core.serializers.base import DeserializationError
from django.db import DatabaseError, connection, transaction
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from practice.models import Client, User

FORMAT = 1
MANIFEST = "manifest.json"
SQLITE_COPY = "database.sqlite3"
JSON_COPY = "database.json"
FILES = PurePosixPath("media")
UNREADABLE = (
    *(OSError, zipfile.BadZipFile, zlib.error, KeyError, ValueError, TypeError),
    *(DeserializationError, DatabaseError),
)
LEFT_OUT = ("contenttypes", "auth.permission", "sessions", "axes")


@dataclass(frozen=True)
class Manifest:
    """What a backup says about itself."""

    format: int
    made_at: str
    database: str
    migrations: list[str]

    @property
    def day(self) -> str:
        return datetime.fromisoformat(self.made_at).strftime("%Y-%m-%d %H:%M UTC")


def _migrations_applied() -> list[str]:
    applied = MigrationLoader(connection).applied_migrations
    return sorted(f"{app}.{name}" for app, name in applied)


def _migrations_known() -> set[str]:
    return {f"{app}.{name}" for app, name in MigrationLoader(connection).disk_migrations}


# --- Making one ---------------------------------------------------------------------------------


def make_backup(*, path: Path, is_portable: bool = False) -> Manifest:
    """Write a backup; an existing file is never overwritten (ValidationError)."""
    if path.exists():
        raise ValidationError(f"{path} is already there. Choose another name.")
    as_json = is_portable or connection.vendor != "sqlite"
    name = JSON_COPY if as_json else SQLITE_COPY
    manifest = Manifest(FORMAT, timezone.now().isoformat(), name, _migrations_applied())
    unfinished = path.with_name(f"{path.name}.part")
    try:
        unfinished.touch(mode=0o600)
        with zipfile.ZipFile(unfinished, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(MANIFEST, json.dumps(asdict(manifest), indent=1))
            (_put_rows if as_json else _put_sqlite)(archive)
            _put_files(archive)
        unfinished.rename(path)
    finally:
        unfinished.unlink(missing_ok=True)
    return manifest


def _put_sqlite(archive: zipfile.ZipFile) -> None:
    with tempfile.TemporaryDirectory(dir=settings.DATA_DIR) as folder:
        copy = Path(folder) / SQLITE_COPY
        connection.ensure_connection()
        with closing(sqlite3.connect(copy)) as target:
            connection.connection.backup(target)
        archive.write(copy, SQLITE_COPY)


@contextmanager
def _one_moment() -> Iterator[None]:
    """Let every query inside see the database as it is now, whatever others write meanwhile."""
    with transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield


def _put_rows(archive: zipfile.ZipFile) -> None:
    with (
        _one_moment(),
        archive.open(JSON_COPY, "w", force_zip64=True) as raw,
        io.TextIOWrapper(raw, "utf-8") as rows,
    ):
        call_command("dumpdata", natural_foreign=True, exclude=LEFT_OUT, stdout=rows)


def _put_files(archive: zipfile.ZipFile) -> None:
    root = Path(settings.MEDIA_ROOT)
    for path in sorted(root.rglob("*")):
        # What somebody removes meanwhile is gone; the backup goes on.
        with suppress(FileNotFoundError):
            if not path.is_file():
                continue
            archive.write(path, str(FILES / path.relative_to(root).as_posix()))


# --- Taking one back ----------------------------------------------------------------------------


def restore_backup(*, path: Path, may_replace: bool = False) -> Manifest:
    """Put a backup in place of what is here; nothing is changed when it cannot be used.

    Raises ValidationError when the file is no whole backup, comes from a version this one cannot
    read, or when there are records here already and `may_replace` is not set.
    """
    if not may_replace and _holds_records():
        raise ValidationError(
            "This install already holds records. They would be lost; --replace says you want that."
        )
    try:
        with zipfile.ZipFile(path) as archive:
            return _restore(archive)
    except UNREADABLE as problem:
        raise ValidationError(f"{path} is not a whole backup: {problem}") from problem


def _holds_records() -> bool:
    tables = connection.introspection.table_names()
    return any(
        model._meta.db_table in tables and model._default_manager.exists()
        for model in (User, Client)
    )


def _restore(archive: zipfile.ZipFile) -> Manifest:
    manifest = Manifest(**json.loads(archive.read(MANIFEST)))
    _check_whole(archive)
    _check_version(manifest)
    with tempfile.TemporaryDirectory(dir=settings.DATA_DIR) as folder:
        for name in (manifest.database, *_file_names(archive)):
            archive.extract(name, folder)
        if manifest.database == SQLITE_COPY:
            _take_sqlite(Path(folder) / SQLITE_COPY)
        else:
            _take_rows(Path(folder) / JSON_COPY)
        _take_files(Path(folder) / FILES)
    return manifest


def _file_names(archive: zipfile.ZipFile) -> list[str]:
    return [name for name in archive.namelist() if PurePosixPath(name).parts[0] == FILES.name]


def _check_whole(archive: zipfile.ZipFile) -> None:
    broken = archive.testzip()
    if broken:
        raise ValueError(f"{broken} is damaged")


def _check_version(manifest: Manifest) -> None:
    ours = _migrations_known()
    theirs = set(manifest.migrations)
    if manifest.format != FORMAT or theirs - ours:
        raise ValidationError("This backup comes from a newer version. Install that version first.")
    if manifest.database == JSON_COPY and theirs != ours:
        raise ValidationError(
            "A portable backup can only be restored by the version that made it. Install that "
            "version, restore, and upgrade afterwards."
        )
    if manifest.database == SQLITE_COPY and connection.vendor != "sqlite":
        raise ValidationError(
            "This backup is a copy of an SQLite database. To move to another one, make it again "
            "with --portable."
        )


def _take_sqlite(copy: Path) -> None:
    with closing(sqlite3.connect(copy)) as source:
        (answer,) = source.execute("PRAGMA integrity_check").fetchone()
        if answer != "ok":
            raise ValueError(f"its database is damaged ({answer})")
        connection.ensure_connection()
        source.backup(connection.connection)
    connection.close()
    call_command("migrate", interactive=False, verbosity=0)


def _take_rows(rows: Path) -> None:
    call_command("migrate", interactive=False, verbosity=0)
    with transaction.atomic():
        call_command("flush", interactive=False, verbosity=0)
        call_command("loaddata", str(rows), verbosity=0)


def _take_files(files: Path) -> None:
    root = Path(settings.MEDIA_ROOT)
    if root.exists():
        shutil.rmtree(root)
    if files.exists():
        shutil.move(files, root)
