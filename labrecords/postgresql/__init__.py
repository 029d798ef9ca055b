"""Django's PostgreSQL backend with an embedded server behind it that starts when it is first needed.

place       where the server's files lie and which system user owns them
programs    the folder of PostgreSQL programs, and running one as that user
cluster     the files and the process: make, start, watch, stop
server      who shares it: the lease, the locks, the last one stops it
durability  refuses a server that may forget what it has acknowledged
base        the Django backend
transfer    a dump out, a dump in
"""
