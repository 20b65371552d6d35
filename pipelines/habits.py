"""How a dealer writes dates and numbers: the answer where nothing in a table of our own can tell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

DateOrder = Literal["day first", "month first"]
DecimalMark = Literal["point", "comma"]


@dataclass(frozen=True)
class Habits:
    """What the workspace's settings say of files that cannot tell themselves; None: it is asked.

    Attributes:
        date_order: Which comes first in a date that is not ISO.
        decimal_mark: The decimal mark of numbers.
    """

    date_order: DateOrder | None = None
    decimal_mark: DecimalMark | None = None


ASKED = Habits()
"""Nothing is known: it is asked."""
