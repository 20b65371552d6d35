"""The open standards of codes, modules, parts and vehicle numbers, as pure functions."""
