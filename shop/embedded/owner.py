"""Which user the embedded servers run as: our own or, when root starts them, `nobody`."""

import os
import pwd
import sys
from dataclasses import dataclass
from pathlib import Path

from shop.embedded import leash


@dataclass(frozen=True)
class Owner:
    """A user to run as; `is_other` when it differs from the one who starts the server."""

    uid: int
    gid: int
    is_other: bool

    def own(self, folder: Path) -> None:
        """Make `folder` if missing, closed to everyone else, and hand it and what is in it to this user."""
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not self.is_other:
            folder.chmod(0o700)
            return
        if folder.stat().st_uid == self.uid:
            return
        for path in (*folder.rglob("*"), folder):
            os.chown(path, self.uid, self.gid, follow_symlinks=False)
        folder.chmod(0o700)


def server_owner() -> Owner:
    """PostgreSQL refuses to run as root, so root's servers run as `nobody`."""
    if os.getuid() != 0:
        return Owner(os.getuid(), os.getgid(), is_other=False)
    try:
        nobody = pwd.getpwnam("nobody")
    except KeyError:
        return Owner(65534, 65534, is_other=True)
    return Owner(nobody.pw_uid, nobody.pw_gid, is_other=True)


def on_leash(command: list[str], owner: Owner, signal_number: int, *touched: Path) -> list[str]:
    """`command` wrapped so that it dies by `signal_number` with this process and runs as `owner`.

    Where `owner` could not enter the folders of `touched` or of the program (a clone in /root, say), it keeps the right
    to enter them.
    """
    wrapped = [sys.executable, "-I", "-S", "-B", str(Path(leash.__file__).resolve())]
    wrapped += ["--parent", str(os.getpid()), "--signal", str(int(signal_number))]
    if owner.is_other:
        wrapped += ["--uid", str(owner.uid), "--gid", str(owner.gid)]
        if not all(map(_is_open, (Path(command[0]), *touched))):
            wrapped.append("--reach")
    return [*wrapped, "--", *command]


def _is_open(path: Path) -> bool:
    """Whether every folder above `path` lets other users through."""
    return all(parent.stat().st_mode & 0o001 for parent in path.resolve().parents)
