"""Loads what the parts will need, once, before they are forked."""

import gc
from importlib import import_module
from pathlib import Path

from django.template import TemplateDoesNotExist, TemplateSyntaxError, engines
from django.urls import get_resolver
from PIL import ImageFile

_FOR_PAGES = ("uvicorn", "uvloop", "httptools", "redis", "psycopg_pool")
_FOR_BACKGROUND = ("celery.worker", "celery.beat", "weasyprint")


def warm() -> None:
    """Import the site's addresses and what serves them, and compile the templates. Opens no connection."""
    get_resolver().url_patterns  # noqa: B018
    _import(_FOR_PAGES)
    _compile_templates()


def finish() -> None:
    """Build the site, which notes the collected static files; ready to fork what serves pages."""
    import_module("shop.asgi")
    _freeze()


def warm_background() -> None:
    """Import the tasks and what draws papers; ready to fork what works in the background."""
    import_module("shop.celery").app.loader.import_default_modules()
    _import(_FOR_BACKGROUND)
    # WeasyPrint lets Pillow take pictures that were cut short, everywhere in the process; photos must not be.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    _freeze()


def _import(names: tuple[str, ...]) -> None:
    for name in names:
        try:
            import_module(name)
        except (ImportError, OSError):
            # Papers need pango from the system; the task that draws one says what to install.
            continue


def _freeze() -> None:
    """Keep what is loaded out of the collector's reach, which would write to it: children would share less and less."""
    gc.collect()
    gc.freeze()


def _compile_templates() -> None:
    engine = engines["django"].engine  # type: ignore[attr-defined]
    for folder in map(Path, engine.dirs):
        for file in sorted(folder.rglob("*.html")):
            try:
                engine.get_template(file.relative_to(folder).as_posix())
            except (TemplateDoesNotExist, TemplateSyntaxError):
                # A broken template breaks its own page, not the start of the others.
                continue
