"""Back-up and restore: the database and the kept files as one archive that proves itself.

manifest   what an archive says of itself
container  the file: a plain tar with checksums, encrypted in the age format when a passphrase is given
rows       how the rows of a table are counted and hashed
files      which files beside the database belong into an archive
backup     making one, in one snapshot
restore    reading one into an empty place: all of it or nothing
latest     when the last one was made, for the health page
chain      the record chain, as far as archives have to do with it
"""

from labrecords.archive.backup import back_up
from labrecords.archive.restore import restore

__all__ = ["back_up", "restore"]
