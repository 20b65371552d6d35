"""One car: what it shows, and which sets of parts explain it."""
