"""Put a backup in place of what is here."""

from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from practice.services.backups import restore_backup


class Command(BaseCommand):
    help = "Restore a backup into an empty install. Stop the site first."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path, help="an archive written by `backup`")
        parser.add_argument(
            "--replace", action="store_true", help="throw away the records that are here"
        )

    def handle(self, *, path: Path, replace: bool, **options: Any) -> None:
        try:
            manifest = restore_backup(path=path, may_replace=replace)
        except ValidationError as problem:
            raise CommandError(" ".join(problem.messages)) from None
        self.stdout.write(f"Restored the backup of {manifest.day}.")
