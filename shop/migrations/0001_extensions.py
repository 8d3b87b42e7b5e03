"""The PostgreSQL extensions and functions that every app's tables may lean on."""

from django.contrib.postgres.operations import BtreeGistExtension, TrigramExtension
from django.db import migrations

from shop.append_only import FUNCTION


class Migration(migrations.Migration):
    dependencies = []

    operations = [
        BtreeGistExtension(),
        TrigramExtension(),
        migrations.RunSQL(FUNCTION, "DROP FUNCTION bittern_append_only();"),
    ]
