"""The gallery of a run: its files, written as one change.

::

    results/NAME/
        brief.toml  stash.toml     as resolved; a run can be repeated from them
        run.json                   version, seed, counts, why it stopped, the ranking
        ranking.csv                one line per candidate
        gallery.html  gallery.png  the page and the contact sheet
        checkpoint.npz             where to go on
        candidates/NNN/            pattern.toml scores.json cut.csv face.png worksheet.pdf
                                    board.html

The number of a candidate is the name of its folder and does not change.  A candidate whose folder
holds anything of the maker's (see `motifsearch.runs.store`) keeps its place and its number; new
designs take the numbers that are free.  No file holds a time of day: the same run writes the same
bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Final

from motifsearch.base.arrays import U8
from motifsearch.base.errors import MotifError
from motifsearch.base.tomlfile import write_atomic
from motifsearch.pattern.canonical_form import canonical_key
from motifsearch.pattern.files import format_pattern
from motifsearch.runs.briefing import WISH_LABELS
from motifsearch.runs.candidate import Candidate
from motifsearch.runs.graphs import charts_of
from motifsearch.runs.record import NAME, Line, Record, json_text
from motifsearch.runs.store import CANDIDATES, RunFolder
from motifsearch.runs.tables import cut_csv, ranking_csv
from motifsearch.runs.workers import in_turn

if TYPE_CHECKING:
    from motifsearch.page.gallery import Chart
    from motifsearch.worksheet.content import Worksheet

#: Rows of every band on the contact sheet.
CONTACT_ROWS: Final = 48
LETTER_ROWS: Final = 200


@dataclass(frozen=True)
class Written:
    """What became of a gallery.

    Attributes:
        candidates: As they stand in the folder, with their numbers.
        said: What was kept of the maker's, and what could not be made, one line each.
    """

    candidates: tuple[Candidate, ...]
    said: tuple[str, ...]


def numbered(candidates: Sequence[Candidate], taken: Sequence[str] = ()) -> tuple[Candidate, ...]:
    """Return candidates with the numbers 1, 2, ... and their folders, leaving out what is taken."""
    out = []
    number = 0
    for one in candidates:
        number += 1
        while f"{number:03d}" in taken:
            number += 1
        out.append(replace(one, rank=number, folder=f"{CANDIDATES}/{number:03d}"))
    return tuple(out)


def lines_of(candidates: Sequence[Candidate]) -> tuple[Line, ...]:
    """Return the ranking of a record."""
    return tuple(
        Line(
            folder=one.folder,
            title=one.pattern.title,
            canonical=canonical_key(one.pattern),
            wishes_met=one.wishes_met,
            construction=one.construction,
            wishes=dict(one.wishes),
            notes=one.notes,
        )
        for one in candidates
    )


def contact_of(candidates: Sequence[Candidate], most_rows: int = CONTACT_ROWS) -> U8:
    """Return the contact sheet of candidates, uint8 ``[H, W, 3]``; it says how much it shows."""
    from motifsearch.draw.contact import contact_sheet, layout

    rows = min(most_rows, max((one.cuts.rows for one in candidates), default=most_rows))
    columns, rows, cell = layout([one.pattern.strands for one in candidates], rows)
    longer = any(one.cuts.rows > rows for one in candidates)
    return contact_sheet(
        [(one.pattern.title, one.pattern) for one in candidates],
        columns=columns,
        length_rows=rows,
        cell_px=cell,
        numbers=[one.rank for one in candidates],
        note=f"Shortened: the first {rows} rows of every band." if longer else "",
    )


def threads_of(candidates: Iterable[Candidate]) -> list[str]:
    """Return the colours (``#rrggbb``) of all threads that candidates are made of."""
    return [one.pattern.colours[name] for one in candidates for name in one.pattern.palette]


def candidate_files(
    one: Candidate, leave: Sequence[str] = ()
) -> tuple[dict[str, str | bytes], list[str]]:
    """Return the files of one candidate: a pure function, so that any worker may draw them.

    Args:
        one: The candidate.
        leave: Names of files that are not to be written.

    Returns:
        The files by name, and one line for each that could not be made; a picture or a sheet that
        fails never costs the rest.
    """
    drawn = _Drawn(one)
    made: Mapping[str, Callable[[], str | bytes]] = {
        "pattern.toml": lambda: format_pattern(one.pattern),
        "scores.json": lambda: json_text(one.scores.plain()),
        "cut.csv": lambda: cut_csv(one.cuts, one.plan, one.settings.first_notch),
        "face.png": drawn.face,
        "worksheet.pdf": drawn.sheet,
        "board.html": drawn.board,
        "target.png": lambda: one.target_png,
    }
    files: dict[str, str | bytes] = {}
    failed = []
    for name, make in made.items():
        if name in leave or (name == "target.png" and not one.target_png):
            continue
        try:
            files[name] = make()
        except Exception as bad:  # whatever a drawing library raises for one design
            failed.append(f"{one.folder}/{name} could not be made: {type(bad).__name__}: {bad}")
    return files, failed


def _files_of(
    job: tuple[Candidate, Sequence[str]],
) -> tuple[dict[str, str | bytes], list[str]]:
    return candidate_files(*job)


def _write(root: Path, files: Mapping[str, str | bytes]) -> None:
    """Write files below a stage, and the folders that they stand in.

    Raises:
        MotifError: The disk takes no more.
    """
    for name, data in files.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        write_atomic(root / name, data)


class _Drawn:
    """The files of a candidate that are drawn: its band and its worksheet are made once for all."""

    def __init__(self, one: Candidate) -> None:
        self.one = one

    @cached_property
    def band(self) -> U8:
        from motifsearch.draw.whole_band import standing_band

        return standing_band(self.one.pattern, self.one.cuts.rows)

    @cached_property
    def worksheet(self) -> Worksheet:
        from motifsearch.worksheet.content import make_worksheet

        settings = self.one.settings
        return make_worksheet(
            self.one,
            length_mm=settings.length_mm,
            first_notch=settings.first_notch,
            show=settings.show,
            wrist_mm=settings.wrist_mm,
        )

    def face(self) -> bytes:
        from motifsearch.draw.png import png_bytes

        return png_bytes(self.band, keep=self.one.pattern.colours.values())

    def sheet(self) -> bytes:
        from motifsearch.worksheet.forms import to_pdf

        return to_pdf(self.worksheet, self.one.settings.paper, self.band)

    def board(self) -> str:
        from motifsearch.page.board import board_html

        return board_html(self.worksheet, self.one.settings.allowances)


def _contact_png(job: tuple[Sequence[Candidate], int]) -> bytes:
    from motifsearch.draw.png import png_bytes

    candidates, most_rows = job
    return png_bytes(contact_of(candidates, most_rows), keep=threads_of(candidates))


def _write_all(
    root: Path,
    candidates: Sequence[Candidate],
    record: Record,
    leave: Mapping[str, Sequence[str]],
    tick: Callable[[int], None],
    executor: Executor | None,
) -> tuple[list[str], bytes, list[Chart]]:
    """Draw every candidate's files, here or by workers, and write them here.

    Workers write nothing: they may be on other machines.  The contact sheet and the charts are
    drawn while they draw.

    Returns:
        What could not be made, the contact sheet as PNG, and the charts.
    """
    todo = [(one, leave.get(one.folder, ())) for one in candidates]
    # A text is read as a whole.
    most = LETTER_ROWS if record.kind in ("letters", "group") else CONTACT_ROWS
    sheet = in_turn(executor, _contact_png, [(candidates, most)])
    drawn = in_turn(executor, _files_of, todo)
    charts = list(charts_of(candidates, record))
    failed: list[str] = []
    for n, (files, bad) in enumerate(drawn):
        folder = candidates[n].folder
        (root / folder).mkdir(parents=True, exist_ok=True)
        _write(root, {f"{folder}/{name}": data for name, data in files.items()})
        failed += bad
        tick(n + 1)
    return failed, next(sheet), charts


def write_gallery(
    place: RunFolder,
    candidates: Sequence[Candidate],
    record: Record,
    *,
    inputs: Mapping[str, str | bytes] | None = None,
    leave: Mapping[str, Sequence[str]] | None = None,
    gone: Sequence[str] = (),
    skipped: Sequence[str] = (),
    tick: Callable[[int], None] = lambda done: None,
    executor: Executor | None = None,
) -> Written:
    """Write the gallery of a run into its folder, as one change.

    Args:
        place: The run folder, owned.
        candidates: The candidates, in the order in which they are shown; `Candidate.folder` says
            where each goes.
        record: What ``run.json`` says beside the ranking.
        inputs: Further files of the folder, such as ``brief.toml``.
        leave: Folder of a candidate to names of its files that are not to be written.
        gone: Files of an older gallery to be removed, where they are not the maker's.
        skipped: What could not be shown.
        tick: Called with the number of candidates written.
        executor: Workers that write candidates; None to write them here.

    Raises:
        MotifError: Something cannot be written; an older gallery is then still whole.
    """
    from motifsearch.page.gallery import gallery_html

    root = place.stage()
    try:
        failed, sheet, charts = _write_all(root, candidates, record, leave or {}, tick, executor)
        skipped = (*skipped, *failed)
        first = candidates[0].settings if candidates else None
        page = gallery_html(
            candidates,
            title=record.title,
            stash=first.stash if first else None,
            skipped=skipped,
            wish_words=WISH_LABELS,
            charts=charts,
            taste=str(record.taste.get("said", "")),
        )
        files: dict[str, str | bytes] = {
            **(inputs or {}),
            "gallery.html": page,
            "gallery.png": sheet,
            "ranking.csv": ranking_csv(candidates),
            NAME: replace(record, ranking=lines_of(candidates)).to_json(),
        }
        _write(root, files)
    except OSError as bad:
        raise MotifError(f"{place.path}: cannot write: {bad.strerror or bad}") from None
    kept = place.commit(root, gone)
    return Written(tuple(candidates), (*kept, *failed))


def older_files(place: RunFolder, fresh: Sequence[Candidate]) -> tuple[str, ...]:
    """Return the files of an older gallery's candidates that a new one does not write over."""
    new = {one.folder for one in fresh}
    out = []
    for name in place.candidates():
        folder = f"{CANDIDATES}/{name}"
        if place.touched(name):
            continue
        names = [p.name for p in sorted((place.path / folder).iterdir())]
        mine = ("target.png", "from.toml") if folder in new else names
        out += [f"{folder}/{n}" for n in names if n in mine]
    return tuple(out)
