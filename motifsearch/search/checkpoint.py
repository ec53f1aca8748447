"""Checkpoints: the state of a run as one file of plain arrays and JSON, never a pickle.

The file is a NumPy ``.npz`` with an entry per array and one entry ``state`` that holds the rest
as JSON text.  It is written whole or not at all.
"""

from __future__ import annotations

import io
import json
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any, cast

import numpy as np
import numpy.typing as npt

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import write_atomic
from motifsearch.search.anew import asked_of, refused
from motifsearch.search.archive import CELLS, Archive
from motifsearch.search.brief import Brief
from motifsearch.search.genome import Genomes, Space
from motifsearch.search.island import SEEN_SLOTS, Island, Judged, space_of
from motifsearch.search.loop import Run

FORMAT = "motifsearch-checkpoint-1"
MAX_BYTES = 500_000_000
PROGRESS = ["best", "cells", "generation", "hypervolume", "quality"]


def _put(out: dict[str, npt.NDArray[Any]], prefix: str, g: Genomes) -> None:
    for f in fields(Genomes):
        out[f"{prefix}.{f.name}"] = getattr(g, f.name)


def checkpoint_bytes(run: Run) -> bytes:
    """Return the checkpoint file of a run."""
    arrays: dict[str, npt.NDArray[Any]] = {}
    state: dict[str, Any] = {
        "format": FORMAT,
        "generation": run.generation,
        "rng_state": run.rng_state,
        "progress": run.progress,
        "share": run.share,
        "refused": run.refused,
        "asked": run.asked,
        "islands": [],
    }
    for k, island in enumerate(run.islands):
        arrays[f"{k}.seen"] = island.seen
        arrays[f"{k}.archive.cells"] = island.archive.cells
        arrays[f"{k}.archive.utility"] = island.archive.utility
        _put(arrays, f"{k}.archive", island.archive.genomes)
        if island.population is not None:
            for name in ("costs", "violation", "utility"):
                arrays[f"{k}.population.{name}"] = getattr(island.population, name)
            _put(arrays, f"{k}.population", island.population.genomes)
        if island.kept is not None:
            _put(arrays, f"{k}.kept", island.kept)
        seeds = run.pending[k] if run.pending else None
        if seeds is not None:
            _put(arrays, f"{k}.pending", seeds)
        state["islands"].append(
            {
                "space": asdict(island.space),
                "rng_state": island.rng_state,
                "generation": island.generation,
                "scored": island.scored,
                "repeated": island.repeated,
                "log": island.log,
                "population": island.population is not None,
                "pending": seeds is not None,
                "number": island.number,
                "feasible": island.feasible,
                "kept": island.kept is not None,
            }
        )
    arrays["state"] = np.frombuffer(json.dumps(state).encode(), np.uint8)
    buffer = io.BytesIO()
    np.savez(buffer, **cast("Any", arrays))
    return buffer.getvalue()


def save_checkpoint(run: Run, path: Path) -> None:
    """Write the checkpoint, whole or not at all.

    Raises:
        MotifError: It cannot be written.
    """
    write_atomic(path, checkpoint_bytes(run))


class _Reader:
    """Checked access to the arrays of a checkpoint."""

    def __init__(self, path: Path, files: Any) -> None:
        self.path = path
        self.files = files

    def bad(self, what: str) -> InputError:
        return InputError(f"expected a whole checkpoint: {what}", source=self.path)

    def array(self, name: str, dtype: Any, shape: tuple[int | None, ...], below: int = 0) -> Any:
        if name not in self.files:
            raise self.bad(f"{name} is missing")
        value = self.files[name]
        right = value.dtype == np.dtype(dtype) and value.ndim == len(shape)
        right = right and all(w in (None, h) for w, h in zip(shape, value.shape, strict=True))
        if not right or (below and value.size and (value.max() >= below or value.min() < 0)):
            raise self.bad(f"{name} has another form")
        return value

    def genomes(self, prefix: str, space: Space) -> Genomes:
        u8, s, p = np.uint8, space.strands, space.period
        construction = self.array(f"{prefix}.construction", u8, (None,), 6)
        n = len(construction)
        return Genomes(
            construction,
            self.array(f"{prefix}.settled", u8, (n,), 2),
            self.array(f"{prefix}.knots", u8, (p, s // 2, n), 4),
            self.array(f"{prefix}.colours", u8, (s, n), space.palette),
        )


def load_checkpoint(path: Path, brief: Brief) -> Run:
    """Read a checkpoint that belongs to a brief.

    Raises:
        InputError: The file is missing, damaged, or belongs to another brief.
    """
    if not path.is_file():
        raise InputError("expected a checkpoint; no such file", source=path)
    if path.stat().st_size > MAX_BYTES:
        raise InputError(f"expected a checkpoint of at most {MAX_BYTES} bytes", source=path)
    try:
        with path.open("rb") as raw, np.load(raw, allow_pickle=False) as files:
            loaded = {name: files[name] for name in files.files}
        reader = _Reader(path, loaded)
        state = json.loads(bytes(reader.array("state", np.uint8, (None,))).decode())
        return _run_of(reader, state, brief)
    except InputError:
        raise
    except Exception as bad:  # whatever zip, NumPy and JSON raise for bytes that are not ours
        raise InputError(f"expected a whole checkpoint: {bad}", source=path) from None


def _run_of(reader: _Reader, state: dict[str, Any], brief: Brief) -> Run:
    if state["format"] != FORMAT:
        raise reader.bad(f"format {state['format']!r}")
    fixed = (state.get("asked") or {}).get("fixed")
    changed = refused(fixed, asked_of(brief)["fixed"]) if isinstance(fixed, dict) else ""
    if changed:
        raise InputError(
            f"{changed}: the designs of a run are made of it; begin a new run (--out), or put it "
            "back as it was",
            source=reader.path,
        )
    sizes = [(part["space"]["strands"], part["space"]["period"]) for part in state["islands"]]
    if sizes != [(s, p) for s in brief.every_width for p in brief.search.periods]:
        raise reader.bad("it belongs to another brief (other grid lengths)")
    if not isinstance(state["generation"], int) or state["generation"] < 0:
        raise reader.bad("generation is no number")
    for record in state["progress"]:
        if sorted(record) != PROGRESS or not all(
            isinstance(v, int | float) for v in record.values()
        ):
            raise reader.bad("progress has another form")
    run = Run(
        [],
        _rng(state["rng_state"]),
        int(state["generation"]),
        [],
        list(state["progress"]),
        float(state["share"]),
        int(state["refused"]),
        dict(state.get("asked") or {}),
    )
    for k, part in enumerate(state["islands"]):
        space = Space(**{**part["space"], "codes": tuple(part["space"].get("codes", range(4)))})
        if space != space_of(brief.of_width(space.strands), space.period):
            raise reader.bad("it belongs to another brief (other strands or colours)")
        cells = reader.array(f"{k}.archive.cells", np.int64, (None,), CELLS)
        archive = Archive(
            cells,
            reader.array(f"{k}.archive.utility", np.float64, cells.shape),
            reader.genomes(f"{k}.archive", space),
        )
        population = None
        if part["population"]:
            genomes = reader.genomes(f"{k}.population", space)
            n = len(genomes)
            population = Judged(
                genomes,
                reader.array(f"{k}.population.costs", np.float64, (None, n)),
                reader.array(f"{k}.population.violation", np.float64, (n,)),
                reader.array(f"{k}.population.utility", np.float64, (n,)),
            )
        run.pending.append(reader.genomes(f"{k}.pending", space) if part["pending"] else None)
        run.islands.append(
            Island(
                space,
                _rng(part["rng_state"]),
                population,
                archive,
                reader.array(f"{k}.seen", np.uint64, (SEEN_SLOTS,)),
                int(part["generation"]),
                int(part["scored"]),
                int(part["repeated"]),
                list(part["log"]),
                int(part.get("number", 0)),
                int(part.get("feasible", 0)),
                reader.genomes(f"{k}.kept", space) if part.get("kept") else None,
            )
        )
    return run


def _rng(state: dict[str, Any]) -> dict[str, Any]:
    """Return the state of a PCG64 after checking that NumPy takes it."""
    np.random.PCG64().state = state  # type: ignore[assignment]
    return state
