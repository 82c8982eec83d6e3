"""Evaluate a case file: `manage.py fit-case FILE.json`, or `-` for standard input."""

import json
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from fitting.adapters.case_result import NoAnswer, NoBalance, evaluate_case_file
from fitting.adapters.casefile import CaseFileError
from fitting.adapters.model_limits import model_account

MALFORMED, NO_BALANCE, NO_ANSWER = 2, 3, 4


class Command(BaseCommand):
    help = (
        "Evaluate a case file (see fitting/casefile/schema.json) and print the result as JSON. "
        "Exit code 2: the file is malformed, with the path of the bad field; 3: the tree cannot "
        "carry the load; 4: no answer was found. --about says what the model leaves out."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", nargs="?", help="a JSON file, or - for standard input")
        parser.add_argument(
            "--about",
            action="store_true",
            help="print what the model leaves out and what it takes where nobody measured",
        )
        parser.add_argument(
            "--pressure", action="store_true", help="add the pressure of every cell, bar by bar"
        )

    def handle(
        self, *args: Any, file: str | None, about: bool, pressure: bool, **options: Any
    ) -> None:
        if about:
            self.stdout.write(json.dumps(model_account(), indent=2))
            return
        if file is None:
            raise CommandError("Give a case file, - for standard input, or --about.", returncode=2)
        try:
            result = evaluate_case_file(_read(file), with_pressure=pressure)
        except CaseFileError as error:
            raise CommandError(str(error), returncode=MALFORMED) from error
        except NoBalance as error:
            raise CommandError(str(error), returncode=NO_BALANCE) from error
        except NoAnswer as error:
            raise CommandError(str(error), returncode=NO_ANSWER) from error
        self.stdout.write(json.dumps(result, indent=2))


def _read(file: str) -> str:
    if file == "-":
        return sys.stdin.read()
    try:
        return Path(file).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise CaseFileError("", f"cannot read {file}: {error}") from error
