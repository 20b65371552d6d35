"""The few words that the page's script writes itself; what stands in braces is filled in there."""

from __future__ import annotations

WORDS = {
    "show_more": "Show {more} more of {left}",
    "cars_shown": "{shown} of {cars} cars",
    "not_drawn": "The chart could not be drawn; the table below holds the same.",
}
