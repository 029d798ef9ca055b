"""Issues the report of a batch in forked processes that are killed at their n-th statement:
python -m tests.faults.issuing [NAME,…] reads lines “issue ASSESSMENT N” and says how many steps each took,
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
        _, assessment, step = line.split()
        reading, writing = os.pipe()
        child = os.fork()
        if not child:
            os.write(writing, str(_issue(issue, int(assessment), int(step))).encode())
            os._exit(0)
        os.close(writing)
        os.waitpid(child, 0)
        with open(reading) as told:
            print(told.read() or 0, flush=True)


def _issue(issue, assessment, step):
    from django.db import connection

    from labrecords.models import Assessment, Person

    blow = _Blow(step)
    by, row = Person.objects.get(username="second"), Assessment.objects.get(pk=assessment)
    with connection.execute_wrapper(blow):
        issue(by=by, assessment=row)
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
