"""The patterns that a mapping may use to find its way in a printed text.

They are regular expressions without look-around and back-references, run by an
engine whose time grows with the text and never explodes.  A pattern that would be
slow all the same, because it counts too far, is refused when the mapping is read.
"""

from __future__ import annotations

import re

import polars as pl

_LONGEST = 1_000
_MOST_STEPS = 2_000
_COUNT = re.compile(r"\{(\d+)(?:,(\d*))?\}")
_CLASS_ESCAPE = re.compile(r"\\[pPxuU]\{[^}]*\}|\\.", re.DOTALL)


def groups_of(pattern: str) -> tuple[str, ...]:
    """Return the names of a pattern's named groups, in order."""
    fields = pl.Series([""]).str.extract_groups(pattern).struct.fields
    return tuple(name for name in fields if not name.isdigit())


def why_bad(pattern: str) -> str | None:
    """Return why a text cannot be used as a pattern, or None where it can."""
    if len(pattern) > _LONGEST:
        return f"it is longer than {_LONGEST} characters"
    if re.search(r"\(\?[a-zA-Z-]*x", pattern):
        return "the flag x is not allowed"
    if steps(pattern) > _MOST_STEPS:
        return f"its counted repeats make more than {_MOST_STEPS} steps"
    try:
        pl.Series([""]).str.contains(pattern)
    except pl.exceptions.PolarsError as error:
        reasons = [
            line.strip() for line in str(error).splitlines() if line.strip().startswith(("error:", "regex error:"))
        ]
        return reasons[-1].partition(":")[2].strip() if reasons else "it is no regular expression"
    return None


def steps(pattern: str) -> int:
    """Return about how many steps the engine has to keep track of: the atoms, counted repeats multiplied out."""
    open_groups, last, at = [0], 0, 0
    while at < len(pattern):
        count = _COUNT.match(pattern, at)
        if count:
            times = int(count[2] or count[1])
            open_groups[-1] += last * (times - 1)
            last *= times
            at = count.end()
            continue
        at, atom = _atom(pattern, at)
        if atom == "(":
            open_groups.append(0)
        elif atom == ")" and len(open_groups) > 1:
            last = open_groups.pop()
            open_groups[-1] += last
        elif atom not in ("|", "*", "+", "?"):
            last = 1
            open_groups[-1] += 1
    return sum(open_groups)


def _atom(pattern: str, at: int) -> tuple[int, str]:
    """Return where the atom at ``at`` ends, and what it is: a character, or a whole class or escape as ``.``."""
    escape = _CLASS_ESCAPE.match(pattern, at)
    if escape:
        return escape.end(), "."
    if pattern[at] != "[":
        return at + 1, pattern[at]
    depth = 0
    while at < len(pattern):
        escape = _CLASS_ESCAPE.match(pattern, at)
        if escape:
            at = escape.end()
            continue
        depth += {"[": 1, "]": -1}.get(pattern[at], 0)
        at += 1
        if depth == 0:
            break
    return at, "."
