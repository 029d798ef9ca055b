"""The triggers of every model, and the rule that a change says who and why.

The initial migration creates each model whole, with its triggers in its state; here they are installed in one go, because
one operation a trigger re-renders the state of all models each time and made a first start take half a minute.
"""

from django.db import migrations


def install_triggers(apps, schema_editor):
    for model in apps.get_app_config("labrecords").get_models():
        for trigger in getattr(model._meta, "triggers", []):
            # The trigger's SQL is interpolated already: no parameters.
            schema_editor.execute(trigger.install_sql, params=None)


class Migration(migrations.Migration):
    dependencies = [("labrecords", "0001_initial"), ("pghistory", "0007_auto_20250421_0444")]
    operations = [
        migrations.RunPython(install_triggers, migrations.RunPython.noop),
        migrations.RunSQL(
            """
            ALTER TABLE pghistory_context ADD CONSTRAINT context_says_who_and_why CHECK (
                coalesce(metadata ->> 'who', '') <> '' AND coalesce(metadata ->> 'why', '') <> ''
            )
            """,
            "ALTER TABLE pghistory_context DROP CONSTRAINT context_says_who_and_why",
        ),
    ]
