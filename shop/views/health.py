"""Whether the program can work: asked by supervisors, containers and people, signed in or not."""

import logging
from collections.abc import Callable

import psycopg
import redis
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import connection
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

logger = logging.getLogger(__name__)

_PATIENCE_S = 2


@never_cache
@login_not_required
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """The state of database and queue, in one word each; 503 when the database is down (nothing works without it).

    A queue that is down delays papers and messages, which wait in the database: the site itself still works.
    """
    database = _works("database", _ask_database)
    queue = _works("queue", _ask_queue)
    told = {"database": "ok" if database else "down", "queue": "ok" if queue else "down"}
    return JsonResponse(told, status=200 if database else 503)


def _works(name: str, ask: Callable[[], None]) -> bool:
    try:
        ask()
    except (psycopg.Error, redis.RedisError, OSError) as error:
        logger.warning("Health: the %s does not answer (%s).", name, type(error).__name__)
        return False
    return True


def _ask_database() -> None:
    """A connection of its own: the pool would wait its ten seconds for a database that is down."""
    known = {"host": "HOST", "port": "PORT", "dbname": "NAME", "user": "USER", "password": "PASSWORD"}
    wanted = {name: connection.settings_dict[key] for name, key in known.items() if connection.settings_dict[key]}
    with psycopg.connect(**wanted, connect_timeout=_PATIENCE_S) as asked:
        asked.execute("SELECT 1")


def _ask_queue() -> None:
    address = settings.CELERY_BROKER_URL.replace("redis+socket://", "unix://", 1).replace("virtual_host=", "db=")
    with redis.Redis.from_url(address, socket_timeout=_PATIENCE_S, socket_connect_timeout=_PATIENCE_S) as asked:
        asked.ping()
