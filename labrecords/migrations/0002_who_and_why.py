"""A trail context without who and why is refused by the database itself."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("labrecords", "0001_initial"), ("pghistory", "__latest__")]
    operations = [
        migrations.RunSQL(
            """
            ALTER TABLE pghistory_context ADD CONSTRAINT context_says_who_and_why CHECK (
                coalesce(metadata ->> 'who', '') <> '' AND coalesce(metadata ->> 'why', '') <> ''
            )
            """,
            "ALTER TABLE pghistory_context DROP CONSTRAINT context_says_who_and_why",
        )
    ]
