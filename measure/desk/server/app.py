"""The desk's routes: the page, the tiles, one WebSocket, files in and out. None takes a path to a file."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from calibration.errors import CalibrationError
from measure.desk.failures import sentence
from measure.desk.messages import AskError
from measure.desk.server.page_files import own_files
from measure.desk.server.showing import Showing, to_text
from measure.desk.session import Session
from measure.errors import MeasureError
from measure.json_files import parse_json
from measure.texts import clean_text
from references.errors import SheetError
from references.limits import MOST_SHEET_BYTES

MAX_PHOTO_BYTES = 128 * 2**20
MAX_SHEET_BYTES = MOST_SHEET_BYTES
MAX_MESSAGE_BYTES = 64 * 2**10
_PLAIN_ERRORS = (CalibrationError, MeasureError, SheetError)
_HEAD, _PLACE = b'<link rel="icon"', b'<canvas id="picture" aria-hidden="true"></canvas>'
# Requested before the scripts, which would otherwise use all of the browser's connections to us.
_AHEAD = '<link rel="preload" as="image" href="/whole/{handle}" fetchpriority="high">\n'
_FIRST = '\n    <img id="first" src="/whole/{handle}" alt="" elementtiming="photo" fetchpriority="high">'
_MOST_LOOK_WAIT_S = 10.0
_NO_STORE = {"cache-control": "no-store"}


def make_app(session: Session) -> Starlette:
    """Return the application over one session; the guard goes around it.

    Parameters
    ----------
    session : Session
        What is on the desk.
    """
    routes = _Routes(session)
    return Starlette(
        routes=[
            Route("/", routes.page),
            Route("/tile/{handle}/{level:int}/{column:int}/{row:int}", routes.tile),
            Route("/whole/{handle}", routes.whole),
            Route("/thumb/{handle}", routes.thumb),
            Route("/api/photo", routes.photo, methods=["POST"]),
            Route("/api/sheet", routes.sheet, methods=["POST"]),
            Route("/keep/{handle}", routes.kept),
            WebSocketRoute("/ws", routes.talk),
            Route("/static/{name:path}", own_files().answer),
        ],
        lifespan=routes.lifespan,
        # The server shows the whole of it on the terminal besides.
        exception_handlers={Exception: _own_fault},
    )


async def _own_fault(request: Request, error: Exception) -> Response:
    """Tell the page of a fault of this program, in a sentence."""
    return JSONResponse({"error": sentence("This", error)}, 500)


class _Routes:
    def __init__(self, session: Session) -> None:
        self._session = session
        self._showing = Showing(session)

    @asynccontextmanager
    async def lifespan(self, app: Starlette) -> AsyncIterator[None]:
        yield
        await run_in_threadpool(self._session.close)

    async def page(self, request: Request) -> Response:
        # The photo is visible before the scripts run, in its final place.
        page, handle = own_files().page, self._session.only_photo()
        if handle:
            page = page.replace(_HEAD, _AHEAD.format(handle=handle).encode() + _HEAD, 1)
            page = page.replace(_PLACE, _PLACE + _FIRST.format(handle=handle).encode(), 1)
        return Response(page, media_type="text/html", headers=_NO_STORE)

    async def whole(self, request: Request) -> Response:
        picture = self._session.files.picture(request.path_params["handle"])
        if picture is None:
            return _jpeg(None)
        if not picture.seen.is_set():
            await run_in_threadpool(picture.seen.wait, _MOST_LOOK_WAIT_S)
        # A photo that can't be shown is reported in words: its empty view isn't an error of the page.
        return _jpeg(picture.whole) if picture.whole else Response(status_code=204)

    def tile(self, request: Request) -> Response:
        place = request.path_params
        data = self._session.files.tile(place["handle"], place["level"], place["column"], place["row"])
        return _jpeg(data)

    def thumb(self, request: Request) -> Response:
        return _jpeg(self._session.files.thumb(request.path_params["handle"]))

    async def photo(self, request: Request) -> Response:
        return await self._take(request, MAX_PHOTO_BYTES, self._session.take_photo)

    async def sheet(self, request: Request) -> Response:
        return await self._take(request, MAX_SHEET_BYTES, self._session.take_sheet)

    async def _take(
        self, request: Request, most_bytes: int, take: Callable[[str, bytes], dict[str, Any]]
    ) -> Response:
        data = await _bounded(request, most_bytes)
        if data is None:
            text = f"This file is larger than {most_bytes >> 20} MB; choose a smaller one."
            return JSONResponse({"error": text}, 413)
        name = clean_text(request.query_params.get("name", "photo"))
        try:
            return JSONResponse(await run_in_threadpool(take, name, data))
        except _PLAIN_ERRORS as error:
            return JSONResponse({"error": clean_text(str(error))}, 422)
        except Exception as error:  # told in words; the page can make nothing of a bare 500
            told = await run_in_threadpool(self._session.failed, "Taking in a file", error)
            return JSONResponse({"error": told}, 500)

    def kept(self, request: Request) -> Response:
        path = self._session.files.kept_file(request.path_params["handle"])
        if path is None or not path.is_file():
            return Response("no such file", 404)
        return FileResponse(path, filename=path.name, headers=_NO_STORE)

    async def talk(self, socket: WebSocket) -> None:
        await socket.accept()
        loop = asyncio.get_running_loop()
        changed = asyncio.Event()

        def told() -> None:
            loop.call_soon_threadsafe(changed.set)

        forget = self._session.listen(told)
        changed.set()
        sender = asyncio.create_task(self._send_states(socket, changed))
        try:
            while True:
                text = await socket.receive_text()
                await socket.send_text(await run_in_threadpool(self._answer, text))
        except WebSocketDisconnect:
            pass
        finally:
            forget()
            sender.cancel()

    async def _send_states(self, socket: WebSocket, changed: asyncio.Event) -> None:
        sheet_sent = ""
        while True:
            await changed.wait()
            changed.clear()
            texts, sheet_sent = await run_in_threadpool(self._showing.texts, sheet_sent)
            for text in texts:
                await socket.send_text(text)

    def _answer(self, text: str) -> str:
        """Answer one message; whatever the page got wrong comes back as a sentence, never as a crash."""
        seq: Any = None
        try:
            ask = _read(text)
            seq = ask.get("seq")
            return to_text({"seq": seq, **self._session.handle(ask)})
        except _PLAIN_ERRORS as error:
            return to_text({"seq": seq, "error": str(error)})
        except Exception as error:  # the line to the page must hold, and the user must hear of it
            self._session.complain(told := sentence("This", error))
            return to_text({"seq": seq, "error": told})


def _read(text: str) -> dict[str, Any]:
    """Return a message from the page, its texts clean."""
    if len(text) > MAX_MESSAGE_BYTES:
        raise AskError("This message is too long.")
    try:
        ask = parse_json(text)
    except ValueError as error:
        raise AskError("This message can't be read.") from error
    if not isinstance(ask, dict):
        raise AskError("A message is an object.")
    return ask


def _jpeg(data: bytes | None) -> Response:
    if data is None:
        return Response("no such picture", 404)
    # The handle in the address changes with the pixels, so a tile never goes stale.
    return Response(
        data, media_type="image/jpeg", headers={"cache-control": "private, max-age=3600, immutable"}
    )


async def _bounded(request: Request, most_bytes: int) -> bytes | None:
    """Read a request's body, giving up as soon as it is too long."""
    try:
        stated = int(request.headers.get("content-length", "0"))
    except ValueError:
        return None
    if stated > most_bytes:
        return None
    parts, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size > most_bytes:
            return None
        parts.append(part)
    return b"".join(parts)
