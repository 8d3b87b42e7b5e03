"""The database and the queue that come with the program.

With no `DATABASE_URL` (or no `REDIS_URL`) a PostgreSQL (or Valkey) of our own runs in the state folder, reached over
a Unix socket. A process that needs one calls `hold`: it takes a shared lock and finds the server running or has it
started. The server's keeper stops it when nobody holds that lock any more, so neither a crash nor kill -9 of a user
leaves an orphan.

Nothing here imports Django: the keepers stay small.
"""

from shop.embedded.hold import Hold, hold
from shop.embedded.places import Places
from shop.embedded.servers import EmbeddedError

__all__ = ["EmbeddedError", "Hold", "Places", "hold"]
