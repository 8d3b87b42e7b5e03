"""Typed settings from the environment, a .env file or secret files, refused with advice when wrong."""

import os
import secrets
import tempfile
from contextlib import suppress
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured
from environs import Env

ROOT = Path(__file__).resolve().parent.parent

env = Env()
env.read_env(env.str("BITTERN_ENV_FILE", "") or ROOT / ".env", recurse=False)


def state_folder() -> Path:
    """The one folder that holds everything the program keeps: database, queue, files, keys."""
    folder = Path(env.str("BITTERN_STATE", str(ROOT / ".state"))).expanduser().resolve()
    # Closed to other users; root's stays passable, because root's servers run as another user.
    folder.mkdir(mode=0o700 if os.getuid() else 0o755, parents=True, exist_ok=True)
    return folder


def secret(name: str, state: Path) -> str:
    """A secret from NAME, else from the file named by NAME_FILE, else made once and kept in the state folder."""
    value = env.str(name, "")
    if value:
        return value
    named = env.str(f"{name}_FILE", "")
    if named:
        try:
            return Path(named).read_text().strip()
        except OSError as error:
            raise ImproperlyConfigured(
                f"{name}_FILE names {named}, which cannot be read ({error.strerror}). "
                f"Give the path of a readable file, or set {name} itself."
            ) from error
    return _kept_secret(state / "secrets" / name.lower())


def _kept_secret(file: Path) -> str:
    """Several processes may start at once, and any may be killed: the name appears with the whole secret behind it."""
    file.parent.mkdir(mode=0o700, exist_ok=True)
    if not file.exists():
        with tempfile.NamedTemporaryFile("w", dir=file.parent) as made:
            made.write(secrets.token_urlsafe(48))
            made.flush()
            os.fsync(made.fileno())
            with suppress(FileExistsError):
                os.link(made.name, file)
    return file.read_text().strip()
