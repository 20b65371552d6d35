"""What stands beside a code in a line of text, or in a cell: its module, its wording, its state.

The patterns are tried on all lines that hold a code; one counts where it fits nearly all of them, what
it takes for states are states, and what it takes for modules are modules.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache

from pipelines.reading.account import LIKE_A_CODE, codes_in
from pipelines.reading.drafting.draft import MAY, MAY_NOT, Draft
from pipelines.reading.drafting.guessing import IsModule, looks_like_code
from pipelines.reading.drafting.scan_lines import escaped
from pipelines.reading.drafting.words import HEADINGS, STATUS, folded, known_in

MARKS = (" - ", " | ", " – ", ": ", "; ", " / ", ", ", "|", ";", "\t", "  ")
_SEPARATORS = ("\n", "|", ";", ",", "/", "+", " ")
_WORDED = ("\n", " | ", "|", "; ", ";", " / ", " + ", ", ", ",", "/", "  ")
_BLANK = r"\s"
_TIMES = "[x×]|mal|times?|fois|veces|volte|keer|razy|vezes|g[aå]nger|gange"
_ENOUGH = 0.9
_MOSTLY, _OFTEN = 0.6, 0.5


def code_pattern(coded: Sequence[str], is_module: IsModule) -> tuple[str, bool]:
    """Return the pattern of lines with a code, and whether it holds the module too."""
    one = CODE
    if coded and all(_TYPED.search(line) for line in coded):
        one = CODE.removesuffix("(?:-[0-9A-F]{2})?") + r"[ :/-]\s?[0-9A-F]{2}\b"
    code = f"{_called(coded)}(?<code>{one})"
    if (listed := _listed(one, coded, is_module)) is not None:
        return listed
    words = Counter(
        match[0] for line in coded for match in [re.search(r"[^\W\d_]+(?: [^\W\d_]+)*$", line.strip(" .)]"))] if match
    )
    known = _with_usual({ending for word in words for ending in _endings(word)})
    marks = (r"\|", "-", ";", ",", ":")
    ends = [
        r"[\s:|–-]*(?<text>.*?)\s*[(\[](?<status>[^()\[\]]+)[)\]]\s*$",
        r"\s*[(\[](?<status>[^()\[\]]+)[)\]][\s:|–-]*(?<text>.*)$",
        rf"\s{{2,}}(?<text>\S.*?)\s{{2,}}(?<status>\S.*?)\s{{2,}}(?<occurrences>\d{{1,4}}) ?(?i:{_TIMES})\s*$",
        r"\s{2,}(?<text>\S.*?)\s{2,}(?<status>\S.*?)\s*$",
        r"\s{2,}(?<status>\S.*?)\s{2,}(?<text>\S.*?)\s*$",
        *(rf"\s*{mark}\s*(?<text>.*?)\s*{mark}\s*(?<status>[^{mark[-1]}]+?)\s*$" for mark in marks),
        *(rf"\s*{mark}\s*(?<status>[^{mark[-1]}]+?)\s*{mark}\s*(?<text>.*?)\s*$" for mark in marks),
    ]
    if known:
        words_of = "|".join(map(escaped, known))
        ends.append(rf"[\s:|,–-]*(?<text>.*?)[\s,:(\[|–—·/-]+(?<status>{words_of})[)\].]*\s*$")
        ends.append(rf"\s*[:|,–-]?\s*(?<status>{words_of})$")
    ends += _other_ends(coded, is_module)
    named = _NAMED
    if (behind := _module_in_brackets(code, ends, coded, is_module)) is not None:
        return behind, True
    for start in (f"^{_start(coded)}", named):
        for way in (rf"{start}{code}{end}" for end in ends):
            if _is_told(way, coded, is_module):
                return way, start == named
    inline = rf"{named}{code}[\s:|–-]*(?<text>.*?)\s*$"
    if _is_told(inline, coded, is_module):
        return inline, True
    bracket = rf"^{_start(coded)}{code}\s*[(\[](?<module>[^()\[\]]+)[)\]][\s:|–-]*(?<text>.*)$"
    if _is_told(bracket, coded, is_module):
        return bracket, True
    behind = rf"^\s*(?<text>[^\W\d_].*?)\s*[(\[]{code}[)\]]\s*$"
    anywhere = rf"^.*?\b{code}\b[\s:|)\]–-]*(?<text>.*)$"
    return behind if coded and all(fits(behind, line) for line in coded) else anywhere, False


def _module_in_brackets(code: str, ends: Sequence[str], coded: Sequence[str], is_module: IsModule) -> str | None:
    """Return the pattern of lines with the module in brackets right behind the code, and a state behind; or None."""
    told = [match for line in coded if (match := fits(rf"{code}\s*[(\[](?<module>[^()\[\]]+)[)\]]", line))]
    if not coded or sum(is_module(match["module"].strip()) for match in told) < _ENOUGH * len(coded):
        return None
    start = rf"^{_start(coded)}{code}\s*[(\[](?<module>[^()\[\]]+)[)\]]"
    return next((way for end in ends if _is_told(way := f"{start}{end}", coded, is_module)), None)


def _called(coded: Sequence[str]) -> str:
    """Return the pattern of a word for a code right in front of codes, ``fault P0301``; blank where most have none."""
    words = [match[1] for line in coded if (match := _CALLED.search(line)) and folded(match[1]) in _CODE_NAMES]
    if len(words) < _MOSTLY * len(coded) or not words:
        return ""
    return rf"(?:(?:{'|'.join(sorted({*map(escaped, words)}))})[\s:.=#(-]+)?"


_CALLED = re.compile(rf"([^\W\d_]+)[\s:.=#(-]+{LIKE_A_CODE}")
_CODE_NAMES = {*HEADINGS["scans"]["code"]} - {"id", "entry"}


def with_numbers(code: str, coded: Sequence[str], lines: Sequence[str]) -> tuple[str, list[str]]:
    """Let a pattern take a maker's own numbers too, where they stand in lines that are like those with codes.

    Args:
        code: The pattern of lines with a code of five characters.
        coded: Those lines.
        lines: Every line that may hold a code.

    Returns:
        The pattern, and the lines with a code or a number in the order of the text.  As they were where a number could
        be something else: it has to stand where codes stand, behind the same blanks and words, and the rest has to fit.
    """
    before = {re.sub(r"\d", "0", line[: match.start()]) for line in coded if (match := re.search(LIKE_A_CODE, line))}
    found: dict[str, int] = {}
    for line in lines:
        number = _NUMBER.search(line) if line not in found else None
        if number is None or codes_in([line]) or re.sub(r"\d", "0", line[: number.start()]) not in before:
            continue
        match = fits(code, f"{line[: number.start()]}P0100{line[number.end() :]}")
        states = match.groupdict().get("status") if match else None
        if match is not None and (not states or known_in(STATUS, states)):
            found[line] = len(number[0])
    if not found or CODE not in code:
        return code, list(coded)
    lengths = {*found.values()}
    many = f"{{{min(lengths)},{max(lengths)}}}" if len(lengths) > 1 else f"{{{lengths.pop()}}}"
    held = {*coded}
    return code.replace(CODE, rf"(?:{CODE}|[0-9]{many}\b)"), [line for line in lines if line in held or line in found]


def _with_usual(found: set[str]) -> list[str]:
    """Return states that were found, the longest first, with the other usual ones of their language, spelled alike.

    The next file of the kind may have those; words that wordings of codes hold too count only where they were found.
    """
    spelled = str.upper if all(map(str.isupper, found)) else str.title if all(map(str.istitle, found)) else str.lower
    more = {spelled(word) for words in _USUAL_STATES if {*map(str.lower, found)} & {*words} for word in words}
    return sorted(found | more, key=lambda word: (-len(word), word))


_USUAL_STATES = (
    ("active", "pending", "confirmed", "stored", "permanent", "history", "historic", "intermittent", "sporadic"),
    ("aktiv", "gespeichert", "sporadisch", "statisch", "passiv", "inaktiv", "bestätigt", "vorläufig"),
)
_NAMED = r"^\s*(?:[>*•·–-]+\s*)?(?:\d+[.):]?\s+)?(?<module>[^\s>*•·–-].*?)[\s:=|–-]+"
CODE = r"[PCBU][0-3][0-9A-F]{3}(?:-[0-9A-F]{2})?"
"""The pattern of a code of five characters, a failure type behind it or not."""
_TYPED = re.compile(r"[PCBU][0-3][0-9A-F]{3}[ :/-]\s?[0-9A-F]{2}(?=[\s:|,;–)(-]|$)")
_NUMBER = re.compile(r"(?<![\w.,:/-])\d{4,6}(?![\w.,:/])(?!-\d)")


def _listed(one: str, coded: Sequence[str], is_module: IsModule) -> tuple[str, bool] | None:
    """Return the pattern of lines that hold several codes, as ``code_pattern`` does; None where none does."""
    if not any(len(codes_in([line])) > 1 for line in coded):
        return None
    if (worded := listed_with_states(coded, is_module)) is not None:
        return worded[0], True
    several = rf"(?<code>{one}(?:\s*(?:[,;/+|&]|\b(?:{_AND})\b)?\s*{one})*)[\s,;.]*$"
    named = rf"{_NAMED}{several}"
    ways = (named, f"^{_start(coded)}{several}")
    return next(((way, way == named) for way in ways if _is_told(way, coded, is_module)), None)


def listed_with_states(coded: Sequence[str], is_module: IsModule) -> tuple[str, str, str, list[str]] | None:
    """Find lines of a module and its codes, each with its state: ``ABS: C0045 stored; 01276 active``.

    Returns:
        The pattern of the lines, what stands between the codes, the pattern of one of them, and the pieces; None where
        the lines are not so.
    """
    for between in _BEHIND_MODULES:
        found = _listed_behind(between, coded, is_module)
        if found is not None:
            return found
    return None


def _listed_behind(between: str, coded: Sequence[str], is_module: IsModule) -> tuple[str, str, str, list[str]] | None:
    """Find such lines, with one of the marks between a module and its codes."""
    matches = [match for line in coded if (match := re.match(rf"{_LISTED_MODULE}{between}{_LISTED_CODES}", line))]
    if len(matches) < _ENOUGH * len(coded) or sum(is_module(match[1]) for match in matches) < _MOSTLY * len(matches):
        return None
    rests = [match[2] for match in matches]
    mark, pieces = separator_of(rests), pieces_of(rests)
    if mark is None or mark == " " or pieces is None:
        return None
    pattern = piece_pattern(pieces, is_module)
    told = [match for piece in pieces if (match := fits(pattern, piece))]
    if "status" not in groups_in(pattern) or len(told) < len(pieces):
        return None
    line = rf"^{_LISTED_MODULE}{between}{_LISTED_CODES}".replace("(", "(?<module>", 1)
    return line.replace(f"{between}(", f"{between}(?<code>", 1), mark, pattern, pieces


_BEHIND_MODULES = (r"\s*:\s*", r"\s*=\s*", r"\s+[–—-]+\s+", r"\s*[–-]>\s*", r"\s{2,}")
_LISTED_MODULE = r"\s*[>*•·–-]*\s*([^\s:>*•·–-][^:]*?)"
_LISTED_CODES = rf"((?:{CODE}|[0-9]{{4,6}})\b.*?)\s*$"


def _is_told(way: str, coded: Sequence[str], is_module: IsModule) -> bool:
    """Say whether a pattern fits the lines with codes, what it takes for states are states and for modules modules."""
    matches = [match for line in coded if (match := fits(way, line))]
    if not coded or len(matches) < _ENOUGH * len(coded):
        return False
    told = [match.groupdict() for match in matches]
    states = [groups["status"].strip() for groups in told if "status" in groups]
    modules = [groups["module"].strip() for groups in told if "module" in groups]
    marks = bool(states) and all(map(_LETTERS.fullmatch, states))
    return (marks or all(known_in(STATUS, state) for state in states)) and sum(map(is_module, modules)) >= 0.6 * len(
        modules
    )


def _other_ends(coded: Sequence[str], is_module: IsModule) -> list[str]:
    """Return what may stand behind codes besides: a state in front of the wording, and letters in brackets."""
    ends = []
    first = _with_usual({begin for line in coded for begin in _beginnings(line)})
    if first:
        words_of = "|".join(map(escaped, first))
        ends.append(rf"[\s:|,–-]+(?<status>{words_of})\s*[(\[](?<text>.*?)[)\]]\s*$")
        ends.append(rf"[\s:|,(\[–-]+(?<status>{words_of})(?:[)\]]?[\s:|,–-]+(?<text>.*)|)$")
    if letters := _letters(coded, is_module):
        ends.append(rf"[\s:|,–-]*(?<text>.*?)\s*[(\[](?<status>{letters})[)\]]\s*$")
    return ends


def _letters(coded: Sequence[str], is_module: IsModule) -> str:
    """Return the letters in brackets behind codes that only the file's legend, or its reader, can say the meaning of.

    A few of them stand again and again, and none is a state by itself, a module, or a failure type.
    """
    found = [match[1] for line in coded if (match := _IN_BRACKETS.search(line))]
    marks = {*found}
    few = 1 < len(marks) <= _FEW_MARKS and len(found) >= max(_ENOUGH * len(coded), 2 * len(marks))
    usual = any(known_in(STATUS, mark) or is_module(mark) for mark in marks)
    return "|".join(sorted(marks, key=lambda mark: (-len(mark), mark))) if few and not usual else ""


_LETTERS = re.compile(r"[A-Za-z]{1,2}")
_IN_BRACKETS = re.compile(r"[(\[]([A-Za-z]{1,2})[)\]]\s*$")
_FEW_MARKS = 5


def _start(coded: Sequence[str]) -> str:
    """Return what stands in front of the codes: nothing that matters, or a label that says what follows."""
    labels = {match[1] for line in coded if (match := re.match(r"\s*([^\W\d_][^\d:=]*?)\s*[:=]\s*[PCBU]\d", line))}
    if labels and all(folded(label) in HEADINGS["scans"]["code"] for label in labels):
        return rf"\s*(?:{'|'.join(sorted(map(escaped, labels)))})\s*[:=]\s*"
    return "[^A-Z]*"


def _beginnings(line: str) -> list[str]:
    """Return the longest name of a state that the words behind a line's first code begin with, in its spelling."""
    found = re.search(rf"{LIKE_A_CODE}(?:[:/-][0-9A-F]{{2}}\b)?[\s:|,(\[–-]+([^\W\d_]+(?: [^\W\d_]+){{0,3}})", line)
    parts = found[1].split() if found else []
    known = [" ".join(parts[:count]) for count in range(len(parts), 0, -1)]
    return [words for words in known if known_in(STATUS, words)][:1]


def states_in(texts: Sequence[str]) -> list[str]:
    """Return the texts that begin or end with the name of a state, which stands there unread."""
    return [text for text in texts if _endings(text.strip(" .)]")) or _beginnings(f"P0100 {text}")]


def ask_states(draft: Draft, texts: Sequence[str]) -> None:
    """Ask where the wordings of codes seem to hold their states, and nothing takes them out."""
    found = states_in(texts)
    if len(found) > _OFTEN * len(texts):
        asks = f"Do wordings like {found[0].strip()!r} only describe the code, or do they tell its state?"
        means = {MAY: "they only describe the code", MAY_NOT: "they tell its state: nothing of this file is taken in"}
        draft.ask_leave("text.status", asks, "no pattern that is known here parts them", means)


def _endings(words: str) -> list[str]:
    """Return the ends of a line's last words that are a state's name, in the spelling of the line."""
    parts = words.split()
    return [ending for at in range(len(parts)) if known_in(STATUS, ending := " ".join(parts[at:]))][:1]


def cut_alike(cells: Sequence[str], mark: str, is_module: IsModule) -> tuple[str, dict[str, list[str]]] | None:
    """Return the pattern that cuts cells at a mark into module, code, text and status, and the pieces of each."""
    cut = [[piece.strip() for piece in cell.split(mark)] for cell in cells]
    fewest = min(map(len, cut))
    if fewest < 2:
        return None
    place = next((at for at in range(fewest) if all(looks_like_code(pieces[at]) for pieces in cut)), None)
    if place is None:
        return None
    roles: list[tuple[str, list[str]]] = []
    for at in range(place):
        pieces = [found[at] for found in cut]
        known = sum(map(is_module, pieces)) >= _MOSTLY * len(pieces)
        roles.append(("module" if known else "", pieces))
    roles.append(("code", [found[place] for found in cut]))
    behind = [found[place + 1 :] for found in cut]
    if all(behind):
        last = [found[-1] for found in behind]
        has_status = sum(known_in(STATUS, piece) is not None for piece in last) >= _MOSTLY * len(last)
        middle = [mark.join(found[: -1 if has_status else None]).strip() for found in behind]
        if any(middle):
            roles.append(("text", middle))
        if has_status:
            roles.append(("status", last))
    elif any(behind):
        roles.append(("text", [mark.join(found) for found in behind]))
    between = rf"\s*{escaped(mark.strip()) or _BLANK}\s*"
    parts = {
        "module": "(?<module>.+?)",
        "code": r"(?<code>\S+?)",
        "text": "(?<text>.*)",
        "status": "(?<status>[^{}]+?)",
        "": ".+?",
    }
    last_sign = re.sub(r"([\\\]\[^-])", r"\\\1", (mark.strip() or " ")[-1])
    parts["status"] = f"(?<status>[^{last_sign}]+?)"
    names = [role for role, _ in roles]
    if len(set(filter(None, names))) != len(list(filter(None, names))):
        return None
    return "^" + between.join(parts[role] for role in names) + "$", {role: pieces for role, pieces in roles if role}


def fits(pattern: str, line: str) -> re.Match[str] | None:
    """Return where a pattern of a mapping fits a line, by Python's own engine."""
    return compiled(pattern).search(line)


@lru_cache(maxsize=4096)
def compiled(pattern: str) -> re.Pattern[str]:
    """Return a pattern of a mapping for Python's own engine."""
    return re.compile(re.sub(r"\(\?<(\w+)>", r"(?P<\1>", pattern))


def groups_in(pattern: str) -> list[str]:
    """Return the names of a pattern's groups, in order."""
    return re.findall(r"\(\?<(\w+)>", pattern)


def separator_of(cells: Sequence[str]) -> str | None:
    """Return what stands between several codes of a cell, alone or with their words; None where nothing parts them."""
    mark = next((mark for mark in _SEPARATORS for cell in cells if bare_codes(cell, mark)), None)
    crowded = [cell for cell in cells if len(codes_in([cell])) > 1]
    numbered = [cell for cell in cells if codes_in([cell]) and codes_in([cell]).total() + _numbers_in(cell) > 1]
    if mark is None and numbered:
        parted = (mark for mark in _WORDED if all(_each_begins_with_one(cell, mark) for cell in numbered))
        mark = next((mark for mark in parted if all(len(cell.split(mark)) > 1 for cell in numbered)), None)
    if mark is None and crowded:
        mark = next((mark for mark in _WORDED if all(_each_begins_with_one(cell, mark) for cell in crowded)), None)
    return mark


def _numbers_in(cell: str) -> int:
    return len(_NUMBER.findall(re.sub(CODE, "", cell)))


def bare_codes(cell: str, mark: str) -> bool:
    """Say whether a mark cuts a cell into codes and nothing else."""
    parts = [part.strip() for part in cell.split(mark)]
    some = len(parts) > 1 and any(map(looks_like_code, parts))
    return some and all(_begins_with_one(part) and " " not in part for part in parts)


def _begins_with_one(part: str) -> bool:
    """Say whether a piece of a cell begins with a code, or with a number as makers have of their own."""
    return looks_like_code(part) or _NUMBER.match(part) is not None


def _each_begins_with_one(cell: str, mark: str) -> bool:
    parts = [part.strip() for part in cell.split(mark) if part.strip()]
    return all(_begins_with_one(part) and len(codes_in([part])) < 2 for part in parts)


EACH = rf"(?<code>{CODE})\b"
"""The pattern of one code among several."""
_AND = "and|und|y|e|et|en|i|och|og|oraz|plus|a"
_NAME = r"[^\W\d_][^,;:|()\[\]\d\n]*?(?:\s?\([^()\n]*\))?"
_BEHIND = (
    "",
    r"(?:\s*[(\[](?<status>[^()\[\],;]+)[)\]])?",
    r"(?:\s*[(\[](?<module>[^()\[\],;]+)[)\]])",
    r"\s*[(\[](?<module>[^()\[\],;]+)[,;/]\s*(?<status>[^()\[\],;]+)[)\]]",
    r"\s*[(\[](?<status>[^()\[\],;]+)[,;/]\s*(?<module>[^()\[\],;]+)[)\]]",
)


def each_pattern(cells: Sequence[str], is_module: IsModule, *, has_module: bool) -> str | None:
    """Return the pattern of one code of cells that hold several, with its module and its state; None where none is.

    Args:
        cells: The cells with codes.
        is_module: Whether a text names a module.
        has_module: Something else names the module of every cell.
    """
    words = {word for cell in cells for word in re.findall(r"[^\W\d_]+", cell) if known_in(STATUS, word)}
    known = "|".join(map(escaped, sorted(words, key=lambda word: (-len(word), word))))
    behind = [*_BEHIND, *([rf"(?:\s*[:=/–-]?\s*(?<status>{known})\b)?"] if known else [])]
    leads = [rf"(?:(?<module>{_NAME})\s*[\s:=>–-]\s*)?", ""]
    for lead in leads:
        for end in behind:
            if (lead and "<module>" in end) or not (has_module or "<module>" in lead + end):
                continue
            pattern = rf"{lead}(?<code>{CODE})\b{end}"
            if _takes_all(pattern, cells, is_module, has_module=has_module):
                return pattern
    return None


def pieces_by(pattern: str, cells: Sequence[str]) -> dict[str, list[str]]:
    """Return what each named group of a pattern takes out of cells, again and again."""
    told = [match.groupdict() for cell in cells for match in compiled(pattern).finditer(cell)]
    return {name: [one[name] for one in told if one[name]] for name in groups_in(pattern)}


def _takes_all(pattern: str, cells: Sequence[str], is_module: IsModule, *, has_module: bool) -> bool:
    """Say whether a pattern takes everything out of cells but signs, modules as modules and states as states."""
    for cell in cells:
        rest = re.sub(rf"\b(?:{_AND})\b", " ", compiled(pattern).sub(" ", cell), flags=re.IGNORECASE)
        if re.search(r"[^\W_]", rest):
            return False
        told = [match.groupdict() for match in compiled(pattern).finditer(cell)]
        modules = [one["module"] for one in told if one.get("module")]
        states = [one["status"] for one in told if one.get("status")]
        if not all(map(is_module, modules)) or not all(known_in(STATUS, state.strip()) for state in states):
            return False
        if not has_module and (not told or not told[0].get("module")):
            return False
    return "module" in pattern or "status" in pattern or any(len(codes_in([cell])) > 1 for cell in cells)


def pieces_of(cells: Sequence[str]) -> list[str] | None:
    """Return the pieces of cells that hold a code each; None where nothing that is known here parts them."""
    mark = separator_of(cells)
    if mark is None:
        return None if any(len(codes_in([cell])) > 1 for cell in cells) else list(cells)
    return [piece.strip() for cell in cells for piece in cell.split(mark) if piece.strip()]


def piece_pattern(pieces: Sequence[str], is_module: IsModule) -> str:
    """Return the pattern of pieces that begin with a code or a maker's number each."""
    coded = [piece for piece in pieces if codes_in([piece])]
    pattern, _ = code_pattern(coded, is_module)
    return with_numbers(pattern, coded, pieces)[0]
