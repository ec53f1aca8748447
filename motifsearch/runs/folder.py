"""The run folder: all that one search writes, and reading it back.

::

    results/NAME/
        brief.toml  stash.toml     as resolved; a run can be repeated from them
        run.json                   version, seed, counts, why it stopped, the ranking
        ranking.csv                one line per candidate
        gallery.html  gallery.png  the page and the contact sheet
        checkpoint.npz             where to go on
        candidates/NNN/            pattern.toml scores.json cut.csv face.png worksheet.pdf

Every file is written whole or not at all, and the candidates of a run are swapped in as a whole,
so a folder never holds half a gallery.  No file holds a time of day: the same run writes the same
bytes.
"""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import tempfile
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from motifsearch.base.errors import InputError, MotifError
from motifsearch.base.tomlfile import read_text, write_atomic
from motifsearch.pattern.design import Pattern
from motifsearch.pattern.files import format_pattern, read_pattern
from motifsearch.runs.candidate import Entry
from motifsearch.thread.cutting import CutList
from motifsearch.thread.plan import CuttingPlan
from motifsearch.thread.stash import Stash

MAX_CANDIDATES = 2000
PREVIEW_ROWS = 60
PREVIEW_PX = 30
#: Colours of a PNG of ours: a third of the size, and no difference that can be seen.
PNG_COLOURS = 160


@dataclass(frozen=True)
class Band:
    """What all worksheets of a gallery share.

    Attributes:
        title: Of the gallery.
        length_mm: Knotted length.
        first_notch: The number of the leftmost notch.
        stash: The threads on hand.
        paper: "A4" or "Letter".
        wrist_mm: The wrist that the length was reckoned for, if one was given.
    """

    title: str
    length_mm: float
    first_notch: int
    stash: Stash
    paper: str = "A4"
    wrist_mm: float | None = None


def make_folder(folder: Path, overwrite: bool) -> None:
    """Make the run folder, or take over an existing one when asked.

    Raises:
        InputError: It exists and was not to be overwritten, or is no folder.
        MotifError: It cannot be made.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError("expected a folder for the run; a file stands there", source=folder)
    if folder.is_dir() and any(folder.iterdir()) and not overwrite:
        raise InputError(
            "the run folder exists already; choose another with --out, go on with --resume, "
            "or give --overwrite",
            source=folder,
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as bad:
        raise MotifError(f"{folder}: cannot make the run folder: {bad.strerror}") from None


def cut_csv(cuts: CutList, plan: CuttingPlan | None, first_notch: int = 1) -> str:
    """Return the cut list as CSV, one line per thread; lengths in mm.

    The column `from_piece_mm` names the piece on hand that the cut comes from.
    """
    source = {
        label: piece.piece_mm for piece in (plan.pieces if plan else ()) for label, _ in piece.cuts
    }
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        ["label", "colour", "notches", "cut_mm", "fold_mm", "need_mm", "margin_mm",
         "allowance_mm", "from_piece_mm"]
    )  # fmt: skip
    for cut in cuts.cuts:
        writer.writerow(
            [
                cut.label,
                cut.colour,
                " ".join(str(s + first_notch) for s in cut.strands),
                f"{cut.length_mm:.0f}",
                "" if cut.fold_mm is None else f"{cut.fold_mm:.0f}",
                " ".join(f"{v:.1f}" for v in cut.need_mm),
                " ".join(f"{v:.1f}" for v in cut.margin_mm),
                " ".join(f"{v:.1f}" for v in cut.allowance_mm),
                f"{source[cut.label]:.0f}" if cut.label in source else "",
            ]
        )
    return out.getvalue()


RANKING_COLUMNS = (
    "rank", "folder", "title", "wishes_met", "strands", "rows", "repeat_rows", "frieze_group",
    "colours", "evenness", "offcut", "balance", "contrast", "coherence", "movement", "lone",
    "flatness", "minutes", "cut_total_mm",
)  # fmt: skip


def ranking_csv(entries: Sequence[Entry], utility: Sequence[float]) -> str:
    """Return the ranking as CSV, best first; fractions with four digits."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(RANKING_COLUMNS)
    for entry, worth in zip(entries, utility, strict=True):
        s = entry.scores
        contrast = s["colour"]["contrast"]
        writer.writerow(
            [
                entry.rank,
                entry.folder,
                entry.pattern.title,
                f"{worth:.4f}",
                s["strands"],
                s["rows"],
                s["repeat_rows"],
                s["symmetry"]["frieze_group"],
                " ".join(entry.pattern.palette),
                f"{s['thread']['evenness']:.4f}",
                f"{s['thread']['offcut']:.4f}",
                f"{s['colour']['balance']:.4f}",
                "" if contrast is None else f"{contrast:.2f}",
                f"{s['motif']['coherence']:.4f}",
                f"{s['motif']['movement']:.4f}",
                f"{s['motif']['lone']:.4f}",
                f"{s['flatness']:.4f}",
                f"{s['handling']['minutes']:.0f}",
                f"{entry.cuts.total_mm:.0f}",
            ]
        )
    return out.getvalue()


def json_text(data: Any) -> str:
    """Return JSON as it is written to files: indented, a line at the end, no NaN."""
    return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def write_candidate(folder: Path, entry: Entry, band: Band) -> None:
    """Write the five files of one candidate into an existing folder."""
    from motifsearch.draw.cloth import png_bytes, render_band
    from motifsearch.worksheet.content import make_worksheet
    from motifsearch.worksheet.forms import to_pdf

    write_atomic(folder / "pattern.toml", format_pattern(entry.pattern))
    write_atomic(folder / "scores.json", json_text(entry.scores))
    write_atomic(folder / "cut.csv", cut_csv(entry.cuts, entry.plan, band.first_notch))
    rows = max(entry.scores["repeat_rows"], PREVIEW_ROWS)
    image = render_band(entry.pattern, min(rows, 3 * PREVIEW_ROWS), cell_px=PREVIEW_PX, ends=True)
    write_atomic(folder / "face.png", png_bytes(image, colours=PNG_COLOURS))
    if entry.target_png:
        write_atomic(folder / "target.png", entry.target_png)
    sheet = make_worksheet(
        entry,
        length_mm=band.length_mm,
        first_notch=band.first_notch,
        show=band.stash.show,
        wrist_mm=band.wrist_mm,
    )
    write_atomic(folder / "worksheet.pdf", to_pdf(sheet, band.paper))


def _write_candidates(
    places: Sequence[Path],
    entries: Sequence[Entry],
    band: Band,
    tick: Callable[[int], None],
    executor: Executor | None,
) -> None:
    """Write every candidate's files, here or by workers; what a lost worker left is done here."""
    todo = list(zip(places, entries, strict=True))
    if executor is not None:
        try:
            jobs = [executor.submit(write_candidate, p, e, band) for p, e in todo]
            for n, job in enumerate(jobs):
                job.result()
                tick(n + 1)
            return
        except BrokenExecutor:
            pass
    for n, (place, entry) in enumerate(todo):
        write_candidate(place, entry, band)
        tick(n + 1)


def write_gallery(
    folder: Path,
    entries: Sequence[Entry],
    utility: Sequence[float],
    band: Band,
    run_info: Mapping[str, Any],
    skipped: Sequence[str] = (),
    tick: Callable[[int], None] = lambda done: None,
    executor: Executor | None = None,
) -> None:
    """Write the gallery of a run into its folder; what stood there of an older one is replaced.

    Args:
        folder: The run folder, which exists.
        entries: The candidates, best first; `Entry.folder` says where each goes.
        utility: How well each meets the wishes.
        band: What the worksheets share.
        run_info: What `run.json` says.
        skipped: What could not be shown.
        tick: Called with the number of candidates written.
        executor: Workers that write candidates; None to write them here.

    Raises:
        MotifError: Something cannot be written; an older gallery is then still whole.
    """
    from motifsearch.draw.cloth import png_bytes
    from motifsearch.draw.contact import contact_sheet
    from motifsearch.page.gallery import gallery_html

    try:
        fresh = Path(tempfile.mkdtemp(dir=folder, prefix=".tmp-candidates-", suffix="~"))
    except OSError as bad:
        raise MotifError(f"{folder}: cannot write: {bad.strerror}") from None
    try:
        places = [fresh / Path(entry.folder).name for entry in entries]
        for place in places:
            place.mkdir()
        _write_candidates(places, entries, band, tick, executor)
        os.chmod(fresh, 0o755)
        page = gallery_html(
            entries, title=band.title, stash=band.stash, length_mm=band.length_mm, skipped=skipped
        )
        sheet = contact_sheet(
            [(e.pattern.title, e.pattern) for e in entries], columns=8 if len(entries) > 8 else 4
        )
        files = {
            "gallery.html": page.encode(),
            "gallery.png": png_bytes(sheet, colours=PNG_COLOURS),
            "ranking.csv": ranking_csv(entries, utility).encode(),
            "run.json": json_text(run_info).encode(),
        }
        _swap(folder / "candidates", fresh)
        for name, data in files.items():
            write_atomic(folder / name, data)
    except OSError as bad:
        raise MotifError(f"{folder}: cannot write: {bad.strerror or bad}") from None
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _swap(target: Path, fresh: Path) -> None:
    """Put `fresh` in the place of `target`."""
    old = _old(target)
    _bring_back(target)
    shutil.rmtree(old, ignore_errors=True)
    if target.exists():
        os.replace(target, old)
    try:
        os.replace(fresh, target)
    except OSError:
        _bring_back(target)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _old(target: Path) -> Path:
    return target.with_name(f".tmp-old-{target.name}~")


def _bring_back(target: Path) -> None:
    """Undo a swap that was broken off between its two steps."""
    if _old(target).is_dir() and not target.exists():
        os.replace(_old(target), target)


def sweep(folder: Path) -> None:
    """Remove what a killed run left behind: temporary files and folders of ours."""
    _bring_back(folder / "candidates")
    for path in folder.glob(".tmp-*~"):
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)


def read_candidates(folder: Path) -> tuple[list[tuple[str, Pattern]], list[str]]:
    """Read the designs of a run folder.

    Returns:
        (folder name, pattern) of every whole candidate in order, and one line for each that had
        to be skipped.

    Raises:
        InputError: There is no folder of candidates.
    """
    place = folder / "candidates"
    if folder.is_dir():
        _bring_back(place)
    if not place.is_dir():
        raise InputError("expected a run folder with candidates/", source=folder)
    found, skipped = [], []
    names = sorted(p for p in place.iterdir() if p.is_dir() and not p.name.startswith("."))
    for path in names[:MAX_CANDIDATES]:
        try:
            found.append((path.name, read_pattern(path / "pattern.toml")))
        except InputError as bad:
            skipped.append(f"{path.name}: {bad}")
    return found, skipped


def read_run_info(folder: Path) -> dict[str, Any]:
    """Return what `run.json` says; empty when it is missing or damaged."""
    try:
        data = json.loads(read_text(folder / "run.json", "run.json"))
    except (InputError, ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) else {}
