"""The SQL models, one SELECT a file, and the reference tables, shipped as package data."""
