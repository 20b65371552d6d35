"""One file in, one frame of text columns and its rejects out."""
