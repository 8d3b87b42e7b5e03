"""Asks the running site for pages, one after another on an open connection, and takes the time."""

import http.client
import statistics
import time
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY

_CSRF = "b" * 32


@dataclass(frozen=True)
class Times:
    """Times of many answers, in milliseconds."""

    all_ms: tuple[float, ...]

    @property
    def p95(self) -> float:
        """19 of 20 answers took at most this long."""
        return statistics.quantiles(self.all_ms, n=20)[-1]

    @property
    def median(self) -> float:
        """Half of the answers took at most this long."""
        return statistics.median(self.all_ms)


class Asker:
    """One browser's worth of an open connection, signed in as `person`."""

    def __init__(self, port: int, person: Any) -> None:
        self._port = port
        self._cookies = f"{settings.SESSION_COOKIE_NAME}={session_of(person)}; {settings.CSRF_COOKIE_NAME}={_CSRF}"
        self._connection = self._open()

    def ask(self, path: str, data: Mapping[str, Any] | None = None, headers: Mapping[str, str] | None = None) -> bytes:
        """The body of a page (GET, or POST when there is data). Raises RuntimeError for any status but 200."""
        status, body = self.answer(path, data, headers)
        if status != 200:
            raise RuntimeError(f"{path} answered {status}: {body[:200]!r}")
        return body

    def answer(
        self, path: str, data: Mapping[str, Any] | None = None, headers: Mapping[str, str] | None = None
    ) -> tuple[int, bytes]:
        """Status and body, whatever they are. A connection that the server closed meanwhile is opened again."""
        sent = {"Cookie": self._cookies, "Host": f"localhost:{self._port}", **(headers or {})}
        body = None
        if data is not None:
            body = urlencode(data)
            sent |= {"Content-Type": "application/x-www-form-urlencoded", "X-CSRFToken": _CSRF}
        for is_last in (False, True):
            try:
                self._connection.request("GET" if body is None else "POST", path, body, sent)
                answer = self._connection.getresponse()
                return answer.status, answer.read()
            except (http.client.RemoteDisconnected, ConnectionError):
                self._connection.close()
                self._connection = self._open()
                if is_last or body is not None:
                    raise
        raise AssertionError("unreachable")

    def timed(
        self, path: str, data: Mapping[str, Any] | None = None, headers: Mapping[str, str] | None = None
    ) -> float:
        """How long the answer took, in milliseconds."""
        started = time.perf_counter()
        self.ask(path, data, headers)
        return (time.perf_counter() - started) * 1000

    def close(self) -> None:
        """Close the connection."""
        self._connection.close()

    def _open(self) -> http.client.HTTPConnection:
        return http.client.HTTPConnection("127.0.0.1", self._port, timeout=30)


def session_of(person: Any) -> str:
    """The key of a session in which `person` is signed in."""
    session = import_module(settings.SESSION_ENGINE).SessionStore()
    session[SESSION_KEY] = str(person.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    session.save()
    return str(session.session_key)
