"""Django's PostgreSQL backend; a connection to the embedded server starts that server first."""

import os
from contextlib import contextmanager

from django.db.backends.postgresql import base, creation
from django.db.utils import NotSupportedError, OperationalError

from labrecords.errors import DatabaseUnavailable
from labrecords.postgresql import durability
from labrecords.postgresql.roles import NAME, WORKING


class NoConnection(DatabaseUnavailable, OperationalError):
    """{why}"""


def embedded_server(data):
    if os.name != "posix":
        raise DatabaseUnavailable(
            why="The embedded database runs on Linux and macOS: name a PostgreSQL server in DATABASE_URL."
        )
    from labrecords.postgresql.server import server_in  # psutil and the locks: only when they are needed

    return server_in(data)


@contextmanager
def as_owner(connection):
    """Connect as the owner of the tables: for migrations, back-up and restore. All else uses the working role."""
    if connection.settings_dict.get("AS_OWNER"):
        yield
        return
    connection.close()
    connection.settings_dict["AS_OWNER"] = True
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict["AS_OWNER"] = False


class Creation(creation.DatabaseCreation):
    def create_test_db(self, *args, **options):
        """Tests make and empty tables, so they connect as the owner."""
        self.connection.settings_dict["AS_OWNER"] = True
        return super().create_test_db(*args, **options)

    def _destroy_test_db(self, test_database_name, verbosity):
        """Also while a thread of a served page still hangs on: the database is thrown away."""
        with self._nodb_cursor() as cursor:
            cursor.execute(f"DROP DATABASE {self.connection.ops.quote_name(test_database_name)} WITH (FORCE)")


class DatabaseWrapper(base.DatabaseWrapper):
    creation_class = Creation
    may_start = True  # false: connect to the embedded server only if it is running anyway

    def get_connection_params(self):
        owner = self.settings_dict.get("OWNER") if self.settings_dict.get("AS_OWNER") else None
        return super().get_connection_params() | (owner or {}) | self._embedded_address()

    def working_role(self) -> str:
        """The role that pages, API and commands use; empty when there is only the owner's."""
        if self.settings_dict.get("EMBEDDED_IN"):
            return WORKING
        return self.settings_dict["USER"] if self.settings_dict.get("OWNER") else ""

    def get_new_connection(self, conn_params):
        try:
            return super().get_new_connection(conn_params)
        except self.Database.OperationalError as error:
            said = str(error).strip().splitlines() or ["no reason given"]
            raise NoConnection(why=f"The database cannot be reached: {said[0]}.") from error

    def init_connection_state(self):
        try:
            super().init_connection_state()
        except NotSupportedError as error:
            raise DatabaseUnavailable(why=f"{str(error).rstrip('.')}.") from None
        durability.check(self.connection)

    def working_password(self) -> str:
        """Of the embedded server, whose roles are this program's to make."""
        data = self.settings_dict.get("EMBEDDED_IN")
        return embedded_server(data).cluster.password(WORKING) if data else ""

    def _embedded_address(self):
        data = self.settings_dict.get("EMBEDDED_IN")
        if data is None:
            return {}
        server = embedded_server(data)
        if not self.may_start and server.cluster.state() != "ready":
            raise NoConnection(why="The embedded database is not running.")
        server.lease()
        return server.cluster.address(NAME if self.settings_dict.get("AS_OWNER") else WORKING)
