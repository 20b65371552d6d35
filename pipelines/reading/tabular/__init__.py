"""Rows out of tables in our own layouts: delimited text, JSON lines and Parquet."""
