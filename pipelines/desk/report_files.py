"""The reports as they stand on the disk, each page under its own content policy.

A report brings the policy in which it lets only its own scripts run; it is sent as a header too, with the word that
only the desk may show it in a frame.  What brings none runs no script at all.
"""

from __future__ import annotations

import html
import re
from pathlib import Path

from starlette.responses import FileResponse, PlainTextResponse, Response

from analysis.texts import desk_text
from pipelines.desk.desk import Desk
from pipelines.desk.question import Asked

_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".csv": "text/csv; charset=utf-8",
    ".json": "application/json",
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".txt": "text/plain; charset=utf-8",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
_SHOWN = (".html", ".png", ".svg")
_WEEK = re.compile(r"\d{4}-W\d\d")
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
_OWN_POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">')
_NO_SCRIPT = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
_LOOK = 8192  # letters of a page in which its policy stands
_FRAME = "; frame-ancestors 'self'; base-uri 'none'; form-action 'none'"


def send(desk: Desk, asked: Asked) -> Response:
    """Send one file of one week's report."""
    place = _place(desk, asked.path["week"], asked.path["path"])
    if place is None:
        return PlainTextResponse(desk_text.NOT_THERE, 404)
    headers = {"content-security-policy": _policy(place) + _FRAME}
    how = "inline" if place.suffix in _SHOWN else "attachment"
    return FileResponse(
        place, media_type=_KINDS[place.suffix], headers=headers, filename=place.name, content_disposition_type=how
    )


def _place(desk: Desk, week: str, path: str) -> Path | None:
    """Return the file that an address means: names of ours alone, no link, nothing outside the week's folder."""
    names = path.split("/")
    if not _WEEK.fullmatch(week) or len(names) > 2 or not all(map(_NAME.fullmatch, names)):
        return None
    root = (desk.workspace.reports / week).resolve()
    place = root.joinpath(*names)
    inside = place.resolve() == place and place.is_relative_to(root)
    return place if inside and place.is_file() and place.suffix in _KINDS else None


def _policy(place: Path) -> str:
    if place.suffix != ".html":
        return _NO_SCRIPT
    with place.open(encoding="utf-8", errors="replace") as handle:
        found = _OWN_POLICY.search(handle.read(_LOOK))
    # A line end in a header would be another header.
    policy = html.unescape(found[1]) if found else ""
    return policy if re.fullmatch(r"[ -~]+", policy) and "default-src 'none'" in policy else _NO_SCRIPT
