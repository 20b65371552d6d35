"""What do the lines look like that hold the name of a module, whose codes stand below?"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from pipelines.reading.drafting.code_lines import (
    fits,
)
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.nothing_lines import LABEL_BEHIND, LETTER, line_says_nothing
from pipelines.reading.drafting.scan_lines import escaped, fields
from pipelines.reading.drafting.words import Modules

_MODULE_LABEL = (
    r"(?:control unit|control module|(?:regel|steuer)?ger[aä]t|steuergeraet|calculateur|module|modul|m[oó]dulo|unit|ecu"
    r"|system|syst[eè]me|sistema|centralita|centralina|sterownik|sg|controller|address|adresse|addr\.?|adr\.?)"
)
_SHAPES = (
    # What stands around a module's name in its heading: a number in brackets, a number, a label, marks.
    r"^\s*\[\w+\]\s*(?<module>\S.*?)\s*$",
    r"^\s*\d+\s*[.):-]\s*(?<module>[^\d\s:][^:]*?)\s*:?\s*$",
    rf"^\s*(?i:{_MODULE_LABEL})\b\s*(?:(?:0x)?[0-9A-F]{{1,4}}\b\s*)?[:=\s.-]\s*(?<module>[^\s:=].*?)\s*:?\s*$",
    # A label, the module, and after some blanks another label.
    rf"^\s*(?i:{_MODULE_LABEL})\b\s*[:=]\s*(?<module>[^\s:=].*?)(?:\s{{2,}}|\t){LABEL_BEHIND}",
    r"^\s*\[(?<module>[^\]]+)\]\s*$",
    r"^\s*\[(?<module>[^\]]+)\]\s*\d+\s+[^\W\d_]+(?:\(\w+\))?\s*$",
    # An address, the name, and in brackets that address or another one.
    r"^\s*(?:0x)?[0-9A-F]{1,3}h?\s+[–-]?\s*(?<module>[^\W\d_][^:;|]*?)"
    r"(?:\s*[(\[](?i:(?:address|adresse|addr|adr|dir|dirección|id|no|nr)\b\.?:?\s*)?(?:0x)?[0-9A-F]{1,4}h?[)\]])?\s*:?\s*$",
    r"^\s*[*=#-]+\s*(?<module>[^*=#]*[^*=#\s-])\s*[*=#-]*\s*$",
    r"^\s*(?<module>[^:\d][^:]*?)\s*:\s*$",
    # A module and how many codes it has, or that it is in order.
    r"^\s*(?<module>[^\W\d_][^:;|]*?)\s*[(\[]\s*\d+\s*[)\]]\s*:?\s*$",
    r"^\s*(?<module>[^\W\d_][^:;|\d]*?)(?:\s{2,}|\s*[-–:(\[]+\s*)\d+\s+[^\W\d_]+(?:\(\w+\))?[)\]]?\s*:?\s*$",
    r"^\s*(?<module>[^\W\d_][^:;|\d]*?)(?:\s{2,}|\s*[-–:(\[]+\s*)[^\W\d_]+\s*:\s*\d+[)\]]?\s*$",
)  # fmt: skip
WORDS = r"^\s*(?<module>[^\W\d_][^\d:|;]{1,40})$"


def words_above(lines: Sequence[str], coded: Sequence[str], heads: Sequence[str]) -> list[str]:
    """Return the lines of words alone that stand right above codes, each once: one may name a module."""
    held = {*coded}
    found = (above.strip() for above, line in pairwise(lines) if line in held and above not in held)
    words = (line for line in found if fits(WORDS, line) and not line_says_nothing(line))
    return list(dict.fromkeys(line for line in words if not any(fits(head, line) for head in heads)))


def _wordings(lines: Sequence[str], coded: set[str]) -> set[str]:
    """Return the lines further in than the code above them, and nowhere else: they say what that code means."""
    inside, found, others = -1, set[str](), set[str]()
    for line in lines:
        deep = line not in coded and 0 <= inside < indent(line)
        (found if deep else others).add(line)
        inside = indent(line) if line in coded else inside if deep else -1
    return found - others


def module_pattern(lines: Sequence[str], coded: Sequence[str], is_module: Modules) -> str | None:
    """Return the shape of the lines that hold a module's name and nothing else."""
    wordings = _wordings(lines, {*coded})
    others = [
        line
        for line in lines
        if line not in coded and line not in wordings and not fields(line) and not line_says_nothing(line)
    ]
    best: tuple[int, str] = (sum(is_module(line.strip()) for line in others), "")
    for shape in _SHAPES:
        names = [match["module"].strip() for line in others if (match := fits(shape, line))]
        known = sum(map(is_module, names))
        # The first shape that takes most of the names; lines of a bare name are looked at below.
        if names and known >= 0.5 * len(names) and known > best[0] - (not best[1] and best[0] == known):
            best = known, shape
    if best[1]:
        return best[1]
    bare = [line for line in others if is_module(line.strip())]
    if not bare:
        return None
    edge = min(indent(line) for line in bare)
    inside = [indent(line) for line in coded]
    if inside and min(inside) > edge and edge == max(indent(line) for line in bare):
        ruled = {line.strip()[0] for line in others if not LETTER.search(line)} & {*"=_~*#-+."}
        ruled -= {line.strip()[0] for line in bare}  # a line of the page names none
        signs = escaped("".join(sorted(ruled, key=lambda sign: (sign == "-", sign))))  # a dash last is no range
        return rf"^\s{{{edge}}}(?<module>[^\d\s:|{signs}][^\d:|]*)$"
    # Any line of words, where no other such line stands right above codes: the next file may have more modules.
    strangers = {line for line in others if fits(WORDS, line) and not is_module(line.strip())}
    leading = {above for above, line in pairwise(lines) if line in {*coded} or line_says_nothing(line)}
    if not strangers & leading:
        return WORDS
    names = sorted({line.strip() for line in bare}, key=lambda name: (-len(name), name))
    return rf"^\s*(?<module>{'|'.join(map(escaped, names))})\s*$"


def ask_between(draft: Draft, module: str, lines: Sequence[str], coded: Sequence[str], is_module: Modules) -> None:
    """Ask where a line that looks like a module's heading stands between one that is and its codes."""
    for above, line, below in zip(lines, lines[1:], lines[2:], strict=False):
        named, found = fits(module, above), fits(module, line)
        if named and found and below in coded and is_module(named["module"]) and not is_module(found["module"]):
            draft.ask(
                "text.module",
                f"Is {found['module']!r} a module? It stands below {above.strip()!r}; give the pattern of headings.",
                None,
                "the codes below it may belong to either",
            )
            return


def indent(line: str) -> int:
    """Return how many blanks a line begins with."""
    return len(line) - len(line.lstrip())
