"""The walk in a browser: driven as a person does it, closed to everybody else, ended with all."""

from __future__ import annotations

import asyncio
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import aiohttp
import pytest

from commission import cli
from commission.host import Disk
from commission.opening import open_job, read_job
from commission.record.lock import hold
from commission.resources import samples
from commission.tablet import server as served
from tests.jobs import user_env
from tests.tablet.devtools import page
from tests.walks import OBSERVER, WRITER, clock

Output = pytest.CaptureFixture[str]


@dataclass
class Served:
    """The command as it runs, on a job of the small sample."""

    process: subprocess.Popen[str]
    address: str
    job: Path

    @property
    def walk(self) -> str:
        """Where the socket is."""
        return f"ws{self.address.removeprefix('http')}walk"

    @property
    def origin(self) -> str:
        """The page's own origin."""
        return self.address.rsplit("/", 2)[0]

    def is_free(self) -> bool:
        """Whether no program has the job open."""
        try:
            hold(self.job, clock()).release()
        except Exception:
            return False
        return True

    def until(self, free: bool) -> None:
        """Wait until the job is held by a program, or by none."""
        end = time.monotonic() + 20
        while self.is_free() != free:
            assert time.monotonic() < end
            time.sleep(0.05)


@pytest.fixture
def tablet(tmp_path: Path) -> Iterator[Served]:
    site = tmp_path / "lawn.toml"
    shutil.copy(samples()["small-garden"], site)
    session = open_job(site, disk=Disk(), now=clock())
    session.close()
    command = [sys.executable, "-m", "commission", "tablet", str(site), "--port", "0"]
    process = subprocess.Popen(
        command, env={**os.environ, **user_env(tmp_path)}, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    assert process.stdout is not None
    yield Served(process, process.stdout.readline().strip(), session.job.folder)
    if process.poll() is None:
        process.kill()
    process.communicate()


def test_a_walk_by_touch_and_keys_is_on_disk_and_asks_nobody_else(
    tablet: Served, tmp_path: Path
) -> None:
    async def walked() -> None:
        async with page(tmp_path) as browser:
            await browser.open(tablet.address)
            await browser.sees("Who enters the readings here")
            await browser.until("document.body.className", lambda one: "-first-byte" in one)
            await browser.value("document.querySelector('.xterm-helper-textarea').focus()")
            for words in (WRITER, OBSERVER, "", ""):
                if words:
                    await browser.type(words)
                await browser.press("Enter")
            await browser.sees("People and roles")
            await browser.press("o")
            await browser.sees("Job: People and roles")  # as the large view heads it
            await browser.press("o")
            await browser.type("Pat watches, Sam writes")
            await browser.press("Enter")
            await browser.sees("entry 1")
            assert browser.said == []
            await browser.press("q")
            await browser.until("document.body.className", lambda one: "-closed" in one)
            assert {urlsplit(one).netloc for one in browser.asked} == {
                urlsplit(tablet.address).netloc
            }

    asyncio.run(walked())
    tablet.until(free=True)
    (entry,) = read_job(tablet.job, Disk()).state.entries
    assert (entry.text, entry.entered_by) == ("Pat watches, Sam writes", WRITER)
    tablet.process.send_signal(signal.SIGINT)
    out, err = tablet.process.communicate(timeout=20)
    assert (tablet.process.returncode, err) == (0, "")
    assert "Traceback" not in out


def test_who_comes_last_goes_on_and_the_program_ends_with_the_server(tablet: Served) -> None:
    async def twice() -> None:
        async with aiohttp.ClientSession(headers={"Origin": tablet.origin}) as session:
            first = await session.ws_connect(tablet.walk)
            assert (await first.receive(20)).type == aiohttp.WSMsgType.BINARY
            second = await session.ws_connect(tablet.walk)
            while (await first.receive(20)).type == aiohttp.WSMsgType.BINARY:
                pass
            assert first.closed
            assert (await second.receive(20)).type == aiohttp.WSMsgType.BINARY
            for senseless in ("", "[]", "{}", '["resize", 1]', '["stdin"]', "[" * 9_000):
                await second.send_str(senseless)
            await second.send_json(["ping", 7])
            while (told := await second.receive(20)).type != aiohttp.WSMsgType.TEXT:
                pass
            assert told.data == '["pong", 7]'
            await asyncio.to_thread(tablet.until, free=False)
            tablet.process.send_signal(signal.SIGTERM)
            while (await second.receive(20)).type == aiohttp.WSMsgType.BINARY:
                pass

    asyncio.run(twice())
    assert tablet.process.wait(20) == 0
    assert tablet.is_free()


def test_the_program_ends_when_the_server_is_killed_and_when_the_browser_goes(
    tablet: Served,
) -> None:
    async def gone() -> None:
        for last in (False, True):
            async with aiohttp.ClientSession(headers={"Origin": tablet.origin}) as session:
                socket = await session.ws_connect(tablet.walk)
                await socket.receive(20)
                await asyncio.to_thread(tablet.until, free=False)
                if last:
                    tablet.process.kill()
            await asyncio.to_thread(tablet.until, free=True)

    asyncio.run(gone())


def test_what_is_half_typed_is_offered_again_when_the_browser_has_gone(tablet: Served) -> None:
    async def reads(socket: aiohttp.ClientWebSocketResponse, words: bytes) -> None:
        seen = b""
        while words not in seen:
            told = await socket.receive(20)
            assert told.type == aiohttp.WSMsgType.BINARY, seen[-2000:]
            seen += told.data

    async def gone() -> None:
        async with aiohttp.ClientSession(headers={"Origin": tablet.origin}) as session:
            socket = await session.ws_connect(tablet.walk)
            await reads(socket, b"Who enters")
            await socket.send_json(["stdin", f"{WRITER}\r{OBSERVER}\r\r\r"])
            await reads(socket, b"People and roles")
            await socket.send_json(["stdin", "Pat watches"])
            await reads(socket, b"watches")

    asyncio.run(gone())
    tablet.until(free=True)
    session = open_job(tablet.job, disk=Disk(), now=clock())
    session.close()
    assert session.draft()[1] == "Pat watches"


def test_nothing_is_answered_to_a_foreign_page_host_or_key(tablet: Served) -> None:
    port = urlsplit(tablet.address).port

    async def asked() -> None:
        async with aiohttp.ClientSession() as session:

            async def code(address: str, **headers: str) -> int:
                async with session.get(address, headers=headers) as answer:
                    return answer.status

            assert await code(tablet.address) == 200
            assert await code(tablet.address, Host=f"localhost:{port}") == 200
            assert await code(tablet.address, Host=f"elsewhere.example:{port}") == 421
            assert await code(tablet.address, Origin="http://elsewhere.example") == 403
            assert await code(tablet.address, Origin="null") == 403
            assert await code(f"{tablet.origin}/") == 404
            assert await code(f"{tablet.origin}/{'x' * 22}/") == 404
            assert await code(f"{tablet.address}js/textual.js") == 200
            assert await code(f"{tablet.address}js/..%2f..%2fserver.py") == 404
            assert await code(f"{tablet.address}download/1") == 404
            for origin in ({"Origin": "http://elsewhere.example"}, {}):
                with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
                    await session.ws_connect(tablet.walk, headers=origin)
                assert refused.value.status == 403
            async with session.get(f"{tablet.address}?letters=9999&x=<b>") as answer:
                policy, text = answer.headers["Content-Security-Policy"], await answer.text()
            assert policy.startswith("default-src 'none'; script-src 'self';")
            assert "frame-ancestors 'none'" in policy
            assert 'data-font-size="48"' in text
            assert "<b>" not in text.replace("<b>commission tablet</b>", "")

    asyncio.run(asked())
    assert tablet.is_free()


def test_the_title_is_only_text(tmp_path: Path) -> None:
    async def title() -> str:
        server = served.Server(["true"], "</title><script>alert(1)</script>")
        found: list[str] = []

        async def once() -> None:
            async with aiohttp.ClientSession() as session, session.get(found[0]) as answer:
                found.append(await answer.text())

        running = asyncio.ensure_future(served.serve(server, "127.0.0.1", 0, found.append))
        while not found:
            await asyncio.sleep(0.01)
        await once()
        running.cancel()
        return found[1]

    assert "<script>alert" not in asyncio.run(title())


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--host", "0.0.0.0"], "not all of them at once"),
        (["--host", "tablet.example"], "is no IP address"),
        (["--port", "70000"], "a port is a number"),
        (["--host", "192.0.2.1"], "192.0.2.1, port 8640 can't be served"),  # RFC 5737: nobody's
    ],
)
def test_what_cannot_be_served_is_refused_in_words(
    tmp_path: Path, capsys: Output, words: list[str], told: str
) -> None:
    site = tmp_path / "lawn.toml"
    shutil.copy(samples()["small-garden"], site)
    assert cli.main(["tablet", str(site), *words]) == 2
    assert told in capsys.readouterr().err


def test_a_wrong_file_is_told_before_anything_is_served(tmp_path: Path, capsys: Output) -> None:
    assert cli.main(["tablet", str(tmp_path / "none.toml")]) == 2
    assert "is not there" in capsys.readouterr().err


def test_without_the_extra_it_says_which(
    tmp_path: Path, capsys: Output, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = tmp_path / "lawn.toml"
    shutil.copy(samples()["small-garden"], site)
    monkeypatch.delitem(sys.modules, "commission.tablet.server", raising=False)
    monkeypatch.setitem(sys.modules, "textual_serve", None)
    assert cli.main(["tablet", str(site)]) == 2
    assert "pip install '.[tablet]'" in capsys.readouterr().err
