"""The core of knockon: frames in, frames out; no file, no database, no clock."""
