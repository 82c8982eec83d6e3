"""Opening the lead account: from the environment, or asked for on a terminal."""

import sys
from collections.abc import Callable
from getpass import getpass

from django.core.exceptions import ValidationError
from django.core.management.base import CommandError

from practice.env import env_text
from practice.models import User
from practice.services.people import add_member


class NobodyToAsk(CommandError):
    """Neither the environment names an account nor is there a terminal to ask on."""

    def __init__(self) -> None:
        super().__init__(
            "There is no terminal to ask on, and FIRST_USER_NAME with FIRST_USER_PASSWORD (or "
            "FIRST_USER_PASSWORD_FILE) are not set."
        )


def open_lead_account(say: Callable[[str], None]) -> User:
    """Make an account that may do everything; raises CommandError when it cannot."""
    name = env_text("FIRST_USER_NAME", "")
    if name:
        return _open_from_environment(name)
    if not sys.stdin.isatty():
        raise NobodyToAsk
    return _ask_until_it_works(say)


def _open(name: str, password: str) -> User:
    return add_member(password=password, username=name, role=User.Role.LEAD)


def _open_from_environment(name: str) -> User:
    try:
        return _open(name, env_text("FIRST_USER_PASSWORD", ""))
    except ValidationError as problem:
        raise CommandError(_words(problem, "FIRST_USER_NAME", "FIRST_USER_PASSWORD")) from None


def _ask_until_it_works(say: Callable[[str], None]) -> User:
    while True:
        name = input("Name to sign in with: ").strip()
        password = getpass("Password: ")
        if password != getpass("Password once more: "):
            say("The two passwords differ.")
            continue
        try:
            return _open(name, password)
        except ValidationError as problem:
            say(_words(problem, "Name", "Password"))


def _words(problem: ValidationError, name: str, password: str) -> str:
    labels = {"username": name, "password": password}
    return "\n".join(
        f"{labels.get(field, field)}: {' '.join(messages)}"
        for field, messages in problem.message_dict.items()
    )
