"""Draft which year is meant by days without one: the one in a text's title, or in the name of its file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.scan_lines import fields
from pipelines.reading.mapping.dates import read_date
from pipelines.reading.mapping.years import with_year, yearless_in

_YEAR = re.compile(r"(?<!\d)(20[0-4]\d)(?!\d)")
_FEWEST, _SHARE = 2, 0.5
_LATE, _EARLY = 11, 2


def with_years(draft: Draft, texts: Sequence[str], names: Sequence[str]) -> list[str]:
    """Ask which year the days of some texts are of, where none of them has one; return the texts with it behind each.

    Args:
        draft: Gets the question, and the line of the mapping.
        texts: Alike, the first being the one that counts.
        names: Those of their files.
    """
    days = yearless_in(texts[0])
    if len(days) < _FEWEST or _dated(texts[0]):
        return [*texts]
    shown = days[0][0]
    proposal, why = _told(texts[0].split("\n")[: days[0][1] + 1], names)
    if proposal is not None and _over_new_year(texts[0], int(proposal)):
        proposal, why = None, f"{why}, and its days go on over the end of a year: write the year behind each of them"
    asks = f"Which year is meant by days like {shown!r}?"
    year = draft.ask("year", asks, proposal, why)
    if year is None or not _YEAR.fullmatch(year):
        return [*texts]
    draft.put("year", int(year), f"days like {shown!r} have none; {why}")
    return [with_year(text, int(year)) for text in texts]


def _dated(text: str) -> bool:
    """Say whether lines of a text tell days with their years, as those of scans and jobs do."""
    return any(field.column == "scanned_at" for line in text.split("\n") for field in fields(line[:500]))


def _told(title: Sequence[str], names: Sequence[str]) -> tuple[str | None, str]:
    """Return the one year that stands above the first day, or in the names of the files, and where it does."""
    above = {year for line in title for year in _YEAR.findall(line)}
    named = {year for name in names for year in _YEAR.findall(name)}
    for years, place in ((above, "above them stands"), (named, "the file's name has")):
        if len(years) == 1 and len(above | named) == 1:
            year = next(iter(years))
            return year, f"{place} {year}"
    return None, "the file names day and month only, and no one year"


def _over_new_year(text: str, year: int) -> bool:
    """Say whether the days of a text, one after another, go from the last months of a year to the first of the next."""
    months = []
    for shown, _ in yearless_in(text):
        whole = with_year(shown, year)
        read = next((moment for form in _FORMS if (moment := read_date(whole, form)) is not None), None)
        months += [read.month] if read is not None else []
    return any(one >= _LATE and other <= _EARLY for one, other in pairwise(months))


_FORMS = (
    "%d.%m.%Y",
    "%d/%m/%Y",
    "%m/%d/%Y",
    "%d %b %Y",
    "%d %B %Y",
    "%d. %B %Y",
    "%d. %b %Y",
    "%B %d, %Y",
    "%b %d, %Y",
)
