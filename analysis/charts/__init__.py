"""The charts and the page: they draw what the tables hold, and compute nothing of their own."""

from analysis.charts.car_rows import week_list
from analysis.charts.page import draw, library, page
from analysis.charts.pictures import pictures

__all__ = ["draw", "library", "page", "pictures", "week_list"]
