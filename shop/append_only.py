"""Tables that only grow: PostgreSQL itself refuses a change or a deletion, whoever asks."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, migrations, transaction

FUNCTION = """
CREATE FUNCTION bittern_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF current_setting('bittern.may_erase', true) = 'yes' THEN
        RETURN COALESCE(NEW, OLD);
    END IF;
    RAISE EXCEPTION 'Rows of % are never changed or deleted.', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$;
"""


def append_only(table: str) -> migrations.RunSQL:
    """A migration operation that lets `table` only grow; erasing by law sets `bittern.may_erase` in its transaction."""
    return migrations.RunSQL(
        f"CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION bittern_append_only();",
        f"DROP TRIGGER append_only ON {table};",
    )


@contextmanager
def erasing() -> Iterator[None]:
    """One transaction in which rows of tables that only grow may be changed or deleted.

    For erasing what its time or the law takes away, and for sealing guarded values anew; nothing else.
    """
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SELECT set_config('bittern.may_erase', 'yes', true)")
        yield
        cursor.execute("SELECT set_config('bittern.may_erase', 'no', true)")
