#!/usr/bin/env python
"""Runs Bittern's commands, with the embedded database for their time when no other is configured."""

import os
import sys

WITHOUT_DATABASE = {"", "help", "--help", "-h", "version", "--version", "collectstatic", "findstatic", "diffsettings"}
"""Commands that need no database, and those that see to it themselves."""
WITHOUT_DATABASE |= {"up", "bench", "clean_state"}


def _hold_database() -> None:
    from shop.config import env, state_folder
    from shop.embedded import EmbeddedError, hold

    if env.str("DATABASE_URL", ""):
        return
    try:
        hold("postgres", state=state_folder())
    except EmbeddedError as error:
        sys.exit(str(error))


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    if (sys.argv[1:] or [""])[0] not in WITHOUT_DATABASE:
        _hold_database()
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
