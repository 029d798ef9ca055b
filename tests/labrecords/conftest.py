"""What several parts look at: a report as it is issued, with everything that a report can say."""

import pytest
from django.db import transaction

from labrecords.models import Qualification
from tests.labrecords.reports.scenario import rich_evidence


@pytest.fixture(scope="session")
def issued(django_db_setup, django_db_blocker):
    """The evidence of an issued report and its file, read once; the records behind them are gone again."""
    with django_db_blocker.unblock(), transaction.atomic():
        evidence = rich_evidence()
        file = bytes(Qualification.objects.get().file)
        transaction.set_rollback(True)
    return evidence, file
