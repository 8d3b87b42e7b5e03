"""Marks on steps only grow."""

from django.db import migrations

from shop.append_only import append_only


class Migration(migrations.Migration):
    dependencies = [("jobs", "0010_procedure_runs")]

    operations = [append_only("jobs_stepdone")]
