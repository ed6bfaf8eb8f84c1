"""One run of the program for one browser: a process, its keys and its pictures."""

from __future__ import annotations

import asyncio
import contextlib
from asyncio.subprocess import PIPE, Process
from collections.abc import Sequence

from aiohttp import web
from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

DRIVER = "commission.tui.tablet_driver:TabletDriver"
ASKED = 10  # times to end; one that is just starting may miss the first
PATIENCE_S = 0.5  # after each


class Child(AppService):
    """The program as a process of its own, without a shell between."""

    def __init__(self, command: Sequence[str], socket: web.WebSocketResponse) -> None:
        super().__init__(
            "",
            write_bytes=socket.send_bytes,
            write_str=socket.send_str,
            close=_nothing,
            download_manager=DownloadManager(),  # the program offers nothing to download
        )
        self._argv = tuple(command)

    def _build_environment(self, width: int = 80, height: int = 24) -> dict[str, str]:
        return {**super()._build_environment(width, height), "TEXTUAL_DRIVER": DRIVER}

    async def _open_app_process(self, width: int = 80, height: int = 24) -> Process:
        environment = self._build_environment(width, height)
        process = await asyncio.create_subprocess_exec(
            *self._argv, stdin=PIPE, stdout=PIPE, stderr=PIPE, env=environment
        )
        self._process, self._stdin = process, process.stdin
        return process

    async def ended(self) -> None:
        """Wait until the program has ended by itself."""
        if self._task is not None:
            await asyncio.wait({self._task})

    async def end(self) -> None:
        """End the program as a closed terminal does: what is half typed is kept."""
        process = self._process
        if process is None:
            return
        if self._task is not None and self._task.done():  # it is about to end, or has ended
            await _waited(process)
        for stop in (*[process.terminate] * ASKED, process.kill):
            if process.returncode is None:
                with contextlib.suppress(ProcessLookupError):
                    stop()
                await _waited(process)
        await self.ended()


async def _waited(process: Process) -> None:
    with contextlib.suppress(asyncio.TimeoutError):
        await asyncio.wait_for(process.wait(), PATIENCE_S)


async def _nothing() -> None:
    """The socket is closed by whoever opened it."""
