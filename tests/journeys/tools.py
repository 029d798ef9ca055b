"""What journeys need from the machine: skipped with its reason where absent, a failure where it must run."""

import os
import shutil
import subprocess

import pytest

MUST_RUN = os.environ.get("LABRECORDS_MUST_RUN") == "1"


def _needs(program, package, mark):
    absent = shutil.which(program) is None

    def decorate(test):
        if absent and not MUST_RUN:
            test = pytest.mark.skip(reason=f"{program} is not installed (Debian: {package})")(test)
        return mark(test)

    return decorate


needs_poppler = _needs("pdftotext", "poppler-utils", pytest.mark.poppler)


def pdf_text(path):
    """The text of a PDF file in reading order of its lines."""
    return subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True).stdout
