"""What becomes of a booking from the page when the disk is full or the server is killed."""

from __future__ import annotations

import http.client
import json
import os
import resource
import shutil
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from workshop.shop import Shop

from motifsearch.runs.booking import bookings
from motifsearch.runs.example import demo_folder
from motifsearch.thread.stash import read_stash

DEMO = Path(__file__).parents[2] / "results" / "demo"
ASK = {"ask": {"of": "demo/candidates/001"}, "bands": 1}


def filled(folder: Path) -> Path:
    shutil.copy(demo_folder() / "stash-workshop.toml", folder / "stash.toml")
    shutil.copytree(DEMO, folder / "demo")
    return folder


class Page:
    """Speaks to a workshop as its page does: one cookie, one origin."""

    def __init__(self, shop: Shop) -> None:
        self.at = urlsplit(shop.at).netloc
        way = shop.address.removeprefix(shop.at)
        status, _, headers = self.ask("GET", way)
        assert status == 200
        self.cookie = headers["set-cookie"].partition(";")[0]

    def ask(self, method: str, path: str, body: Any = None) -> tuple[int, bytes, dict[str, str]]:
        line = http.client.HTTPConnection(self.at, timeout=180)
        headers = {"Origin": f"http://{self.at}", "Content-Type": "application/json"}
        if hasattr(self, "cookie"):
            headers["Cookie"] = self.cookie
        try:
            line.request(method, path, None if body is None else json.dumps(body), headers)
            answer = line.getresponse()
            low = {name.lower(): value for name, value in answer.getheaders()}
            return answer.status, answer.read(), low
        finally:
            line.close()

    def book(self) -> tuple[int, Any]:
        status, data, _ = self.ask("POST", "/do/book", ASK)
        return status, json.loads(data)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A folder on a disk of its own, where one may have one."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=24m", "tmpfs", str(place)]
    own = os.geteuid() == 0 and subprocess.run(mount, capture_output=True).returncode == 0
    yield place
    if own:
        subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_booking_on_a_full_disk_is_refused_whole(small_disk: Path) -> None:
    folder = filled(small_disk)
    shop = Shop(folder)
    pid = shop.process.pid
    own = os.stat(folder).st_dev != os.stat(folder.parent).st_dev
    try:
        page = Page(shop)
        before = (folder / "stash.toml").read_bytes()
        if own:  # a disk that is really full
            with suppress(OSError), (folder / "much").open("wb") as much:
                while True:
                    much.write(b"\0" * 4096)
                    much.flush()
        else:  # or a process that may write no more
            resource.prlimit(pid, resource.RLIMIT_FSIZE, (16, resource.RLIM_INFINITY))
        status, answer = page.book()
        assert status == 507
        assert "stash" in answer["error"] or "write" in answer["error"]
        assert "Traceback" not in answer["error"]
        assert (folder / "stash.toml").read_bytes() == before
        assert bookings(folder / "stash.toml") == ()
        # The page goes on: it answers, and books once there is room.
        assert page.ask("GET", "/get/state")[0] == 200
        if own:
            (folder / "much").unlink()
        else:
            most = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
            resource.prlimit(pid, resource.RLIMIT_FSIZE, most)
        status, answer = page.book()
        assert (status, answer.get("number")) == (200, 1)
        assert (folder / "stash.toml").read_bytes() != before
        assert len(bookings(folder / "stash.toml")) == 1
    finally:
        shop.end()


def test_a_server_that_is_killed_while_it_books_has_booked_wholly_or_not(tmp_path: Path) -> None:
    folder = filled(tmp_path)
    stash = folder / "stash.toml"
    was = sum(t.total_mm for t in read_stash(stash).threads)
    for delay in (0.0, 0.02, 0.1, 0.3, 5.0):
        shop = Shop(folder)
        try:
            page = Page(shop)
            asked = threading.Thread(target=lambda page=page: suppressed(page.book))
            seen = len(bookings(stash))
            asked.start()
            end = time.monotonic() + delay
            while time.monotonic() < end and len(bookings(stash)) == seen:
                time.sleep(0.005)
        finally:
            shop.kill()
        asked.join()
        # What the book says and what the box holds are one.
        book = bookings(stash)
        now = sum(t.total_mm for t in read_stash(stash).threads)
        assert (was - now > 0) is (len(book) > 0)
        assert [b.number for b in book] == list(range(1, len(book) + 1))
    shop = Shop(folder)
    try:
        # The next server books as if nothing had been, and can take all of it back.
        page = Page(shop)
        assert page.book()[0] == 200
        for one in reversed(bookings(stash)):
            asked_back = page.ask("POST", "/do/unbook", {"number": one.number})
            assert asked_back[0] == 200
    finally:
        shop.end()
    assert sum(t.total_mm for t in read_stash(stash).threads) == pytest.approx(was)


def suppressed(call: Any) -> None:
    """Call what a killed server does not answer."""
    with suppress(OSError, http.client.HTTPException, ValueError):
        call()
