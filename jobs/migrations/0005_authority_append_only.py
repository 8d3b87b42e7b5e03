"""Rules, checks and openings only grow."""

from django.db import migrations

from shop.append_only import append_only


class Migration(migrations.Migration):
    dependencies = [("jobs", "0004_authority")]

    operations = [
        append_only("jobs_recordrule"),
        append_only("jobs_rulechoice"),
        append_only("jobs_authoritycheck"),
        append_only("jobs_opening"),
    ]
