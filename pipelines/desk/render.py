"""Templates into answers: everything is escaped, and nothing on a page runs but the desk's own script."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from types import ModuleType
from typing import Any

import jinja2
from starlette.responses import HTMLResponse, Response

from analysis.texts import (
    desk_file_text,
    desk_job_text,
    desk_own_text,
    desk_plain_text,
    desk_text,
    desk_week_text,
    words,
)
from pipelines.desk.desk import Desk

_TEXTS: tuple[ModuleType, ...] = (desk_text, desk_file_text, desk_job_text, desk_own_text, desk_week_text)
PAGES = (
    ("/", "files", desk_text.FILES),
    ("/jobs", "jobs", desk_text.JOBS),
    ("/standing", "standing", desk_text.STANDING),
    ("/buying", "buying", desk_text.BUYING),
    ("/week", "week", desk_text.WEEK),
    ("/explore", "explore", desk_text.EXPLORE),
)
"""The pages: address, name, and what they are called."""


@cache
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("pipelines.desk", "pages"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals |= {module.__name__.rpartition(".")[2]: module for module in _TEXTS}
    environment.globals["pages"] = PAGES
    environment.filters |= {"percent": words.percent, "span": words.span, "counted": words.counted}
    environment.filters |= {"plain": desk_plain_text.plain, "column": desk_plain_text.column}
    environment.filters |= {"file_name": desk_plain_text.file_name}
    return environment


def page(desk: Desk, name: str, status: int = 200, **shown: Any) -> Response:
    """Return a page.

    Args:
        desk: The open desk; what it has to say stands above the page.
        name: The template's name, without its ending.
        status: The answer's status.
        shown: What the template shows.
    """
    template = _environment().get_template(f"{name}.html.j2")
    text = template.render(
        here=name, begun=desk.begun, folder=str(desk.folder), token=desk.keys.token, said=desk.heard(), **shown
    )
    return HTMLResponse(text, status)


def piece(desk: Desk, name: str, **shown: Any) -> Response:
    """Return a piece of a page, which the script puts in the place of what is there."""
    template = _environment().get_template(f"{name}.html.j2")
    return HTMLResponse(template.render(token=desk.keys.token, **shown))


@cache
def asset(name: str) -> tuple[bytes, str]:
    """Return a style sheet or script of ours, and its type.

    The style is the report's own with the desk's behind it, so that both are one.

    Raises:
        KeyError: There is none of that name.
    """
    ours = files("pipelines.desk") / "pages"
    if name == "desk.css":
        report = files("analysis") / "charts" / "sheet" / "sheet.css"
        return report.read_bytes() + (ours / "desk.css").read_bytes(), "text/css; charset=utf-8"
    if name == "desk.js":
        return (ours / "desk.js").read_bytes(), "text/javascript; charset=utf-8"
    raise KeyError(name)
