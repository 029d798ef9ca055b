"""`migrate` into an empty schema, told step by step: python -m tests.faults.migrating [NAME,…]

Each line of the output is “begun NAME” or “done NAME FINGERPRINT”, the latter of the schema as it then is.
"""

import hashlib
import sys

SCHEMA = """
    SELECT 'column', table_name::text, column_name::text, data_type::text || is_nullable || coalesce(column_default, '')
    FROM information_schema.columns WHERE table_schema = 'public'
    UNION ALL SELECT 'constraint', conrelid::regclass::text, conname::text, pg_get_constraintdef(oid)
    FROM pg_constraint WHERE connamespace = 'public'::regnamespace
    UNION ALL SELECT 'trigger', tgrelid::regclass::text, tgname::text, pg_get_triggerdef(oid)
    FROM pg_trigger WHERE NOT tgisinternal
    UNION ALL SELECT 'index', tablename::text, indexname::text, indexdef FROM pg_indexes WHERE schemaname = 'public'
    ORDER BY 1, 2, 3, 4
"""


def fingerprint(execute):
    """Of tables, columns, constraints, triggers and indexes; `execute` runs SQL and gives rows."""
    return hashlib.sha256(repr(execute(SCHEMA)).encode()).hexdigest()[:16]


def main():
    from tests.faults.served import without

    without(sys.argv[1])
    from django.db import connection
    from django.db.migrations.executor import MigrationExecutor

    from labrecords.postgresql.base import as_owner

    def execute(sql):
        with connection.cursor() as cursor:
            cursor.execute(sql)
            return cursor.fetchall()

    def tell(action, migration=None, fake=False):
        if action == "apply_start":
            print("begun", migration, flush=True)
        elif action == "apply_success":
            print("done", migration, fingerprint(execute), flush=True)

    with as_owner(connection):
        executor = MigrationExecutor(connection, tell)
        executor.migrate(executor.loader.graph.leaf_nodes())


if __name__ == "__main__":
    main()
