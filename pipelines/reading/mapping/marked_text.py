"""Text with marks for a page in it, as notes are kept: the marks around a word are no part of it.

Backticks around a code, stars around the cell of a table or the first words of a line in a list, and signs for leaning
letters around what stands behind a colon or in a cell.
"""

from __future__ import annotations

import re

_CODE = re.compile(r"`([^`\n]{1,80})`")
_STRONG_FIRST = re.compile(r"^(\s*[-*+•]\s+)(\*\*|__)(?=\S)([^*_\n]+)\2", re.MULTILINE)
_STRONG = re.compile(r"(?<=\|)(\s*)(\*\*|__)(?=\S)([^*_|\n]+)\2(?=\s*(?:\||$))", re.MULTILINE)
_LEANING = re.compile(r"(?<=[:|] )(\*|_)(?=[^\W_])([^*_|\n]{1,80})(?<=\S)\1(?=\s*(?:\||$))", re.MULTILINE)


def without_marks(text: str) -> str:
    """Return a text without the marks around its words; line ends stay where they are."""
    plain = _CODE.sub(r"\1", text) if "`" in text else text
    plain = _LEANING.sub(r"\2", plain)
    if "**" not in plain and "__" not in plain:
        return plain
    return _STRONG.sub(r"\1\3", _STRONG_FIRST.sub(r"\1\3", plain))
