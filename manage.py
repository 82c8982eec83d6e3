#!/usr/bin/env python3
"""Run a management command of the practice."""

import os
import secrets
import sys

from practice import env


def prepare(command: str) -> None:
    """Settle what must stand before the settings are read."""
    env.read_env_file()
    if command == "fit-case":  # reads a file and signs nothing, so it needs no key of an install
        os.environ["SECRET_KEY"] = secrets.token_urlsafe(48)
    if command == "demo":
        env.move_into_demo()
    if command in {"demo", "start"}:
        written = env.ensure_secret_key()
        if written:
            sys.stdout.write(f"Wrote a new secret key to {written}. Keep it private.\n")


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "practice.settings")
    prepare(sys.argv[1] if len(sys.argv) > 1 else "")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
