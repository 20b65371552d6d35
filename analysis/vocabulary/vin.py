"""What a vehicle identification number says by itself, and what may be wrong with it.

Seventeen characters without I, O and Q.  Only some regions use the check digit,
so a wrong one is worth a warning there and says nothing elsewhere.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

# North America demands the check digit by rule; China does too (from memory).
_CHECKED = frozenset("12345L")
_NORTH_AMERICA = frozenset("12345")
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_VALUES = {
    **{digit: int(digit) for digit in "0123456789"},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    "P": 7,
    "R": 9,
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
_YEARS = "ABCDEFGHJKLMNPRSTVWXY123456789"
FULL_VIN = re.compile(r"[A-HJ-NPR-Z0-9]{17}")
_SHORT = re.compile(r"[A-Z0-9][A-Z0-9-]{3,15}")
# What programs and people write where they have no number.
_NO_NUMBER = re.compile(r"[A-Z./?*#_-]*|([0FX?*.#_-])\1*")


@dataclass(frozen=True)
class VinReading:
    """What one spelling of a vehicle number is worth.

    Attributes:
        vin: The number in capitals without spaces, or None where it can be none.
        warnings: What looks wrong or unusual but is no reason to refuse it.
    """

    vin: str | None
    warnings: tuple[str, ...] = ()


def check_digit(vin: str) -> str:
    """Return the check digit that belongs at position 9.

    Args:
        vin: 17 characters in capitals.

    Returns:
        "0" to "9" or "X".

    Raises:
        ValueError: ``vin`` is not 17 of the allowed characters.

    Source:
        49 CFR 565.15(c): values of the letters, weights by position, remainder by 11.
    """
    if not FULL_VIN.fullmatch(vin):
        raise ValueError(f"expected 17 letters and digits without I, O and Q; got {vin!r}")
    rest = sum(weight * _VALUES[character] for weight, character in zip(_WEIGHTS, vin, strict=True)) % 11
    return "X" if rest == 10 else str(rest)


def is_no_vin(text: str) -> bool:
    """Say whether a cell tells that the vehicle number is not known: UNKNOWN, N/A, all zeros.

    Args:
        text: The cell as it stands.

    Returns:
        True where it has no digit at all but for one that fills it; no vehicle number is so.
    """
    return _NO_NUMBER.fullmatch(re.sub(r"\s+", "", text).upper()) is not None


def misread_vin(text: str) -> tuple[str, str] | None:
    """Return the first letter that no vehicle number has, of 17 letters and digits, and the number as it may be meant.

    Args:
        text: The cell as it stands.

    Returns:
        ``("O", number with 0 for it)``; I is read as 1, O and Q as 0; None where the text is no such number.

    Source:
        ISO 3779 leaves I, O and Q out, for they look like 1 and 0.
    """
    plain = re.sub(r"\s+", "", text).upper()
    letters = re.findall("[IOQ]", plain)
    meant = plain.translate(_LOOKS_LIKE)
    if not letters or not FULL_VIN.fullmatch(meant) or is_no_vin(plain):
        return None
    return letters[0], meant


_LOOKS_LIKE = str.maketrans("IOQ", "100")


def read_vin(text: str) -> VinReading:
    """Read one spelling of a vehicle number.

    Args:
        text: The cell as it stands.

    Returns:
        The number and its warnings.  A shorter number is kept with a warning: cars before 1981 and home-market frame
        numbers have them.  Anything longer, with other characters, 17 long with I, O or Q, a word (UNKNOWN) or all
        zeros gives None.
    """
    plain = re.sub(r"\s+", "", text).upper()
    if is_no_vin(plain):
        return VinReading(None)
    if not FULL_VIN.fullmatch(plain):
        if _SHORT.fullmatch(plain):
            return VinReading(plain, (f"it has {len(plain)} characters, not 17",))
        return VinReading(None)
    if plain[0] in _CHECKED and plain[8] != check_digit(plain):
        return VinReading(plain, (f"its check digit is {plain[8]}; {check_digit(plain)} would fit",))
    return VinReading(plain)


def model_year(vin: str) -> int | None:
    """Return the model year that a North American number names, or None.

    Args:
        vin: 17 characters in capitals.

    Returns:
        The year, 1980 to 2039; None outside North America, where position 10 may hold anything.

    Source:
        49 CFR 565.15(d): a cycle of 30 letters and digits; a letter at position 7 means 2010 or later (cars and light
        trucks).
    """
    if not FULL_VIN.fullmatch(vin) or vin[0] not in _NORTH_AMERICA or vin[9] not in _YEARS:
        return None
    return (2010 if vin[6].isalpha() else 1980) + _YEARS.index(vin[9])
