"""An issued invoice, its lines and taxes, and every payment stay as they are; PostgreSQL itself refuses."""

from django.db import migrations

from shop.append_only import append_only

FROZEN_COLUMNS = """
CREATE FUNCTION billing_frozen_columns() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    may_change text[] := TG_ARGV[1]::text[];
BEGIN
    IF current_setting('bittern.may_erase', true) = 'yes' OR to_jsonb(OLD) ->> 'state' = 'draft' THEN
        RETURN COALESCE(NEW, OLD);
    END IF;
    IF TG_OP = 'UPDATE' AND to_jsonb(NEW) - may_change = to_jsonb(OLD) - may_change THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION 'This % is on paper and never changes.', TG_ARGV[0] USING ERRCODE = 'restrict_violation';
END $$;
"""

FROZEN_ROWS = """
CREATE FUNCTION billing_frozen_rows() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF current_setting('bittern.may_erase', true) = 'yes' THEN
        RETURN COALESCE(NEW, OLD);
    END IF;
    PERFORM 1 FROM billing_invoice
        WHERE id IN (OLD.invoice_id, NEW.invoice_id) AND state = 'issued';
    IF FOUND THEN
        RAISE EXCEPTION 'The lines and taxes of an issued invoice never change.'
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN COALESCE(NEW, OLD);
END $$;
"""


def frozen_columns(table: str, name: str, may_change: str) -> migrations.RunSQL:
    return migrations.RunSQL(
        f"CREATE TRIGGER frozen BEFORE UPDATE OR DELETE ON {table} FOR EACH ROW "
        f"EXECUTE FUNCTION billing_frozen_columns('{name}', '{{{may_change}}}');",
        f"DROP TRIGGER frozen ON {table};",
    )


def frozen_rows(table: str) -> migrations.RunSQL:
    return migrations.RunSQL(
        f"CREATE TRIGGER frozen BEFORE INSERT OR UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION billing_frozen_rows();",
        f"DROP TRIGGER frozen ON {table};",
    )


class Migration(migrations.Migration):
    dependencies = [("billing", "0001_initial"), ("shop", "0002_initial")]

    operations = [
        migrations.RunSQL(FROZEN_COLUMNS, "DROP FUNCTION billing_frozen_columns();"),
        migrations.RunSQL(FROZEN_ROWS, "DROP FUNCTION billing_frozen_rows();"),
        frozen_columns("billing_invoice", "invoice", "paid,paper,paper_sha256,paper_made_at"),
        frozen_rows("billing_invoiceline"),
        frozen_rows("billing_invoicetax"),
        frozen_columns("billing_payment", "payment", "receipt,receipt_sha256,receipt_made_at"),
        append_only("billing_paymentpart"),
    ]
