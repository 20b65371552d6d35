"""The desk's application: which address shows what, behind the guard.

A handler is a plain function of the open desk and what was asked; it runs in a thread, so that one slow page keeps no
other waiting.  What the user can mend is said on the page, with nothing changed.
"""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import unquote

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from analysis.texts import desk_file_text, desk_text
from pipelines.desk import (
    buying_page,
    equipment_page,
    explore_page,
    figures_page,
    files_page,
    jobs_page,
    own_names,
    report_files,
    standing_page,
    taking_in,
    week_page,
)
from pipelines.desk.desk import Desk
from pipelines.desk.forms import Form, FormError, read_form
from pipelines.desk.guard import TOKEN_HEADER, Guard
from pipelines.desk.keys import same
from pipelines.desk.question import Asked
from pipelines.desk.render import asset, page
from pipelines.desk.tray import TooLargeError, Tray
from pipelines.errors import BatchError, BusyError, refused

Handler = Callable[[Desk, Asked], Response]
_SHOWN: dict[str, Handler] = {
    "/": files_page.show,
    "/files/{mark}": files_page.card,
    "/files/{mark}/refused": taking_in.refused,
    "/jobs": jobs_page.show,
    "/standing": standing_page.show,
    "/buying": buying_page.show,
    "/week": week_page.show,
    "/week/now": week_page.now,
    "/week/log": week_page.log,
    "/explore": explore_page.show,
    "/explore/families.csv": explore_page.families,
    "/explore/parts.csv": explore_page.parts,
    "/explore/clusters.svg": explore_page.picture,
    "/report/{week}/{path:path}": report_files.send,
}
_DONE: dict[str, Handler] = {
    "/begin": files_page.begin,
    "/files/take": taking_in.take,
    "/files/undo": taking_in.undo,
    "/files/cars": files_page.call,
    "/files/parts": own_names.same_part,
    "/files/units": own_names.unit,
    "/files/{mark}/answer": files_page.answer,
    "/files/{mark}/drop": files_page.drop,
    "/jobs": jobs_page.log,
    "/jobs/back": jobs_page.take_back,
    "/standing": standing_page.decide,
    "/standing/fitted": equipment_page.declare,
    "/standing/fitted/out": equipment_page.take_out,
    "/buying": buying_page.appraise,
    "/buying/drop": buying_page.drop,
    "/buying/{mark}/answer": buying_page.answer,
    "/figures": figures_page.change,
    "/week/run": week_page.run,
    "/week/plan": week_page.plan,
    "/week/backup": week_page.backup,
    "/week/restore": week_page.restore,
}


def application(desk: Desk, port: int) -> Guard:
    """Return the desk's application behind its guard.

    Args:
        desk: The open desk.
        port: The port it listens on.
    """
    routes = [
        Route("/own/{name}", _asset, methods=["GET"]),
        Route("/files/upload", _upload("tray"), methods=["POST"]),
        Route("/buying/upload", _upload("buying"), methods=["POST"]),
        *(Route(path, _answering(handler, form=True), methods=["POST"]) for path, handler in _DONE.items()),
        *(Route(path, _answering(handler, form=False), methods=["GET"]) for path, handler in _SHOWN.items()),
    ]
    app = Starlette(routes=routes)
    app.state.desk = desk
    return Guard(app, desk.keys, port)


async def _asset(request: Request) -> Response:
    try:
        content, kind = asset(request.path_params["name"])
    except KeyError:
        return PlainTextResponse(desk_text.NOT_THERE, 404)
    return Response(content, media_type=kind)


def _answering(handler: Handler, *, form: bool) -> Callable[[Request], object]:
    async def answer(request: Request) -> Response:
        desk: Desk = request.app.state.desk
        try:
            given = await read_form(request.headers.get("content-type", ""), request.stream()) if form else Form([])
        except FormError as error:
            return PlainTextResponse(str(error), 400)
        except ClientDisconnect:
            return PlainTextResponse("", 400)
        if form and not same(given["token"], desk.keys.token):
            return PlainTextResponse(desk_text.OLD_PAGE, 403)
        asked = Asked(dict(request.path_params), dict(request.query_params), given, request.headers.get("x-desk-part"))
        return await run_in_threadpool(_handled, handler, desk, asked)

    return answer


def _handled(handler: Handler, desk: Desk, asked: Asked) -> Response:
    """Call a handler; what the user can mend is said on a page of its own."""
    if not desk.begun and handler not in (files_page.show, files_page.begin):
        return RedirectResponse("/", 303)
    try:
        return handler(desk, asked)
    except BusyError as error:
        return page(desk, "trouble", 409, why=[str(error)], log=False)
    except BatchError as error:
        return page(desk, "trouble", 400, why=[str(error), *getattr(error, "__notes__", [])], log=False)
    except OSError as error:
        return page(desk, "trouble", 500, why=[refused(desk.folder, error)], log=False)


def _upload(name: str) -> Callable[[Request], object]:
    async def upload(request: Request) -> Response:
        desk: Desk = request.app.state.desk
        if not same(request.headers.get(TOKEN_HEADER, ""), desk.keys.token):
            return JSONResponse({"why": desk_text.OLD_PAGE}, 403)
        told = request.headers.get("content-length")
        plain = request.headers.get("content-type") == "application/octet-stream"
        if not plain or not desk.begun or (told is not None and not told.isdecimal()):
            return JSONResponse({"why": desk_text.NO_FORM}, 400)
        called = unquote(request.headers.get("x-file-name", ""))
        try:
            file = await Tray(desk.workspace, name).put(called, request.stream(), None if told is None else int(told))
        except (BatchError, ClientDisconnect, OSError) as error:
            status, why = _failed(desk, error)
            return JSONResponse({"why": why}, status)
        if name == "tray":
            await run_in_threadpool(files_page.arrived, desk, file)
        if file.again and name == "tray":
            desk.tell(desk_file_text.again(file.name, file.again))
        return JSONResponse({"mark": file.mark})

    return upload


def _failed(desk: Desk, error: Exception) -> tuple[int, str]:
    """Return the status and the words for a file that could not be kept."""
    if isinstance(error, OSError):
        return 500, refused(desk.folder, error)
    if isinstance(error, BatchError):
        return 413 if isinstance(error, TooLargeError) else 400, str(error)
    return 400, desk_text.NO_FORM
