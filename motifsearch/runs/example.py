"""``example``: the demo stash, briefs, patterns and motifs, to be edited."""

from __future__ import annotations

from pathlib import Path

from motifsearch.base.errors import InputError
from motifsearch.base.tomlfile import write_atomic


def example(folder: str | Path) -> list[Path]:
    """Write the packaged demo files; none that exists is written over.

    Raises:
        InputError: One of the files exists already.
        MotifError: The folder cannot be written.
    """
    from importlib.resources import as_file, files

    folder = Path(folder)
    if folder.exists() and not folder.is_dir():
        raise InputError("expected a folder", source=folder)
    with as_file(files("motifsearch") / "demo") as source:
        names = sorted(
            p.relative_to(source) for p in source.rglob("*") if p.suffix in (".toml", ".txt")
        )
        for name in names:
            if (folder / name).exists():
                raise InputError("the file exists already", source=folder / name)
        for name in names:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            write_atomic(folder / name, (source / name).read_bytes())
    return [folder / name for name in names]
