"""Django's PostgreSQL backend; a connection to the embedded server starts that server first."""

import os

from django.db.backends.postgresql import base
from django.db.utils import NotSupportedError, OperationalError

from labrecords.errors import DatabaseUnavailable
from labrecords.postgresql import durability


class NoConnection(DatabaseUnavailable, OperationalError):
    """{why}"""


def embedded_server(data):
    if os.name != "posix":
        raise DatabaseUnavailable(
            why="The embedded database runs on Linux and macOS: name a PostgreSQL server in DATABASE_URL."
        )
    from labrecords.postgresql.server import server_in  # psutil and the locks: only when they are needed

    return server_in(data)


class DatabaseWrapper(base.DatabaseWrapper):
    may_start = True  # false: connect to the embedded server only if it is running anyway

    def get_connection_params(self):
        return super().get_connection_params() | self._embedded_address()

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

    def _embedded_address(self):
        data = self.settings_dict.get("EMBEDDED_IN")
        if data is None:
            return {}
        server = embedded_server(data)
        if not self.may_start and server.cluster.state() != "ready":
            raise NoConnection(why="The embedded database is not running.")
        return server.lease()
