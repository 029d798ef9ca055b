"""Reads the code once and forks a web process at each line “fork PORT”: python -m tests.faults.nursery [NAME,…]"""

import os
import sys


def main():
    from tests.faults.served import without

    without(sys.argv[1])
    import scipy.stats  # noqa: F401 – read by the first analysis

    from labrecords import serving, urls  # noqa: F401

    for line in sys.stdin:
        verb, number = line.split()
        print(_fork(int(number), serving) if verb == "fork" else os.waitpid(int(number), 0)[0], flush=True)


def _fork(port, serving):
    child = os.fork()
    if not child:
        os.close(0)
        serving.serve(port, say=lambda sentence: None)
        os._exit(0)
    return child


if __name__ == "__main__":
    main()
