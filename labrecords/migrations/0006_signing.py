"""Assessments, their content and signatures; reports name their assessment and what they amend.

New models are created whole, and their triggers installed in one go, as in 0002: one operation a trigger is slow.
"""

import django.db.models.deletion
import django.db.models.functions.datetime
import pgtrigger.compiler
import pgtrigger.migrations
from django.conf import settings
from django.db import migrations, models


NEW = ("Assessment", "AssessmentEvent", "AssessmentVersion", "AssessmentVersionEvent", "Signature", "SignatureEvent")


def install_triggers(apps, schema_editor):
    for name in NEW:
        for trigger in apps.get_model("labrecords", name)._meta.triggers:
            # The trigger's SQL is interpolated already: no parameters.
            schema_editor.execute(trigger.install_sql, params=None)


class Migration(migrations.Migration):

    dependencies = [
        ("labrecords", "0004_record_chain"),
        ('pghistory', '0007_auto_20250421_0444'),
    ]

    operations = [
        migrations.CreateModel(
            name='Assessment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name='entered')),
                ('state', models.CharField(choices=[('draft', 'draft'), ('complete', 'complete'), ('reviewed', 'reviewed'), ('approved', 'approved'), ('issued', 'issued'), ('withdrawn', 'withdrawn')], default='draft', max_length=10)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('amendment', models.CharField(blank=True, choices=[('amends', 'amends it'), ('replaces', 'replaces it')], max_length=8, verbose_name='what the new report is to it')),
                ('amendment_reason', models.TextField(blank=True, verbose_name='what changes and why')),
                ('amends', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='amending', to='labrecords.qualification', verbose_name='issued report')),
                ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='assessments', to='labrecords.batch')),
                ('created_by', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL, verbose_name='entered by')),
                ('criterion_revision', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='assessments', to='labrecords.criterionrevision')),
            ],
            options={
                'ordering': ['-id'],
                'abstract': False,
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['approved', 'complete', 'draft', 'issued', 'reviewed', 'withdrawn'])), name='assessment_state_known'), models.CheckConstraint(condition=models.Q(('version__gte', 1), ('version__lte', 1000000.0)), name='assessment_version'), models.CheckConstraint(condition=models.Q(models.Q(('amendment', ''), ('amendment_reason', ''), ('amends__isnull', True)), models.Q(('amendment__in', ['amends', 'replaces']), ('amends__isnull', False), models.Q(('amendment_reason', ''), _negated=True)), _connector='OR'), name='assessment_amends_with_reason', violation_error_message='an amendment names the report, whether it amends or replaces it, and why'), models.UniqueConstraint(condition=models.Q(('state__in', ('draft', 'complete', 'reviewed', 'approved'))), fields=('batch', 'criterion_revision'), name='assessment_one_on_its_way', violation_error_message='this batch is on its way to a report by this specification already')],
                'triggers': [pgtrigger.compiler.Trigger(name='never_deleted', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;", hash='d31df9777667d40e6cf96702fd4733b1da8763a7', operation='DELETE', pgid='pgtrigger_never_deleted_9c42b', table='labrecords_assessment', when='BEFORE')), pgtrigger.compiler.Trigger(name='as_begun', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (OLD."batch_id" IS DISTINCT FROM (NEW."batch_id") OR OLD."criterion_revision_id" IS DISTINCT FROM (NEW."criterion_revision_id") OR OLD."amends_id" IS DISTINCT FROM (NEW."amends_id") OR OLD."amendment" IS DISTINCT FROM (NEW."amendment") OR OLD."amendment_reason" IS DISTINCT FROM (NEW."amendment_reason") OR OLD."created_at" IS DISTINCT FROM (NEW."created_at") OR OLD."created_by_id" IS DISTINCT FROM (NEW."created_by_id"))', func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;", hash='1912329e4db1ad157336a735ba16c6fbda0adc59', operation='UPDATE', pgid='pgtrigger_as_begun_cf80d', table='labrecords_assessment', when='BEFORE')), pgtrigger.compiler.Trigger(name='starts_as_draft', sql=pgtrigger.compiler.UpsertTriggerSql(func="\n    IF NEW.state <> 'draft' OR NEW.version <> 1 THEN\n        RAISE EXCEPTION 'an assessment starts as the draft of version 1';\n    END IF;\n    RETURN NEW;\n", hash='b4dc984ea5b4d2f9e40394899e9dd9eb3e7cb10b', operation='INSERT', pgid='pgtrigger_starts_as_draft_fb8b6', table='labrecords_assessment', when='BEFORE')), pgtrigger.compiler.Trigger(name='step_by_step', sql=pgtrigger.compiler.UpsertTriggerSql(declare='DECLARE needed text;', func="\n    IF NEW.state = OLD.state AND NEW.version = OLD.version THEN\n        RETURN NEW;\n    END IF;\n    IF OLD.state IN ('issued', 'withdrawn') THEN\n        RAISE EXCEPTION 'an issued or withdrawn assessment does not change';\n    END IF;\n    IF NEW.state <> 'issued' AND EXISTS (\n        SELECT 1 FROM labrecords_qualification report WHERE report.assessment_id = OLD.id) THEN\n        RAISE EXCEPTION 'the report of this assessment is issued';\n    END IF;\n    IF NEW.version <> OLD.version + (NEW.state = 'draft')::int THEN\n        RAISE EXCEPTION 'only an assessment that is prepared anew gets a new version, the next one';\n    END IF;\n    IF NEW.state IN ('draft', 'withdrawn') THEN\n        RETURN NEW;\n    END IF;\n    IF NEW.state = 'issued' AND OLD.state = 'approved' THEN\n        IF NOT EXISTS (SELECT 1 FROM labrecords_qualification report WHERE report.assessment_id = OLD.id) THEN\n            RAISE EXCEPTION 'an assessment is issued with its report only';\n        END IF;\n        RETURN NEW;\n    END IF;\n    SELECT step.meaning INTO needed FROM (VALUES ('draft', 'complete', 'author'), ('complete', 'reviewed', 'review'), ('reviewed', 'approved', 'approval')) AS step(old, new, meaning)\n    WHERE step.old = OLD.state AND step.new = NEW.state;\n    IF needed IS NULL THEN\n        RAISE EXCEPTION 'an assessment does not go from % to %', OLD.state, NEW.state;\n    END IF;\n    IF NOT EXISTS (\n        SELECT 1 FROM labrecords_signature signature\n        WHERE signature.assessment_id = OLD.id AND signature.version = NEW.version AND signature.meaning = needed) THEN\n        RAISE EXCEPTION 'an assessment becomes % by a signature only', NEW.state;\n    END IF;\n    RETURN NEW;\n", hash='692c5aa82974196d6b44a2356697e7991b7afe51', operation='UPDATE', pgid='pgtrigger_step_by_step_c3b6c', table='labrecords_assessment', when='BEFORE')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='INSERT INTO "labrecords_assessmentevent" ("amendment", "amendment_reason", "amends_id", "batch_id", "created_at", "created_by_id", "criterion_revision_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "state", "version") VALUES (NEW."amendment", NEW."amendment_reason", NEW."amends_id", NEW."batch_id", NEW."created_at", NEW."created_by_id", NEW."criterion_revision_id", NEW."id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."state", NEW."version"); RETURN NULL;', hash='efda932bf02b6584b7412a6f7e091fa31ad3b499', operation='INSERT', pgid='pgtrigger_insert_insert_b1c8c', table='labrecords_assessment', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (OLD.* IS DISTINCT FROM NEW.*)', func='INSERT INTO "labrecords_assessmentevent" ("amendment", "amendment_reason", "amends_id", "batch_id", "created_at", "created_by_id", "criterion_revision_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "state", "version") VALUES (NEW."amendment", NEW."amendment_reason", NEW."amends_id", NEW."batch_id", NEW."created_at", NEW."created_by_id", NEW."criterion_revision_id", NEW."id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."state", NEW."version"); RETURN NULL;', hash='7d48561d8901d6f9cfda066d17aeb6ef85abcdd5', operation='UPDATE', pgid='pgtrigger_update_update_9e809', table='labrecords_assessment', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='INSERT INTO "labrecords_assessmentevent" ("amendment", "amendment_reason", "amends_id", "batch_id", "created_at", "created_by_id", "criterion_revision_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "state", "version") VALUES (OLD."amendment", OLD."amendment_reason", OLD."amends_id", OLD."batch_id", OLD."created_at", OLD."created_by_id", OLD."criterion_revision_id", OLD."id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."state", OLD."version"); RETURN NULL;', hash='32bd5338fc5a5fe0e67e045bd95f04598358975c', operation='DELETE', pgid='pgtrigger_delete_delete_ca3a8', table='labrecords_assessment', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='AssessmentEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.BigIntegerField()),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name='entered')),
                ('state', models.CharField(choices=[('draft', 'draft'), ('complete', 'complete'), ('reviewed', 'reviewed'), ('approved', 'approved'), ('issued', 'issued'), ('withdrawn', 'withdrawn')], default='draft', max_length=10)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('amendment', models.CharField(blank=True, choices=[('amends', 'amends it'), ('replaces', 'replaces it')], max_length=8, verbose_name='what the new report is to it')),
                ('amendment_reason', models.TextField(blank=True, verbose_name='what changes and why')),
                ('amends', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='labrecords.qualification', verbose_name='issued report')),
                ('batch', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='labrecords.batch')),
                ('created_by', models.ForeignKey(db_constraint=False, editable=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to=settings.AUTH_USER_MODEL, verbose_name='entered by')),
                ('criterion_revision', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='labrecords.criterionrevision')),
                ('pgh_context', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='labrecords.assessment')),
            ],
            options={
                'abstract': False,
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='9c597e430f8c1b1d8a8be8ae87ead38f1ddb8635', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_77732', table='labrecords_assessmentevent', when='BEFORE'))],
            },
        ),
        migrations.CreateModel(
            name='AssessmentVersion',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name='entered')),
                ('number', models.PositiveIntegerField()),
                ('evidence', models.JSONField()),
                ('content_sha256', models.CharField(max_length=64)),
                ('verdict', models.CharField(choices=[('pass', 'pass'), ('fail', 'fail'), ('inconclusive', 'inconclusive')], max_length=12)),
                ('assessment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='versions', to='labrecords.assessment')),
                ('created_by', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL, verbose_name='entered by')),
            ],
            options={
                'ordering': ['assessment', 'number'],
                'abstract': False,
                'constraints': [models.UniqueConstraint(fields=('assessment', 'number'), name='assessmentversion_numbered_once'), models.CheckConstraint(condition=models.Q(('verdict__in', ['fail', 'inconclusive', 'pass'])), name='assessmentversion_verdict_known')],
                'triggers': [pgtrigger.compiler.Trigger(name='never_deleted', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;", hash='8c50e9e1868b7d90044bbe322a68529b73868505', operation='DELETE', pgid='pgtrigger_never_deleted_90dd3', table='labrecords_assessmentversion', when='BEFORE')), pgtrigger.compiler.Trigger(name='frozen', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;", hash='0186b5108e2adb8f7d4eeac097f9789a374935bd', operation='UPDATE', pgid='pgtrigger_frozen_c3526', table='labrecords_assessmentversion', when='BEFORE')), pgtrigger.compiler.Trigger(name='of_the_draft', sql=pgtrigger.compiler.UpsertTriggerSql(func="\n    IF NOT EXISTS (\n        SELECT 1 FROM labrecords_assessment assessment\n        WHERE assessment.id = NEW.assessment_id AND assessment.version = NEW.number\n        AND assessment.state = 'draft') THEN\n        RAISE EXCEPTION 'content is stored with the draft of its version only';\n    END IF;\n    RETURN NEW;\n", hash='726489533c41007448de89a6af0876836831946f', operation='INSERT', pgid='pgtrigger_of_the_draft_932e1', table='labrecords_assessmentversion', when='BEFORE')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='INSERT INTO "labrecords_assessmentversionevent" ("assessment_id", "content_sha256", "created_at", "created_by_id", "id", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "verdict") VALUES (NEW."assessment_id", NEW."content_sha256", NEW."created_at", NEW."created_by_id", NEW."id", NEW."number", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."verdict"); RETURN NULL;', hash='fa03c452485c6bd5b1bfa1d1f7d96bc70faf6d96', operation='INSERT', pgid='pgtrigger_insert_insert_3fe5f', table='labrecords_assessmentversion', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (OLD."assessment_id" IS DISTINCT FROM (NEW."assessment_id") OR OLD."content_sha256" IS DISTINCT FROM (NEW."content_sha256") OR OLD."created_at" IS DISTINCT FROM (NEW."created_at") OR OLD."created_by_id" IS DISTINCT FROM (NEW."created_by_id") OR OLD."id" IS DISTINCT FROM (NEW."id") OR OLD."number" IS DISTINCT FROM (NEW."number") OR OLD."verdict" IS DISTINCT FROM (NEW."verdict"))', func='INSERT INTO "labrecords_assessmentversionevent" ("assessment_id", "content_sha256", "created_at", "created_by_id", "id", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "verdict") VALUES (NEW."assessment_id", NEW."content_sha256", NEW."created_at", NEW."created_by_id", NEW."id", NEW."number", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."verdict"); RETURN NULL;', hash='bfce05b0c096a714216a4bce8903e1cd0cfc49c8', operation='UPDATE', pgid='pgtrigger_update_update_629ba', table='labrecords_assessmentversion', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='INSERT INTO "labrecords_assessmentversionevent" ("assessment_id", "content_sha256", "created_at", "created_by_id", "id", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "verdict") VALUES (OLD."assessment_id", OLD."content_sha256", OLD."created_at", OLD."created_by_id", OLD."id", OLD."number", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."verdict"); RETURN NULL;', hash='20b0e1f6ef26f5e327b415a6b6d48c8c4e322745', operation='DELETE', pgid='pgtrigger_delete_delete_67ba4', table='labrecords_assessmentversion', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='AssessmentVersionEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.BigIntegerField()),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name='entered')),
                ('number', models.PositiveIntegerField()),
                ('content_sha256', models.CharField(max_length=64)),
                ('verdict', models.CharField(choices=[('pass', 'pass'), ('fail', 'fail'), ('inconclusive', 'inconclusive')], max_length=12)),
                ('assessment', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='labrecords.assessment')),
                ('created_by', models.ForeignKey(db_constraint=False, editable=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to=settings.AUTH_USER_MODEL, verbose_name='entered by')),
                ('pgh_context', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='labrecords.assessmentversion')),
            ],
            options={
                'abstract': False,
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='fcef6fd619110fd472ff1a9fb62478d456981760', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_f6c5d', table='labrecords_assessmentversionevent', when='BEFORE'))],
            },
        ),
        migrations.CreateModel(
            name='Signature',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name='entered')),
                ('version', models.PositiveIntegerField(default=0, editable=False)),
                ('username', models.CharField(blank=True, editable=False, max_length=60, verbose_name='sign-in name')),
                ('printed_name', models.CharField(blank=True, editable=False, max_length=120, verbose_name='name')),
                ('role', models.CharField(blank=True, editable=False, max_length=20)),
                ('meaning', models.CharField(choices=[('author', 'author'), ('review', 'review'), ('approval', 'approval')], max_length=10)),
                ('signed_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('content_sha256', models.CharField(blank=True, editable=False, max_length=64)),
                ('digest', models.CharField(blank=True, editable=False, max_length=64)),
                ('assessment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='signatures', to='labrecords.assessment')),
                ('created_by', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL, verbose_name='entered by')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['assessment', 'version', 'id'],
                'abstract': False,
                'constraints': [models.CheckConstraint(condition=models.Q(('meaning__in', ['approval', 'author', 'review'])), name='signature_meaning_known'), models.UniqueConstraint(fields=('assessment', 'version', 'meaning'), name='signature_once'), models.CheckConstraint(condition=models.Q(('created_by', models.F('person'))), name='signature_by_who_signs')],
                'triggers': [pgtrigger.compiler.Trigger(name='never_deleted', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;", hash='7c6ef89891956917db6a554134f5736a45901940', operation='DELETE', pgid='pgtrigger_never_deleted_59b37', table='labrecords_signature', when='BEFORE')), pgtrigger.compiler.Trigger(name='frozen', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;", hash='0965cfbd79767100eebfe767e2eec381b0d9fb7f', operation='UPDATE', pgid='pgtrigger_frozen_21b89', table='labrecords_signature', when='BEFORE')), pgtrigger.compiler.Trigger(name='as_it_is_given', sql=pgtrigger.compiler.UpsertTriggerSql(declare='DECLARE signed labrecords_assessment%ROWTYPE;', func='\n    SELECT * INTO signed FROM labrecords_assessment WHERE id = NEW.assessment_id FOR UPDATE;\n    SELECT version.content_sha256 INTO NEW.content_sha256 FROM labrecords_assessmentversion version\n    WHERE version.assessment_id = signed.id AND version.number = signed.version;\n    IF NOT FOUND THEN\n        RAISE EXCEPTION \'there is no content to be signed\';\n    END IF;\n    SELECT person.username, person.full_name, person.role INTO NEW.username, NEW.printed_name, NEW.role\n    FROM labrecords_person person WHERE person.id = NEW.person_id AND person.is_active;\n    IF NOT FOUND THEN\n        RAISE EXCEPTION \'a disabled person does not sign\';\n    END IF;\n    IF (signed.state, NEW.meaning) NOT IN ((\'draft\', \'author\'), (\'complete\', \'review\'), (\'reviewed\', \'approval\')) THEN\n        RAISE EXCEPTION \'an assessment that is % takes no signature as %\', signed.state, NEW.meaning;\n    END IF;\n    IF NEW.meaning <> \'author\' AND EXISTS (\n        SELECT 1 FROM labrecords_signature earlier\n        WHERE earlier.assessment_id = signed.id AND earlier.version = signed.version\n        AND earlier.meaning = \'author\' AND earlier.person_id = NEW.person_id) THEN\n        RAISE EXCEPTION \'who signed as author neither reviews nor approves\';\n    END IF;\n    NEW.version := signed.version;\n    NEW.signed_at := clock_timestamp();\n    NEW.digest := encode(sha256(convert_to(\'{\' || \'"assessment":\' || NEW.assessment_id::text || \',\' || \'"content_sha256":\' || to_json(NEW.content_sha256::text)::text || \',\' || \'"meaning":\' || to_json(NEW.meaning::text)::text || \',\' || \'"name":\' || to_json(NEW.printed_name::text)::text || \',\' || \'"person":\' || NEW.person_id::text || \',\' || \'"role":\' || to_json(NEW.role::text)::text || \',\' || \'"signed_at":\' || to_json(to_char(NEW.signed_at AT TIME ZONE \'UTC\', \'YYYY-MM-DD"T"HH24:MI:SS.US"Z"\'))::text || \',\' || \'"username":\' || to_json(NEW.username::text)::text || \',\' || \'"version":\' || NEW.version::text || \'}\', \'UTF8\')), \'hex\');\n    RETURN NEW;\n', hash='1f941d55390d5808e1d6512322a7f3a84a90dd03', operation='INSERT', pgid='pgtrigger_as_it_is_given_b08e0', table='labrecords_signature', when='BEFORE')), pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='INSERT INTO "labrecords_signatureevent" ("assessment_id", "content_sha256", "created_at", "created_by_id", "digest", "id", "meaning", "person_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "printed_name", "role", "signed_at", "username", "version") VALUES (NEW."assessment_id", NEW."content_sha256", NEW."created_at", NEW."created_by_id", NEW."digest", NEW."id", NEW."meaning", NEW."person_id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."printed_name", NEW."role", NEW."signed_at", NEW."username", NEW."version"); RETURN NULL;', hash='4bdabac15d0ddbce903545df75ebee44e00ce3ce', operation='INSERT', pgid='pgtrigger_insert_insert_a4b37', table='labrecords_signature', when='AFTER')), pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (OLD.* IS DISTINCT FROM NEW.*)', func='INSERT INTO "labrecords_signatureevent" ("assessment_id", "content_sha256", "created_at", "created_by_id", "digest", "id", "meaning", "person_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "printed_name", "role", "signed_at", "username", "version") VALUES (NEW."assessment_id", NEW."content_sha256", NEW."created_at", NEW."created_by_id", NEW."digest", NEW."id", NEW."meaning", NEW."person_id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."printed_name", NEW."role", NEW."signed_at", NEW."username", NEW."version"); RETURN NULL;', hash='0028dce02063967ea6283f1407ff9ab8092b8665', operation='UPDATE', pgid='pgtrigger_update_update_a5fea', table='labrecords_signature', when='AFTER')), pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='INSERT INTO "labrecords_signatureevent" ("assessment_id", "content_sha256", "created_at", "created_by_id", "digest", "id", "meaning", "person_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "printed_name", "role", "signed_at", "username", "version") VALUES (OLD."assessment_id", OLD."content_sha256", OLD."created_at", OLD."created_by_id", OLD."digest", OLD."id", OLD."meaning", OLD."person_id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."printed_name", OLD."role", OLD."signed_at", OLD."username", OLD."version"); RETURN NULL;', hash='0f9213db886cc8dc4e2d03981cd268e7adf69f77', operation='DELETE', pgid='pgtrigger_delete_delete_cf3fe', table='labrecords_signature', when='AFTER'))],
            },
        ),
        migrations.CreateModel(
            name='SignatureEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.BigIntegerField()),
                ('created_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name='entered')),
                ('version', models.PositiveIntegerField(default=0, editable=False)),
                ('username', models.CharField(blank=True, editable=False, max_length=60, verbose_name='sign-in name')),
                ('printed_name', models.CharField(blank=True, editable=False, max_length=120, verbose_name='name')),
                ('role', models.CharField(blank=True, editable=False, max_length=20)),
                ('meaning', models.CharField(choices=[('author', 'author'), ('review', 'review'), ('approval', 'approval')], max_length=10)),
                ('signed_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
                ('content_sha256', models.CharField(blank=True, editable=False, max_length=64)),
                ('digest', models.CharField(blank=True, editable=False, max_length=64)),
                ('assessment', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='labrecords.assessment')),
                ('created_by', models.ForeignKey(db_constraint=False, editable=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to=settings.AUTH_USER_MODEL, verbose_name='entered by')),
                ('person', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to=settings.AUTH_USER_MODEL)),
                ('pgh_context', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='labrecords.signature')),
            ],
            options={
                'abstract': False,
                'triggers': [pgtrigger.compiler.Trigger(name='append_only', sql=pgtrigger.compiler.UpsertTriggerSql(func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;", hash='abfba4e068e81e21e8ca62e713e2718370e1c96e', operation='UPDATE OR DELETE', pgid='pgtrigger_append_only_cc102', table='labrecords_signatureevent', when='BEFORE'))],
            },
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='qualification',
            name='insert_insert',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='qualification',
            name='update_update',
        ),
        pgtrigger.migrations.RemoveTrigger(
            model_name='qualification',
            name='delete_delete',
        ),
        migrations.AddField(
            model_name='qualification',
            name='amends',
            field=models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='amended_by', to='labrecords.qualification'),
        ),
        migrations.AddField(
            model_name='qualificationevent',
            name='amends',
            field=models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='labrecords.qualification'),
        ),
        migrations.AddField(
            model_name='qualification',
            name='assessment',
            field=models.OneToOneField(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='report', to='labrecords.assessment'),
        ),
        migrations.AddField(
            model_name='qualificationevent',
            name='assessment',
            field=models.ForeignKey(blank=True, db_constraint=False, editable=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='labrecords.assessment'),
        ),
        migrations.AddConstraint(
            model_name='qualification',
            constraint=models.UniqueConstraint(fields=('amends',), name='qualification_amended_once', violation_error_message='the report that it amends was amended already: amend the newest'),
        ),
        migrations.RunPython(install_triggers, migrations.RunPython.noop),
        pgtrigger.migrations.AddTrigger(
            model_name='qualification',
            trigger=pgtrigger.compiler.Trigger(name='signed_for', sql=pgtrigger.compiler.UpsertTriggerSql(declare='DECLARE way labrecords_assessment%ROWTYPE; content labrecords_assessmentversion%ROWTYPE; valid int;', func='\n    SELECT * INTO way FROM labrecords_assessment WHERE id = NEW.assessment_id FOR UPDATE;\n    SELECT * INTO content FROM labrecords_assessmentversion version\n    WHERE version.assessment_id = way.id AND version.number = way.version;\n    IF NOT FOUND OR way.state <> \'approved\' THEN\n        RAISE EXCEPTION \'a report is issued from an approved assessment only\';\n    END IF;\n    IF ROW(NEW.batch_id, NEW.criterion_revision_id, NEW.amends_id, NEW.verdict)\n        IS DISTINCT FROM ROW(way.batch_id, way.criterion_revision_id, way.amends_id, content.verdict)\n        OR (NEW.evidence - \'report\') IS DISTINCT FROM (content.evidence - \'report\')\n        OR (NEW.evidence #> \'{report,amends}\') IS DISTINCT FROM (content.evidence #> \'{report,amends}\') THEN\n        RAISE EXCEPTION \'a report says what was approved and nothing else\';\n    END IF;\n    SELECT count(*) INTO valid FROM labrecords_signature signature\n    WHERE signature.assessment_id = way.id AND signature.version = way.version\n    AND signature.meaning IN (\'author\', \'review\', \'approval\')\n    AND signature.content_sha256 = content.content_sha256 AND signature.digest = encode(sha256(convert_to(\'{\' || \'"assessment":\' || signature.assessment_id::text || \',\' || \'"content_sha256":\' || to_json(signature.content_sha256::text)::text || \',\' || \'"meaning":\' || to_json(signature.meaning::text)::text || \',\' || \'"name":\' || to_json(signature.printed_name::text)::text || \',\' || \'"person":\' || signature.person_id::text || \',\' || \'"role":\' || to_json(signature.role::text)::text || \',\' || \'"signed_at":\' || to_json(to_char(signature.signed_at AT TIME ZONE \'UTC\', \'YYYY-MM-DD"T"HH24:MI:SS.US"Z"\'))::text || \',\' || \'"username":\' || to_json(signature.username::text)::text || \',\' || \'"version":\' || signature.version::text || \'}\', \'UTF8\')), \'hex\');\n    IF valid <> 3 THEN\n        RAISE EXCEPTION \'a report needs the valid signatures of author, review and approval\';\n    END IF;\n    IF NEW.amends_id IS NOT NULL AND NEW.batch_id <> (\n        SELECT report.batch_id FROM labrecords_qualification report WHERE report.id = NEW.amends_id) THEN\n        RAISE EXCEPTION \'a report amends one of the same batch\';\n    END IF;\n    RETURN NEW;\n', hash='68209d0d7e20df48e58f79f9810bc32f86afb00a', operation='INSERT', pgid='pgtrigger_signed_for_ee7b6', table='labrecords_qualification', when='BEFORE')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='qualification',
            trigger=pgtrigger.compiler.Trigger(name='insert_insert', sql=pgtrigger.compiler.UpsertTriggerSql(func='INSERT INTO "labrecords_qualificationevent" ("amends_id", "assessment_id", "batch_id", "created_at", "created_by_id", "criterion_revision_id", "id", "issued_at", "issued_by_id", "outcomes", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "report_number", "sha256", "verdict") VALUES (NEW."amends_id", NEW."assessment_id", NEW."batch_id", NEW."created_at", NEW."created_by_id", NEW."criterion_revision_id", NEW."id", NEW."issued_at", NEW."issued_by_id", NEW."outcomes", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."report_number", NEW."sha256", NEW."verdict"); RETURN NULL;', hash='3a492f5e42f06eb9b74c4e44d7be2704b5587aaf', operation='INSERT', pgid='pgtrigger_insert_insert_2f4b0', table='labrecords_qualification', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='qualification',
            trigger=pgtrigger.compiler.Trigger(name='update_update', sql=pgtrigger.compiler.UpsertTriggerSql(condition='WHEN (OLD."amends_id" IS DISTINCT FROM (NEW."amends_id") OR OLD."assessment_id" IS DISTINCT FROM (NEW."assessment_id") OR OLD."batch_id" IS DISTINCT FROM (NEW."batch_id") OR OLD."created_at" IS DISTINCT FROM (NEW."created_at") OR OLD."created_by_id" IS DISTINCT FROM (NEW."created_by_id") OR OLD."criterion_revision_id" IS DISTINCT FROM (NEW."criterion_revision_id") OR OLD."id" IS DISTINCT FROM (NEW."id") OR OLD."issued_at" IS DISTINCT FROM (NEW."issued_at") OR OLD."issued_by_id" IS DISTINCT FROM (NEW."issued_by_id") OR OLD."outcomes" IS DISTINCT FROM (NEW."outcomes") OR OLD."report_number" IS DISTINCT FROM (NEW."report_number") OR OLD."sha256" IS DISTINCT FROM (NEW."sha256") OR OLD."verdict" IS DISTINCT FROM (NEW."verdict"))', func='INSERT INTO "labrecords_qualificationevent" ("amends_id", "assessment_id", "batch_id", "created_at", "created_by_id", "criterion_revision_id", "id", "issued_at", "issued_by_id", "outcomes", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "report_number", "sha256", "verdict") VALUES (NEW."amends_id", NEW."assessment_id", NEW."batch_id", NEW."created_at", NEW."created_by_id", NEW."criterion_revision_id", NEW."id", NEW."issued_at", NEW."issued_by_id", NEW."outcomes", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."report_number", NEW."sha256", NEW."verdict"); RETURN NULL;', hash='6bc65949abfb695eba50ad36de775aaaad672273', operation='UPDATE', pgid='pgtrigger_update_update_a7132', table='labrecords_qualification', when='AFTER')),
        ),
        pgtrigger.migrations.AddTrigger(
            model_name='qualification',
            trigger=pgtrigger.compiler.Trigger(name='delete_delete', sql=pgtrigger.compiler.UpsertTriggerSql(func='INSERT INTO "labrecords_qualificationevent" ("amends_id", "assessment_id", "batch_id", "created_at", "created_by_id", "criterion_revision_id", "id", "issued_at", "issued_by_id", "outcomes", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "report_number", "sha256", "verdict") VALUES (OLD."amends_id", OLD."assessment_id", OLD."batch_id", OLD."created_at", OLD."created_by_id", OLD."criterion_revision_id", OLD."id", OLD."issued_at", OLD."issued_by_id", OLD."outcomes", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."report_number", OLD."sha256", OLD."verdict"); RETURN NULL;', hash='e1a9e42e484cf325e571de87a2c7cf9c2cb78ec9', operation='DELETE', pgid='pgtrigger_delete_delete_60559', table='labrecords_qualification', when='AFTER')),
        ),
    ]
