"""Issues the report of a batch in forked processes that are killed at their n-th statement:
python -m tests.faults.issuing [NAME,…] reads lines “issue BATCH SPECIFICATION N” and says how many steps each took,
0 when it was killed.
"""

import os
import signal
import sys


def main():
    from tests.faults.served import without

    without(sys.argv[1])
    import scipy.stats  # noqa: F401 – read by the first analysis

    from labrecords.reports.qualification import issue

    for line in sys.stdin:
        _, batch, specification, step = line.split()
        child = os.fork()
        if not child:
            os._exit(_issue(issue, batch, specification, int(step)))
        ended = os.waitpid(child, 0)[1]
        print(0 if os.WIFSIGNALED(ended) else os.waitstatus_to_exitcode(ended), flush=True)


def _issue(issue, batch, specification, step):
    from django.db import connection

    from labrecords.models import Batch, CriterionSet, Person

    by = Person.objects.get(username="first")
    batch = Batch.objects.get(code=batch)
    revision = CriterionSet.objects.get(code=specification).revisions.last()
    blow = _Blow(step)
    with connection.execute_wrapper(blow):
        issue(by=by, batch=batch, criterion_revision=revision)
    connection.close()
    return blow.done


class _Blow:
    """Odd steps fall before a statement, even ones after it: step 2n is the one after the n-th."""

    def __init__(self, step):
        self.step, self.done = step, 0

    def __call__(self, execute, sql, params, many, context):
        self._count()
        done = execute(sql, params, many, context)
        self._count()
        return done

    def _count(self):
        self.done += 1
        if self.done == self.step:
            os.kill(os.getpid(), signal.SIGKILL)


if __name__ == "__main__":
    main()
