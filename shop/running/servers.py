"""Which embedded servers this installation needs."""

import os

from django.conf import settings


def own_servers() -> tuple[str, ...]:
    """`postgres` and `broker`, without those for which the environment names a server."""
    needs = {"postgres": not os.environ.get("DATABASE_URL"), "broker": not settings.REDIS_URL}
    return tuple(name for name, is_needed in needs.items() if is_needed)
