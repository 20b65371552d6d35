"""The database and everything that keeps it: raw tables, SQL models, snapshots, restore, undo, recovery."""
