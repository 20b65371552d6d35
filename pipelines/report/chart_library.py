"""Keeps the library that draws the page's charts from week to week: putting it together takes longer than the page."""

from __future__ import annotations

import hashlib
import os
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path

from analysis import charts


def chart_library(folder: Path) -> str:
    """Return the library, from a file of the folder where that holds it whole, else put together and kept there.

    Args:
        folder: The workspace's own working folder.

    Returns:
        The same text either way.  A file of another version, or one that is damaged, is written anew; where it cannot
        be written, the week goes on without.
    """
    path = folder / f"charts-{version('vl-convert-python')}.js"
    with suppress(OSError, UnicodeDecodeError):
        mark, _, text = path.read_bytes().decode().partition("\n")
        if mark == _mark(text):
            return text
    text = charts.library()
    with suppress(OSError):
        fresh = path.with_suffix(".new")
        fresh.write_bytes(f"{_mark(text)}\n{text}".encode())
        os.replace(fresh, path)
    return text


def _mark(text: str) -> str:
    return f"// {hashlib.sha256(text.encode()).hexdigest()}"
