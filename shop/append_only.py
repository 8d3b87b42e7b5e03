"""Tables that only grow: PostgreSQL itself refuses a change or a deletion, whoever asks."""

from django.db import migrations

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
    """A migration operation that lets `table` only grow. Erasing by law sets `bittern.may_erase` for its transaction."""
    return migrations.RunSQL(
        f"CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION bittern_append_only();",
        f"DROP TRIGGER append_only ON {table};",
    )
