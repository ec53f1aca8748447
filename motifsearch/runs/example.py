"""``example``: the demo stash, briefs, patterns and motifs, to be edited."""

from __future__ import annotations

from pathlib import Path

from motifsearch.base.errors import InputError, MotifError
from motifsearch.base.tomlfile import write_atomic


def demo_folder() -> Path:
    """Return the folder of the demo files: in the package, or ``configs/`` beside it in a checkout.

    Raises:
        MotifError: Neither is there; the installation is damaged.
    """
    package = Path(__file__).parents[1]
    for place in (package / "demo", package.parent / "configs"):
        if (place / "only-my-threads.toml").is_file():
            return place
    raise MotifError(f"{package}: the demo files are missing; install again")


def example(folder: str | Path) -> list[Path]:
    """Write the packaged demo files; none that exists is written over.

    Raises:
        InputError: One of the files exists already.
        MotifError: The folder cannot be written.
    """
    folder = Path(folder)
    if folder.exists() and not folder.is_dir():
        raise InputError("expected a folder", source=folder)
    source = demo_folder()
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
