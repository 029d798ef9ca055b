from labrecords.actions.rows import write
from labrecords.models import Calibration, Instrument
from labrecords.trail import verb


@verb
def create(*, by, why="new instrument", **fields):
    return write(Instrument(**fields), by)


@verb
def calibrate(*, by, why="calibrated", instrument, **fields):
    return write(Calibration(instrument=instrument, **fields), by)
