from labrecords.actions.rows import write
from labrecords.models import SubstrateLot
from labrecords.trail import verb


@verb
def log_lot(*, by, why="substrate received", **fields):
    return write(SubstrateLot(**fields), by)
