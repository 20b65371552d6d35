"""Where a standard code lives that no table explains: the modules and systems that its range of numbers tells.

SAE J2012, the same as ISO 15031-6, hands out its numbers in blocks: P03xx is
ignition, P07xx the transmission, U01xx a lost partner.  A block tells much less
than a code's own text, so this is for codes without any entry, and never
overrides one.

Each block says how it is known: ``headings`` where the section headings of the
standard, as open lists of codes repeat them, were read; ``memory`` where the
block is told from memory of the standard.  The modules beside it are common
practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.vocabulary.codes import code_to_bytes

Basis = Literal["headings", "memory"]


@dataclass(frozen=True, kw_only=True)
class CodeRange:
    """One block of numbers.

    Attributes:
        first: Its first code.
        last: Its last code.
        systems: What the block is about, in the words of the table of generic codes; some blocks mix several.
        modules: Canonical modules that such a code speaks of, likeliest first; empty where the number tells none.
        basis: How the block is known.
    """

    first: str
    last: str
    systems: tuple[str, ...]
    modules: tuple[str, ...]
    basis: Basis


def _block(span: str, systems: str, modules: str, basis: Basis) -> CodeRange:
    first, last = span.split("-")
    return CodeRange(
        first=first, last=last, systems=tuple(systems.split(";")), modules=tuple(modules.split()), basis=basis
    )


RANGES = (
    _block("P0000-P00FF", "fuel;air intake / boost;engine timing;exhaust aftertreatment", "ECM PCM", "memory"),
    _block("P0100-P02FF", "fuel;air intake / boost;exhaust aftertreatment", "ECM PCM", "headings"),
    _block("P0300-P03FF", "ignition;engine timing", "ECM PCM", "headings"),
    _block("P0400-P04FF", "exhaust aftertreatment;evaporative", "ECM PCM", "headings"),
    _block("P0500-P05FF", "vehicle speed;air intake / boost;cruise control", "ECM PCM", "headings"),
    _block("P0600-P06FF", "module internal;power supply", "ECM PCM", "headings"),
    _block("P0670-P0684", "diesel preheat", "GPCM ECM", "memory"),
    _block("P0700-P08FF", "transmission", "TCM PCM", "headings"),
    _block("P0900-P09FF", "transmission", "TCM PCM", "memory"),
    _block("P0A00-P0FFF", "hybrid / EV", "BECM MCU ECM", "memory"),
    _block("P2000-P20FF", "exhaust aftertreatment;air intake / boost", "ECM PCM", "memory"),
    _block("P2100-P22FF", "fuel;air intake / boost;exhaust aftertreatment", "ECM PCM", "memory"),
    _block("P2300-P23FF", "ignition", "ECM PCM", "memory"),
    _block("P2400-P24FF", "exhaust aftertreatment;evaporative", "ECM PCM", "memory"),
    _block("P2500-P25FF", "power supply;engine control", "ECM PCM", "memory"),
    _block("P2600-P26FF", "engine control;engine timing;fuel", "ECM PCM", "memory"),
    _block("P2700-P28FF", "transmission", "TCM PCM", "memory"),
    _block("P2A00-P2AFF", "exhaust aftertreatment", "ECM PCM", "memory"),
    _block("P2B00-P2BFF", "exhaust aftertreatment", "ECM DCU", "memory"),
    _block("P3400-P34FF", "engine timing", "ECM PCM", "memory"),
    _block("B0000-B00FF", "restraints", "SRS OCS", "memory"),
    _block("C0000-C003F", "brakes ABS/ESC", "ABS ESC", "memory"),
    _block("C0040-C004F", "brakes;brakes ABS/ESC", "ABS BBM", "memory"),
    _block("C0050-C005F", "steering / ESC", "SAS EPS", "memory"),
    _block("C0060-C006F", "brakes ABS/ESC", "ESC ABS", "memory"),
    _block("U0000-U00FF", "network", "", "memory"),
    _block("U0100-U011F", "network", "ECM TCM", "memory"),
    _block("U0120-U013F", "network", "ABS ESC EPS", "memory"),
    _block("U0140-U02FF", "network", "BCM", "memory"),
    _block("U0300-U03FF", "network", "", "memory"),
    _block("U0400-U05FF", "network", "", "memory"),
    _block("U3000-U30FF", "power supply;module internal", "", "memory"),
)
"""Every block that is told apart, wide ones and the narrow ones inside them."""


def range_of(short: str) -> CodeRange | None:
    """Return the narrowest block that a standard code lies in.

    Args:
        short: A five-character code in capitals, ``P07A3`` for instance.

    Returns:
        The block; None where the maker defines the code, where the standard keeps it in reserve, and where the number
        tells nothing that is known here (body codes outside the restraints, most chassis codes).

    Raises:
        ValueError: ``short`` is no five-character code.
    """
    number = _number(short)
    return next((block for first, last, block in _NARROW_FIRST if first <= number <= last), None)


def _number(short: str) -> int:
    return int.from_bytes(code_to_bytes(short))


_NARROW_FIRST = sorted(
    ((_number(block.first), _number(block.last), block) for block in RANGES), key=lambda span: span[1] - span[0]
)
