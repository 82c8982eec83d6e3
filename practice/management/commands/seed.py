"""Fill a database with a large invented practice, to try out size."""

from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from practice.demo.growing import grow_practice
from practice.demo.guard import refuse_real_clients
from practice.demo.people import PASSWORD


class Command(BaseCommand):
    help = "Fill a database without real clients with a large invented practice."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--horses", type=int, default=200)
        parser.add_argument("--visits", type=int, default=2000)
        parser.add_argument("--evaluations", type=int, default=20, help="fits to compute")
        parser.add_argument("--random-seed", type=int, default=7)

    def handle(
        self, *, horses: int, visits: int, evaluations: int, random_seed: int, **options: Any
    ) -> None:
        refuse_real_clients()
        call_command("migrate", interactive=False, verbosity=0)
        grown = grow_practice(
            horses=horses,
            visits=visits,
            evaluations=evaluations,
            random_seed=random_seed,
            today=timezone.localdate(),
        )
        self.stdout.write(
            f"Made {len(grown.horses)} horses, {len(grown.clients)} clients and "
            f"{len(grown.visits)} visits. Sign in as {grown.lead.username}, password {PASSWORD}."
        )
