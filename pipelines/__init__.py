"""The shell of knockon: files, database, orchestration and the command line."""
