"""Open an account that may do everything."""

from typing import Any

from django.core.management.base import BaseCommand

from practice.management.accounts import open_lead_account


class Command(BaseCommand):
    help = "Open a lead account, from FIRST_USER_NAME and FIRST_USER_PASSWORD or by asking."

    def handle(self, **options: Any) -> None:
        member = open_lead_account(self.stdout.write)
        self.stdout.write(f"{member.username} can sign in and may do everything.")
