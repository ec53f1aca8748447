"""Pictures of the four knots: two half hitches each, drawn loose, as the hands make them.

A picture shows one half hitch around a core strand that hangs straight: the tying strand lies
*over* the core, turns back under it, comes up *through* the gap between itself and the core, and is
*pulled*.  The first picture of a knot is its first hitch; in the second one the first hitch is snug
and the second one is made, towards the side that the knot's second letter says.  So the pictures
follow from the two letters (`motifsearch.pattern.knots`), and those of a left-handed sheet are the
same drawings of the mirrored knots.

Drawn once as cubic curves (`picture`), shown as SVG or on a reportlab canvas.  Units: a picture is
`WIDTH` by `HEIGHT`, x to the right, y down.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from motifsearch.draw.board import darker, rgb
from motifsearch.pattern.names import KNOTS

WIDTH: Final = 100.0
HEIGHT: Final = 126.0
THICK: Final = 11.0
#: What the hands do at each of the two pictures.
MOVES: Final = (("over", "through", "pull"), ("and again",))

Point = tuple[float, float]
#: A start and then triples of points, each a cubic curve (Bezier).
Path = tuple[Point, ...]


@dataclass(frozen=True)
class Piece:
    """A piece of strand; later ones lie over earlier ones.

    Attributes:
        strand: "tie" or "core".
        path: Where it runs.
        tip: Whether its end is being pulled: it ends in a point.
    """

    strand: str
    path: Path
    tip: bool = False


# A hitch towards the right around a core at x = 50: what lies behind the core, and what before it.
_BEHIND: Final[Path] = (
    (74, 62), (91, 62), (91, 37), (73, 37), (62, 37), (50, 39), (38, 43),
)  # fmt: skip
_CROSSING: Final[Path] = ((13, 40), (12, 56), (26, 62), (74, 62))
_THROUGH: Final[Path] = ((38, 43), (30, 46), (27, 52), (27, 60))
_DOWN: Final[Path] = ((27, 60), (27, 76), (27, 86), (26, 102))
_ACROSS: Final[Path] = ((27, 60), (27, 80), (60, 82), (72, 101))


def _flip(path: Path) -> Path:
    return tuple((WIDTH - x, y) for x, y in path)


def _lower(path: Path, by: float) -> Path:
    return tuple((x, y + by) for x, y in path)


def picture(code: int, step: int) -> tuple[Piece, ...]:
    """Return the pieces of one picture, the undermost first.

    Args:
        code: The knot, 0 to 3 (``rr ll rl lr``).
        step: 0 for the first hitch, 1 for the second.

    Examples:
        >>> [piece.strand for piece in picture(0, 0)]
        ['tie', 'core', 'tie', 'tie']
        >>> picture(1, 0)[1].path == _flip(picture(0, 0)[1].path)
        True
    """
    first, second = KNOTS[code]
    if first == "l":
        mirrored = {1: 0, 3: 2}[code]
        return tuple(Piece(p.strand, _flip(p.path), p.tip) for p in picture(mirrored, step))
    returns = second == "l"
    if step == 0:
        core: Path = ((76, 0), (68, 14), (50, 18), (50, 40), (50, 64), (50, 96), (50, 126))
        start: Path = ((14, 0), (15, 12), (14, 26), (13, 40))
        return (
            Piece("tie", _BEHIND),
            Piece("core", core),
            Piece("tie", start + _CROSSING[1:]),
            Piece("tie", _THROUGH + (_ACROSS if returns else _DOWN)[1:], tip=True),
        )
    # The first hitch is snug now: one wrap at the top; the strand comes out of it where it was
    # pulled to and makes the second hitch below.
    low = 10.0
    core = ((76, 0), (68, 10), (50, 12), (50, 30), (50, 64), (50, 80), (50, 88))
    tail: Path = ((50, 88), (50, 102), (42, 114), (30, 126))
    if returns:
        hitch = (_flip(_BEHIND), _flip(_CROSSING), _flip(_THROUGH), _flip(_ACROSS))
        behind, crossing, through, out = (_lower(path, low) for path in hitch)
        start = ((16, 0), (20, 16), (34, 17), (62, 27), (80, 33), (87, 38), (87, 50))
        return (
            Piece("tie", behind),
            Piece("core", core + _flip(tail)[1:]),
            Piece("tie", start + crossing[1:]),
            Piece("tie", through + out[1:], tip=True),
        )
    hitch = (_BEHIND, _CROSSING, _THROUGH, _ACROSS)
    behind, crossing, through, out = (_lower(path, low) for path in hitch)
    turn: Path = ((64, 24), (76, 28), (72, 37), (60, 34), (48, 31), (40, 29), (32, 29))
    leave: Path = ((32, 29), (20, 29), (13, 36), (13, 50))
    return (
        Piece("tie", behind),
        Piece("tie", turn),
        Piece("core", core + tail[1:]),
        Piece("tie", ((16, 0), (20, 14), (36, 15), (64, 24))),
        Piece("tie", leave + crossing[1:]),
        Piece("tie", through + out[1:], tip=True),
    )


def _tip(path: Path) -> tuple[Point, Point, Point]:
    """Return the corners of the point that a pulled end runs out in."""
    (ax, ay), (bx, by) = path[-2], path[-1]
    long = ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5
    ux, uy = (bx - ax) / long, (by - ay) / long
    wide = THICK * 0.95
    return (
        (bx - uy * wide, by + ux * wide),
        (bx + ux * 11, by + uy * 11),
        (bx + uy * wide, by - ux * wide),
    )


def _path_data(path: Path) -> str:
    def at(point: Point) -> str:
        return f"{point[0]:g} {point[1]:g}"

    curves = " ".join(
        f"C{at(path[k])} {at(path[k + 1])} {at(path[k + 2])}" for k in range(1, len(path), 3)
    )
    return f"M{at(path[0])}{curves}"


def knot_svg(code: int, step: int) -> str:
    """Return one picture as the content of an SVG ``<symbol>`` of `WIDTH` by `HEIGHT`.

    Strands are coloured by the CSS classes ``tie``, ``core``, ``tie-edge`` and ``core-edge``.
    """
    out = []
    for piece in picture(code, step):
        d = _path_data(piece.path)
        if piece.tip:
            corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in _tip(piece.path))
            out.append(f'<polygon class="k-tip {piece.strand}" points="{corners}"/>')
        out.append(f'<path class="k-edge {piece.strand}" d="{d}"/>')
        out.append(f'<path class="k-fill {piece.strand}" d="{d}"/>')
    return "".join(out)


def draw_knot(
    canvas: Any, code: int, step: int, tie: str, core: str, scale: float
) -> None:  # pragma: no cover - drawn, and looked at
    """Draw one picture on a reportlab canvas, its lower left corner at the origin.

    Args:
        canvas: The canvas.
        code: The knot.
        step: 0 or 1.
        tie: ``#rrggbb`` of the tying strand.
        core: ``#rrggbb`` of the core strand.
        scale: Points per unit.
    """
    canvas.saveState()
    canvas.scale(scale, scale)
    canvas.setLineJoin(1)

    def curve(path: Path) -> Any:
        line = canvas.beginPath()
        line.moveTo(path[0][0], HEIGHT - path[0][1])
        for k in range(1, len(path), 3):
            line.curveTo(*(v for x, y in path[k : k + 3] for v in (x, HEIGHT - y)))
        return line

    for piece in picture(code, step):
        fill = rgb(tie if piece.strand == "tie" else core)
        if piece.tip:
            canvas.setFillColorRGB(*fill)
            canvas.setStrokeColorRGB(*darker(fill))
            canvas.setLineWidth(1.6)
            corners = [(x, HEIGHT - y) for x, y in _tip(piece.path)]
            line = canvas.beginPath()
            line.moveTo(*corners[0])
            line.lineTo(*corners[1])
            line.lineTo(*corners[2])
            line.close()
            canvas.drawPath(line, stroke=1, fill=1)
        inner = int(piece.strand == "tie")
        for width, paint, cap in ((THICK + 3.2, darker(fill), 0), (THICK, fill, inner)):
            canvas.setStrokeColorRGB(*paint)
            canvas.setLineWidth(width)
            canvas.setLineCap(cap)
            canvas.drawPath(curve(piece.path), stroke=1, fill=0)
    canvas.restoreState()
