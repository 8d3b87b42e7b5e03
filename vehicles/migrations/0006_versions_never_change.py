"""What a version of a procedure says never changes; only its state moves, and only forward. PostgreSQL itself refuses."""

from django.db import migrations

from shop.append_only import append_only

FROZEN_VERSION = """
CREATE FUNCTION vehicles_frozen_version() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    may_change text[] := '{state,decided_by_id,decided_at,reason}';
BEGIN
    IF TG_OP = 'UPDATE'
        AND to_jsonb(NEW) - may_change = to_jsonb(OLD) - may_change
        AND (OLD.state = 'proposed' AND NEW.state IN ('accepted', 'rejected')
            OR OLD.state = 'accepted' AND NEW.state = 'superseded'
                AND NEW.decided_by_id = OLD.decided_by_id AND NEW.decided_at = OLD.decided_at
                AND NEW.reason = OLD.reason)
    THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION 'A version of a procedure never changes: propose a new one.' USING ERRCODE = 'restrict_violation';
END $$;
"""

LATE_STEP = """
CREATE FUNCTION vehicles_no_late_step() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM 1 FROM vehicles_procedureversion WHERE id = NEW.version_id AND state = 'proposed';
    IF NOT FOUND THEN
        RAISE EXCEPTION 'A decided version of a procedure takes no more steps.' USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;
"""


class Migration(migrations.Migration):
    dependencies = [("vehicles", "0005_families_and_procedures"), ("shop", "0001_extensions")]

    operations = [
        migrations.RunSQL(FROZEN_VERSION, "DROP FUNCTION vehicles_frozen_version();"),
        migrations.RunSQL(LATE_STEP, "DROP FUNCTION vehicles_no_late_step();"),
        migrations.RunSQL(
            "CREATE TRIGGER frozen BEFORE UPDATE OR DELETE ON vehicles_procedureversion "
            "FOR EACH ROW EXECUTE FUNCTION vehicles_frozen_version();",
            "DROP TRIGGER frozen ON vehicles_procedureversion;",
        ),
        migrations.RunSQL(
            "CREATE TRIGGER no_late_step BEFORE INSERT ON vehicles_procedurestep "
            "FOR EACH ROW EXECUTE FUNCTION vehicles_no_late_step();",
            "DROP TRIGGER no_late_step ON vehicles_procedurestep;",
        ),
        append_only("vehicles_procedurestep"),
    ]
