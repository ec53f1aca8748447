"""PNG files of cloth: every shade, or a palette that is made from the threads.

The colours of a drawn band are nearly one ramp per thread, from its shadow over its own colour to
its sheen (`motifsearch.draw.stamps.tint`), and a ramp of paper.  A palette of such ramps makes
files a quarter as large, keeps every hue apart from the others, and holds each thread's own colour
to the last bit, where a palette fitted to the picture lets rare colours fade into common ones.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from motifsearch.base.tomlfile import write_atomic
from motifsearch.draw.stamps import DULL, FLAT, tint

Image = npt.NDArray[np.uint8]

#: Paper, in and out of the shadow, and what captions and rails are drawn with.
GROUNDS: Final = ((240, 235, 225), (198, 184, 158))
INKS: Final = ((59, 53, 44), (104, 95, 80), (150, 140, 125), (200, 192, 180))
PAPER_SHADES: Final = 12
#: Pixels whose colours are looked up at once.
AT_ONCE_PX: Final = 1_000_000
#: A thread needs this many shades to look round; with more threads every shade is kept in steps.
LEAST_SHADES: Final = 5


def png_bytes(image: Image, *, keep: Iterable[str] | None = None) -> bytes:
    """Return an image as PNG, without metadata: same image, same bytes.

    Args:
        image: uint8 ``[H, W, 3]``.
        keep: The thread colours (``#rrggbb``) of the picture: they stay as they are to the last
            bit, and fine steps of the shading are given up for a smaller file.  None for every
            shade.
    """
    from PIL import Image as Pillow

    out = io.BytesIO()
    if keep is None:
        picture = Pillow.fromarray(np.ascontiguousarray(image))
    else:
        picture = _coarser(image, sorted({int(ink.lstrip("#"), 16) for ink in keep}))
    # More effort than zlib's usual one makes files 2 % smaller in three times the time.
    picture.save(out, format="PNG")
    return out.getvalue()


def ramp(ink: int, shades: int) -> npt.NDArray[np.uint8]:
    """Return the shades of a thread from dark to bright, uint8 ``[shades, 3]``.

    Args:
        ink: The colour, 0xrrggbb.
        shades: How many, at least 2; the thread's own colour is not among them.
    """
    base = np.array([[ink >> 16 & 255, ink >> 8 & 255, ink & 255]], np.float32) / np.float32(255)
    dark = np.linspace(0.14, 0.93, shades - 1, dtype=np.float32) * np.float32(FLAT[0])
    light = np.append(dark, np.float32(FLAT[1] + 0.08))
    sheen = np.append(np.zeros(shades - 1, np.float32), np.float32(DULL + 0.02))
    rgb = tint(np.repeat(base, shades, axis=0), light, sheen)
    return (rgb * np.float32(255.0) + np.float32(0.5)).astype(np.uint8)


def palette_of(keep: list[int]) -> npt.NDArray[np.uint8] | None:
    """Return at most 256 colours, uint8 ``[n, 3]``, `keep` first; None when threads are too many.

    Examples:
        >>> palette_of([0x204060, 0xE0D0A0]).shape
        (256, 3)
    """
    paper = [
        np.array(ground, np.float32)
        * np.linspace(0.6, 1.0, PAPER_SHADES, dtype=np.float32)[:, None]
        for ground in GROUNDS
    ]
    rest = np.concatenate([*paper, np.array(INKS, np.float32)]).round().astype(np.uint8)
    own = np.array([[c >> 16 & 255, c >> 8 & 255, c & 255] for c in keep], np.uint8).reshape(-1, 3)
    free = 256 - len(rest) - len(own)
    shades = free // max(1, len(keep))
    if keep and shades < LEAST_SHADES:
        return None
    ramps = [ramp(c, shades) for c in keep]
    return np.concatenate([own, rest, *ramps])[:256]


def _coarser(image: Image, keep: list[int]) -> Any:
    """Return a picture with a palette of the threads' shades, or with all shades in steps."""
    from PIL import Image as Pillow

    known = palette_of(keep)
    tall, wide = image.shape[:2]
    made = np.empty((tall, wide) if known is not None else image.shape, np.uint8)
    step = max(1, AT_ONCE_PX // max(1, wide))
    for first in range(0, tall, step):
        part = image[first : first + step]
        done = _in_steps(part, keep) if known is None else _indexed(part, keep, known)
        made[first : first + step] = done
    if known is None:
        return Pillow.fromarray(made)
    out = Pillow.frombytes("P", (wide, tall), made.tobytes())
    out.putpalette(known.ravel().tolist())
    return out


def _packed(image: Image) -> npt.NDArray[np.uint32]:
    return image.astype(np.uint32) @ np.array([65536, 256, 1], np.uint32)


def _in_steps(image: Image, keep: list[int]) -> Image:
    """Return a picture with fewer shades, the threads' own colours as they are."""
    exact = np.isin(_packed(image), np.array(keep, np.uint32))[..., None]
    return np.where(exact, image, (image & 0xF8) | 0x04).astype(np.uint8)


def _indexed(image: Image, keep: list[int], known: npt.NDArray[np.uint8]) -> Image:
    """Return where every pixel stands in a palette, uint8 ``[H, W]``."""
    from PIL import Image as Pillow

    palette = Pillow.new("P", (1, 1))
    palette.putpalette(known.ravel().tolist())
    picture = Pillow.fromarray(np.ascontiguousarray(image))
    index = np.array(picture.quantize(palette=palette, dither=Pillow.Dither.NONE))
    packed = _packed(image)
    for n, colour in enumerate(keep):  # Pillow's search for the nearest is a little coarse
        index[packed == colour] = n
    return index.astype(np.uint8)


def save_png(image: Image, path: str | Path, *, keep: Iterable[str] | None = None) -> None:
    """Write an image (uint8 ``[H, W, 3]``) as a PNG file, whole or not at all.

    Args:
        image: uint8 ``[H, W, 3]``.
        path: The file.
        keep: As in `png_bytes`.

    Raises:
        MotifError: The file cannot be written.
    """
    write_atomic(Path(path), png_bytes(image, keep=keep))
