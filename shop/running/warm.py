"""Loads what the parts will need, once, before they are forked."""

import gc
from importlib import import_module
from pathlib import Path

from django.template import TemplateDoesNotExist, TemplateSyntaxError, engines
from django.urls import get_resolver

_LIBRARIES = ("uvicorn", "uvloop", "httptools", "redis", "psycopg_pool", "celery.worker", "celery.beat", "weasyprint")


def warm() -> None:
    """Import the site's addresses, tasks and libraries, and compile its templates. Opens no connection."""
    get_resolver().url_patterns  # noqa: B018
    import_module("shop.celery").app.loader.import_default_modules()
    for name in _LIBRARIES:
        try:
            import_module(name)
        except (ImportError, OSError):
            # Papers need pango from the system; the part that makes one says what to install.
            continue
    _compile_templates()


def finish() -> None:
    """Build the site, which notes the collected static files, and keep what is loaded out of the collector's reach.

    The collector would write to every object it visits, and forked children would share less and less.
    """
    import_module("shop.asgi")
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
