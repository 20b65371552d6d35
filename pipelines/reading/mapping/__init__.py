"""Rows out of other programs' exports, as a mapping file tells: tables, workbooks, JSON, printed text, PDF."""
