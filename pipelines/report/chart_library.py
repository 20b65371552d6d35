"""Keeps the library that draws the page's charts: putting it together takes longer than the page."""

from __future__ import annotations

from contextlib import suppress
from importlib.metadata import version

from analysis import charts
from pipelines.shared_files import share_file, shared_file


def chart_library() -> str:
    """Return the library, from the files that all workspaces share where they hold it whole, else put together.

    Returns:
        The same text either way.  A file of another version, or one that is damaged, is written anew; where it cannot
        be written, the week goes on without.
    """
    name = f"charts-{version('vl-convert-python')}.js"
    with suppress(UnicodeDecodeError):
        if kept := shared_file(name):
            return kept.decode()
    text = charts.library()
    share_file(name, text.encode())
    return text
