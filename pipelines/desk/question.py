"""What a handler is asked: the parts of the address, the form, and whether a piece of the page is enough."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pipelines.desk.forms import Form


@dataclass(frozen=True)
class Asked:
    """One request, read.

    Attributes:
        path: The named parts of the address.
        query: What stands behind the question mark.
        form: The fields of the form; none where nothing is to be changed.
        part: Which piece of the page is wanted; None: the whole page.
    """

    path: Mapping[str, str]
    query: Mapping[str, str]
    form: Form
    part: str | None = None
