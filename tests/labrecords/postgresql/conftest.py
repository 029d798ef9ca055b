"""Folders with an embedded database of their own, apart from the suite's."""

import os
import pwd

import pytest

from tests.labrecords.postgresql.lab import NORMAL_USER, Lab, new_folder


@pytest.fixture
def lab():
    """Durable, as in real use, worked in by a normal user."""
    folder = new_folder()
    made = Lab(folder, NORMAL_USER)
    made.data.mkdir()
    if NORMAL_USER:
        account = pwd.getpwnam(NORMAL_USER)
        os.chown(made.data, account.pw_uid, account.pw_gid)
    yield made
    made.remove()


@pytest.fixture
def quick(lab):
    """The same without waiting for the disk, where the disk is not the point."""
    lab.environment = {"LABRECORDS_THROWAWAY": "1"}
    return lab


@pytest.fixture
def root_lab():
    folder = new_folder()
    made = Lab(folder, None)
    made.environment = {"LABRECORDS_THROWAWAY": "1"}
    yield made
    made.remove()
