"""The lines below a code that tell more of it: its state, its wording, how often it was seen."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from pipelines.reading.drafting.code_lines import (
    fits,
)
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.module_headings import indent
from pipelines.reading.drafting.nothing_lines import line_says_nothing
from pipelines.reading.drafting.scan_lines import escaped, spaced
from pipelines.reading.drafting.words import HEADINGS, STATUS, Modules, folded, known_in

_LABELLED = re.compile(r"\s*([^\W\d_][^:=]{1,30}?)\s*[:=]\s*(\S.*?)\s*$")
_AROUND = " ()[]-–"
_WORDING = re.compile(r"\s*[^\W\d_][^=]*")
_ENOUGH, _MOSTLY, _FEWEST_WRAPPED = 0.9, 0.8, 2


class Below:
    """Looks at the lines below codes: which tell more of the code, and which nobody understands."""

    def __init__(
        self,
        lines: Sequence[str],
        coded: Sequence[str],
        heads: Sequence[str],
        known: Sequence[str],
        is_module: Modules,
    ) -> None:
        self._is_module = is_module
        self.example = ""
        self._known = {*known}
        self._found: dict[str, list[str]] = {}
        self._coded = len(coded)
        self.lost: list[str] = []
        under, fresh = "", False
        self._wordings: list[str] = []
        self._outside: list[str] = []
        self._hanging = _Hanging(lines, coded, heads)
        for line in lines:
            if line in coded:
                under = line
            elif any(fits(pattern, line) for pattern in heads) or (
                line_says_nothing(line) and not _is_wording(line) and not self._hanging.takes(line)
            ):
                under = ""
            elif under:
                self._look(line, under, first=fresh)
            if not under or line in coded:
                self._outside.append(line)
            fresh = line in coded

    def _look(self, line: str, above: str, *, first: bool) -> None:
        match = _LABELLED.match(line)
        column = None
        if match:
            column = _column_of(match[1], match[2])
            key = rf"^\s*{spaced(match[1])}\s*[:=]\s*(?<{column}>\S.*?)\s*$"
        elif known_in(STATUS, line):
            column, key = "status", line.strip(_AROUND)
        if column is None and first and "text" not in self._known and _WORDING.fullmatch(line):
            self._wordings.append(line)
        if column is not None and column not in self._known:
            self.example = self.example or line
            self._found.setdefault(column if match is None else "", []).append(key)
        elif match is None and indent(line) > indent(above):
            self.lost.append(line)

    def _names_module(self, line: str) -> bool:
        name = line.strip(" \t:*-[]")
        return self._is_module(name) or (":" in name and self._is_module(name.partition(":")[2].strip()))

    def patterns(self) -> list[str]:
        """Return the patterns of the lines that tell more."""
        made = list(dict.fromkeys(self._found.get("", ())))
        modules = sum(map(self._names_module, self._wordings))
        if len(self._wordings) >= _ENOUGH * self._coded and modules < 0.5 * len(self._wordings):
            # The line right below each code is its wording, and stands as far in everywhere.
            edges = {indent(line) for line in self._wordings}
            self.lost = [line for line in self.lost if line not in self._wordings]
            edge = edges.pop() if len(edges) == 1 else 0
            pattern = rf"^\s{{{edge}}}(?<text>[^\W\d_]\D.*)$"
            if edge and not self.lost and not any(fits(pattern, line) for line in self._outside):
                self.example = self.example or self._wordings[0]
                made.append(pattern)
        if not any("<text>" in pattern for pattern in made) and modules < 0.5 * max(1, len(self._wordings)):
            made += self._hang()
        words = sorted(set(self._found.get("status", ())), key=lambda word: (-len(word), word))
        if words:
            made.append(rf"^[\s(\[–-]*(?<status>{'|'.join(map(escaped, words))})[\s)\]]*$")
        return made

    def _hang(self) -> list[str]:
        """Return the pattern of words further in below codes, of one line or several: a wording, or the rest of one."""
        begun = "text" in self._known
        hanging = self._hanging
        # One line may be the foot of a page, or what somebody writes below the list.
        few = hanging.below < (_FEWEST_WRAPPED if begun else _ENOUGH * self._coded)
        if not hanging.lines or "status" in self._found or few:
            return []
        names = {line.strip() for line in hanging.lines}
        if sum(map(self._names_module, names)) >= _MOSTLY * len(names):
            return []  # the modules of the codes above them
        self.lost = [line for line in self.lost if not hanging.takes(line) or "status" not in self._known]
        self.example = self.example or hanging.lines[0]
        return [rf"^\s{{{hanging.edge}}}(?<{'text_2' if begun else 'text'}>[^\W\d_].*)$"]

    def ask(self, draft: Draft, has_status: bool) -> None:
        """Ask whether lines may be left out that may tell the state of a code."""
        if len(self.lost) > 0.2 * self._coded and not has_status:
            asks = f"Lines like {self.lost[0].strip()!r} stand below codes and no pattern takes them"
            draft.ask_leave("text.below", f"{asks}; may they be left out?", "they may tell the state of a code")


class _Hanging:
    """The lines of words right below codes that all stand as far in, further than the codes, and no other line does.

    Attributes:
        lines: Those lines; none where some stand elsewhere, or have a label or a state.
        edge: How many blanks they begin with.
        below: Below how many of the codes such a line stands.
    """

    def __init__(self, lines: Sequence[str], coded: Sequence[str], heads: Sequence[str]) -> None:
        self.lines: list[str] = []
        self.edge = self.below = 0
        held, found, others = {*coded}, list[str](), list[str]()
        inside, fresh = -1, False
        for line in lines:
            if line in held:
                inside, fresh = indent(line), True
            elif 0 <= inside < indent(line) and not any(fits(pattern, line) for pattern in heads):
                found.append(line)
                self.below += fresh
                fresh = False
            else:
                others.append(line)
                # What a page begins with may stand between a code and the rest of its wording.
                inside = -1 if line_says_nothing(line) or any(fits(pattern, line) for pattern in heads) else inside
        # Further in stand titles of the next page too.
        edge = Counter(indent(line) for line in found).most_common(1)[0][0] if found else 0
        others += [line for line in found if indent(line) != edge]
        found = [line for line in found if indent(line) == edge]
        words = all(_WORDING.fullmatch(line) and not _LABELLED.match(line) for line in found)
        apart = not any(indent(line) == edge and line.strip()[:1].isalpha() for line in others)
        if words and apart and not any(known_in(STATUS, line.strip(_AROUND)) for line in found):
            self.lines, self.edge = found, edge

    def takes(self, line: str) -> bool:
        """Say whether a line stands as far in as those do."""
        return bool(self.lines) and indent(line) == self.edge


def _is_wording(line: str) -> bool:
    """Say whether a line has a label for the wording of a code: below a code, ``no answer from`` is what it means."""
    match = _LABELLED.match(line)
    return match is not None and folded(match[1]) in HEADINGS["scans"]["text"]


def _column_of(label: str, value: str) -> str | None:
    """Return what a line ``label: value`` below a code tells of it."""
    plain = folded(label)
    if plain in HEADINGS["scans"]["status"] or known_in(STATUS, value):
        return "status"
    if plain in HEADINGS["scans"]["text"]:
        return "text"
    if plain in HEADINGS["scans"]["occurrences"] and value.isdecimal():
        return "occurrences"
    if plain in HEADINGS["scans"]["failure_type"] and re.fullmatch("(?:0x)?[0-9A-Fa-f]{2}", value):
        return "failure_type"
    return None
