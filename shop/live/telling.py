"""Telling open screens that something changed."""

import json
from typing import Any

from django.db import connection

CHANNEL = "bittern_live"


def tell_screens(topic: str, **ids: Any) -> None:
    """Tells every open screen once the transaction under way commits, and nobody when it rolls back.

    `ids` say what changed and whom it concerns (`people`: ids of staff), never what it says.
    """
    told = json.dumps({"topic": topic, **ids}, separators=(",", ":"), sort_keys=True)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_notify(%s, %s)", [CHANNEL, told])
