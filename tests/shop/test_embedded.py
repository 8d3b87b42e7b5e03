"""The embedded database and queue: kept through kill -9, started once by many, stopped by the last."""

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import psycopg
import pytest
import redis
from django.conf import settings

from shop.embedded import EmbeddedError, Places
from shop.embedded.hold import Hold
from shop.embedded.leash import watch
from shop.embedded.places import SOCKET_PATH_LIMIT
from shop.embedded.servers import server_lock

Eventually = Callable[..., object]


def connect(state: Path) -> "psycopg.Connection[tuple[object, ...]]":
    return psycopg.connect(host=str(Places(state).run), port=5432, user="bittern", dbname="bittern", autocommit=True)


def server_pid(state: Path) -> int:
    return int((Places(state).postgres_data / "postmaster.pid").read_text().splitlines()[0])


def is_stopped(state: Path, name: str = "postgres") -> bool:
    lock = server_lock(Places(state), name)
    free = lock.try_take()
    lock.drop()
    return free


def test_rows_committed_before_kill_9_are_there_after_the_next_start(state: Path, eventually: Eventually) -> None:
    first = Hold("postgres", state)
    first.ensure()
    with connect(state) as connection:
        connection.execute("CREATE TABLE kept (n int)")
        connection.execute("INSERT INTO kept SELECT generate_series(1, 1000)")
        os.kill(server_pid(state), signal.SIGKILL)
    eventually(lambda: is_stopped(state))
    second = Hold("postgres", state)
    second.ensure()
    with connect(state) as connection:
        assert connection.execute("SELECT count(*), max(n) FROM kept").fetchone() == (1000, 1000)
    first.drop()
    second.drop()
    eventually(lambda: is_stopped(state))


def test_two_that_start_at_once_share_one_server(state: Path, eventually: Eventually) -> None:
    shares = [Hold("postgres", state) for _ in range(4)]
    failed: list[Exception] = []

    def ensure(share: Hold) -> None:
        try:
            share.ensure()
        except EmbeddedError as error:
            failed.append(error)

    threads = [threading.Thread(target=ensure, args=(share,)) for share in shares]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failed
    pid = server_pid(state)
    for share in shares[:-1]:
        share.drop()
    time.sleep(0.5)
    with connect(state) as connection:
        assert connection.execute("SELECT 1").fetchone() == (1,)
    assert server_pid(state) == pid
    shares[-1].drop()
    eventually(lambda: is_stopped(state))


def test_a_killed_user_lets_the_server_stop(state: Path, eventually: Eventually) -> None:
    program = "import sys, time; from pathlib import Path; from shop.embedded import hold; "
    program += "hold('postgres', state=Path(sys.argv[1])); print('up', flush=True); time.sleep(60)"
    user = subprocess.Popen(
        [sys.executable, "-c", program, str(state)], cwd=settings.ROOT, stdout=subprocess.PIPE, text=True
    )
    assert user.stdout is not None
    with user.stdout:
        assert user.stdout.readline() == "up\n"
    assert not is_stopped(state)
    user.kill()
    user.wait()
    eventually(lambda: is_stopped(state))
    assert not (Places(state).postgres_data / "postmaster.pid").exists(), "the server was not ended cleanly"


def test_a_stale_mark_with_a_number_that_lives_on_does_not_stop_a_start(state: Path, eventually: Eventually) -> None:
    first = Hold("postgres", state)
    first.ensure()
    mark = (Places(state).postgres_data / "postmaster.pid").read_text()
    first.drop()
    eventually(lambda: is_stopped(state))
    # As after a power cut, when the server's old number went to another program: here to this test's own process.
    stale = "\n".join([str(os.getpid()), *mark.splitlines()[1:]]) + "\n"
    (Places(state).postgres_data / "postmaster.pid").write_text(stale)
    (Places(state).run / ".s.PGSQL.5432.lock").write_text(stale)
    second = Hold("postgres", state)
    second.ensure()
    with connect(state) as connection:
        assert connection.execute("SELECT 1").fetchone() == (1,)
    second.drop()
    eventually(lambda: is_stopped(state))


def test_the_role_may_make_test_databases_and_the_extensions_in_use(state: Path, eventually: Eventually) -> None:
    share = Hold("postgres", state)
    share.ensure()
    with connect(state) as connection:
        for extension in ("btree_gist", "pg_trgm", "unaccent"):
            connection.execute(f"CREATE EXTENSION {extension}")
        connection.execute("CREATE DATABASE another")
        facts = "SELECT current_setting('fsync'), current_setting('server_encoding'), rolsuper FROM pg_roles"
        assert connection.execute(f"{facts} WHERE rolname = current_user").fetchone() == ("on", "UTF8", False)
        # Letters beyond ASCII must count as letters, or a search for a name with one finds too little.
        assert connection.execute("SELECT similarity('Jürg', 'jürg'), lower('ÄÖ')").fetchone() == (1.0, "äö")
    share.drop()
    eventually(lambda: is_stopped(state))


def test_a_state_folder_with_a_very_long_path_works(tmp_path: Path, eventually: Eventually) -> None:
    state = tmp_path / ("long" * 30)
    state.mkdir()
    assert len(str(Places(state).postgres_socket)) <= SOCKET_PATH_LIMIT
    share = Hold("postgres", state)
    share.ensure()
    with connect(state) as connection:
        assert connection.execute("SELECT 1").fetchone() == (1,)
    share.drop()
    eventually(lambda: is_stopped(state))
    for left in Places(state).run.iterdir():
        left.unlink()
    Places(state).run.rmdir()


def test_data_of_another_major_version_is_refused_with_advice(state: Path, eventually: Eventually) -> None:
    first = Hold("postgres", state)
    first.ensure()
    first.drop()
    eventually(lambda: is_stopped(state))
    (Places(state).postgres_data / "PG_VERSION").write_text("12\n")
    second = Hold("postgres", state)
    with pytest.raises(EmbeddedError, match=r"was made by PostgreSQL 12, but the program found is PostgreSQL"):
        second.ensure()
    second.drop()


def test_the_queue_keeps_what_it_took_through_kill_9(state: Path, eventually: Eventually) -> None:
    share = Hold("broker", state)
    share.ensure()
    address = f"unix://{Places(state).broker_socket}"
    with redis.Redis.from_url(address) as client:
        client.lpush("tasks", "one")
        pid = int(client.info()["process_id"])
        time.sleep(1.5)  # the file is flushed every second
    os.kill(pid, signal.SIGKILL)
    eventually(lambda: is_stopped(state, "broker"))
    share.ensure()
    with redis.Redis.from_url(address) as client:
        assert client.lrange("tasks", 0, -1) == [b"one"]
    share.drop()
    eventually(lambda: is_stopped(state, "broker"))


def test_a_watched_program_ends_when_its_parent_is_gone() -> None:
    """The way of systems without the kernel's leash, here with a parent that is not ours."""
    read, write = os.pipe()
    child = os.fork()
    if not child:
        os.close(read)
        os._exit(-watch(["/bin/sleep", "60"], signal.SIGTERM, parent=1))
    os.close(write)
    os.close(read)
    _, status = os.waitpid(child, 0)
    assert os.waitstatus_to_exitcode(status) == signal.SIGTERM
