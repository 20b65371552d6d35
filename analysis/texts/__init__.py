"""Every word that the report, the job sheets, the workbook and the pictures show, by surface.

A leaf: it imports nothing of the other rooms, and every room may import it.
Sentences with something to fill in are functions with named arguments, so that
the type checker sees what is missing.
"""
