"""Makes ready what the program needs on this machine: `python3 shop/setup/bootstrap.py run` (or `test`).

A virtual environment in .venv with the pinned packages, and the few system packages that pip cannot bring. What is
there already is left alone, so that a second call takes a moment. Only the standard library, and no syntax newer than
Python 3.7 knows, so that an old Python can say that it is too old.
"""

import ctypes
import hashlib
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
ENVIRONMENT = ROOT / ".venv"
PYTHON = ENVIRONMENT / "bin" / "python"
OLDEST = (3, 11)

PAPER_LIBRARIES = ("libpango-1.0", "libpangoft2-1.0", "libharfbuzz-subset")
PAPER_PACKAGES = ["libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0", "fonts-dejavu-core"]
FONT_FOLDERS = ("/usr/share/fonts", "/usr/local/share/fonts", "/Library/Fonts", "/System/Library/Fonts")
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
MAC_BROWSER = Path("/Applications/Google Chrome.app/Contents/MacOS/Google Chrome")


def main(purpose: str) -> None:
    """Make ready for `purpose`, `run` or `test`."""
    if sys.version_info < OLDEST:
        sys.exit(
            "Bittern needs Python 3.11 or newer; this one is {}.{}. Install a newer one (on Debian 12 or newer: "
            "apt-get install python3 python3-venv; on macOS: brew install python). If it is not the first in the path: "
            "make run PYTHON=/path/of/python3.".format(*sys.version_info[:2])
        )
    make_environment()
    install_packages("dev" if purpose == "test" else "base")
    if os.environ.get("BITTERN_SKIP_SYSTEM_PACKAGES"):
        return
    bring_paper_libraries()
    if purpose == "test":
        bring_browser()


def say(words: str) -> None:
    """Tell what takes a while."""
    print(words, flush=True)  # noqa: T201


def make_environment() -> None:
    """A virtual environment of this Python, unless there is a usable one."""
    if PYTHON.exists() and _ends_well([str(PYTHON), "-c", "import pip, sys; sys.exit(sys.version_info < (3, 11))"]):
        return
    say("Making the virtual environment .venv ...")
    try:
        _make_environment()
    except (subprocess.CalledProcessError, ImportError, SystemExit):
        # Debian keeps the part of Python that makes environments with pip in a package of its own.
        version = "python{}.{}-venv".format(*sys.version_info[:2])
        install_system_packages([version], "make a virtual environment", f"Install {version} (or python3-venv).")
        _make_environment()


def _make_environment() -> None:
    venv.EnvBuilder(with_pip=True, clear=True, symlinks=True).create(str(ENVIRONMENT))


def install_packages(wanted: str) -> None:
    """The pinned packages of requirements/WANTED.txt, each checked against its hash."""
    lock = ROOT / "requirements" / f"{wanted}.txt"
    print_of_lock = hashlib.sha256(lock.read_bytes()).hexdigest()
    mark = ENVIRONMENT / f".installed-{wanted}"
    if mark.exists() and mark.read_text() == print_of_lock:
        return
    say(f"Installing the packages of requirements/{wanted}.txt ...")
    command = [str(PYTHON), "-m", "pip", "install", "--quiet", "--require-hashes", "--disable-pip-version-check"]
    if subprocess.run([*command, "--no-input", "-r", str(lock)], cwd=str(ROOT)).returncode:
        sys.exit("The packages could not be installed; pip says why above. With no network, see DEVELOPERS.md.")
    mark.write_text(print_of_lock)


def bring_paper_libraries() -> None:
    """Pango, HarfBuzz and a font: PDF papers are drawn with them."""
    if all(map(_loads, PAPER_LIBRARIES)) and _has_font():
        return
    install_system_packages(
        PAPER_PACKAGES,
        "draw papers",
        "On macOS: brew install pango harfbuzz. On Fedora: dnf install pango harfbuzz dejavu-sans-fonts. "
        "On Alpine: apk add pango harfbuzz-subset font-dejavu.",
    )


def bring_browser() -> None:
    """A Chromium for the browser tests; where the system has none to install, the one that Playwright brings."""
    if _has_browser():
        return
    if not _is_ubuntu():
        if _can_install():
            install_system_packages(["chromium"], "test pages in a browser", "")
        if _has_browser():
            return
    # Ubuntu's package is a snap, which does not start in containers.
    say("Installing Playwright's Chromium ...")
    command = [str(PYTHON), "-m", "playwright", "install", "chromium"]
    if _can_install():
        command.insert(-1, "--with-deps")
    if subprocess.run(command).returncode:
        sys.exit(
            "The browser tests need Chromium. On Debian: apt-get install chromium. On macOS: brew install --cask "
            "chromium. Or name one: BITTERN_CHROMIUM=/path/of/chromium make test."
        )


def install_system_packages(packages: list, purpose: str, otherwise: str) -> None:
    """Install Debian packages when this user may; else end and say what to install."""
    names = " ".join(packages)
    if not _can_install():
        sys.exit(
            f"To {purpose}, this machine lacks some of: {names}.\nOn Debian or Ubuntu: sudo apt-get install {names}\n"
            f"{otherwise}\nThen call make again. (BITTERN_SKIP_SYSTEM_PACKAGES=1 goes on without.)"
        )
    say(f"Installing system packages: {names} ...")
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    before = [] if os.getuid() == 0 else ["sudo", "-n", "DEBIAN_FRONTEND=noninteractive"]
    install = [*before, "apt-get", "install", "--yes", "--quiet=2", "--no-install-recommends", *packages]
    if subprocess.run(install, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode:
        subprocess.run([*before, "apt-get", "update", "--quiet=2"], env=environment, stdout=subprocess.DEVNULL)
        if subprocess.run(install, env=environment, stdout=subprocess.DEVNULL).returncode:
            sys.exit(
                f"apt-get could not install {names}; it says why above. They are needed to {purpose}.\n{otherwise}"
            )


def _can_install() -> bool:
    if not shutil.which("apt-get"):
        return False
    return os.getuid() == 0 or (bool(shutil.which("sudo")) and _ends_well(["sudo", "-n", "true"]))


def _is_ubuntu() -> bool:
    release = Path("/etc/os-release")
    return release.exists() and "ID=ubuntu" in release.read_text().splitlines()


def _has_browser() -> bool:
    if os.environ.get("BITTERN_CHROMIUM") or MAC_BROWSER.exists() or any(map(shutil.which, BROWSERS)):
        return True
    program = "from playwright.sync_api import sync_playwright as s\nwith s() as p: print(p.chromium.executable_path)"
    asked = subprocess.run([str(PYTHON), "-c", program], stdout=subprocess.PIPE, text=True)
    return not asked.returncode and Path(asked.stdout.strip()).exists()


def _loads(library: str) -> bool:
    names = [f"{library}.so.0", f"{library}.0.dylib", f"/opt/homebrew/lib/{library}.0.dylib"]
    for name in [*names, f"/usr/local/lib/{library}.0.dylib"]:
        try:
            ctypes.CDLL(name)
        except OSError:
            continue
        return True
    return False


def _has_font() -> bool:
    found = (path for folder in FONT_FOLDERS for path in Path(folder).rglob("*.[to]t[fc]"))
    return next(found, None) is not None


def _ends_well(command: list) -> bool:
    try:
        return not subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode
    except OSError:
        return False


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "run")
