"""The sentences of the report, the job sheets, the workbook and the pictures, by surface.

A leaf: it imports nothing of the other rooms, and every room may import it.
Sentences with something to fill in are functions with named arguments, so that
the type checker sees what is missing.
"""
