VERSION = "2026.5"  # of the program, raised with every release; it stands in archives and on the health page
