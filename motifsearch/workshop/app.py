"""The server's answers: each is one call in `motifsearch.runs`, and its result as JSON.

Errors that a maker can cause come back as ``{"error": text}``: 409 where a file was changed
meanwhile, 404 and 422 for what cannot be found or used, 507 for what cannot be written.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from typing import Any, Final

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from motifsearch.base.errors import InfeasibleError, InputError, MotifError
from motifsearch.page import workshop_page
from motifsearch.runs import (
    asking,
    box,
    changes,
    classes,
    making,
    naming,
    painting,
    people,
    shelf,
    trying,
    wall,
)
from motifsearch.runs.live import Engines
from motifsearch.runs.workroom import Workroom
from motifsearch.thread.ledger import ChangedError
from motifsearch.worksheet.cautions import CAUTIONS

#: How often a live search is looked at, and after how many looks without news a sign of life comes.
LOOK_S: Final = 0.1
LOOKS: Final = 100
Answer = Callable[[Mapping[str, Any]], Any]

TYPES: Final = {
    "pdf": "application/pdf",
    "txt": "text/plain; charset=utf-8",
    "md": "text/markdown; charset=utf-8",
    "zip": "application/zip",
}


class Workshop:
    """The answers of one workroom.

    Args:
        room: The folder.
        engines: Where its searches run.
    """

    def __init__(self, room: Workroom, engines: Engines) -> None:
        self.room = room
        self.engines = engines

    def posts(self) -> dict[str, Answer]:
        """Return what may be asked with a body: name to the call that answers it."""
        room, engines = self.room, self.engines
        return {
            "thread/add": lambda a: _version(box.add_thread(room, _map(a, "values"), _ver(a))),
            "thread/change": lambda a: _version(
                box.change_thread(room, _text(a, "name"), _map(a, "values"), _ver(a))
            ),
            "thread/remove": lambda a: _version(box.remove_thread(room, _text(a, "name"), _ver(a))),
            "thread/skein": lambda a: _version(box.add_skein(room, _text(a, "name"), _ver(a))),
            "thread/cut": lambda a: _version(
                box.cut_off(
                    room, _text(a, "name"), _number(a, "piece_m"), _number(a, "length_m"), _ver(a)
                )
            ),
            "thread/example": lambda a: _version(box.demo_box(room)),
            "wishes/check": lambda a: asking.check(room, _map(a, "values")),
            "wishes/save": lambda a: _version(
                asking.write_values(room, _text(a, "name"), _map(a, "values"), _ver(a))
            ),
            "name/try": lambda a: naming.tried_text(room, _map(a, "values")),
            "search/start": lambda a: {
                "run": wall.start(room, engines, _text(a, "brief"), known=bool(a.get("known")))
            },
            "class/new": lambda a: {
                "name": people.new_group(
                    room, _text(a, "title"), _text(a, "names"), _map(a, "values")
                )
            },
            "class/save": lambda a: _version(
                people.save_group(room, _text(a, "name"), _map(a, "values"), _ver(a))
            ),
            "class/join": lambda a: _version(
                people.add_people(room, _text(a, "name"), _text(a, "names"), _ver(a))
            ),
            "class/person": lambda a: _version(
                people.change_person(
                    room, _text(a, "name"), int(_number(a, "at")), _map(a, "values"), _ver(a)
                )
            ),
            "class/leave": lambda a: _version(
                people.drop_person(room, _text(a, "name"), int(_number(a, "at")), _ver(a))
            ),
            "class/check": lambda a: people.check_group(room, _text(a, "name")),
            "class/start": lambda a: {"run": classes.start_group(room, engines, _text(a, "name"))},
            "class/book": lambda a: classes.book_class(room, _text(a, "run"), _ver(a)),
            "search/stop": lambda a: self._stop(_text(a, "run")),
            "search/go": lambda a: wall.go_on(
                room, engines, _text(a, "run"), int(_number(a, "more", 0))
            ),
            "mark": lambda a: wall.marked(
                room, engines, _map(a, "ask"), _text(a, "as"), a.get("version")
            ),
            "shelf/note": lambda a: _version(
                shelf.note(room, _text(a, "key"), _map(a, "values"), a.get("version"))
            ),
            "look": lambda a: trying.look(room, a),
            "paint": lambda a: painting.answer(room, _map(a, "ask"), a.get("cells")),
            "like": lambda a: {"run": wall.more_like(room, _map(a, "ask"), _map(a, "locks"))},
            "together": lambda a: making.together(
                room, _list(a, "asks"), int(_number(a, "number", 1))
            ),
            "book": lambda a: making.book(
                room, _map(a, "ask"), int(_number(a, "bands", 1)), a.get("version")
            ),
            "unbook": lambda a: making.unbook(
                room, int(_number(a, "number")) if a.get("number") else None, a.get("version")
            ),
            "undo": lambda a: {"words": changes.step(room.path, True)},
            "redo": lambda a: {"words": changes.step(room.path, False)},
        }

    def gets(self) -> dict[str, Answer]:
        """Return what may be asked by an address: name to the call that answers it."""
        room, engines = self.room, self.engines
        return {
            "state": lambda a: wall.state_of(room, engines),
            "form": lambda a: asking.form(),
            "brief": lambda a: dict(
                zip(("values", "version"), asking.read_values(room, _text(a, "name")), strict=True)
            ),
            "run": lambda a: wall.run_data(room, engines, _text(a, "name")),
            "class": lambda a: people.group_data(room, _text(a, "name")),
            "classed": lambda a: classes.class_data(room, _text(a, "run")),
            "shelf": lambda a: shelf.shelf_data(room),
            "booked": lambda a: making.booked(room),
            "cautions": lambda a: list(CAUTIONS),
            "sheet": lambda a: self._sheet(_parsed(_text(a, "q"))),
            "papers": lambda a: self._papers(_parsed(_text(a, "q"))),
        }

    def _stop(self, name: str) -> None:
        search = self.engines.searches.get(self.room.inside(name))
        if search is None:
            raise InputError("no search is under way here", name)
        search.stop()

    def _papers(self, ask: Mapping[str, Any]) -> Response:
        """Return what is handed out for a batch of kits, as one file."""
        data = making.kit_papers(self.room, _list(ask, "asks"), int(_number(ask, "number", 1)))
        return Response(
            data,
            media_type=TYPES["zip"],
            headers={"content-disposition": 'inline; filename="kits.zip"'},
        )

    def _sheet(self, ask: Mapping[str, Any]) -> Response:
        """Return a worksheet, or those of several designs as one file."""
        form = _text(ask, "form")
        left, teaching = bool(ask.get("left_handed")), bool(ask.get("teaching"))
        asks = _list(ask, "asks")
        if len(asks) == 1:
            data, name = making.sheet(self.room, asks[0], form, left_handed=left, teaching=teaching)
        else:
            name = "worksheets.zip"
            data = making.sheets(self.room, asks, form, left_handed=left, teaching=teaching)
            form = "zip"
        return Response(
            data,
            media_type=TYPES[form],
            headers={"content-disposition": f'inline; filename="{name}"'},
        )

    async def live(self, request: Request) -> Response:
        """Tell how a search goes, as server-sent events (HTML Living Standard, 9.2)."""
        folder = self.room.inside(request.query_params.get("name", ""))

        async def events() -> AsyncIterator[str]:
            seen, wall_seen, quiet = -1, -1, 0
            while not await request.is_disconnected():
                search = self.engines.searches.get(folder)
                if search is None:
                    yield "event: none\ndata: {}\n\n"
                    return
                if search.revision != seen:
                    seen, quiet = search.revision, 0
                    data = wall.progress_of(search)
                    if search.wall_revision != wall_seen:
                        wall_seen = search.wall_revision
                        data["wall"] = search.wall
                    yield f"data: {json.dumps(data)}\n\n"
                    if not search.running:
                        return
                quiet += 1
                if quiet % LOOKS == 0:
                    yield ": still here\n\n"
                await asyncio.sleep(LOOK_S)

        return StreamingResponse(events(), media_type="text/event-stream")


def application(room: Workroom, engines: Engines) -> Starlette:
    """Return the application of a workroom; `motifsearch.workshop.guard` goes around it."""
    shop = Workshop(room, engines)
    routes = [Route("/live", _caught(shop.live))]
    for name, answer in shop.posts().items():
        routes.append(Route(f"/do/{name}", _post(answer), methods=["POST"]))
    for name, answer in shop.gets().items():
        routes.append(Route(f"/get/{name}", _get(answer)))
    routes.append(Route("/files/{name:path}", _file))
    routes.append(Route("/{rest:path}", _index))
    return Starlette(routes=routes)


async def _index(request: Request) -> Response:
    return Response(workshop_page.index(), media_type="text/html")


async def _file(request: Request) -> Response:
    found = workshop_page.file(request.path_params["name"])
    if found is None:
        return JSONResponse({"error": "There is no such file."}, 404)
    data, kind = found
    return Response(data, media_type=kind)


def _caught(
    handler: Callable[[Request], Awaitable[Response]],
) -> Callable[[Request], Awaitable[Response]]:
    async def called(request: Request) -> Response:
        try:
            return await handler(request)
        except ChangedError as bad:
            return JSONResponse({"error": str(bad), "changed": True}, 409)
        except InputError as bad:
            return JSONResponse({"error": asking.plain(bad), "key": bad.key or ""}, 422)
        except InfeasibleError as bad:
            return JSONResponse({"error": str(bad)}, 422)
        except MotifError as bad:
            return JSONResponse({"error": str(bad)}, 507)

    return called


def _post(answer: Answer) -> Callable[[Request], Awaitable[Response]]:
    async def handler(request: Request) -> Response:
        try:
            data = json.loads(await request.body())
        except (ValueError, RecursionError, ClientDisconnect):
            raise InputError("expected JSON") from None
        if not isinstance(data, dict):
            raise InputError("expected a JSON object")
        return _answered(await run_in_threadpool(answer, data))

    return _caught(handler)


def _get(answer: Answer) -> Callable[[Request], Awaitable[Response]]:
    async def handler(request: Request) -> Response:
        return _answered(await run_in_threadpool(answer, dict(request.query_params)))

    return _caught(handler)


def _answered(result: Any) -> Response:
    if isinstance(result, Response):
        return result
    return JSONResponse({} if result is None else result)


def _parsed(text: str) -> Mapping[str, Any]:
    """Return the JSON object that an address holds."""
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        raise InputError("expected JSON", source="q") from None
    if not isinstance(data, dict):
        raise InputError("expected a JSON object", source="q")
    return data


def _version(version: str) -> dict[str, str]:
    return {"version": version}


def _ver(ask: Mapping[str, Any]) -> str | None:
    version = ask.get("version")
    if version is not None and not isinstance(version, str):
        raise InputError("expected a version", source="version")
    return version


def _text(ask: Mapping[str, Any], key: str) -> str:
    value = ask.get(key)
    if not isinstance(value, str):
        raise InputError("expected a text", source=key)
    return value


def _number(ask: Mapping[str, Any], key: str, default: float | None = None) -> float:
    value = ask.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > 1e9:
        raise InputError("expected a number", source=key)
    return float(value)


def _map(ask: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    value = ask.get(key)
    if not isinstance(value, dict):
        raise InputError("expected a table", source=key)
    return value


def _list(ask: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    value = ask.get(key)
    if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
        raise InputError("expected a list of tables", source=key)
    return value
