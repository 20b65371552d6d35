"""Printed texts that put a control unit's address in front of its name: ``[03] BRAKES: no fault``, ``03 BRAKES``.

The address says nothing that the name does not.  Such a text is drafted as if it had none, and each pattern that takes
a name passes over an address in front of it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipelines.reading.account import LIKE_A_CODE
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.draft_text import draft_text
from pipelines.reading.drafting.guessing import says_nothing
from pipelines.reading.drafting.words import Modules

# Without a backslash, so that it is the same in a literal text of TOML and in one with escapes.
_ADDRESS = (
    "(?:[^0-9A-Za-z ](?:0x)?[0-9A-Fa-f]{1,4}[^0-9A-Za-z ] *"
    "|(?:0x)?(?:[0-9][0-9A-F]{0,2}|[A-F][0-9][0-9A-F]?)h? +(?:[–-] *)?)"
)
_ADDRESSED = re.compile(rf"( *){_ADDRESS}(([^\W\d_][^:=|\d]*?) *[:=|–(\[-]+ *(.+))$")
_BEGINS = re.compile(rf" *{_ADDRESS}[^\W\d_]")
_COUNT = re.compile(r"\d+ +[^\W\d_]+(?:\(\w+\))?[)\]]?:?|\d+ *[)\]]:?")
_FEWEST, _KNOWN = 2, 0.5
_NAME, _START = "(?<module>", r"^\s*"


def draft_printed(draft: Draft, lines: Sequence[str], is_module: Modules, names: Sequence[str] = ()) -> None:
    """Draft the patterns of a printed text, addresses in front of the names of units passed over.

    Args:
        draft: Gets the lines.
        lines: The text.
        is_module: Whether a text names a module.
        names: Those of the files that the text comes from.
    """
    plain = [_plain(line) for line in lines]
    heads = [match for line in lines if (match := _heading(line))]
    known = sum(is_module(match[3].strip()) for match in heads)
    inline = any(re.search(LIKE_A_CODE, line) and _BEGINS.match(line) for line in lines)  # a unit beside each code
    if inline or len(heads) < _FEWEST or known < max(_FEWEST, _KNOWN * len(heads)):
        draft_text(draft, lines, is_module, names)
        return
    draft_text(draft, plain, is_module, names)
    draft.tables["text"] = [_passing_over(line) for line in draft.tables.get("text", [])]
    draft.reasons.append(f"module: what stands in front of names, as in {heads[0][0].strip()!r}, is an address")


def _heading(line: str) -> re.Match[str] | None:
    """Return what a line is made of that has an address, a name, and how many codes or that there is none."""
    match = None if re.search(LIKE_A_CODE, line) else _ADDRESSED.match(line.rstrip())
    return match if match is not None and (_COUNT.fullmatch(match[4]) or says_nothing(match[4])) else None


def _plain(line: str) -> str:
    match = _heading(line)
    return line if match is None else match[1] + match[2]


def _passing_over(line: str) -> str:
    """Return a line of the draft whose patterns of units let an address stand in front of the name."""
    key, parted, pattern = line.partition(" = ")
    if not parted or key not in ("module", "no_codes", "silent"):
        return line
    if _NAME in pattern:
        return f"{key} = {pattern.replace(_NAME, f'{_ADDRESS}?{_NAME}')}"
    return f"{key} = {pattern.replace(_START, f'{_START}{_ADDRESS}?', 1)}"
