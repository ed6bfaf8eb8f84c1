"""The web server: one page, one walk, for whoever knows the address with its key.

Nothing is answered without the key, which is in the address and new at every start; nor to a page
of another origin, nor under another host's name. One browser at a time: the one that came last.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import secrets
import signal
import sys
from collections.abc import Callable, Mapping, Sequence
from html import escape
from pathlib import Path
from string import Template
from typing import Any, Final

import textual_serve
from aiohttp import WSMsgType, web

from commission.tablet.child import Child

LOOPBACK: Final = "127.0.0.1"
_PAGE: Final = Path(__file__).with_name("page.html")
_KEYS: Final = Path(__file__).with_name("keys.js")
_STATIC: Final = Path(str(textual_serve.__file__)).with_name("static")
_HEARTBEAT_S: Final = 15.0
_MAX_MESSAGE: Final = 100_000
_CELLS: Final = range(20, 501)
_LETTERS_PX: Final = range(8, 49)
_HEADERS: Final = {
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


class Server:
    """Serves the program that a command starts."""

    def __init__(self, command: Sequence[str], title: str) -> None:
        self._command, self._title = tuple(command), title
        self.key = secrets.token_urlsafe(16)
        self._hosts: frozenset[str] = frozenset()
        self._socket: web.WebSocketResponse | None = None
        self._one_at_a_time = asyncio.Lock()

    def application(self) -> web.Application:
        """The pages and the socket, all below the key."""
        app = web.Application(middlewares=[self._guarded])
        app.router.add_get("/{key}/", self._page)
        app.router.add_get("/{key}/keys.js", self._keys)
        app.router.add_get("/{key}/walk", self._walk)
        app.router.add_get("/{key}/{kind:js|css|fonts}/{name:[\\w.-]+}", self._static)
        return app

    def answers_to(self, host: str, port: int) -> str:
        """Fix the names under which it answers; returns the address to open."""
        names = {host, LOOPBACK, "localhost"} if host in (LOOPBACK, "localhost") else {host}
        self._hosts = frozenset(f"{_in_url(name)}:{port}" for name in names)
        return f"http://{_in_url(host)}:{port}/{self.key}/"

    @web.middleware
    async def _guarded(
        self, request: web.Request, handler: Callable[[web.Request], Any]
    ) -> web.StreamResponse:
        """Refuse who comes under another name, without the key, or from another page."""
        if request.host not in self._hosts:
            raise web.HTTPMisdirectedRequest(text="not the host that is served here\n")
        if not secrets.compare_digest(
            request.match_info.get("key", "").encode(), self.key.encode()
        ):
            raise web.HTTPNotFound(text="nothing is here\n")
        origin = request.headers.get("Origin")
        if origin is not None and origin != f"http://{request.host}":
            raise web.HTTPForbidden(text="a page of another origin may not ask\n")
        response: web.StreamResponse = await handler(request)
        return response

    async def _page(self, request: web.Request) -> web.Response:
        size = _whole(request.query.get("letters"), 16, _LETTERS_PX)
        page = Template(_PAGE.read_text("utf-8")).substitute(
            title=escape(self._title),
            walk=escape(f"ws://{request.host}/{self.key}/walk"),
            letters=size,
            smaller=max(_LETTERS_PX.start, size - 2),
            larger=min(_LETTERS_PX.stop - 1, size + 2),
        )
        policy = (
            "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
            f"font-src 'self'; img-src 'self' data:; connect-src 'self' ws://{request.host}; "
            "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
        )
        headers = {**_HEADERS, "Content-Security-Policy": policy}
        return web.Response(text=page, content_type="text/html", headers=headers)

    async def _keys(self, _request: web.Request) -> web.FileResponse:
        return web.FileResponse(_KEYS, headers=_HEADERS)

    async def _static(self, request: web.Request) -> web.FileResponse:
        """A file of the terminal in the page; names hold no slash, so it lies in its folder."""
        path = _STATIC / request.match_info["kind"] / request.match_info["name"]
        if not path.is_file():
            raise web.HTTPNotFound(text="nothing is here\n")
        return web.FileResponse(path, headers=_HEADERS)

    async def _walk(self, request: web.Request) -> web.WebSocketResponse:
        """The program for this browser, once the browser before it has let go."""
        if "Origin" not in request.headers:
            raise web.HTTPForbidden(text="only the page itself may open the walk\n")
        socket = web.WebSocketResponse(heartbeat=_HEARTBEAT_S, max_msg_size=_MAX_MESSAGE)
        await socket.prepare(request)
        before, self._socket = self._socket, socket
        if before is not None:
            await before.close()
        width = _whole(request.query.get("width"), 80, _CELLS)
        height = _whole(request.query.get("height"), 24, _CELLS)
        async with self._one_at_a_time:
            child = Child(self._command, socket)
            try:
                await child.start(width, height)
                await _until_either_ends(_listen(socket, child), child.ended())
            finally:
                await child.end()
                await socket.close()
        return socket

    async def close(self) -> None:
        """End the walk and the program with it."""
        if self._socket is not None:
            await self._socket.close()
        async with self._one_at_a_time:  # whoever holds it ends its child first
            pass


async def _until_either_ends(*both: Any) -> None:
    tasks = [asyncio.ensure_future(one) for one in both]
    await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    for task in tasks:
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task


async def _listen(socket: web.WebSocketResponse, child: Child) -> None:
    """Hand on what the page says until it closes; what makes no sense is left out."""
    async for message in socket:
        if message.type != WSMsgType.TEXT:
            continue
        with contextlib.suppress(ValueError, TypeError, KeyError, IndexError, RecursionError):
            kind, *rest = json.loads(message.data)
            await _hand_on(socket, child, kind, rest)


async def _hand_on(
    socket: web.WebSocketResponse, child: Child, kind: object, rest: Sequence[Any]
) -> None:
    if kind == "stdin":
        await child.send_bytes(str(rest[0]).encode("utf-8", "replace"))
    elif kind == "resize":
        size: Mapping[str, Any] = rest[0]
        width, height = (_whole(str(size[key]), 80, _CELLS) for key in ("width", "height"))
        await child.set_terminal_size(width, height)
    elif kind == "ping":
        await socket.send_json(["pong", rest[0]])
    elif kind == "focus":
        await child.focus()
    elif kind == "blur":
        await child.blur()


def _whole(text: str | None, without: int, allowed: range) -> int:
    """A whole number as asked for, the nearest allowed; `without` it where it is none."""
    if not text or not text.isascii() or not text.isdigit() or len(text) > 6:
        return without
    return min(max(int(text), allowed.start), allowed.stop - 1)


def _in_url(host: str) -> str:
    return f"[{host}]" if ":" in host else host


async def serve(server: Server, host: str, port: int, told: Callable[[str], None]) -> None:
    """Serve until a signal says to end; the program ends with it. Raises OSError for the address.

    `told` hears the address to open once it answers.
    """
    runner = web.AppRunner(server.application(), access_log=None, shutdown_timeout=1.0)
    await runner.setup()
    ending = asyncio.Event()
    loop = asyncio.get_running_loop()
    if sys.platform != "win32":
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            loop.add_signal_handler(number, ending.set)
    try:
        await web.TCPSite(runner, host, port).start()
        told(server.answers_to(host, int(runner.addresses[0][1])))
        await ending.wait()
    finally:
        await server.close()
        await runner.cleanup()
