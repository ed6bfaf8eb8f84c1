"""A browser without a screen, driven over its developer protocol; one page, as a person uses it."""

from __future__ import annotations

import asyncio
import base64
import json
import os
import signal
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from pathlib import Path
from typing import Any

import aiohttp

from tests.printing.browser import NAMES, program

WAIT_S = 30.0
BINARY = 2  # RFC 6455 5.2


class Page:
    """A page that is open: what it asked for, what it says, keys, a picture."""

    def __init__(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        self._socket = socket
        self._number = 0
        self._answers: dict[int, asyncio.Future[dict[str, Any]]] = {}
        self.asked: list[str] = []  # every address that was asked for
        self.drawn = ""  # everything that the program drew, escapes and all
        self.said: list[str] = []  # errors of the page
        self._reading = asyncio.ensure_future(self._read())

    async def _read(self) -> None:
        async for message in self._socket:
            told = json.loads(message.data)
            if "id" in told:
                self._answers.pop(told["id"]).set_result(told)
            elif told["method"] == "Network.requestWillBeSent":
                self.asked.append(told["params"]["request"]["url"])
            elif told["method"] == "Network.webSocketCreated":
                self.asked.append(told["params"]["url"])
            elif told["method"] == "Network.webSocketFrameReceived":
                frame = told["params"]["response"]
                if frame["opcode"] == BINARY:
                    data = base64.b64decode(frame["payloadData"])
                    self.drawn += data.decode("utf-8", "replace")
            elif told["method"] in ("Runtime.exceptionThrown", "Log.entryAdded"):
                self.said.append(json.dumps(told["params"])[:400])

    async def send(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Ask the browser for something; what it answers."""
        self._number += 1
        answer: asyncio.Future[dict[str, Any]] = asyncio.get_running_loop().create_future()
        self._answers[self._number] = answer
        await self._socket.send_json({"id": self._number, "method": method, "params": parameters})
        told = await asyncio.wait_for(answer, WAIT_S)
        assert "error" not in told, told
        result: dict[str, Any] = told["result"]
        return result

    async def value(self, script: str) -> Any:
        """What a script in the page comes to."""
        told = await self.send("Runtime.evaluate", expression=script, returnByValue=True)
        assert "exceptionDetails" not in told, told
        return told["result"].get("value")

    async def until(self, script: str, wanted: Callable[[Any], bool] = bool) -> Any:
        """Wait until a script comes to what is wanted."""
        end = asyncio.get_running_loop().time() + WAIT_S
        while not wanted(found := await self.value(script)):
            assert asyncio.get_running_loop().time() < end, f"{script}: {found!r}; {self.said}"
            await asyncio.sleep(0.05)
        return found

    async def sees(self, words: str) -> None:
        """Wait until the program has drawn some words, since this was asked last."""
        await self.until("0", lambda _: words in self.drawn)
        self.drawn = ""

    async def press(self, key: str) -> None:
        """Touch a key of the page's own row."""
        await self.value(f"document.querySelector('[data-key={key}]').click()")

    async def open(self, address: str) -> None:
        """Go to an address, with everything noted that the page asks for."""
        for domain in ("Page", "Network", "Runtime", "Log"):
            await self.send(f"{domain}.enable")
        await self.send("Page.navigate", url=address)

    async def type(self, text: str) -> None:
        """Type text into what has the focus."""
        await self.send("Input.insertText", text=text)

    async def picture(self, file: Path) -> None:
        """Keep what is seen as a PNG."""
        told = await self.send("Page.captureScreenshot", format="png")
        file.write_bytes(base64.b64decode(told["data"]))

    async def close(self) -> None:
        """Stop listening."""
        self._reading.cancel()
        with suppress(asyncio.CancelledError):
            await self._reading


@asynccontextmanager
async def page(folder: Path, width: int = 1000, height: int = 760) -> AsyncIterator[Page]:
    """A fresh browser with one empty page; it ends with the block."""
    browser = await asyncio.create_subprocess_exec(
        program(*NAMES), "--headless", "--no-sandbox", "--disable-dev-shm-usage",
        "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
        "--remote-debugging-port=0", f"--user-data-dir={folder / 'profile'}",
        f"--window-size={width},{height}", "about:blank",
        stdout=asyncio.subprocess.DEVNULL, stderr=asyncio.subprocess.DEVNULL,
        start_new_session=True,
    )  # fmt: skip
    try:
        port = await _port(folder / "profile" / "DevToolsActivePort")
        async with aiohttp.ClientSession() as session:
            async with session.get(f"http://127.0.0.1:{port}/json/list") as answer:
                pages = [one for one in await answer.json() if one["type"] == "page"]
            address = pages[0]["webSocketDebuggerUrl"]
            async with session.ws_connect(address, max_msg_size=0) as socket:
                opened = Page(socket)
                try:
                    yield opened
                finally:
                    await opened.close()
    finally:
        os.killpg(browser.pid, signal.SIGKILL)  # a script may have started it
        await browser.wait()


async def _port(file: Path) -> int:
    end = asyncio.get_running_loop().time() + WAIT_S
    while not file.exists() or "\n" not in file.read_text("utf-8"):
        assert asyncio.get_running_loop().time() < end, "the browser did not start"
        await asyncio.sleep(0.05)
    return int(file.read_text("utf-8").splitlines()[0])
