"""The embedded queue: a Valkey server that keeps what it accepted in an append-only file."""

import signal

from shop.embedded.owner import on_leash, server_owner
from shop.embedded.places import Places
from shop.embedded.programs import broker_program
from shop.embedded.servers import Launch, answers, clean_environment


class Broker:
    """Valkey in one state folder."""

    name = "broker"

    def __init__(self, places: Places) -> None:
        self._places = places

    def prepare(self) -> Launch:
        """Make the folders; the caller holds the server's lock, so a socket that is there is stale."""
        owner, data, run = server_owner(), self._places.broker_data, self._places.run
        owner.own(run)
        owner.own(data)
        self._places.broker_socket.unlink(missing_ok=True)
        command = [str(broker_program()), "--port", "0", "--unixsocket", str(self._places.broker_socket)]
        command += ["--unixsocketperm", "700", "--dir", str(data), "--appendonly", "yes", "--appendfsync", "everysec"]
        command += ["--save", "", "--maxmemory-policy", "noeviction", "--daemonize", "no", "--loglevel", "warning"]
        return Launch(on_leash(command, owner, signal.SIGTERM, data, run), signal.SIGTERM, clean_environment())

    def is_ready(self) -> bool:
        """Whether the socket is listened on; a queue still reading its file makes clients wait, not fail."""
        return answers(self._places.broker_socket)
