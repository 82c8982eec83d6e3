"""Show the whole of Backledger on an invented practice."""

import sys
import time
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from practice.demo.calendar import ZONE
from practice.demo.guard import refuse_real_clients, story_is_loaded
from practice.demo.loading import load_practice
from practice.demo.people import LEAD, PASSWORD
from practice.models import ShareLink
from practice.processes import serve

NOT_THE_DEMO = "The demo has a database of its own, and this is not it. Run it as: manage.py demo"
EVERY = 10  # evaluations between two lines when the output is not a terminal


class Command(BaseCommand):
    help = "Make an invented practice in a database of its own, compute every fit, and serve it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument(
            "--fresh", action="store_true", help="throw the demo away and remake it"
        )
        parser.add_argument("--no-serve", action="store_true", help="stop when it is made")

    def handle(self, *, host: str, port: int, fresh: bool, no_serve: bool, **options: Any) -> None:
        if not settings.IS_DEMO:
            raise CommandError(NOT_THE_DEMO, returncode=2)
        refuse_real_clients()
        call_command("migrate", interactive=False, verbosity=0)
        if fresh:
            call_command("flush", interactive=False, verbosity=0)
        if story_is_loaded():
            self.stdout.write("Using the demo as it is; --fresh makes it anew.")
        else:
            self._load()
        if no_serve:
            self._say_how_to_sign_in(settings.SITE_URL)
        else:
            self._serve(host, port)

    def _load(self) -> None:
        self.stdout.write("Making the demo: an invented practice, three seasons of visits.")
        begun = time.monotonic()
        load_practice(
            today=timezone.localdate(timezone=ZoneInfo(ZONE)),
            on_evaluation=self._show_progress,
        )
        self.stdout.write(f"Made in {time.monotonic() - begun:.0f} s.")

    def _show_progress(self, number: int, total: int) -> None:
        line = f"Evaluating {number} of {total}"
        if self.stdout.isatty():
            self.stdout.write(f"\r{line}", ending="\n" if number == total else "")
        elif number % EVERY == 0 or number == total:
            self.stdout.write(line)
        self.stdout.flush()

    def _serve(self, host: str, port: int) -> None:
        call_command("collectstatic", interactive=False, verbosity=0)
        connection.close()
        sys.exit(serve(host=host, port=port, say=self.stdout.write, on_ready=self._announce))

    def _announce(self, site_url: str) -> None:
        self._say_how_to_sign_in(site_url)
        self.stdout.write("Ctrl-C stops it.")
        self.stdout.flush()

    def _say_how_to_sign_in(self, site_url: str) -> None:
        self.stdout.write(f"Address         {site_url}/")
        self.stdout.write(f"Sign in as      {LEAD}   password  {PASSWORD}")
        link = ShareLink.objects.filter(revoked_at=None).first()
        if link:
            path = reverse("shared_report", args=[link.token])
            self.stdout.write(f"Owner's report  {site_url}{path}")
