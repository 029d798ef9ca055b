"""The two roles of the embedded database: who owns the tables, and who works with them."""

NAME = "labrecords"  # of the database and of its owner
WORKING = "labrecords_web"
