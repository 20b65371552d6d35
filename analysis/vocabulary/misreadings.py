"""Why a text is no fault code, in words that name what is wrong with it.

Exports, spreadsheets and hand-typed lists break codes in a few known ways: a
letter O for a zero, a code turned into a date, two codes in one cell.  Each has
its own sentence, so that the dealer knows what to mend.
"""

from __future__ import annotations

import re
import unicodedata

_NOTHING = frozenset({"", "?", "OK", "NA", "N/A", "N.A.", "NIL", "NONE", "NULL"}) | {"-", "--", "---"}
_NO_FAULT = re.compile(r"NO (?:FAULT|CODE|DTC)S?(?: STORED| FOUND)?")
_MONTHS = "JAN|FEB|MAR|APR|MAY|JUN|JUL|AUG|SEP|OCT|NOV|DEC"
_DATE = re.compile(
    r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}(?:[ T].*)?"
    rf"|\d{{1,2}}[- ](?:{_MONTHS})\w*(?:[- ]\d+)?|(?:{_MONTHS})\w*[- ]\d+"
)
_DECIMAL = re.compile(r"[+-]?\d+[.,]\d+(?:E[+-]?\d+)?|[+-]?\d+E[+-]\d+")
_SHEET_ERROR = re.compile(r"#[A-Z/0]+[!?]?")
_ONE_CODE = re.compile(r"[PCBU][0-3][0-9A-F]{3}")
_HALF_READ = re.compile(r"([PCBU])[\s-]?(.*)")
_MOST_DIGITS = 6
_LOOK_ALIKE = {"O": "0", "I": "1", "L": "1"}


def why_no_code(text: str) -> str:
    """Return what is wrong with a text that could not be read as a code.

    Args:
        text: The text, trimmed and in capitals.

    Returns:
        One clause without a full stop; it quotes the part at fault.
    """
    if word := _word_for_no_code(text):
        return word
    for character in text:
        if not character.isascii():
            name = unicodedata.name(character, "an unnamed character")
            return f"{character!r} is {name}, not a Latin letter or a digit"
    codes = _ONE_CODE.findall(text)
    if len(codes) > 1:
        return f"it holds {len(codes)} codes ({', '.join(codes)}); a row holds one"
    if spoiled := _spoiled_by_spreadsheet(text):
        return spoiled
    if match := _HALF_READ.fullmatch(text):
        return _why_half_read(match[1], match[2])
    return _why_no_number(text)


def _word_for_no_code(text: str) -> str | None:
    if text in _NOTHING or _NO_FAULT.fullmatch(text):
        shown = f"{text!r} says that there is no code" if text else "the cell is empty"
        return f"{shown}; a module that stored none has a blank code"
    return None


def is_a_word(text: str) -> bool:
    """Say whether a text in capitals has letters only: DEAD and FACADE have hex digits only, and are words."""
    return text.isalpha()


def is_a_year(text: str) -> bool:
    """Say whether four digits are most likely the year of a date or of a model; a maker's number can have a zero."""
    return re.fullmatch(r"(?:199\d|20[0-3]\d)", text) is not None


def _spoiled_by_spreadsheet(text: str) -> str | None:
    if _SHEET_ERROR.fullmatch(text):
        return f"{text!r} is an error of a spreadsheet, not a code"
    if _DATE.fullmatch(text):
        return f"a spreadsheet turned it into a date ({text}); export the column as text"
    if _DECIMAL.fullmatch(text):
        return f"a spreadsheet turned it into a number ({text}); export the column as text"
    return None


def _why_half_read(letter: str, rest: str) -> str:
    """Say what is wrong behind one of the four letters."""
    body, behind = rest[:4], rest[4:]
    for wrong, right in _LOOK_ALIKE.items():
        if wrong in body and re.fullmatch(r"[0-9A-FOIL]{4}", body):
            return f"it has the letter {wrong} where the digit {right} belongs"
    digits = re.match(r"[0-9A-F]*", body)
    found = digits.end() if digits else 0
    if found < len(body):
        return f"{body[found]!r} behind {letter}{body[:found]} is no hex digit"
    if found < 4:
        return f"it has {found} characters behind {letter}; expected 4"
    if body[0] not in "0123":
        return f"its first digit is {body[0]}; {letter} codes have 0 to 3"
    return _why_bad_failure_type(letter + body, behind)


def _why_bad_failure_type(code: str, behind: str) -> str:
    kind = behind.lstrip(" :_/-")
    if re.fullmatch(r"[0-9A-F]", kind):
        return f"its failure type {kind!r} is unfinished; expected 2 hex digits behind {code}"
    if not kind:
        return f"behind {code} stands {behind!r} and no failure type"
    if re.fullmatch(r"[0-9A-Z]{2}", kind):
        return f"its failure type {kind!r} is not 2 hex digits"
    return f"behind {code} stands {kind!r}; expected nothing, or a failure type of 2 hex digits"


def _why_no_number(text: str) -> str:
    if text.startswith("SPN"):
        return "it names an SPN without its FMI; expected something like SPN 110 FMI 3"
    if is_a_year(text) or (is_a_word(text) and re.fullmatch(r"[ADEF][0-9A-F]{3,5}", text)):
        taken = "most likely a year" if is_a_year(text) else "a word of hex digits only"
        mark = "0x" if len(text) == _MOST_DIGITS else "a zero"
        return f"{text} is {taken}; write a maker's number of these digits with {mark} in front"
    base = text.split("-", maxsplit=1)[0]
    if re.fullmatch(r"[0-9A-F]+", base):
        if base == text:
            return f"it has {len(text)} digits; a maker's number has 4 to 6"
        return "it is no maker's number; expected 4 to 6 digits and at most one ending of 2 or 3 behind a hyphen"
    if len(text) == 5 and re.fullmatch(r"[A-Z][0-9A-F]{4}", text):
        return f"it starts with {text[0]}; expected P, C, B or U"
    return "it is neither a code like P0301 nor a maker's number of 4 to 6 digits"
