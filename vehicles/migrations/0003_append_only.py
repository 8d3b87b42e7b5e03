from django.db import migrations

from shop.append_only import append_only


class Migration(migrations.Migration):
    dependencies = [("vehicles", "0002_key_systems_and_code_books"), ("shop", "0001_extensions")]

    operations = [append_only("vehicles_codebooklook")]
