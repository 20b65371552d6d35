"""How shares, numbers and counts are put into words, whoever the dealer is."""

from __future__ import annotations

UNKNOWN = "–"


def percent(share: float | None) -> str:
    """Return a share from 0 to 1 as whole per cent, or a dash where it is not known."""
    return UNKNOWN if share is None else f"{share * 100:.0f}%"


def span(low: float | None, high: float | None) -> str:
    """Return an interval of shares as "61 to 90%", or nothing where it is not known or has no width."""
    if low is None or high is None or low == high:
        return ""
    return f"{low * 100:.0f} to {high * 100:.0f}%"


def number(value: float | None) -> str:
    """Return a number with three digits that matter, or a dash."""
    return UNKNOWN if value is None else f"{value:.3g}"


def p_value(p: float) -> str:
    """Return a p-value with two digits that matter; below a ten-thousandth its size says nothing more."""
    return f"p {p:.2g}" if p >= 0.0001 else "p below 0.0001"


def counted(size: int, one: str, many: str) -> str:
    """Return "1 car" or "3 cars"."""
    return f"{size:,} {one if size == 1 else many}"


def listed(joined: str) -> str:
    """Return ``;``-separated names with commas between them."""
    return joined.replace(";", ", ")


def small(text: str) -> str:
    """Return a text as it goes on behind a colon: with a small first letter."""
    return text[:1].lower() + text[1:]


def large(text: str) -> str:
    """Return a text as it begins a sentence: with a capital first letter."""
    return text[:1].upper() + text[1:]
