"""The command line: one module a command, each a thin layer over the room that does the work."""
