"""Run a real practice on this machine."""

import sys
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from practice.management.accounts import NobodyToAsk, open_lead_account
from practice.processes import serve
from practice.selectors.install import has_lead, is_demo_database

IS_THE_DEMO = (
    "This database belongs to the demo, and a real practice must not be kept in it. "
    "Unset IS_DEMO, or point DATA_DIR or DATABASE_URL somewhere else."
)


class Command(BaseCommand):
    help = "Bring the database up to date, make sure somebody can sign in, and serve the site."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *, host: str, port: int, **options: Any) -> None:
        if is_demo_database():
            raise CommandError(IS_THE_DEMO)
        self.stdout.write("Bringing the database up to date.")
        call_command("migrate", interactive=False, verbosity=0)
        call_command("collectstatic", interactive=False, verbosity=0)
        self._make_sure_somebody_can_sign_in()
        connection.close()
        sys.exit(serve(host=host, port=port, say=self._say, on_ready=self._announce))

    def _make_sure_somebody_can_sign_in(self) -> None:
        if has_lead():
            return
        try:
            member = open_lead_account(self.stdout.write)
        except NobodyToAsk as problem:
            # A container is started before anyone can be asked: serve, and say what to do.
            self.stderr.write(f"Nobody can sign in yet. {problem}")
            self.stderr.write("Open an account with: manage.py add-lead")
        else:
            self.stdout.write(f"Opened the account {member.username}.")

    def _announce(self, site_url: str) -> None:
        self._say(f"Serving at {site_url}. Ctrl-C stops it.")

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()  # a log file must not lag behind what happens
