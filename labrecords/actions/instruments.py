from labrecords.actions import analyses
from labrecords.actions.rows import write
from labrecords.models import Calibration, Instrument, TestRun
from labrecords.trail import verb


@verb
def create(*, by, why="new instrument", **fields):
    return write(Instrument(**fields), by)


@verb
def calibrate(*, by, why="calibrated", instrument, **fields):
    row = write(Calibration(instrument=instrument, **fields), by)
    analyses.refresh(by=by, runs=TestRun.objects.filter(instrument=instrument))
    return row
