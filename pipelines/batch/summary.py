"""What a run read, skipped, refused, masked and could not prove, in words: for the terminal and for the desk."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

# Each line of the summary: the count's name, the words for it, and why it is what it is.
LINES = (
    ("files_read", "files read", ""),
    ("files_skipped", "files skipped", "the same content was read before"),
    ("files_refused", "files refused", "each with its reason in the notes; those that were moved are in rejected/"),
    ("rows_loaded", "rows loaded", ""),
    ("rows_repeated", "rows repeated", "already known from another file; counted once"),
    ("rows_refused", "rows refused", "see rejects.csv for file, row, column, value and why"),
    ("codes_refused", "codes refused", "their rows count as read, their texts as no code; see rejects.csv"),
    ("codes_masked", "codes left alone", "background or a modification: on the sheet, out of the analysis"),
    ("outcomes_recurred", "codes back as new faults", "proven gone, and back much later; the repair counts"),
    (
        "outcomes_unproven",
        "codes not proven gone",
        "not seen to act again, but too little driven or read whole to prove it gone",
    ),
    ("outcomes_unread", "codes not read again", "the module was not read again: nothing is known"),
    ("stock_cars", "cars in stock", ""),
    ("shortlist_rows", "rows in the shortlist", ""),
)


def summary_rows(counts: Mapping[str, int]) -> Iterator[tuple[str, str, str]]:
    """Return the lines of the summary: count, words, and the reason where the count is not zero."""
    for name, words, why in LINES:
        count = counts.get(name, 0)
        yield str(count), words, why if count else ""
