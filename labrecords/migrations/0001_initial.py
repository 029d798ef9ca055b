import django.db.models.deletion
import django.db.models.functions.datetime
import django.db.models.functions.text
import labrecords.models.criterion
import labrecords.models.instrument
import labrecords.models.liquid
import labrecords.processes.kind
import pgtrigger.compiler
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("pghistory", "0007_auto_20250421_0444"),
    ]

    operations = [
        migrations.CreateModel(
            name="Person",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                ("username", models.CharField(max_length=60, unique=True, verbose_name="sign-in name")),
                ("full_name", models.CharField(max_length=120, verbose_name="name")),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("operator", "operator"),
                            ("developer", "developer"),
                            ("reviewer", "reviewer"),
                            ("quality", "quality"),
                            ("administrator", "administrator"),
                        ],
                        max_length=20,
                    ),
                ),
                ("is_active", models.BooleanField(default=True)),
            ],
            options={
                "verbose_name_plural": "people",
                "ordering": ["username"],
                "constraints": [
                    models.UniqueConstraint(
                        django.db.models.functions.text.Lower("username"), name="person_username_unique"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("role__in", ["administrator", "developer", "operator", "quality", "reviewer"])
                        ),
                        name="person_role_known",
                    ),
                    models.CheckConstraint(condition=models.Q(("full_name", ""), _negated=True), name="person_named"),
                ],
                "indexes": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="10e488bdfff38c075fd56978f1df11e7063cb90b",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_7332c",
                            table="labrecords_person",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_personevent" ("full_name", "id", "is_active", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "role", "username") VALUES (NEW."full_name", NEW."id", NEW."is_active", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."role", NEW."username"); RETURN NULL;',
                            hash="6dffe907078ec69ba2cca4b7f74832e712da8a68",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_87750",
                            table="labrecords_person",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition='WHEN (OLD."full_name" IS DISTINCT FROM (NEW."full_name") OR OLD."id" IS DISTINCT FROM (NEW."id") OR OLD."is_active" IS DISTINCT FROM (NEW."is_active") OR OLD."role" IS DISTINCT FROM (NEW."role") OR OLD."username" IS DISTINCT FROM (NEW."username"))',
                            func='INSERT INTO "labrecords_personevent" ("full_name", "id", "is_active", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "role", "username") VALUES (NEW."full_name", NEW."id", NEW."is_active", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."role", NEW."username"); RETURN NULL;',
                            hash="36243227a422a77bb75a49c09fad1169902de727",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_58388",
                            table="labrecords_person",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_personevent" ("full_name", "id", "is_active", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "role", "username") VALUES (OLD."full_name", OLD."id", OLD."is_active", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."role", OLD."username"); RETURN NULL;',
                            hash="7b6669cd650d1a7c36eef5301fa8a1df82365558",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_a4e73",
                            table="labrecords_person",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Project",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=30, unique=True)),
                ("title", models.CharField(max_length=200)),
                ("customer", models.CharField(blank=True, max_length=200)),
                ("customer_contact", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("code", ""), _negated=True), name="project_coded")
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="368f29d3bd6c877441d23d7d0cfede9db927f226",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_bb753",
                            table="labrecords_project",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_projectevent" ("code", "created_at", "created_by_id", "customer", "customer_contact", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "title") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."customer", NEW."customer_contact", NEW."id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."title"); RETURN NULL;',
                            hash="603d434ca98e541f805f9a10a19d17dbb320daea",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_97ca5",
                            table="labrecords_project",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_projectevent" ("code", "created_at", "created_by_id", "customer", "customer_contact", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "title") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."customer", NEW."customer_contact", NEW."id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."title"); RETURN NULL;',
                            hash="90909ce773dd2abe98217a17d7dba4f9642bac15",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_9ac2c",
                            table="labrecords_project",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_projectevent" ("code", "created_at", "created_by_id", "customer", "customer_contact", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "title") VALUES (OLD."code", OLD."created_at", OLD."created_by_id", OLD."customer", OLD."customer_contact", OLD."id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."title"); RETURN NULL;',
                            hash="09c20f16f038516917b273abd085437ae7e95125",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_99628",
                            table="labrecords_project",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Recipe",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40, unique=True)),
                ("title", models.CharField(max_length=200)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "project",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="recipes",
                        to="labrecords.project",
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("code", ""), _negated=True), name="recipe_coded")
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="c5523ff3696c3ddc1a2175ced0f10a48d69a843b",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_d8b5e",
                            table="labrecords_recipe",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_recipeevent" ("code", "created_at", "created_by_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "project_id", "title") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."project_id", NEW."title"); RETURN NULL;',
                            hash="060f1c74a9108da22a47e438efd5fb57ebf77e92",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_dde6e",
                            table="labrecords_recipe",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_recipeevent" ("code", "created_at", "created_by_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "project_id", "title") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."project_id", NEW."title"); RETURN NULL;',
                            hash="ff30e537d36fea858b3c82fdb760b1a01792ac13",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_705d9",
                            table="labrecords_recipe",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_recipeevent" ("code", "created_at", "created_by_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "project_id", "title") VALUES (OLD."code", OLD."created_at", OLD."created_by_id", OLD."id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."project_id", OLD."title"); RETURN NULL;',
                            hash="5f51403661aac7e5b53765f0c1723172517fb360",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_ad877",
                            table="labrecords_recipe",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="RecipeRevision",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                ("note", models.TextField(blank=True, verbose_name="what changed and why")),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "recipe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="revisions", to="labrecords.recipe"
                    ),
                ),
            ],
            options={
                "ordering": ["recipe__code", "number"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.UniqueConstraint(fields=("recipe", "number"), name="reciperevision_numbered_once"),
                    models.CheckConstraint(
                        condition=models.Q(("number__gte", 1), ("number__lte", 1000000.0)), name="reciperevision_number"
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="5507a316d7b28bcf6da45a24fdc364610342e32c",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_de581",
                            table="labrecords_reciperevision",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="frozen",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;",
                            hash="b8b941f79d5a14b39c16972436f055ea143e7c83",
                            operation="UPDATE",
                            pgid="pgtrigger_frozen_77ef5",
                            table="labrecords_reciperevision",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_reciperevisionevent" ("created_at", "created_by_id", "id", "note", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "recipe_id") VALUES (NEW."created_at", NEW."created_by_id", NEW."id", NEW."note", NEW."number", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."recipe_id"); RETURN NULL;',
                            hash="9050780de9de73db9d8df6d8705cfe9867bd6d59",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_d742f",
                            table="labrecords_reciperevision",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_reciperevisionevent" ("created_at", "created_by_id", "id", "note", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "recipe_id") VALUES (NEW."created_at", NEW."created_by_id", NEW."id", NEW."note", NEW."number", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."recipe_id"); RETURN NULL;',
                            hash="b7d3ec2fd64ed8a64b8d024f1d1529523f212a26",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_33c64",
                            table="labrecords_reciperevision",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_reciperevisionevent" ("created_at", "created_by_id", "id", "note", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "recipe_id") VALUES (OLD."created_at", OLD."created_by_id", OLD."id", OLD."note", OLD."number", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."recipe_id"); RETURN NULL;',
                            hash="c7941382ef035ff72afef9b3261722b1e9cc8d5f",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_71bcb",
                            table="labrecords_reciperevision",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SubstrateLot",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40, unique=True)),
                ("material", models.CharField(help_text="Aluminium, polycarbonate, polyester …", max_length=80)),
                ("grade", models.CharField(blank=True, max_length=80, verbose_name="grade and temper")),
                (
                    "form",
                    models.CharField(
                        choices=[
                            ("plate", "plate"),
                            ("sheet", "sheet"),
                            ("foil", "foil"),
                            ("tube", "tube"),
                            ("lens", "lens"),
                            ("mesh", "mesh"),
                            ("fabric", "fabric"),
                            ("film", "film"),
                            ("block", "block"),
                        ],
                        max_length=20,
                    ),
                ),
                ("thickness_mm", models.FloatField(blank=True, null=True, verbose_name="thickness [mm]")),
                ("supplier_lot", models.CharField(blank=True, max_length=80)),
                (
                    "roughness_ra_um",
                    models.FloatField(blank=True, null=True, verbose_name="roughness Ra as received [µm]"),
                ),
                ("direction", models.CharField(blank=True, max_length=80, verbose_name="rolling or warp direction")),
                ("received_on", models.DateField(blank=True, null=True)),
                ("remark", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("code", ""), _negated=True), name="substratelot_coded"),
                    models.CheckConstraint(
                        condition=models.Q(("thickness_mm__gte", 0.0001), ("thickness_mm__lte", 100000.0)),
                        name="substratelot_thickness",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("roughness_ra_um__gte", 0), ("roughness_ra_um__lte", 100000.0)),
                        name="substratelot_roughness",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="3a7dcf553a26f64fcc30b49533963a7b517025d2",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_10916",
                            table="labrecords_substratelot",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_substratelotevent" ("code", "created_at", "created_by_id", "direction", "form", "grade", "id", "material", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "received_on", "remark", "roughness_ra_um", "supplier_lot", "thickness_mm") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."direction", NEW."form", NEW."grade", NEW."id", NEW."material", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."received_on", NEW."remark", NEW."roughness_ra_um", NEW."supplier_lot", NEW."thickness_mm"); RETURN NULL;',
                            hash="8fde00efa4957987d45ab5700fc2a817b4ca03ca",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_2145d",
                            table="labrecords_substratelot",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_substratelotevent" ("code", "created_at", "created_by_id", "direction", "form", "grade", "id", "material", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "received_on", "remark", "roughness_ra_um", "supplier_lot", "thickness_mm") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."direction", NEW."form", NEW."grade", NEW."id", NEW."material", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."received_on", NEW."remark", NEW."roughness_ra_um", NEW."supplier_lot", NEW."thickness_mm"); RETURN NULL;',
                            hash="d74aa9cacbf8f688b6227de62f8118159308c51d",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_1ffd0",
                            table="labrecords_substratelot",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_substratelotevent" ("code", "created_at", "created_by_id", "direction", "form", "grade", "id", "material", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "received_on", "remark", "roughness_ra_um", "supplier_lot", "thickness_mm") VALUES (OLD."code", OLD."created_at", OLD."created_by_id", OLD."direction", OLD."form", OLD."grade", OLD."id", OLD."material", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."received_on", OLD."remark", OLD."roughness_ra_um", OLD."supplier_lot", OLD."thickness_mm"); RETURN NULL;',
                            hash="001ce6dc5913796446991f8797bfc8039d783731",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_90476",
                            table="labrecords_substratelot",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Batch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40, unique=True)),
                ("title", models.CharField(blank=True, max_length=200)),
                ("treatment", models.CharField(blank=True, max_length=200)),
                ("sampling", models.TextField(blank=True, verbose_name="sampling plan")),
                ("remark", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "project",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="batches",
                        to="labrecords.project",
                    ),
                ),
                (
                    "recipe_revision",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="batches",
                        to="labrecords.reciperevision",
                    ),
                ),
                (
                    "lot",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="batches",
                        to="labrecords.substratelot",
                        verbose_name="substrate lot",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "batches",
                "ordering": ["code"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("code", ""), _negated=True), name="batch_coded")
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="2075dc7134fac7fe5e0a960725ab3feb7f4a7da2",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_b9b5b",
                            table="labrecords_batch",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_batchevent" ("code", "created_at", "created_by_id", "id", "lot_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "project_id", "recipe_revision_id", "remark", "sampling", "title", "treatment") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."id", NEW."lot_id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."project_id", NEW."recipe_revision_id", NEW."remark", NEW."sampling", NEW."title", NEW."treatment"); RETURN NULL;',
                            hash="ecc5d7929f3e1fde4990543c98308e93a6b57022",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_f4787",
                            table="labrecords_batch",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_batchevent" ("code", "created_at", "created_by_id", "id", "lot_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "project_id", "recipe_revision_id", "remark", "sampling", "title", "treatment") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."id", NEW."lot_id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."project_id", NEW."recipe_revision_id", NEW."remark", NEW."sampling", NEW."title", NEW."treatment"); RETURN NULL;',
                            hash="3b1228805669bf43f9464f02db7211926fb3c56f",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_3d253",
                            table="labrecords_batch",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_batchevent" ("code", "created_at", "created_by_id", "id", "lot_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "project_id", "recipe_revision_id", "remark", "sampling", "title", "treatment") VALUES (OLD."code", OLD."created_at", OLD."created_by_id", OLD."id", OLD."lot_id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."project_id", OLD."recipe_revision_id", OLD."remark", OLD."sampling", OLD."title", OLD."treatment"); RETURN NULL;',
                            hash="a7a99181a640e8fea3db3c239aa1c31c2bbd3ec4",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_15679",
                            table="labrecords_batch",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Coupon",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(editable=False, max_length=60, unique=True)),
                ("number", models.PositiveIntegerField(editable=False, unique=True)),
                (
                    "mark",
                    models.CharField(
                        blank=True,
                        help_text="What is engraved or stamped.",
                        max_length=20,
                        verbose_name="mark on the coupon",
                    ),
                ),
                (
                    "position",
                    models.CharField(blank=True, max_length=40, verbose_name="position in the sheet or parent"),
                ),
                (
                    "orientation",
                    models.CharField(
                        blank=True, max_length=40, verbose_name="orientation to the rolling or warp direction"
                    ),
                ),
                ("length_mm", models.FloatField(blank=True, null=True, verbose_name="length [mm]")),
                ("width_mm", models.FloatField(blank=True, null=True, verbose_name="width [mm]")),
                ("exposed_area_mm2", models.FloatField(blank=True, null=True, verbose_name="exposed area [mm²]")),
                ("marked_face", models.CharField(blank=True, max_length=40)),
                ("place", models.CharField(blank=True, help_text="Box, rack slot, cabinet.", max_length=80)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("in_stock", "in stock"),
                            ("in_process", "in process"),
                            ("ready", "ready"),
                            ("in_test", "in test"),
                            ("exposed", "exposed"),
                            ("consumed", "consumed"),
                            ("retained", "retained"),
                            ("discarded", "discarded"),
                            ("lost", "lost"),
                        ],
                        default="in_stock",
                        max_length=12,
                    ),
                ),
                ("remark", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "parent",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="children",
                        to="labrecords.coupon",
                    ),
                ),
                (
                    "project",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="coupons",
                        to="labrecords.project",
                    ),
                ),
                (
                    "lot",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="coupons",
                        to="labrecords.substratelot",
                        verbose_name="substrate lot",
                    ),
                ),
            ],
            options={
                "ordering": ["number"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "state__in",
                                [
                                    "consumed",
                                    "discarded",
                                    "exposed",
                                    "in_process",
                                    "in_stock",
                                    "in_test",
                                    "lost",
                                    "ready",
                                    "retained",
                                ],
                            )
                        ),
                        name="coupon_state_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("length_mm__gte", 0.01), ("length_mm__lte", 100000.0)), name="coupon_length"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("width_mm__gte", 0.01), ("width_mm__lte", 100000.0)), name="coupon_width"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("exposed_area_mm2__gte", 0.01), ("exposed_area_mm2__lte", 1000000000.0)),
                        name="coupon_area",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("parent", models.F("id")), _negated=True), name="coupon_not_its_own_parent"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("code__regex", "^[0-9A-Z-]{4,}$")), name="coupon_code_readable"
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="edb5a3cf6d1596cf91d8806e1f31c7b052d89397",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_b6d4e",
                            table="labrecords_coupon",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_couponevent" ("code", "created_at", "created_by_id", "exposed_area_mm2", "id", "length_mm", "lot_id", "mark", "marked_face", "number", "orientation", "parent_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "place", "position", "project_id", "remark", "state", "width_mm") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."exposed_area_mm2", NEW."id", NEW."length_mm", NEW."lot_id", NEW."mark", NEW."marked_face", NEW."number", NEW."orientation", NEW."parent_id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."place", NEW."position", NEW."project_id", NEW."remark", NEW."state", NEW."width_mm"); RETURN NULL;',
                            hash="99eea2af6c195734b73a12999869b8c57811cdd1",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_a707a",
                            table="labrecords_coupon",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_couponevent" ("code", "created_at", "created_by_id", "exposed_area_mm2", "id", "length_mm", "lot_id", "mark", "marked_face", "number", "orientation", "parent_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "place", "position", "project_id", "remark", "state", "width_mm") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."exposed_area_mm2", NEW."id", NEW."length_mm", NEW."lot_id", NEW."mark", NEW."marked_face", NEW."number", NEW."orientation", NEW."parent_id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."place", NEW."position", NEW."project_id", NEW."remark", NEW."state", NEW."width_mm"); RETURN NULL;',
                            hash="827d4cc588214c17fd34560a5923aefabdef1b69",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_5a004",
                            table="labrecords_coupon",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_couponevent" ("code", "created_at", "created_by_id", "exposed_area_mm2", "id", "length_mm", "lot_id", "mark", "marked_face", "number", "orientation", "parent_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "place", "position", "project_id", "remark", "state", "width_mm") VALUES (OLD."code", OLD."created_at", OLD."created_by_id", OLD."exposed_area_mm2", OLD."id", OLD."length_mm", OLD."lot_id", OLD."mark", OLD."marked_face", OLD."number", OLD."orientation", OLD."parent_id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."place", OLD."position", OLD."project_id", OLD."remark", OLD."state", OLD."width_mm"); RETURN NULL;',
                            hash="3e4fe60d249ce25aac44ee18f335ba579ecbe89d",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_ba3a6",
                            table="labrecords_coupon",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Instrument",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40, unique=True)),
                ("title", models.CharField(max_length=120)),
                ("model", models.CharField(blank=True, max_length=120, verbose_name="type")),
                ("serial_number", models.CharField(blank=True, max_length=80)),
                (
                    "software",
                    models.CharField(blank=True, max_length=120, verbose_name="software and firmware version"),
                ),
                ("place", models.CharField(blank=True, max_length=80)),
                ("is_in_service", models.BooleanField(default=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("code", ""), _negated=True), name="instrument_coded")
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="8d10337dda796a448b1da63b953529ec54401d39",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_f7b2f",
                            table="labrecords_instrument",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_instrumentevent" ("code", "created_at", "created_by_id", "id", "is_in_service", "model", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "place", "serial_number", "software", "title") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."id", NEW."is_in_service", NEW."model", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."place", NEW."serial_number", NEW."software", NEW."title"); RETURN NULL;',
                            hash="232713df3c436282e46c3027135e6ba012544c5a",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_4713f",
                            table="labrecords_instrument",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_instrumentevent" ("code", "created_at", "created_by_id", "id", "is_in_service", "model", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "place", "serial_number", "software", "title") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."id", NEW."is_in_service", NEW."model", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."place", NEW."serial_number", NEW."software", NEW."title"); RETURN NULL;',
                            hash="47b7f3c616610596d08e6168604d72231b8284d1",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_f72af",
                            table="labrecords_instrument",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_instrumentevent" ("code", "created_at", "created_by_id", "id", "is_in_service", "model", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "place", "serial_number", "software", "title") VALUES (OLD."code", OLD."created_at", OLD."created_by_id", OLD."id", OLD."is_in_service", OLD."model", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."place", OLD."serial_number", OLD."software", OLD."title"); RETURN NULL;',
                            hash="acc88b5d243fb5e4b1427fbbdf2948c33b248498",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_df123",
                            table="labrecords_instrument",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ChallengeLiquid",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40, unique=True)),
                ("name", models.CharField(max_length=120)),
                ("is_newtonian", models.BooleanField(default=True)),
                ("hazards", models.JSONField(blank=True, default=list)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("code", ""), _negated=True), name="challengeliquid_coded"
                    )
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="891d86522ef1f50156c41d4412cdd3c63e4e7e60",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_d666f",
                            table="labrecords_challengeliquid",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_challengeliquidevent" ("code", "created_at", "created_by_id", "hazards", "id", "is_newtonian", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."hazards", NEW."id", NEW."is_newtonian", NEW."name", _pgh_attach_context(), NOW(), \'insert\', NEW."id"); RETURN NULL;',
                            hash="d2c107485d53d9ddd835ef146ddb1e176b3d3ebd",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_f0511",
                            table="labrecords_challengeliquid",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_challengeliquidevent" ("code", "created_at", "created_by_id", "hazards", "id", "is_newtonian", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."hazards", NEW."id", NEW."is_newtonian", NEW."name", _pgh_attach_context(), NOW(), \'update\', NEW."id"); RETURN NULL;',
                            hash="8026183f396480e0623d83ae81869dfcf840453d",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_5f8da",
                            table="labrecords_challengeliquid",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_challengeliquidevent" ("code", "created_at", "created_by_id", "hazards", "id", "is_newtonian", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id") VALUES (OLD."code", OLD."created_at", OLD."created_by_id", OLD."hazards", OLD."id", OLD."is_newtonian", OLD."name", _pgh_attach_context(), NOW(), \'delete\', OLD."id"); RETURN NULL;',
                            hash="0f1745882d93e7a7842c3b7a2839593dc82da066",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_8e8c3",
                            table="labrecords_challengeliquid",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LiquidLot",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40, unique=True)),
                ("prepared_on", models.DateField()),
                ("expires_on", models.DateField(blank=True, null=True)),
                ("remark", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "liquid",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="lots",
                        to="labrecords.challengeliquid",
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("code", ""), _negated=True), name="liquidlot_coded"),
                    models.CheckConstraint(
                        condition=models.Q(("expires_on__gte", models.F("prepared_on"))),
                        name="liquidlot_dates",
                        violation_error_message="it cannot expire before it was prepared",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="46f5025f522dfdaab701f7365a0365317a3a0d3b",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_8d131",
                            table="labrecords_liquidlot",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_liquidlotevent" ("code", "created_at", "created_by_id", "expires_on", "id", "liquid_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "prepared_on", "remark") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."expires_on", NEW."id", NEW."liquid_id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."prepared_on", NEW."remark"); RETURN NULL;',
                            hash="abe345b8b5dbcd636a4121e76ffd28acd1b26e0d",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_c05eb",
                            table="labrecords_liquidlot",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_liquidlotevent" ("code", "created_at", "created_by_id", "expires_on", "id", "liquid_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "prepared_on", "remark") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."expires_on", NEW."id", NEW."liquid_id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."prepared_on", NEW."remark"); RETURN NULL;',
                            hash="36ab38355f4179f36dadf094b8f58ef3eb4bf597",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_ae064",
                            table="labrecords_liquidlot",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_liquidlotevent" ("code", "created_at", "created_by_id", "expires_on", "id", "liquid_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "prepared_on", "remark") VALUES (OLD."code", OLD."created_at", OLD."created_by_id", OLD."expires_on", OLD."id", OLD."liquid_id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."prepared_on", OLD."remark"); RETURN NULL;',
                            hash="249d32532fd1d4f56d1309e14dd4675e2cd4b31f",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_d214a",
                            table="labrecords_liquidlot",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="MethodVersion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("method", models.CharField(choices=labrecords.models.instrument.method_choices, max_length=40)),
                ("number", models.PositiveIntegerField()),
                ("drop_volume_ul", models.FloatField(blank=True, null=True, verbose_name="drop volume [µL]")),
                ("settings", models.JSONField(blank=True, default=dict)),
                ("note", models.TextField(blank=True, verbose_name="what changed and why")),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "liquid",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="labrecords.challengeliquid",
                    ),
                ),
            ],
            options={
                "ordering": ["method", "number"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.UniqueConstraint(fields=("method", "number"), name="methodversion_numbered_once"),
                    models.CheckConstraint(
                        condition=models.Q(("drop_volume_ul__gte", 0.001), ("drop_volume_ul__lte", 10000.0)),
                        name="methodversion_volume",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="1c4d95cc885d46a1b0b15a03e209319ce489fba6",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_a6a6a",
                            table="labrecords_methodversion",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="frozen",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;",
                            hash="4406957d545aeb39a7a32782f5c96e83a5f2f897",
                            operation="UPDATE",
                            pgid="pgtrigger_frozen_f62cf",
                            table="labrecords_methodversion",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_methodversionevent" ("created_at", "created_by_id", "drop_volume_ul", "id", "liquid_id", "method", "note", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "settings") VALUES (NEW."created_at", NEW."created_by_id", NEW."drop_volume_ul", NEW."id", NEW."liquid_id", NEW."method", NEW."note", NEW."number", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."settings"); RETURN NULL;',
                            hash="4b1e22b97453fac254ddd4be88441acf94666dcc",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_c1580",
                            table="labrecords_methodversion",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_methodversionevent" ("created_at", "created_by_id", "drop_volume_ul", "id", "liquid_id", "method", "note", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "settings") VALUES (NEW."created_at", NEW."created_by_id", NEW."drop_volume_ul", NEW."id", NEW."liquid_id", NEW."method", NEW."note", NEW."number", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."settings"); RETURN NULL;',
                            hash="58545011ba44ae2c22d34d6b240d513e8c4b03d6",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_d1008",
                            table="labrecords_methodversion",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_methodversionevent" ("created_at", "created_by_id", "drop_volume_ul", "id", "liquid_id", "method", "note", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "settings") VALUES (OLD."created_at", OLD."created_by_id", OLD."drop_volume_ul", OLD."id", OLD."liquid_id", OLD."method", OLD."note", OLD."number", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."settings"); RETURN NULL;',
                            hash="4d2790faf6e0e8aaec706544ea802a94bfe993a3",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_dc225",
                            table="labrecords_methodversion",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="TestRun",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=60, unique=True)),
                ("drop_volume_ul", models.FloatField(blank=True, null=True, verbose_name="drop volume [µL]")),
                ("room_temperature_c", models.FloatField(blank=True, null=True, verbose_name="room temperature [°C]")),
                ("room_humidity_pct", models.FloatField(blank=True, null=True, verbose_name="relative humidity [%]")),
                ("observed_at", models.DateTimeField()),
                ("dose", models.FloatField(default=0)),
                (
                    "dose_kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "fresh"),
                            ("cycles", "cycles"),
                            ("s", "s"),
                            ("min", "min"),
                            ("h", "h"),
                            ("d", "d"),
                            ("L", "L"),
                            ("m", "m"),
                        ],
                        max_length=8,
                        verbose_name="dose in",
                    ),
                ),
                (
                    "exposure",
                    models.CharField(
                        blank=True, help_text="What the dose is a dose of.", max_length=120, verbose_name="exposure"
                    ),
                ),
                (
                    "not_recorded",
                    models.CharField(
                        blank=True,
                        help_text="Printed under deviations.",
                        max_length=200,
                        verbose_name="why a condition was not recorded",
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[("draft", "draft"), ("complete", "complete"), ("reviewed", "reviewed (locked)")],
                        default="draft",
                        max_length=10,
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1, editable=False)),
                ("completed_at", models.DateTimeField(blank=True, null=True)),
                ("reviewed_at", models.DateTimeField(blank=True, null=True)),
                ("remark", models.TextField(blank=True)),
                (
                    "completed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "coupon",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="runs", to="labrecords.coupon"
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "instrument",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="runs",
                        to="labrecords.instrument",
                    ),
                ),
                (
                    "liquid_lot",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="runs",
                        to="labrecords.liquidlot",
                    ),
                ),
                (
                    "method_version",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="runs", to="labrecords.methodversion"
                    ),
                ),
                (
                    "reviewed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["observed_at", "id"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("code", ""), _negated=True), name="testrun_coded"),
                    models.CheckConstraint(
                        condition=models.Q(("state__in", ["complete", "draft", "reviewed"])), name="testrun_state_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("dose_kind__in", ["", "L", "cycles", "d", "h", "m", "min", "s"])),
                        name="testrun_dose_kind_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("drop_volume_ul__gte", 0.001), ("drop_volume_ul__lte", 10000.0)),
                        name="testrun_volume",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("dose__gte", 0), ("dose__lte", 1000000000.0)), name="testrun_dose"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("room_humidity_pct__gte", 0), ("room_humidity_pct__lte", 100)),
                        name="testrun_humidity",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("room_temperature_c__gte", -100), ("room_temperature_c__lte", 200)),
                        name="testrun_temperature",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("dose", 0), ("dose_kind", "")),
                            models.Q(("dose__gt", 0), models.Q(("dose_kind", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="testrun_dose_has_kind",
                        violation_error_message="a dose needs what it is counted in (cycles, h, L …); fresh is 0 without it",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("completed_at__isnull", True), ("completed_by__isnull", True), ("state", "draft")
                            ),
                            models.Q(("completed_at__isnull", False), ("completed_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="testrun_completed_by_and_at",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("reviewed_at__isnull", True),
                                ("reviewed_by__isnull", True),
                                models.Q(("state", "reviewed"), _negated=True),
                            ),
                            models.Q(
                                ("reviewed_at__isnull", False), ("reviewed_by__isnull", False), ("state", "reviewed")
                            ),
                            _connector="OR",
                        ),
                        name="testrun_reviewed_by_and_at",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("reviewed_by__isnull", True),
                            models.Q(("reviewed_by", models.F("completed_by")), _negated=True),
                            _connector="OR",
                        ),
                        name="testrun_reviewed_by_another",
                        violation_error_message="who completed a run does not review it",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="425279a586c5eadd4aedfb66a66cb460a3c134e4",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_46b3e",
                            table="labrecords_testrun",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="locked_once_reviewed",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.\"state\" = 'reviewed')",
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;",
                            hash="cf4934dc5b17e195fc5b6f5c32baa08de743d012",
                            operation="UPDATE",
                            pgid="pgtrigger_locked_once_reviewed_fcab5",
                            table="labrecords_testrun",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_testrunevent" ("code", "completed_at", "completed_by_id", "coupon_id", "created_at", "created_by_id", "dose", "dose_kind", "drop_volume_ul", "exposure", "id", "instrument_id", "liquid_lot_id", "method_version_id", "not_recorded", "observed_at", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "remark", "reviewed_at", "reviewed_by_id", "room_humidity_pct", "room_temperature_c", "state", "version") VALUES (NEW."code", NEW."completed_at", NEW."completed_by_id", NEW."coupon_id", NEW."created_at", NEW."created_by_id", NEW."dose", NEW."dose_kind", NEW."drop_volume_ul", NEW."exposure", NEW."id", NEW."instrument_id", NEW."liquid_lot_id", NEW."method_version_id", NEW."not_recorded", NEW."observed_at", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."remark", NEW."reviewed_at", NEW."reviewed_by_id", NEW."room_humidity_pct", NEW."room_temperature_c", NEW."state", NEW."version"); RETURN NULL;',
                            hash="fde8f88ed52a462032a0b65eea125a4d1d505bcb",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_1f469",
                            table="labrecords_testrun",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_testrunevent" ("code", "completed_at", "completed_by_id", "coupon_id", "created_at", "created_by_id", "dose", "dose_kind", "drop_volume_ul", "exposure", "id", "instrument_id", "liquid_lot_id", "method_version_id", "not_recorded", "observed_at", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "remark", "reviewed_at", "reviewed_by_id", "room_humidity_pct", "room_temperature_c", "state", "version") VALUES (NEW."code", NEW."completed_at", NEW."completed_by_id", NEW."coupon_id", NEW."created_at", NEW."created_by_id", NEW."dose", NEW."dose_kind", NEW."drop_volume_ul", NEW."exposure", NEW."id", NEW."instrument_id", NEW."liquid_lot_id", NEW."method_version_id", NEW."not_recorded", NEW."observed_at", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."remark", NEW."reviewed_at", NEW."reviewed_by_id", NEW."room_humidity_pct", NEW."room_temperature_c", NEW."state", NEW."version"); RETURN NULL;',
                            hash="0ab5c0ce2594ef75e170cb6ee6c4d28887b6ac62",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_66a82",
                            table="labrecords_testrun",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_testrunevent" ("code", "completed_at", "completed_by_id", "coupon_id", "created_at", "created_by_id", "dose", "dose_kind", "drop_volume_ul", "exposure", "id", "instrument_id", "liquid_lot_id", "method_version_id", "not_recorded", "observed_at", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "remark", "reviewed_at", "reviewed_by_id", "room_humidity_pct", "room_temperature_c", "state", "version") VALUES (OLD."code", OLD."completed_at", OLD."completed_by_id", OLD."coupon_id", OLD."created_at", OLD."created_by_id", OLD."dose", OLD."dose_kind", OLD."drop_volume_ul", OLD."exposure", OLD."id", OLD."instrument_id", OLD."liquid_lot_id", OLD."method_version_id", OLD."not_recorded", OLD."observed_at", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."remark", OLD."reviewed_at", OLD."reviewed_by_id", OLD."room_humidity_pct", OLD."room_temperature_c", OLD."state", OLD."version"); RETURN NULL;',
                            hash="db4ea6a78883192a443511ca978e8766f4dcb04e",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_0699a",
                            table="labrecords_testrun",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Analysis",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("content", models.JSONField()),
                ("inputs_digest", models.CharField(max_length=64)),
                ("code_version", models.CharField(max_length=40)),
                ("is_current", models.BooleanField(default=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "batch",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="analyses",
                        to="labrecords.batch",
                    ),
                ),
                (
                    "run",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="analyses",
                        to="labrecords.testrun",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "analyses",
                "ordering": ["id"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("batch__isnull", False), ("run__isnull", True)),
                            models.Q(("batch__isnull", True), ("run__isnull", False)),
                            _connector="OR",
                        ),
                        name="analysis_of_run_or_batch",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("is_current", True)), fields=("run",), name="analysis_one_current_a_run"
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("is_current", True)), fields=("batch",), name="analysis_one_current_a_batch"
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="ed9517370d68e67461aa3d790dbb226b7f53567f",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_27fbf",
                            table="labrecords_analysis",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_analysisevent" ("batch_id", "code_version", "created_at", "created_by_id", "id", "inputs_digest", "is_current", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "run_id") VALUES (NEW."batch_id", NEW."code_version", NEW."created_at", NEW."created_by_id", NEW."id", NEW."inputs_digest", NEW."is_current", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."run_id"); RETURN NULL;',
                            hash="eb071f1287e62c852d8ea15f2784ee948d88bc4f",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_c5e46",
                            table="labrecords_analysis",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition='WHEN (OLD."batch_id" IS DISTINCT FROM (NEW."batch_id") OR OLD."code_version" IS DISTINCT FROM (NEW."code_version") OR OLD."created_at" IS DISTINCT FROM (NEW."created_at") OR OLD."created_by_id" IS DISTINCT FROM (NEW."created_by_id") OR OLD."id" IS DISTINCT FROM (NEW."id") OR OLD."inputs_digest" IS DISTINCT FROM (NEW."inputs_digest") OR OLD."is_current" IS DISTINCT FROM (NEW."is_current") OR OLD."run_id" IS DISTINCT FROM (NEW."run_id"))',
                            func='INSERT INTO "labrecords_analysisevent" ("batch_id", "code_version", "created_at", "created_by_id", "id", "inputs_digest", "is_current", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "run_id") VALUES (NEW."batch_id", NEW."code_version", NEW."created_at", NEW."created_by_id", NEW."id", NEW."inputs_digest", NEW."is_current", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."run_id"); RETURN NULL;',
                            hash="16ea9109a1c81c7cdb65e4a9e8a9bb74879379b8",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_079d6",
                            table="labrecords_analysis",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_analysisevent" ("batch_id", "code_version", "created_at", "created_by_id", "id", "inputs_digest", "is_current", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "run_id") VALUES (OLD."batch_id", OLD."code_version", OLD."created_at", OLD."created_by_id", OLD."id", OLD."inputs_digest", OLD."is_current", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."run_id"); RETURN NULL;',
                            hash="05ca369e2a737bb52bec76cd69171456ffb5c66b",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_4bf44",
                            table="labrecords_analysis",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="AnalysisEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("inputs_digest", models.CharField(max_length=64)),
                ("code_version", models.CharField(max_length=40)),
                ("is_current", models.BooleanField(default=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.analysis",
                    ),
                ),
                (
                    "batch",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.batch",
                    ),
                ),
                (
                    "run",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.testrun",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="a5068f9288bcbdf7e243d18d7413461fd4e3d04e",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_f42c5",
                            table="labrecords_analysisevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="BatchEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40)),
                ("title", models.CharField(blank=True, max_length=200)),
                ("treatment", models.CharField(blank=True, max_length=200)),
                ("sampling", models.TextField(blank=True, verbose_name="sampling plan")),
                ("remark", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.batch",
                    ),
                ),
                (
                    "project",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.project",
                    ),
                ),
                (
                    "recipe_revision",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.reciperevision",
                    ),
                ),
                (
                    "lot",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.substratelot",
                        verbose_name="substrate lot",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="ea3b67e8dc8abd81a57e91a21c831243b719f2f4",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_7c9b4",
                            table="labrecords_batchevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="BatchMember",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                (
                    "role",
                    models.CharField(
                        choices=[("treated", "treated"), ("control", "untreated control"), ("reference", "reference")],
                        default="treated",
                        max_length=12,
                    ),
                ),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="members", to="labrecords.batch"
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "coupon",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="memberships", to="labrecords.coupon"
                    ),
                ),
            ],
            options={
                "ordering": ["batch", "coupon__number"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.UniqueConstraint(fields=("batch", "coupon"), name="batchmember_once"),
                    models.UniqueConstraint(
                        condition=models.Q(("role", "treated")),
                        fields=("coupon",),
                        name="batchmember_treated_in_one_batch",
                        violation_error_message="a coupon is treated in one batch only",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("role__in", ["control", "reference", "treated"])),
                        name="batchmember_role_known",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="f2da012086e247a83c558ec73830b884a063b645",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_0b97b",
                            table="labrecords_batchmember",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_batchmemberevent" ("batch_id", "coupon_id", "created_at", "created_by_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "role") VALUES (NEW."batch_id", NEW."coupon_id", NEW."created_at", NEW."created_by_id", NEW."id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."role"); RETURN NULL;',
                            hash="687d6563b0f87679618adfcb2c1910e2b1e05a7c",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_7f978",
                            table="labrecords_batchmember",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_batchmemberevent" ("batch_id", "coupon_id", "created_at", "created_by_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "role") VALUES (NEW."batch_id", NEW."coupon_id", NEW."created_at", NEW."created_by_id", NEW."id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."role"); RETURN NULL;',
                            hash="40ae91f3f62af62b2937ba5606569b093099a27a",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_ba845",
                            table="labrecords_batchmember",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_batchmemberevent" ("batch_id", "coupon_id", "created_at", "created_by_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "role") VALUES (OLD."batch_id", OLD."coupon_id", OLD."created_at", OLD."created_by_id", OLD."id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."role"); RETURN NULL;',
                            hash="e82c07d5523866a7ca4c8a67760562c6076a2dad",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_3771e",
                            table="labrecords_batchmember",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="BatchMemberEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                (
                    "role",
                    models.CharField(
                        choices=[("treated", "treated"), ("control", "untreated control"), ("reference", "reference")],
                        default="treated",
                        max_length=12,
                    ),
                ),
                (
                    "batch",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.batch",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.batchmember",
                    ),
                ),
                (
                    "coupon",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.coupon",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="368c8c796d423255d21b0536467accd0eedb4d8c",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_10830",
                            table="labrecords_batchmemberevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="BathLot",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40, unique=True)),
                ("title", models.CharField(max_length=120)),
                (
                    "composition",
                    models.TextField(
                        blank=True, help_text="What was used, from the label; the system proposes nothing."
                    ),
                ),
                ("prepared_on", models.DateField()),
                ("expires_on", models.DateField(blank=True, null=True, verbose_name="discard after")),
                ("ph", models.FloatField(blank=True, null=True, verbose_name="pH")),
                ("conductivity_us_cm", models.FloatField(blank=True, null=True, verbose_name="conductivity [µS/cm]")),
                ("hazards", models.JSONField(blank=True, default=list)),
                ("remark", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("code", ""), _negated=True), name="bathlot_coded"),
                    models.CheckConstraint(
                        condition=models.Q(("expires_on__gte", models.F("prepared_on"))),
                        name="bathlot_dates",
                        violation_error_message="it cannot expire before it was prepared",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="7a8be465dd297df52321f68122873a7151517ac3",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_9d738",
                            table="labrecords_bathlot",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_bathlotevent" ("code", "composition", "conductivity_us_cm", "created_at", "created_by_id", "expires_on", "hazards", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "ph", "prepared_on", "remark", "title") VALUES (NEW."code", NEW."composition", NEW."conductivity_us_cm", NEW."created_at", NEW."created_by_id", NEW."expires_on", NEW."hazards", NEW."id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."ph", NEW."prepared_on", NEW."remark", NEW."title"); RETURN NULL;',
                            hash="e4d435fc7f3b751e9399e34d086f218a1b224ded",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_f86f7",
                            table="labrecords_bathlot",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_bathlotevent" ("code", "composition", "conductivity_us_cm", "created_at", "created_by_id", "expires_on", "hazards", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "ph", "prepared_on", "remark", "title") VALUES (NEW."code", NEW."composition", NEW."conductivity_us_cm", NEW."created_at", NEW."created_by_id", NEW."expires_on", NEW."hazards", NEW."id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."ph", NEW."prepared_on", NEW."remark", NEW."title"); RETURN NULL;',
                            hash="8e6fa2ba28e9e3a5ec7d05d92cf9680f7aea64ff",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_6ad2d",
                            table="labrecords_bathlot",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_bathlotevent" ("code", "composition", "conductivity_us_cm", "created_at", "created_by_id", "expires_on", "hazards", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "ph", "prepared_on", "remark", "title") VALUES (OLD."code", OLD."composition", OLD."conductivity_us_cm", OLD."created_at", OLD."created_by_id", OLD."expires_on", OLD."hazards", OLD."id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."ph", OLD."prepared_on", OLD."remark", OLD."title"); RETURN NULL;',
                            hash="0b38967b52feb82f768917db7a16b50de97dc77e",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_d97dd",
                            table="labrecords_bathlot",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="BathLotEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40)),
                ("title", models.CharField(max_length=120)),
                (
                    "composition",
                    models.TextField(
                        blank=True, help_text="What was used, from the label; the system proposes nothing."
                    ),
                ),
                ("prepared_on", models.DateField()),
                ("expires_on", models.DateField(blank=True, null=True, verbose_name="discard after")),
                ("ph", models.FloatField(blank=True, null=True, verbose_name="pH")),
                ("conductivity_us_cm", models.FloatField(blank=True, null=True, verbose_name="conductivity [µS/cm]")),
                ("hazards", models.JSONField(blank=True, default=list)),
                ("remark", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.bathlot",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="f19f7f7d28202929cd596411ba93070a8c896a4c",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_481c5",
                            table="labrecords_bathlotevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Calibration",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("done_on", models.DateField()),
                ("due_on", models.DateField()),
                ("result", models.TextField()),
                ("certificate", models.CharField(blank=True, max_length=120)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "instrument",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="calibrations",
                        to="labrecords.instrument",
                    ),
                ),
            ],
            options={
                "ordering": ["done_on"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("due_on__gte", models.F("done_on"))),
                        name="calibration_dates",
                        violation_error_message="it cannot be due before it was done",
                    ),
                    models.UniqueConstraint(fields=("instrument", "done_on"), name="calibration_once_a_day"),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="a37a41175d4f318c8455ec9a637bf623b208dd31",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_19317",
                            table="labrecords_calibration",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="frozen",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;",
                            hash="7fa018136e883ef6e2110c9849d26f39e931ba07",
                            operation="UPDATE",
                            pgid="pgtrigger_frozen_d512f",
                            table="labrecords_calibration",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_calibrationevent" ("certificate", "created_at", "created_by_id", "done_on", "due_on", "id", "instrument_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "result") VALUES (NEW."certificate", NEW."created_at", NEW."created_by_id", NEW."done_on", NEW."due_on", NEW."id", NEW."instrument_id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."result"); RETURN NULL;',
                            hash="6729451eba01107291f0308883ae1e11ad66bd39",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_f54e5",
                            table="labrecords_calibration",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_calibrationevent" ("certificate", "created_at", "created_by_id", "done_on", "due_on", "id", "instrument_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "result") VALUES (NEW."certificate", NEW."created_at", NEW."created_by_id", NEW."done_on", NEW."due_on", NEW."id", NEW."instrument_id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."result"); RETURN NULL;',
                            hash="3eeae6c0cb222631f230991e3d20c8700822a82e",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_2ba8a",
                            table="labrecords_calibration",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_calibrationevent" ("certificate", "created_at", "created_by_id", "done_on", "due_on", "id", "instrument_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "result") VALUES (OLD."certificate", OLD."created_at", OLD."created_by_id", OLD."done_on", OLD."due_on", OLD."id", OLD."instrument_id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."result"); RETURN NULL;',
                            hash="df909bb3bfee848c227f7c13b9833e066434e9a6",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_74262",
                            table="labrecords_calibration",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CalibrationEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("done_on", models.DateField()),
                ("due_on", models.DateField()),
                ("result", models.TextField()),
                ("certificate", models.CharField(blank=True, max_length=120)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.calibration",
                    ),
                ),
                (
                    "instrument",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.instrument",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="ad6dc2d494d807546c3eddd3ea6e06fcb8857a63",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_48308",
                            table="labrecords_calibrationevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ChallengeLiquidEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40)),
                ("name", models.CharField(max_length=120)),
                ("is_newtonian", models.BooleanField(default=True)),
                ("hazards", models.JSONField(blank=True, default=list)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.challengeliquid",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="87ceabffc9b53dc51b81d95a3670bea1fc7da6d2",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_5e3d6",
                            table="labrecords_challengeliquidevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="CouponEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(editable=False, max_length=60)),
                ("number", models.PositiveIntegerField(editable=False)),
                (
                    "mark",
                    models.CharField(
                        blank=True,
                        help_text="What is engraved or stamped.",
                        max_length=20,
                        verbose_name="mark on the coupon",
                    ),
                ),
                (
                    "position",
                    models.CharField(blank=True, max_length=40, verbose_name="position in the sheet or parent"),
                ),
                (
                    "orientation",
                    models.CharField(
                        blank=True, max_length=40, verbose_name="orientation to the rolling or warp direction"
                    ),
                ),
                ("length_mm", models.FloatField(blank=True, null=True, verbose_name="length [mm]")),
                ("width_mm", models.FloatField(blank=True, null=True, verbose_name="width [mm]")),
                ("exposed_area_mm2", models.FloatField(blank=True, null=True, verbose_name="exposed area [mm²]")),
                ("marked_face", models.CharField(blank=True, max_length=40)),
                ("place", models.CharField(blank=True, help_text="Box, rack slot, cabinet.", max_length=80)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("in_stock", "in stock"),
                            ("in_process", "in process"),
                            ("ready", "ready"),
                            ("in_test", "in test"),
                            ("exposed", "exposed"),
                            ("consumed", "consumed"),
                            ("retained", "retained"),
                            ("discarded", "discarded"),
                            ("lost", "lost"),
                        ],
                        default="in_stock",
                        max_length=12,
                    ),
                ),
                ("remark", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "parent",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.coupon",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.coupon",
                    ),
                ),
                (
                    "project",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.project",
                    ),
                ),
                (
                    "lot",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.substratelot",
                        verbose_name="substrate lot",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="c35ea504d8c0071a458979f324e10d5be5bc6ebd",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_dbe73",
                            table="labrecords_couponevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="CriterionSet",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40, unique=True)),
                ("title", models.CharField(max_length=200)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "project",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="criterion_sets",
                        to="labrecords.project",
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("code", ""), _negated=True), name="criterionset_coded")
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="19c2ac461c65cfa02e767ff5ae7fa162b20d1596",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_c92b1",
                            table="labrecords_criterionset",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_criterionsetevent" ("code", "created_at", "created_by_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "project_id", "title") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."project_id", NEW."title"); RETURN NULL;',
                            hash="bfde32af5204b3b9a0c7cd42a7d72d1c7937e36f",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_2d315",
                            table="labrecords_criterionset",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_criterionsetevent" ("code", "created_at", "created_by_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "project_id", "title") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."project_id", NEW."title"); RETURN NULL;',
                            hash="eca8fe9cb594defb959fac46ddf3d83090a00711",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_d65fb",
                            table="labrecords_criterionset",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_criterionsetevent" ("code", "created_at", "created_by_id", "id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "project_id", "title") VALUES (OLD."code", OLD."created_at", OLD."created_by_id", OLD."id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."project_id", OLD."title"); RETURN NULL;',
                            hash="e5bbe3e6bce22801492637dca378408ac03361eb",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_85ab8",
                            table="labrecords_criterionset",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CriterionRevision",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                (
                    "fixed_on",
                    models.DateField(
                        help_text="The day from which it may be used; tests should start later.",
                        verbose_name="fixed on",
                    ),
                ),
                ("when_inconclusive", models.TextField(verbose_name="what an inconclusive outcome leads to")),
                ("note", models.TextField(blank=True, verbose_name="what changed and why")),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "criterion_set",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="revisions",
                        to="labrecords.criterionset",
                    ),
                ),
            ],
            options={
                "ordering": ["criterion_set__code", "number"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.UniqueConstraint(fields=("criterion_set", "number"), name="criterionrevision_numbered_once"),
                    models.CheckConstraint(
                        condition=models.Q(("number__gte", 1), ("number__lte", 1000000.0)),
                        name="criterionrevision_number",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("when_inconclusive", ""), _negated=True),
                        name="criterionrevision_inconclusive",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="2294c79bd2c3283e0aef703a993d849837ec0a82",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_5e184",
                            table="labrecords_criterionrevision",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="frozen",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;",
                            hash="8aa873557749237da13eb7c5daad1abff091e900",
                            operation="UPDATE",
                            pgid="pgtrigger_frozen_32ce5",
                            table="labrecords_criterionrevision",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_criterionrevisionevent" ("created_at", "created_by_id", "criterion_set_id", "fixed_on", "id", "note", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "when_inconclusive") VALUES (NEW."created_at", NEW."created_by_id", NEW."criterion_set_id", NEW."fixed_on", NEW."id", NEW."note", NEW."number", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."when_inconclusive"); RETURN NULL;',
                            hash="dcf1e354b7e115bdca28508b88fc1b01be4fa124",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_56df6",
                            table="labrecords_criterionrevision",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_criterionrevisionevent" ("created_at", "created_by_id", "criterion_set_id", "fixed_on", "id", "note", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "when_inconclusive") VALUES (NEW."created_at", NEW."created_by_id", NEW."criterion_set_id", NEW."fixed_on", NEW."id", NEW."note", NEW."number", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."when_inconclusive"); RETURN NULL;',
                            hash="6cc9c23e6d210f530b9899d7fe45f7e1c3781038",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_79c7c",
                            table="labrecords_criterionrevision",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_criterionrevisionevent" ("created_at", "created_by_id", "criterion_set_id", "fixed_on", "id", "note", "number", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "when_inconclusive") VALUES (OLD."created_at", OLD."created_by_id", OLD."criterion_set_id", OLD."fixed_on", OLD."id", OLD."note", OLD."number", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."when_inconclusive"); RETURN NULL;',
                            hash="76e01ad90c7a6395c66e4efba5bb47358ed1125b",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_6af0a",
                            table="labrecords_criterionrevision",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Criterion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("order", models.PositiveIntegerField()),
                ("label", models.CharField(max_length=20)),
                ("kind", models.CharField(choices=labrecords.models.criterion.criterion_kind_choices, max_length=40)),
                ("quantity", models.CharField(choices=labrecords.models.liquid.quantity_choices, max_length=40)),
                (
                    "side",
                    models.CharField(
                        choices=[("at_most", "at most"), ("at_least", "at least")], default="at_most", max_length=10
                    ),
                ),
                ("limit", models.FloatField()),
                ("parameters", models.JSONField(blank=True, default=dict)),
                ("drop_volume_ul", models.FloatField(blank=True, null=True, verbose_name="drop volume [µL]")),
                (
                    "role",
                    models.CharField(
                        choices=[("treated", "treated"), ("control", "untreated control"), ("reference", "reference")],
                        default="treated",
                        max_length=12,
                    ),
                ),
                ("dose", models.FloatField(default=0)),
                (
                    "dose_kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "fresh"),
                            ("cycles", "cycles"),
                            ("s", "s"),
                            ("min", "min"),
                            ("h", "h"),
                            ("d", "d"),
                            ("L", "L"),
                            ("m", "m"),
                        ],
                        max_length=8,
                    ),
                ),
                ("wording", models.CharField(blank=True, max_length=300)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "liquid",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="labrecords.challengeliquid",
                    ),
                ),
                (
                    "revision",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="criteria",
                        to="labrecords.criterionrevision",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "criteria",
                "ordering": ["revision", "order"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.UniqueConstraint(fields=("revision", "label"), name="criterion_labelled_once"),
                    models.UniqueConstraint(fields=("revision", "order"), name="criterion_ordered_once"),
                    models.CheckConstraint(
                        condition=models.Q(("side__in", ["at_least", "at_most"])), name="criterion_side_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("limit__gte", -1000000000000.0), ("limit__lte", 1000000000000.0)),
                        name="criterion_limit_finite",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("dose", 0), ("dose_kind", "")),
                            models.Q(("dose__gt", 0), models.Q(("dose_kind", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="criterion_dose_has_kind",
                        violation_error_message="a dose needs what it is counted in (cycles, h, L …); fresh is 0 without it",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="eb1cdc8189b9e990ee85fa59381ee4ff43a0a4f0",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_26328",
                            table="labrecords_criterion",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="frozen",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;",
                            hash="66bc050256f1635c476d96848a85d1a7906520be",
                            operation="UPDATE",
                            pgid="pgtrigger_frozen_aa89f",
                            table="labrecords_criterion",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_criterionevent" ("created_at", "created_by_id", "dose", "dose_kind", "drop_volume_ul", "id", "kind", "label", "limit", "liquid_id", "order", "parameters", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "quantity", "revision_id", "role", "side", "wording") VALUES (NEW."created_at", NEW."created_by_id", NEW."dose", NEW."dose_kind", NEW."drop_volume_ul", NEW."id", NEW."kind", NEW."label", NEW."limit", NEW."liquid_id", NEW."order", NEW."parameters", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."quantity", NEW."revision_id", NEW."role", NEW."side", NEW."wording"); RETURN NULL;',
                            hash="d016bccfc631243169326850717bc05fbd1fcfb3",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_5deab",
                            table="labrecords_criterion",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_criterionevent" ("created_at", "created_by_id", "dose", "dose_kind", "drop_volume_ul", "id", "kind", "label", "limit", "liquid_id", "order", "parameters", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "quantity", "revision_id", "role", "side", "wording") VALUES (NEW."created_at", NEW."created_by_id", NEW."dose", NEW."dose_kind", NEW."drop_volume_ul", NEW."id", NEW."kind", NEW."label", NEW."limit", NEW."liquid_id", NEW."order", NEW."parameters", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."quantity", NEW."revision_id", NEW."role", NEW."side", NEW."wording"); RETURN NULL;',
                            hash="d21bafc9828fd0dea74065dd774754757e6f3505",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_66e7c",
                            table="labrecords_criterion",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_criterionevent" ("created_at", "created_by_id", "dose", "dose_kind", "drop_volume_ul", "id", "kind", "label", "limit", "liquid_id", "order", "parameters", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "quantity", "revision_id", "role", "side", "wording") VALUES (OLD."created_at", OLD."created_by_id", OLD."dose", OLD."dose_kind", OLD."drop_volume_ul", OLD."id", OLD."kind", OLD."label", OLD."limit", OLD."liquid_id", OLD."order", OLD."parameters", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."quantity", OLD."revision_id", OLD."role", OLD."side", OLD."wording"); RETURN NULL;',
                            hash="84a624e9de9023d699ebabb486c817e74fbedbaf",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_0b0e1",
                            table="labrecords_criterion",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CriterionEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("order", models.PositiveIntegerField()),
                ("label", models.CharField(max_length=20)),
                ("kind", models.CharField(choices=labrecords.models.criterion.criterion_kind_choices, max_length=40)),
                ("quantity", models.CharField(choices=labrecords.models.liquid.quantity_choices, max_length=40)),
                (
                    "side",
                    models.CharField(
                        choices=[("at_most", "at most"), ("at_least", "at least")], default="at_most", max_length=10
                    ),
                ),
                ("limit", models.FloatField()),
                ("parameters", models.JSONField(blank=True, default=dict)),
                ("drop_volume_ul", models.FloatField(blank=True, null=True, verbose_name="drop volume [µL]")),
                (
                    "role",
                    models.CharField(
                        choices=[("treated", "treated"), ("control", "untreated control"), ("reference", "reference")],
                        default="treated",
                        max_length=12,
                    ),
                ),
                ("dose", models.FloatField(default=0)),
                (
                    "dose_kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "fresh"),
                            ("cycles", "cycles"),
                            ("s", "s"),
                            ("min", "min"),
                            ("h", "h"),
                            ("d", "d"),
                            ("L", "L"),
                            ("m", "m"),
                        ],
                        max_length=8,
                    ),
                ),
                ("wording", models.CharField(blank=True, max_length=300)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "liquid",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.challengeliquid",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.criterion",
                    ),
                ),
                (
                    "revision",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.criterionrevision",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="d035fb73efc06b088773b1bc99fbf9e7e192dbb6",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_c774d",
                            table="labrecords_criterionevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="CriterionRevisionEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                (
                    "fixed_on",
                    models.DateField(
                        help_text="The day from which it may be used; tests should start later.",
                        verbose_name="fixed on",
                    ),
                ),
                ("when_inconclusive", models.TextField(verbose_name="what an inconclusive outcome leads to")),
                ("note", models.TextField(blank=True, verbose_name="what changed and why")),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.criterionrevision",
                    ),
                ),
                (
                    "criterion_set",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.criterionset",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="67a6ffa70a78ce4edfe2be080e184e6048e4b2a3",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_4984a",
                            table="labrecords_criterionrevisionevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="CriterionSetEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40)),
                ("title", models.CharField(max_length=200)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.criterionset",
                    ),
                ),
                (
                    "project",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.project",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="9e7d9cd7f71ed1970fca40ea5baeece63a459155",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_ac0cd",
                            table="labrecords_criterionsetevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="RecipeStep",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("order", models.PositiveIntegerField()),
                ("kind", models.CharField(choices=labrecords.processes.kind.choices, max_length=40)),
                ("title", models.CharField(blank=True, max_length=120)),
                ("instruction", models.TextField(blank=True)),
                ("planned", models.JSONField(blank=True, default=dict)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "revision",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="steps",
                        to="labrecords.reciperevision",
                    ),
                ),
            ],
            options={
                "ordering": ["revision", "order"],
                "abstract": False,
                "indexes": [],
                "constraints": [models.UniqueConstraint(fields=("revision", "order"), name="recipestep_ordered_once")],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="6d4c1d6f212671e68444daa67f4d6dde30798f19",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_8f93c",
                            table="labrecords_recipestep",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="frozen",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;",
                            hash="fd474a9c2f99ccd1a4b0f9d053b8aba3cab3fd82",
                            operation="UPDATE",
                            pgid="pgtrigger_frozen_da980",
                            table="labrecords_recipestep",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_recipestepevent" ("created_at", "created_by_id", "id", "instruction", "kind", "order", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "planned", "revision_id", "title") VALUES (NEW."created_at", NEW."created_by_id", NEW."id", NEW."instruction", NEW."kind", NEW."order", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."planned", NEW."revision_id", NEW."title"); RETURN NULL;',
                            hash="71cb36d87255d92f8e74180f170ec5decc9261dc",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_1fd36",
                            table="labrecords_recipestep",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_recipestepevent" ("created_at", "created_by_id", "id", "instruction", "kind", "order", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "planned", "revision_id", "title") VALUES (NEW."created_at", NEW."created_by_id", NEW."id", NEW."instruction", NEW."kind", NEW."order", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."planned", NEW."revision_id", NEW."title"); RETURN NULL;',
                            hash="a6810ec27ca92bea7ec26551499936982e7157bd",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_9a260",
                            table="labrecords_recipestep",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_recipestepevent" ("created_at", "created_by_id", "id", "instruction", "kind", "order", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "planned", "revision_id", "title") VALUES (OLD."created_at", OLD."created_by_id", OLD."id", OLD."instruction", OLD."kind", OLD."order", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."planned", OLD."revision_id", OLD."title"); RETURN NULL;',
                            hash="2b64f5060cc106334bb2ef653227f52d498dbcdd",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_53118",
                            table="labrecords_recipestep",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ProcessRecord",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("started_at", models.DateTimeField()),
                ("finished_at", models.DateTimeField(blank=True, null=True)),
                ("actual", models.JSONField(blank=True, default=dict)),
                ("remark", models.TextField(blank=True)),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="process_records",
                        to="labrecords.batch",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "operator",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "step",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="process_records",
                        to="labrecords.recipestep",
                    ),
                ),
            ],
            options={
                "ordering": ["started_at", "id"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("finished_at__gte", models.F("started_at"))),
                        name="processrecord_times",
                        violation_error_message="a step cannot end before it began",
                    )
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="21512338ce34f40e0de9b3f3e635a9bcaae5a8de",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_d949f",
                            table="labrecords_processrecord",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_processrecordevent" ("actual", "batch_id", "created_at", "created_by_id", "finished_at", "id", "operator_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "remark", "started_at", "step_id") VALUES (NEW."actual", NEW."batch_id", NEW."created_at", NEW."created_by_id", NEW."finished_at", NEW."id", NEW."operator_id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."remark", NEW."started_at", NEW."step_id"); RETURN NULL;',
                            hash="d9da0f7d36dd5a5b0f1d07f90859b6ba7eed6621",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_fa60d",
                            table="labrecords_processrecord",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_processrecordevent" ("actual", "batch_id", "created_at", "created_by_id", "finished_at", "id", "operator_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "remark", "started_at", "step_id") VALUES (NEW."actual", NEW."batch_id", NEW."created_at", NEW."created_by_id", NEW."finished_at", NEW."id", NEW."operator_id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."remark", NEW."started_at", NEW."step_id"); RETURN NULL;',
                            hash="bc5f375616217ac45345b979089212015058b878",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_adef7",
                            table="labrecords_processrecord",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_processrecordevent" ("actual", "batch_id", "created_at", "created_by_id", "finished_at", "id", "operator_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "remark", "started_at", "step_id") VALUES (OLD."actual", OLD."batch_id", OLD."created_at", OLD."created_by_id", OLD."finished_at", OLD."id", OLD."operator_id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."remark", OLD."started_at", OLD."step_id"); RETURN NULL;',
                            hash="67b87bdc2825f0697edf2d369e9625181432a923",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_1b2fe",
                            table="labrecords_processrecord",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Deviation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("what", models.TextField()),
                ("reason", models.TextField()),
                ("impact", models.TextField(blank=True)),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="deviations", to="labrecords.batch"
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "process",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="deviations",
                        to="labrecords.processrecord",
                    ),
                ),
            ],
            options={
                "ordering": ["id"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("what", ""), _negated=True), name="deviation_described"),
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="deviation_explained"
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="89bd65a71b326f8be536e7de133a84e5015c44a6",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_b6b19",
                            table="labrecords_deviation",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_deviationevent" ("batch_id", "created_at", "created_by_id", "id", "impact", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "process_id", "reason", "what") VALUES (NEW."batch_id", NEW."created_at", NEW."created_by_id", NEW."id", NEW."impact", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."process_id", NEW."reason", NEW."what"); RETURN NULL;',
                            hash="03837046a85bc127b12e2107f4fe074923a1723a",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_2d040",
                            table="labrecords_deviation",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_deviationevent" ("batch_id", "created_at", "created_by_id", "id", "impact", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "process_id", "reason", "what") VALUES (NEW."batch_id", NEW."created_at", NEW."created_by_id", NEW."id", NEW."impact", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."process_id", NEW."reason", NEW."what"); RETURN NULL;',
                            hash="cb687031d68eabeed39da473365ab7afd80124d7",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_d62d1",
                            table="labrecords_deviation",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_deviationevent" ("batch_id", "created_at", "created_by_id", "id", "impact", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "process_id", "reason", "what") VALUES (OLD."batch_id", OLD."created_at", OLD."created_by_id", OLD."id", OLD."impact", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."process_id", OLD."reason", OLD."what"); RETURN NULL;',
                            hash="769bc70fd47b2e2da6dc3bcc6aff9412ed1c7755",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_2bc01",
                            table="labrecords_deviation",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="DeviationEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("what", models.TextField()),
                ("reason", models.TextField()),
                ("impact", models.TextField(blank=True)),
                (
                    "batch",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.batch",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.deviation",
                    ),
                ),
                (
                    "process",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.processrecord",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="8bfbf0e01dd4f1ba469a9d8dc603123414148e57",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_4bbe3",
                            table="labrecords_deviationevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="InstrumentEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40)),
                ("title", models.CharField(max_length=120)),
                ("model", models.CharField(blank=True, max_length=120, verbose_name="type")),
                ("serial_number", models.CharField(blank=True, max_length=80)),
                (
                    "software",
                    models.CharField(blank=True, max_length=120, verbose_name="software and firmware version"),
                ),
                ("place", models.CharField(blank=True, max_length=80)),
                ("is_in_service", models.BooleanField(default=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.instrument",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="e5f052ec6a1acb467653828fc1431092c88fd9c1",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_0df8b",
                            table="labrecords_instrumentevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Laboratory",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("name", models.CharField(max_length=200)),
                ("address", models.TextField()),
                ("site", models.CharField(help_text="Short site code; it starts every coupon code.", max_length=8)),
                (
                    "coupon_scheme",
                    models.CharField(
                        default="{site}-{year:02d}-{number:04d}",
                        help_text="Made of {site}, {year} and {number}; a check character is added at the end.",
                        max_length=80,
                    ),
                ),
                ("last_coupon_number", models.PositiveIntegerField(default=0, editable=False)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("id", 1)), name="laboratory_is_one_row"),
                    models.CheckConstraint(
                        condition=models.Q(("coupon_scheme__contains", "{number")), name="laboratory_scheme_has_number"
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="d9f7067143e8e9a670db4234329cd33c6473ac64",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_cf3fc",
                            table="labrecords_laboratory",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_laboratoryevent" ("address", "coupon_scheme", "created_at", "created_by_id", "id", "last_coupon_number", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "site") VALUES (NEW."address", NEW."coupon_scheme", NEW."created_at", NEW."created_by_id", NEW."id", NEW."last_coupon_number", NEW."name", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."site"); RETURN NULL;',
                            hash="7a546b7d455a2aa45a549cdd0eee1a7d6221f463",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_e3354",
                            table="labrecords_laboratory",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_laboratoryevent" ("address", "coupon_scheme", "created_at", "created_by_id", "id", "last_coupon_number", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "site") VALUES (NEW."address", NEW."coupon_scheme", NEW."created_at", NEW."created_by_id", NEW."id", NEW."last_coupon_number", NEW."name", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."site"); RETURN NULL;',
                            hash="dbea842931674d9a083ad726815c1f54dc5c1e11",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_8a00f",
                            table="labrecords_laboratory",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_laboratoryevent" ("address", "coupon_scheme", "created_at", "created_by_id", "id", "last_coupon_number", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "site") VALUES (OLD."address", OLD."coupon_scheme", OLD."created_at", OLD."created_by_id", OLD."id", OLD."last_coupon_number", OLD."name", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."site"); RETURN NULL;',
                            hash="71a8c6808bdfa91715066dfb40625a1b31125970",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_e67b4",
                            table="labrecords_laboratory",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LaboratoryEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("name", models.CharField(max_length=200)),
                ("address", models.TextField()),
                ("site", models.CharField(help_text="Short site code; it starts every coupon code.", max_length=8)),
                (
                    "coupon_scheme",
                    models.CharField(
                        default="{site}-{year:02d}-{number:04d}",
                        help_text="Made of {site}, {year} and {number}; a check character is added at the end.",
                        max_length=80,
                    ),
                ),
                ("last_coupon_number", models.PositiveIntegerField(default=0, editable=False)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.laboratory",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="885e3593bdb846fca6f2e8d8fa0453705f8323ef",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_6a648",
                            table="labrecords_laboratoryevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="LiquidLotEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40)),
                ("prepared_on", models.DateField()),
                ("expires_on", models.DateField(blank=True, null=True)),
                ("remark", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "liquid",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.challengeliquid",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.liquidlot",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="2f608b90da35ac46e00bf6f180ac762738352cd8",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_05720",
                            table="labrecords_liquidlotevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Lubricant",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40, unique=True)),
                ("name", models.CharField(max_length=120)),
                (
                    "family",
                    models.CharField(
                        blank=True, help_text="Silicone oil, perfluoropolyether, mineral oil …", max_length=80
                    ),
                ),
                ("is_pfas", models.BooleanField(blank=True, null=True, verbose_name="belongs to the PFAS")),
                ("hazards", models.JSONField(blank=True, default=list)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("code", ""), _negated=True), name="lubricant_coded")
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="fc06af2a594f9827465f521673efb648e968bae8",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_f57bd",
                            table="labrecords_lubricant",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_lubricantevent" ("code", "created_at", "created_by_id", "family", "hazards", "id", "is_pfas", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."family", NEW."hazards", NEW."id", NEW."is_pfas", NEW."name", _pgh_attach_context(), NOW(), \'insert\', NEW."id"); RETURN NULL;',
                            hash="b6c532772bfbede6bff03750e07e9dbea73350cf",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_6e138",
                            table="labrecords_lubricant",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_lubricantevent" ("code", "created_at", "created_by_id", "family", "hazards", "id", "is_pfas", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."family", NEW."hazards", NEW."id", NEW."is_pfas", NEW."name", _pgh_attach_context(), NOW(), \'update\', NEW."id"); RETURN NULL;',
                            hash="1839f88967b366c6a0815d4ad49289fdfc546dc2",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_860ce",
                            table="labrecords_lubricant",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_lubricantevent" ("code", "created_at", "created_by_id", "family", "hazards", "id", "is_pfas", "name", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id") VALUES (OLD."code", OLD."created_at", OLD."created_by_id", OLD."family", OLD."hazards", OLD."id", OLD."is_pfas", OLD."name", _pgh_attach_context(), NOW(), \'delete\', OLD."id"); RETURN NULL;',
                            hash="b70653a6b8b4b2489a4e5121355eadf8b48be762",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_13c23",
                            table="labrecords_lubricant",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LubricantEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40)),
                ("name", models.CharField(max_length=120)),
                (
                    "family",
                    models.CharField(
                        blank=True, help_text="Silicone oil, perfluoropolyether, mineral oil …", max_length=80
                    ),
                ),
                ("is_pfas", models.BooleanField(blank=True, null=True, verbose_name="belongs to the PFAS")),
                ("hazards", models.JSONField(blank=True, default=list)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.lubricant",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="58484518200c5a2de7305c818e7c024c657a0c9b",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_c0e87",
                            table="labrecords_lubricantevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="LubricantLot",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40, unique=True)),
                ("supplier_lot", models.CharField(blank=True, max_length=80)),
                ("prepared_on", models.DateField(verbose_name="received or opened")),
                ("expires_on", models.DateField(blank=True, null=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "lubricant",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="lots", to="labrecords.lubricant"
                    ),
                ),
            ],
            options={
                "ordering": ["code"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("code", ""), _negated=True), name="lubricantlot_coded"),
                    models.CheckConstraint(
                        condition=models.Q(("expires_on__gte", models.F("prepared_on"))),
                        name="lubricantlot_dates",
                        violation_error_message="it cannot expire before it was prepared",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="1cd5cfc979fc55138b8162cfda419a608eff62f1",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_68c41",
                            table="labrecords_lubricantlot",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_lubricantlotevent" ("code", "created_at", "created_by_id", "expires_on", "id", "lubricant_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "prepared_on", "supplier_lot") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."expires_on", NEW."id", NEW."lubricant_id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."prepared_on", NEW."supplier_lot"); RETURN NULL;',
                            hash="ace0dce249c7a876bcdd92cdd131d330c861af8a",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_f338f",
                            table="labrecords_lubricantlot",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_lubricantlotevent" ("code", "created_at", "created_by_id", "expires_on", "id", "lubricant_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "prepared_on", "supplier_lot") VALUES (NEW."code", NEW."created_at", NEW."created_by_id", NEW."expires_on", NEW."id", NEW."lubricant_id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."prepared_on", NEW."supplier_lot"); RETURN NULL;',
                            hash="1b26019c58c568951ac45c248395dd8ec4bf34d2",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_08c03",
                            table="labrecords_lubricantlot",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_lubricantlotevent" ("code", "created_at", "created_by_id", "expires_on", "id", "lubricant_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "prepared_on", "supplier_lot") VALUES (OLD."code", OLD."created_at", OLD."created_by_id", OLD."expires_on", OLD."id", OLD."lubricant_id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."prepared_on", OLD."supplier_lot"); RETURN NULL;',
                            hash="cc71904fba849ecd7166213a336236af432602f7",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_f6cc9",
                            table="labrecords_lubricantlot",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LubricantLotEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40)),
                ("supplier_lot", models.CharField(blank=True, max_length=80)),
                ("prepared_on", models.DateField(verbose_name="received or opened")),
                ("expires_on", models.DateField(blank=True, null=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "lubricant",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.lubricant",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.lubricantlot",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="cb027146e75261f0432da09ec15d9cf7af14107c",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_9e9f1",
                            table="labrecords_lubricantlotevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="MethodVersionEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("method", models.CharField(choices=labrecords.models.instrument.method_choices, max_length=40)),
                ("number", models.PositiveIntegerField()),
                ("drop_volume_ul", models.FloatField(blank=True, null=True, verbose_name="drop volume [µL]")),
                ("settings", models.JSONField(blank=True, default=dict)),
                ("note", models.TextField(blank=True, verbose_name="what changed and why")),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "liquid",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.challengeliquid",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.methodversion",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="7391e95c9993e39c9cb7f26e3d6148c898648185",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_4c269",
                            table="labrecords_methodversionevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="PersonEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                ("username", models.CharField(max_length=60, verbose_name="sign-in name")),
                ("full_name", models.CharField(max_length=120, verbose_name="name")),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("operator", "operator"),
                            ("developer", "developer"),
                            ("reviewer", "reviewer"),
                            ("quality", "quality"),
                            ("administrator", "administrator"),
                        ],
                        max_length=20,
                    ),
                ),
                ("is_active", models.BooleanField(default=True)),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="18b6ae05fb5401d228af9c9847d64e14f7bb8f06",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_e725f",
                            table="labrecords_personevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ProcessedCoupon",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("mass_before_mg", models.FloatField(blank=True, null=True, verbose_name="mass before [mg]")),
                ("mass_after_mg", models.FloatField(blank=True, null=True, verbose_name="mass after [mg]")),
                ("rack_position", models.CharField(blank=True, max_length=20)),
                (
                    "coupon",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="processed", to="labrecords.coupon"
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "process",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="processed",
                        to="labrecords.processrecord",
                    ),
                ),
            ],
            options={
                "ordering": ["process", "coupon__number"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.UniqueConstraint(fields=("process", "coupon"), name="processedcoupon_once"),
                    models.CheckConstraint(
                        condition=models.Q(("mass_before_mg__gte", 0), ("mass_before_mg__lte", 1000000000.0)),
                        name="processedcoupon_mass_before",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("mass_after_mg__gte", 0), ("mass_after_mg__lte", 1000000000.0)),
                        name="processedcoupon_mass_after",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="989184f03e4efad6a981bb6b3d59c837dbf6c3e1",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_125cc",
                            table="labrecords_processedcoupon",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_processedcouponevent" ("coupon_id", "created_at", "created_by_id", "id", "mass_after_mg", "mass_before_mg", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "process_id", "rack_position") VALUES (NEW."coupon_id", NEW."created_at", NEW."created_by_id", NEW."id", NEW."mass_after_mg", NEW."mass_before_mg", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."process_id", NEW."rack_position"); RETURN NULL;',
                            hash="05ee55cc00dd76f8aaa2041ebe15a58f2a07225d",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_79e3f",
                            table="labrecords_processedcoupon",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_processedcouponevent" ("coupon_id", "created_at", "created_by_id", "id", "mass_after_mg", "mass_before_mg", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "process_id", "rack_position") VALUES (NEW."coupon_id", NEW."created_at", NEW."created_by_id", NEW."id", NEW."mass_after_mg", NEW."mass_before_mg", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."process_id", NEW."rack_position"); RETURN NULL;',
                            hash="f0eb19f7b2f302f69c39a0f09b809554960b120e",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_494cc",
                            table="labrecords_processedcoupon",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_processedcouponevent" ("coupon_id", "created_at", "created_by_id", "id", "mass_after_mg", "mass_before_mg", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "process_id", "rack_position") VALUES (OLD."coupon_id", OLD."created_at", OLD."created_by_id", OLD."id", OLD."mass_after_mg", OLD."mass_before_mg", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."process_id", OLD."rack_position"); RETURN NULL;',
                            hash="54c02ebcfb49d18a469eeaf6ce6e800f0f4751d5",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_c5dcf",
                            table="labrecords_processedcoupon",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ProcessedCouponEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("mass_before_mg", models.FloatField(blank=True, null=True, verbose_name="mass before [mg]")),
                ("mass_after_mg", models.FloatField(blank=True, null=True, verbose_name="mass after [mg]")),
                ("rack_position", models.CharField(blank=True, max_length=20)),
                (
                    "coupon",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.coupon",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.processedcoupon",
                    ),
                ),
                (
                    "process",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.processrecord",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="7b35176dc0504b8cb217b407947e69d1efa71efc",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_53a1b",
                            table="labrecords_processedcouponevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ProcessLot",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                (
                    "bath_lot",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="uses",
                        to="labrecords.bathlot",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "lubricant_lot",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="uses",
                        to="labrecords.lubricantlot",
                    ),
                ),
                (
                    "process",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="lots", to="labrecords.processrecord"
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("bath_lot__isnull", False), ("lubricant_lot__isnull", True)),
                            models.Q(("bath_lot__isnull", True), ("lubricant_lot__isnull", False)),
                            _connector="OR",
                        ),
                        name="processlot_is_one_lot",
                    )
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="23ad538bef3c81ae3681c2d745e63256ee83898b",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_d3d20",
                            table="labrecords_processlot",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_processlotevent" ("bath_lot_id", "created_at", "created_by_id", "id", "lubricant_lot_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "process_id") VALUES (NEW."bath_lot_id", NEW."created_at", NEW."created_by_id", NEW."id", NEW."lubricant_lot_id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."process_id"); RETURN NULL;',
                            hash="2fa72b74fe66cd5b68c2f49632e0d672df4c5ef9",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_d5ba6",
                            table="labrecords_processlot",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_processlotevent" ("bath_lot_id", "created_at", "created_by_id", "id", "lubricant_lot_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "process_id") VALUES (NEW."bath_lot_id", NEW."created_at", NEW."created_by_id", NEW."id", NEW."lubricant_lot_id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."process_id"); RETURN NULL;',
                            hash="cca4ca0884b66b2642f0ae0c90b5f16bc32a2c42",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_5a8d6",
                            table="labrecords_processlot",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_processlotevent" ("bath_lot_id", "created_at", "created_by_id", "id", "lubricant_lot_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "process_id") VALUES (OLD."bath_lot_id", OLD."created_at", OLD."created_by_id", OLD."id", OLD."lubricant_lot_id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."process_id"); RETURN NULL;',
                            hash="eb4dd328c79bf8e419f2c6983edfb023b7a31d6f",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_c5c6f",
                            table="labrecords_processlot",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ProcessLotEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                (
                    "bath_lot",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.bathlot",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "lubricant_lot",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.lubricantlot",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.processlot",
                    ),
                ),
                (
                    "process",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.processrecord",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="38a8e246c797d9ea51dc1b3a6e4b66c6b4761d1c",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_d142b",
                            table="labrecords_processlotevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ProcessRecordEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("started_at", models.DateTimeField()),
                ("finished_at", models.DateTimeField(blank=True, null=True)),
                ("actual", models.JSONField(blank=True, default=dict)),
                ("remark", models.TextField(blank=True)),
                (
                    "batch",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.batch",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "operator",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.processrecord",
                    ),
                ),
                (
                    "step",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.recipestep",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="cb7b433acafc9ab1f3947fc3aea3ac57eacaa231",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_ede0c",
                            table="labrecords_processrecordevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ProjectEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=30)),
                ("title", models.CharField(max_length=200)),
                ("customer", models.CharField(blank=True, max_length=200)),
                ("customer_contact", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.project",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="07ea31e69ca98c2d89fa7a18d200c4b8208e37f3",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_85694",
                            table="labrecords_projectevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Property",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("quantity", models.CharField(choices=labrecords.models.liquid.quantity_choices, max_length=40)),
                ("value", models.FloatField()),
                ("uncertainty", models.FloatField(blank=True, null=True, verbose_name="standard uncertainty")),
                ("temperature_c", models.FloatField(blank=True, null=True, verbose_name="temperature [°C]")),
                ("source", models.CharField(max_length=300)),
                (
                    "against_liquid",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="labrecords.challengeliquid",
                    ),
                ),
                (
                    "against_lubricant",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="labrecords.lubricant",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "liquid",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="properties",
                        to="labrecords.challengeliquid",
                    ),
                ),
                (
                    "liquid_lot",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="properties",
                        to="labrecords.liquidlot",
                    ),
                ),
                (
                    "lubricant",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="properties",
                        to="labrecords.lubricant",
                    ),
                ),
                (
                    "lubricant_lot",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="properties",
                        to="labrecords.lubricantlot",
                    ),
                ),
                (
                    "recipe",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="properties",
                        to="labrecords.recipe",
                    ),
                ),
            ],
            options={
                "ordering": ["id"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("liquid__isnull", False),
                                ("liquid_lot__isnull", True),
                                ("lubricant__isnull", True),
                                ("lubricant_lot__isnull", True),
                                ("recipe__isnull", True),
                            ),
                            models.Q(
                                ("liquid__isnull", True),
                                ("liquid_lot__isnull", False),
                                ("lubricant__isnull", True),
                                ("lubricant_lot__isnull", True),
                                ("recipe__isnull", True),
                            ),
                            models.Q(
                                ("liquid__isnull", True),
                                ("liquid_lot__isnull", True),
                                ("lubricant__isnull", False),
                                ("lubricant_lot__isnull", True),
                                ("recipe__isnull", True),
                            ),
                            models.Q(
                                ("liquid__isnull", True),
                                ("liquid_lot__isnull", True),
                                ("lubricant__isnull", True),
                                ("lubricant_lot__isnull", False),
                                ("recipe__isnull", True),
                            ),
                            models.Q(
                                ("liquid__isnull", True),
                                ("liquid_lot__isnull", True),
                                ("lubricant__isnull", True),
                                ("lubricant_lot__isnull", True),
                                ("recipe__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="property_has_one_owner",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("value__gte", -1000000000000000.0), ("value__lte", 1000000000000000.0)),
                        name="property_value_finite",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("uncertainty__gte", 0), ("uncertainty__lte", 1000000000000000.0)),
                        name="property_uncertainty",
                    ),
                    models.CheckConstraint(condition=models.Q(("source", ""), _negated=True), name="property_sourced"),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="432e3a556f91e0edd8eabc14fbfc70a103be3581",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_1993f",
                            table="labrecords_property",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="frozen",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;",
                            hash="0dae0f70070a8c06637dadae001a4d8c929f4b50",
                            operation="UPDATE",
                            pgid="pgtrigger_frozen_055e9",
                            table="labrecords_property",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_propertyevent" ("against_liquid_id", "against_lubricant_id", "created_at", "created_by_id", "id", "liquid_id", "liquid_lot_id", "lubricant_id", "lubricant_lot_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "quantity", "recipe_id", "source", "temperature_c", "uncertainty", "value") VALUES (NEW."against_liquid_id", NEW."against_lubricant_id", NEW."created_at", NEW."created_by_id", NEW."id", NEW."liquid_id", NEW."liquid_lot_id", NEW."lubricant_id", NEW."lubricant_lot_id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."quantity", NEW."recipe_id", NEW."source", NEW."temperature_c", NEW."uncertainty", NEW."value"); RETURN NULL;',
                            hash="ee50bb120f593645126d34ae6d5b48888ef987b1",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_eb983",
                            table="labrecords_property",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_propertyevent" ("against_liquid_id", "against_lubricant_id", "created_at", "created_by_id", "id", "liquid_id", "liquid_lot_id", "lubricant_id", "lubricant_lot_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "quantity", "recipe_id", "source", "temperature_c", "uncertainty", "value") VALUES (NEW."against_liquid_id", NEW."against_lubricant_id", NEW."created_at", NEW."created_by_id", NEW."id", NEW."liquid_id", NEW."liquid_lot_id", NEW."lubricant_id", NEW."lubricant_lot_id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."quantity", NEW."recipe_id", NEW."source", NEW."temperature_c", NEW."uncertainty", NEW."value"); RETURN NULL;',
                            hash="2b18fb7d27f92a025b56eb3c65bc7a8a51876e9b",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_c602b",
                            table="labrecords_property",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_propertyevent" ("against_liquid_id", "against_lubricant_id", "created_at", "created_by_id", "id", "liquid_id", "liquid_lot_id", "lubricant_id", "lubricant_lot_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "quantity", "recipe_id", "source", "temperature_c", "uncertainty", "value") VALUES (OLD."against_liquid_id", OLD."against_lubricant_id", OLD."created_at", OLD."created_by_id", OLD."id", OLD."liquid_id", OLD."liquid_lot_id", OLD."lubricant_id", OLD."lubricant_lot_id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."quantity", OLD."recipe_id", OLD."source", OLD."temperature_c", OLD."uncertainty", OLD."value"); RETURN NULL;',
                            hash="24b242044ea9cc522a17606f30a36b0b96218b85",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_33bc5",
                            table="labrecords_property",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PropertyEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("quantity", models.CharField(choices=labrecords.models.liquid.quantity_choices, max_length=40)),
                ("value", models.FloatField()),
                ("uncertainty", models.FloatField(blank=True, null=True, verbose_name="standard uncertainty")),
                ("temperature_c", models.FloatField(blank=True, null=True, verbose_name="temperature [°C]")),
                ("source", models.CharField(max_length=300)),
                (
                    "against_liquid",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.challengeliquid",
                    ),
                ),
                (
                    "against_lubricant",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.lubricant",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "liquid",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.challengeliquid",
                    ),
                ),
                (
                    "liquid_lot",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.liquidlot",
                    ),
                ),
                (
                    "lubricant",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.lubricant",
                    ),
                ),
                (
                    "lubricant_lot",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.lubricantlot",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.property",
                    ),
                ),
                (
                    "recipe",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.recipe",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="2b8b9d0e33a01b0eee4feee2afce1f37ffa6a071",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_1e320",
                            table="labrecords_propertyevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Qualification",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("report_number", models.CharField(max_length=40, unique=True)),
                (
                    "verdict",
                    models.CharField(
                        choices=[("pass", "pass"), ("fail", "fail"), ("inconclusive", "inconclusive")], max_length=12
                    ),
                ),
                ("outcomes", models.JSONField()),
                ("evidence", models.JSONField()),
                ("issued_at", models.DateTimeField()),
                ("file", models.BinaryField()),
                ("sha256", models.CharField(max_length=64)),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="qualifications",
                        to="labrecords.batch",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "criterion_revision",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="qualifications",
                        to="labrecords.criterionrevision",
                    ),
                ),
                (
                    "issued_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["-issued_at", "-id"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("verdict__in", ["fail", "inconclusive", "pass"])),
                        name="qualification_verdict_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "sha256",
                                models.Func(
                                    models.Func(models.F("file"), function="sha256"),
                                    models.Value("hex"),
                                    function="encode",
                                    output_field=models.CharField(),
                                ),
                            )
                        ),
                        name="qualification_file_matches_sha256",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="979b2e15d337eeb950f2b466b18119a9daa38a84",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_a22cf",
                            table="labrecords_qualification",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="frozen",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;",
                            hash="9e992b1d699fba0b2a1a40b065054fd23f374e07",
                            operation="UPDATE",
                            pgid="pgtrigger_frozen_c84f1",
                            table="labrecords_qualification",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_qualificationevent" ("batch_id", "created_at", "created_by_id", "criterion_revision_id", "id", "issued_at", "issued_by_id", "outcomes", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "report_number", "sha256", "verdict") VALUES (NEW."batch_id", NEW."created_at", NEW."created_by_id", NEW."criterion_revision_id", NEW."id", NEW."issued_at", NEW."issued_by_id", NEW."outcomes", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."report_number", NEW."sha256", NEW."verdict"); RETURN NULL;',
                            hash="6c2dfa3328681c77355a40277b842a24af90a272",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_2f4b0",
                            table="labrecords_qualification",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition='WHEN (OLD."batch_id" IS DISTINCT FROM (NEW."batch_id") OR OLD."created_at" IS DISTINCT FROM (NEW."created_at") OR OLD."created_by_id" IS DISTINCT FROM (NEW."created_by_id") OR OLD."criterion_revision_id" IS DISTINCT FROM (NEW."criterion_revision_id") OR OLD."id" IS DISTINCT FROM (NEW."id") OR OLD."issued_at" IS DISTINCT FROM (NEW."issued_at") OR OLD."issued_by_id" IS DISTINCT FROM (NEW."issued_by_id") OR OLD."outcomes" IS DISTINCT FROM (NEW."outcomes") OR OLD."report_number" IS DISTINCT FROM (NEW."report_number") OR OLD."sha256" IS DISTINCT FROM (NEW."sha256") OR OLD."verdict" IS DISTINCT FROM (NEW."verdict"))',
                            func='INSERT INTO "labrecords_qualificationevent" ("batch_id", "created_at", "created_by_id", "criterion_revision_id", "id", "issued_at", "issued_by_id", "outcomes", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "report_number", "sha256", "verdict") VALUES (NEW."batch_id", NEW."created_at", NEW."created_by_id", NEW."criterion_revision_id", NEW."id", NEW."issued_at", NEW."issued_by_id", NEW."outcomes", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."report_number", NEW."sha256", NEW."verdict"); RETURN NULL;',
                            hash="348314786994a559e1873330ac8895f86bca7c2a",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_a7132",
                            table="labrecords_qualification",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_qualificationevent" ("batch_id", "created_at", "created_by_id", "criterion_revision_id", "id", "issued_at", "issued_by_id", "outcomes", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "report_number", "sha256", "verdict") VALUES (OLD."batch_id", OLD."created_at", OLD."created_by_id", OLD."criterion_revision_id", OLD."id", OLD."issued_at", OLD."issued_by_id", OLD."outcomes", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."report_number", OLD."sha256", OLD."verdict"); RETURN NULL;',
                            hash="090c2404ef551be2c5da2719502518c5f83e3d30",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_60559",
                            table="labrecords_qualification",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="QualificationEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("report_number", models.CharField(max_length=40)),
                (
                    "verdict",
                    models.CharField(
                        choices=[("pass", "pass"), ("fail", "fail"), ("inconclusive", "inconclusive")], max_length=12
                    ),
                ),
                ("outcomes", models.JSONField()),
                ("issued_at", models.DateTimeField()),
                ("sha256", models.CharField(max_length=64)),
                (
                    "batch",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.batch",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "criterion_revision",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.criterionrevision",
                    ),
                ),
                (
                    "issued_by",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.qualification",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="5f56c82389597acfef061590f587af59462defbf",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_4a26c",
                            table="labrecords_qualificationevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Reading",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("quantity", models.CharField(choices=labrecords.models.liquid.quantity_choices, max_length=40)),
                ("position", models.CharField(default="1", max_length=20)),
                ("drop", models.PositiveIntegerField(default=1)),
                ("direction", models.CharField(blank=True, max_length=20, verbose_name="direction of the drop")),
                ("value", models.FloatField(blank=True, null=True)),
                ("typed", models.CharField(blank=True, max_length=40, verbose_name="as typed")),
                (
                    "qualifier",
                    models.CharField(
                        choices=[
                            ("measured", "measured"),
                            ("not_moved", "not moved up to the stage limit"),
                            ("moved_on_placing", "moved on placing"),
                            ("lost", "lost"),
                        ],
                        default="measured",
                        max_length=20,
                    ),
                ),
                ("reason", models.CharField(blank=True, max_length=200, verbose_name="reason of a lost reading")),
                ("is_current", models.BooleanField(default=True)),
                ("excluded_because", models.CharField(blank=True, max_length=200)),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "excluded_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "replaces",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="replaced_by",
                        to="labrecords.reading",
                    ),
                ),
                (
                    "run",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="readings", to="labrecords.testrun"
                    ),
                ),
            ],
            options={
                "ordering": ["run", "position", "drop", "id"],
                "abstract": False,
                "indexes": [],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("is_current", True)),
                        fields=("run", "quantity", "position", "drop", "direction"),
                        name="reading_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("qualifier__in", ["lost", "measured", "moved_on_placing", "not_moved"])),
                        name="reading_qualifier_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("value__gte", -1000000000000.0), ("value__lte", 1000000000000.0)),
                        name="reading_value_finite",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("drop__gte", 1), ("drop__lte", 10000)), name="reading_drop"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("qualifier", "lost"), ("value__isnull", True), models.Q(("reason", ""), _negated=True)
                            ),
                            models.Q(models.Q(("qualifier", "lost"), _negated=True), ("value__isnull", False)),
                            _connector="OR",
                        ),
                        name="reading_value_or_lost",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("quantity__endswith", "_angle"), _negated=True),
                            ("value__isnull", True),
                            models.Q(("value__gte", 0), ("value__lte", 180)),
                            _connector="OR",
                        ),
                        name="reading_angle_within_180",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("qualifier", "not_moved"), _negated=True), ("value__gt", 0), _connector="OR"
                        ),
                        name="reading_not_moved_has_limit",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("excluded_because", ""), ("excluded_by__isnull", True)),
                            models.Q(("excluded_by__isnull", False), models.Q(("excluded_because", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="reading_excluded_by_and_why",
                    ),
                ],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="046ad56b0466cdf70e52e09e3bedf32a6ec8d7b9",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_a651d",
                            table="labrecords_reading",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="as_measured",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition='WHEN (OLD."run_id" IS DISTINCT FROM (NEW."run_id") OR OLD."quantity" IS DISTINCT FROM (NEW."quantity") OR OLD."position" IS DISTINCT FROM (NEW."position") OR OLD."drop" IS DISTINCT FROM (NEW."drop") OR OLD."direction" IS DISTINCT FROM (NEW."direction") OR OLD."value" IS DISTINCT FROM (NEW."value") OR OLD."typed" IS DISTINCT FROM (NEW."typed") OR OLD."qualifier" IS DISTINCT FROM (NEW."qualifier") OR OLD."reason" IS DISTINCT FROM (NEW."reason") OR OLD."replaces_id" IS DISTINCT FROM (NEW."replaces_id") OR OLD."created_at" IS DISTINCT FROM (NEW."created_at") OR OLD."created_by_id" IS DISTINCT FROM (NEW."created_by_id"))',
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update rows from % table', TG_TABLE_NAME;",
                            hash="8bf1493d75e97c689a2e36dcc99b59369527bdc9",
                            operation="UPDATE",
                            pgid="pgtrigger_as_measured_66c6d",
                            table="labrecords_reading",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="open_coupon_and_run",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="\n    IF NEW.replaces_id IS NULL AND (\n        SELECT coupon.state FROM labrecords_testrun run JOIN labrecords_coupon coupon ON coupon.id = run.coupon_id\n        WHERE run.id = NEW.run_id) IN ('consumed', 'discarded', 'lost') THEN\n        RAISE EXCEPTION 'a consumed, discarded or lost coupon takes no new readings';\n    END IF;\n    IF (SELECT run.state FROM labrecords_testrun run WHERE run.id = NEW.run_id) = 'reviewed' THEN\n        RAISE EXCEPTION 'a reviewed run takes no new readings';\n    END IF;\n    RETURN NEW;\n",
                            hash="3cdb5a325133ada2e6e43dc3c3f961122f32e639",
                            operation="INSERT",
                            pgid="pgtrigger_open_coupon_and_run_248a8",
                            table="labrecords_reading",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_readingevent" ("created_at", "created_by_id", "direction", "drop", "excluded_because", "excluded_by_id", "id", "is_current", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "position", "qualifier", "quantity", "reason", "replaces_id", "run_id", "typed", "value") VALUES (NEW."created_at", NEW."created_by_id", NEW."direction", NEW."drop", NEW."excluded_because", NEW."excluded_by_id", NEW."id", NEW."is_current", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."position", NEW."qualifier", NEW."quantity", NEW."reason", NEW."replaces_id", NEW."run_id", NEW."typed", NEW."value"); RETURN NULL;',
                            hash="99a1d7045c8ba57b77a6f8fad66c97a2f36f1f28",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_23a58",
                            table="labrecords_reading",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_readingevent" ("created_at", "created_by_id", "direction", "drop", "excluded_because", "excluded_by_id", "id", "is_current", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "position", "qualifier", "quantity", "reason", "replaces_id", "run_id", "typed", "value") VALUES (NEW."created_at", NEW."created_by_id", NEW."direction", NEW."drop", NEW."excluded_because", NEW."excluded_by_id", NEW."id", NEW."is_current", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."position", NEW."qualifier", NEW."quantity", NEW."reason", NEW."replaces_id", NEW."run_id", NEW."typed", NEW."value"); RETURN NULL;',
                            hash="2a14537625d9a07031adb2baf2c6232bd24f3fdd",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_dbe47",
                            table="labrecords_reading",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_readingevent" ("created_at", "created_by_id", "direction", "drop", "excluded_because", "excluded_by_id", "id", "is_current", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "position", "qualifier", "quantity", "reason", "replaces_id", "run_id", "typed", "value") VALUES (OLD."created_at", OLD."created_by_id", OLD."direction", OLD."drop", OLD."excluded_because", OLD."excluded_by_id", OLD."id", OLD."is_current", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."position", OLD."qualifier", OLD."quantity", OLD."reason", OLD."replaces_id", OLD."run_id", OLD."typed", OLD."value"); RETURN NULL;',
                            hash="a47d8900b40b397ddd3de3e9ab4a4631d21ce44b",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_4f67f",
                            table="labrecords_reading",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ReadingEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("quantity", models.CharField(choices=labrecords.models.liquid.quantity_choices, max_length=40)),
                ("position", models.CharField(default="1", max_length=20)),
                ("drop", models.PositiveIntegerField(default=1)),
                ("direction", models.CharField(blank=True, max_length=20, verbose_name="direction of the drop")),
                ("value", models.FloatField(blank=True, null=True)),
                ("typed", models.CharField(blank=True, max_length=40, verbose_name="as typed")),
                (
                    "qualifier",
                    models.CharField(
                        choices=[
                            ("measured", "measured"),
                            ("not_moved", "not moved up to the stage limit"),
                            ("moved_on_placing", "moved on placing"),
                            ("lost", "lost"),
                        ],
                        default="measured",
                        max_length=20,
                    ),
                ),
                ("reason", models.CharField(blank=True, max_length=200, verbose_name="reason of a lost reading")),
                ("is_current", models.BooleanField(default=True)),
                ("excluded_because", models.CharField(blank=True, max_length=200)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "excluded_by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.reading",
                    ),
                ),
                (
                    "replaces",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.reading",
                    ),
                ),
                (
                    "run",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.testrun",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="643e27723af3e4f466928744c13ce5d764b7f4e5",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_1c027",
                            table="labrecords_readingevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="RecipeEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40)),
                ("title", models.CharField(max_length=200)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.recipe",
                    ),
                ),
                (
                    "project",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.project",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="4e56c1341b52c221209403efffc9538422e2c435",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_670de",
                            table="labrecords_recipeevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="RecipeRevisionEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                ("note", models.TextField(blank=True, verbose_name="what changed and why")),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.reciperevision",
                    ),
                ),
                (
                    "recipe",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.recipe",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="2bb6bdc29c3e3c023d72f7792c4e336268404c8e",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_2f70f",
                            table="labrecords_reciperevisionevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="RecipeStepEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("order", models.PositiveIntegerField()),
                ("kind", models.CharField(choices=labrecords.processes.kind.choices, max_length=40)),
                ("title", models.CharField(blank=True, max_length=120)),
                ("instruction", models.TextField(blank=True)),
                ("planned", models.JSONField(blank=True, default=dict)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.recipestep",
                    ),
                ),
                (
                    "revision",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.reciperevision",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="25b4d7ba714ff4e2fc2a3f7760c5dc4748d76f37",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_25d29",
                            table="labrecords_recipestepevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="RunOperator",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "run",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="operators", to="labrecords.testrun"
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [models.UniqueConstraint(fields=("run", "person"), name="runoperator_once")],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="never_deleted",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot delete rows from % table', TG_TABLE_NAME;",
                            hash="e052c49ace82991de5f12b395d936fb647c6fed9",
                            operation="DELETE",
                            pgid="pgtrigger_never_deleted_59d1b",
                            table="labrecords_runoperator",
                            when="BEFORE",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="insert_insert",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_runoperatorevent" ("created_at", "created_by_id", "id", "person_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "run_id") VALUES (NEW."created_at", NEW."created_by_id", NEW."id", NEW."person_id", _pgh_attach_context(), NOW(), \'insert\', NEW."id", NEW."run_id"); RETURN NULL;',
                            hash="e0255991282b513dc3b344dd27dcdd31f2ce8fb2",
                            operation="INSERT",
                            pgid="pgtrigger_insert_insert_58d52",
                            table="labrecords_runoperator",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="update_update",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            condition="WHEN (OLD.* IS DISTINCT FROM NEW.*)",
                            func='INSERT INTO "labrecords_runoperatorevent" ("created_at", "created_by_id", "id", "person_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "run_id") VALUES (NEW."created_at", NEW."created_by_id", NEW."id", NEW."person_id", _pgh_attach_context(), NOW(), \'update\', NEW."id", NEW."run_id"); RETURN NULL;',
                            hash="d72cc3ac001726ecc1bd089d151a9ba3db6c2635",
                            operation="UPDATE",
                            pgid="pgtrigger_update_update_9fcdc",
                            table="labrecords_runoperator",
                            when="AFTER",
                        ),
                    ),
                    pgtrigger.compiler.Trigger(
                        name="delete_delete",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func='INSERT INTO "labrecords_runoperatorevent" ("created_at", "created_by_id", "id", "person_id", "pgh_context_id", "pgh_created_at", "pgh_label", "pgh_obj_id", "run_id") VALUES (OLD."created_at", OLD."created_by_id", OLD."id", OLD."person_id", _pgh_attach_context(), NOW(), \'delete\', OLD."id", OLD."run_id"); RETURN NULL;',
                            hash="d0c234fe646c2af84e6db0ba0c6b95cee4261b9c",
                            operation="DELETE",
                            pgid="pgtrigger_delete_delete_4bf91",
                            table="labrecords_runoperator",
                            when="AFTER",
                        ),
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="RunOperatorEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.runoperator",
                    ),
                ),
                (
                    "run",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.testrun",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="f171db05697d5fca0ffd3aa40488ef0c47292ff5",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_ba94f",
                            table="labrecords_runoperatorevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SubstrateLotEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=40)),
                ("material", models.CharField(help_text="Aluminium, polycarbonate, polyester …", max_length=80)),
                ("grade", models.CharField(blank=True, max_length=80, verbose_name="grade and temper")),
                (
                    "form",
                    models.CharField(
                        choices=[
                            ("plate", "plate"),
                            ("sheet", "sheet"),
                            ("foil", "foil"),
                            ("tube", "tube"),
                            ("lens", "lens"),
                            ("mesh", "mesh"),
                            ("fabric", "fabric"),
                            ("film", "film"),
                            ("block", "block"),
                        ],
                        max_length=20,
                    ),
                ),
                ("thickness_mm", models.FloatField(blank=True, null=True, verbose_name="thickness [mm]")),
                ("supplier_lot", models.CharField(blank=True, max_length=80)),
                (
                    "roughness_ra_um",
                    models.FloatField(blank=True, null=True, verbose_name="roughness Ra as received [µm]"),
                ),
                ("direction", models.CharField(blank=True, max_length=80, verbose_name="rolling or warp direction")),
                ("received_on", models.DateField(blank=True, null=True)),
                ("remark", models.TextField(blank=True)),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.substratelot",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="e147a902d73efe05eecc14c051bd040b0225fddb",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_e7fd5",
                            table="labrecords_substratelotevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="TestRunEvent",
            fields=[
                ("pgh_id", models.AutoField(primary_key=True, serialize=False)),
                ("pgh_created_at", models.DateTimeField(auto_now_add=True)),
                ("pgh_label", models.TextField(help_text="The event label.")),
                ("id", models.BigIntegerField()),
                (
                    "created_at",
                    models.DateTimeField(
                        db_default=django.db.models.functions.datetime.Now(), editable=False, verbose_name="entered"
                    ),
                ),
                ("code", models.CharField(max_length=60)),
                ("drop_volume_ul", models.FloatField(blank=True, null=True, verbose_name="drop volume [µL]")),
                ("room_temperature_c", models.FloatField(blank=True, null=True, verbose_name="room temperature [°C]")),
                ("room_humidity_pct", models.FloatField(blank=True, null=True, verbose_name="relative humidity [%]")),
                ("observed_at", models.DateTimeField()),
                ("dose", models.FloatField(default=0)),
                (
                    "dose_kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "fresh"),
                            ("cycles", "cycles"),
                            ("s", "s"),
                            ("min", "min"),
                            ("h", "h"),
                            ("d", "d"),
                            ("L", "L"),
                            ("m", "m"),
                        ],
                        max_length=8,
                        verbose_name="dose in",
                    ),
                ),
                (
                    "exposure",
                    models.CharField(
                        blank=True, help_text="What the dose is a dose of.", max_length=120, verbose_name="exposure"
                    ),
                ),
                (
                    "not_recorded",
                    models.CharField(
                        blank=True,
                        help_text="Printed under deviations.",
                        max_length=200,
                        verbose_name="why a condition was not recorded",
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[("draft", "draft"), ("complete", "complete"), ("reviewed", "reviewed (locked)")],
                        default="draft",
                        max_length=10,
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1, editable=False)),
                ("completed_at", models.DateTimeField(blank=True, null=True)),
                ("reviewed_at", models.DateTimeField(blank=True, null=True)),
                ("remark", models.TextField(blank=True)),
                (
                    "completed_by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "coupon",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.coupon",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        db_constraint=False,
                        editable=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="entered by",
                    ),
                ),
                (
                    "instrument",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.instrument",
                    ),
                ),
                (
                    "liquid_lot",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.liquidlot",
                    ),
                ),
                (
                    "method_version",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to="labrecords.methodversion",
                    ),
                ),
                (
                    "pgh_context",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="pghistory.context",
                    ),
                ),
                (
                    "pgh_obj",
                    models.ForeignKey(
                        db_constraint=False,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="events",
                        to="labrecords.testrun",
                    ),
                ),
                (
                    "reviewed_by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        related_query_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "abstract": False,
                "indexes": [],
                "constraints": [],
                "triggers": [
                    pgtrigger.compiler.Trigger(
                        name="append_only",
                        sql=pgtrigger.compiler.UpsertTriggerSql(
                            func="RAISE EXCEPTION 'pgtrigger: Cannot update or delete rows from % table', TG_TABLE_NAME;",
                            hash="a76f03e74b4d658e95dda1f66f8c41c8f27ecd5f",
                            operation="UPDATE OR DELETE",
                            pgid="pgtrigger_append_only_089c2",
                            table="labrecords_testrunevent",
                            when="BEFORE",
                        ),
                    )
                ],
            },
        ),
    ]
