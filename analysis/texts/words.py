"""How shares, numbers and counts are put into words, whoever the dealer is."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.texts import names

UNKNOWN = "–"
_LARGE = 1000  # from here on a number is written out
RECKONED = f"{names.WORKED_OUT}: "
"""How the second part of a note begins: the method and its name, behind the plain sentence."""


def percent(share: float | None) -> str:
    """Return a share from 0 to 1 as whole per cent, or a dash where it is not known."""
    return UNKNOWN if share is None else f"{share * 100:.0f}%"


def span(low: float | None, high: float | None) -> str:
    """Return an interval of shares as "61 to 90%", or nothing where it is not known or has no width."""
    if low is None or high is None or low == high:
        return ""
    return f"{low * 100:.0f} to {high * 100:.0f}%"


def whole(value: float) -> str:
    """Return a number without decimals."""
    return f"{value:.0f}"


def number(value: float | None) -> str:
    """Return a number with three digits that matter, or a dash."""
    if value is None:
        return UNKNOWN
    return f"{float(f'{value:.3g}'):,.0f}" if abs(value) >= _LARGE else f"{value:.3g}"


def p_value(p: float) -> str:
    """Return a p-value with two digits that matter; below a ten-thousandth its size says nothing more."""
    return f"p {p:.2g}" if p >= 0.0001 else "p below 0.0001"


def by_chance(p: float) -> str:
    """Return in plain words how often chance alone does a thing, for instance "3 times in 1,000"."""
    for of in (100, 1_000, 10_000):
        if p * of >= 2:
            return f"{p * of:.0f} times in {of:,}"
    return "fewer than 2 times in 10,000"


def counted(size: int, one: str, many: str) -> str:
    """Return "1 car" or "3 cars"."""
    return f"{size:,} {one if size == 1 else many}"


def taking(minutes: float) -> str:
    """Return "1 minute" or "8 minutes"."""
    return "1 minute" if minutes == 1 else f"{minutes:g} minutes"


def listed(joined: str) -> str:
    """Return ``;``-separated names with commas between them."""
    return joined.replace(";", ", ")


def enumerated(names: Sequence[str]) -> str:
    """Return "a", "a and b" or "a, b and c"."""
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def small(text: str) -> str:
    """Return a text as it goes on behind a colon: with a small first letter."""
    return text[:1].lower() + text[1:]


def large(text: str) -> str:
    """Return a text as it begins a sentence: with a capital first letter."""
    return text[:1].upper() + text[1:]


def reckoned(plain: str, method: str) -> str:
    """Return a note: first the plain sentence, which may be blank, then how it is reckoned."""
    return f"{plain} {RECKONED}{method}".lstrip()


def plainly(note: str) -> str:
    """Return the plain sentence of a note; blank where it holds nothing but a method."""
    return note.partition(RECKONED)[0].strip()


def reckoning(note: str) -> str:
    """Return how a note is reckoned, as a sentence; blank where it does not say."""
    return large(note.partition(RECKONED)[2].strip())
