"""A run as it is handed out: its designs, its record, and the folder where it stands, if any."""

from __future__ import annotations

import html
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import overload

from motifsearch.base.text import clean_text
from motifsearch.runs.candidate import Candidate
from motifsearch.runs.gallery import contact_of, older_files, threads_of, write_gallery
from motifsearch.runs.record import Record
from motifsearch.runs.store import owned
from motifsearch.search.brief import Brief

#: Designs that a run shows of itself in a notebook, at most.
SHOWN = 24


@dataclass(frozen=True, kw_only=True)
class Run:
    """The outcome of a search, of variations, of a wanted motif, or a run folder read again.

    A run is a sequence of candidates, best first; in a notebook it shows itself.

    Attributes:
        candidates: The designs, best first.
        record: What is known of the run beside its designs.
        brief: What was asked for; None for a gallery of several runs.
        folder: Where it stands; None when it was not written.
        said: Lines about it: what was kept, what was skipped.
        inputs: Further files that a written run has, such as ``brief.toml``.
        seconds: How long the search took; 0 when it was read.
        searched: Designs scored in this call.
    """

    candidates: tuple[Candidate, ...]
    record: Record
    brief: Brief | None = None
    folder: Path | None = None
    said: tuple[str, ...] = ()
    inputs: Mapping[str, str | bytes] = field(default_factory=dict, repr=False)
    seconds: float = 0.0
    searched: int = 0

    def __iter__(self) -> Iterator[Candidate]:
        """Return the candidates in turn."""
        return iter(self.candidates)

    def __len__(self) -> int:
        """Return the number of candidates."""
        return len(self.candidates)

    @overload
    def __getitem__(self, index: int) -> Candidate: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[Candidate, ...]: ...

    def __getitem__(self, index: int | slice) -> Candidate | tuple[Candidate, ...]:
        """Return one candidate, best first, or some of them."""
        return self.candidates[index]

    def write(self, folder: str | Path, *, overwrite: bool = False) -> Path:
        """Write the run folder: page, pictures, worksheets and data; return the page.

        Args:
            folder: The run folder.
            overwrite: Write into a folder that holds something already.

        Raises:
            InputError: The folder holds something, or another process is at work in it.
            MotifError: It cannot be written.
        """
        folder = Path(folder)
        with owned(folder, "writing a gallery") as place:
            place.refuse_unless_empty(overwrite)
            write_gallery(
                place,
                self.candidates,
                self.record,
                inputs=self.inputs,
                gone=older_files(place, self.candidates),
            )
        return folder / "gallery.html"

    def _repr_png_(self) -> bytes:
        """Show the contact sheet in a notebook."""
        from motifsearch.draw.png import png_bytes

        sheet = contact_of(self.candidates[:SHOWN])
        return png_bytes(sheet, keep=threads_of(self.candidates[:SHOWN]))

    def _repr_html_(self) -> str:
        """Show the designs one under another in a notebook."""
        title = html.escape(clean_text(self.record.title))
        more = len(self.candidates) - SHOWN
        tail = f"<p>and {more} more</p>" if more > 0 else ""
        shown = "".join(one._repr_html_() for one in self.candidates[:SHOWN])
        return f"<section><h3>{title}</h3>{shown}{tail}</section>"
