"""The desk: a local page on which somebody who types no commands does the whole week."""
