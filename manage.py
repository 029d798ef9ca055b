#!/usr/bin/env python3
"""The command line of the lab records."""

import sys

if sys.version_info < (3, 11):
    sys.exit("The lab records need Python 3.11 or newer; this is Python " + sys.version.split()[0] + ".")


def main():
    import os
    import signal
    from pathlib import Path

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labrecords.settings")
    folder = _data_option(sys.argv)
    if folder:
        # --data names the folder of database and reports; it has to be known before Django reads its settings.
        os.environ["LABRECORDS_DATA"] = str(Path(folder).expanduser().resolve())
    from django.core.management import execute_from_command_line

    from labrecords.errors import Refusal

    # End cleanly: the last process stops the embedded database.
    for number in {signal.SIGTERM, getattr(signal, "SIGHUP", signal.SIGTERM)}:
        if signal.getsignal(number) == signal.SIG_DFL:  # nohup ignores SIGHUP, and it stays ignored
            signal.signal(number, lambda number, frame: sys.exit(128 + number))
    try:
        execute_from_command_line(sys.argv)
    except Refusal as refusal:
        sys.exit(f"Refused: {refusal}")


def _data_option(arguments):
    for position, argument in enumerate(arguments):
        if argument.startswith("--data="):
            return argument.partition("=")[2]
        if argument == "--data" and position + 1 < len(arguments):
            return arguments[position + 1]
    return ""


if __name__ == "__main__":
    main()
