"""The history only grows."""

from django.db import migrations

from shop.append_only import append_only


class Migration(migrations.Migration):
    dependencies = [("stock", "0001_initial")]

    operations = [append_only("stock_movement")]
