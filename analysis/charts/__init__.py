"""The charts and the page: they draw what the tables hold, and compute nothing of their own."""

from analysis.charts.page import page

__all__ = ["page"]
