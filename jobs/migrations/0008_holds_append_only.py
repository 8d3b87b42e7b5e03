"""Holds and their lifting only grow."""

from django.db import migrations

from shop.append_only import append_only


class Migration(migrations.Migration):
    dependencies = [("jobs", "0007_keeping")]

    operations = [append_only("jobs_hold"), append_only("jobs_holdlift")]
