"""The history only grows."""

from django.db import migrations

from shop.append_only import append_only


class Migration(migrations.Migration):
    dependencies = [("jobs", "0001_initial")]

    operations = [append_only("jobs_jobevent")]
