"""The embedded server of one data folder: started when needed, shared by processes, stopped by the last one.

Every process that uses the server holds a shared lock on `lease.lock` until it ends; the system drops that
lock even when the process is killed. Who ends and can make the lock exclusive was the last, and stops the
server. `start.lock` lets one process at a time start or stop; `keep-running` is a mark that `db stop` lifts.
"""

from __future__ import annotations

import atexit
import functools
import os
import threading
from contextlib import contextmanager
from pathlib import Path

import fasteners

from labrecords.errors import DatabaseUnavailable
from labrecords.postgresql.cluster import PATIENCE_S, SILENCE_S, STOP_S, Cluster, say
from labrecords.postgresql.place import Place, choose, refusing

START_LOCK, LEASE, KEEP = "start.lock", "lease.lock", "keep-running"


_guard = threading.Lock()
# Held while a thread starts or stops a server. A process forked in that moment would keep the pipes to initdb and the
# shell open, and the thread would wait for their end as long as the child lives: so a fork waits for it.
_changing = threading.RLock()


def server_in(data: Path) -> Server:
    """The one Server of this process: two would drop each other's locks, which belong to the process."""
    with _guard, _changing:
        return _server(Path(data).resolve())


@functools.cache
def _server(data):
    return Server(choose(data))


def _begin_anew():
    """A forked child has none of its parent's locks: it takes a lease of its own."""
    global _guard
    _guard = threading.Lock()
    _server.cache_clear()
    _changing.release()


os.register_at_fork(before=_changing.acquire, after_in_parent=_changing.release, after_in_child=_begin_anew)


class Server:
    def __init__(self, place: Place):
        self.place = place
        self.cluster = Cluster(place)
        self._threads = threading.RLock()
        self._start_lock = fasteners.InterProcessLock(place.folder / START_LOCK)
        self._lease = fasteners.InterProcessReaderWriterLock(place.folder / LEASE)
        self._holder = 0  # the process that holds the lease by this object

    def lease(self) -> dict:
        """Take part in the server, starting it if needed; returns how to connect."""
        with self._threads:
            if not (self._is_held and self.cluster.state() == "ready"):
                with self._one_at_a_time():
                    self._hold()
                    self.cluster.make_ready()
            return self.cluster.address()

    def keep(self) -> None:
        """Start the server and leave it running until `stop`."""
        self.lease()
        with refusing(self.place.folder):
            self.place.new_file(KEEP)

    def stop(self) -> bool:
        """Lift `keep`; false when another process uses the server, which then stops it when it ends."""
        if not self.place.folder.is_dir():
            return True
        with self._threads, self._one_at_a_time():
            (self.place.folder / KEEP).unlink(missing_ok=True)
            return self._stop_if_last()

    def release(self) -> None:
        """End of the process: stop the server if nobody else uses it and nobody asked to keep it."""
        if not self._is_held:
            return  # a forked child inherits this call, but not the lease; its threads' lock may be stuck
        with self._threads, _changing:
            # A start lock that is taken for long is held by a process with a lease: then we are not the last.
            if not self._start_lock.acquire(timeout=10):
                return
            try:
                if not self.is_kept():
                    self._stop_if_last()
                self._lease.release_read_lock()
                self._holder = 0
            finally:
                self._start_lock.release()

    def is_kept(self) -> bool:
        return (self.place.folder / KEEP).exists()

    @property
    def _is_held(self):
        return self._holder == os.getpid()

    def _hold(self):
        if not self._is_held:
            self._lease.acquire_read_lock()
            self._holder = os.getpid()
            atexit.register(self.release)

    def _stop_if_last(self):
        if not self._lease.acquire_write_lock(blocking=False):
            return False
        self.cluster.stop()
        if self._is_held:
            self._lease.acquire_read_lock()
        else:
            self._lease.release_write_lock()
        return True

    @contextmanager
    def _one_at_a_time(self):
        with refusing(self.place.folder):
            self.place.make_folder()
            for name in (START_LOCK, LEASE):
                self.place.new_file(name)
            got = self._start_lock.acquire(timeout=SILENCE_S)
            if not got:
                say("Waiting for another process that is starting the database …")
                got = self._start_lock.acquire(timeout=PATIENCE_S + STOP_S)
        if not got:
            raise DatabaseUnavailable(
                why=f"Another process has been starting the database in {self.place.folder} for minutes."
            )
        try:
            with _changing, refusing(self.place.folder):
                yield
        finally:
            self._start_lock.release()
