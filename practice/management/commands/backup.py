"""Write the database and the files into one archive."""

from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from practice.services.backups import make_backup


class Command(BaseCommand):
    help = "Write the database and the files into one archive, while the site runs."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path, help="the archive to write, such as backup.zip")
        parser.add_argument(
            "--portable",
            action="store_true",
            help="rows as JSON, to move between SQLite and PostgreSQL",
        )

    def handle(self, *, path: Path, portable: bool, **options: Any) -> None:
        try:
            make_backup(path=path, is_portable=portable)
        except ValidationError as problem:
            raise CommandError(" ".join(problem.messages)) from None
        size_mb = path.stat().st_size / 1e6
        self.stdout.write(f"Wrote {path} ({size_mb:.1f} MB). It holds personal data: keep it safe.")
