"""Charts of our own data: how a search went, what two wishes cost each other, a map of a gallery.

Drawn by matplotlib without its global state: a `Figure` of its own for every chart, no pyplot.  The
same data give the same bytes: files hold no date, and ids inside an SVG come from a fixed salt.
Designs are drawn as small stripes of their own threads, so that a mark is recognised by its
colours; everything that is told by colour is told by place or by number as well.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from motifsearch.base.arrays import F64
from motifsearch.base.text import clean_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FORMS: Final = ("png", "svg")
PAPER: Final = "#f7f3ea"
INK: Final = "#3b352c"
FAINT: Final = "#c9c0ae"
LINE: Final = "#1f6f73"
#: Inches, at 110 dots each.
SIZE: Final = (8.0, 5.0)
DPI: Final = 110
#: The records of a search that are drawn: key, words.
TRACKS: Final = (
    ("best", "best: wishes met"),
    ("cells", "kinds found"),
    ("hypervolume", "room that is covered"),
)


def progress_chart(progress: Sequence[Mapping[str, float]], form: str = "png") -> bytes:
    """Return how a search went: best, kinds found and hypervolume over its generations.

    Args:
        progress: Records with generation, best, cells and hypervolume, in order; may be empty.
        form: "png" or "svg".

    Raises:
        ValueError: Another form.
    """
    figure = _figure((SIZE[0], 6.0))
    axes = figure.subplots(len(TRACKS), 1, sharex=True)
    x = [record["generation"] for record in progress]
    for ax, (key, words) in zip(axes, TRACKS, strict=True):
        _quiet(ax)
        y = [record[key] for record in progress]
        ax.plot(x, y, color=LINE, linewidth=1.8, marker="o", markersize=2.5)
        ax.set_title(words, loc="left", fontsize=10, color=INK)
        if y:
            ax.annotate(
                f"{y[-1]:,.0f}" if key == "cells" else f"{y[-1]:.0%}",
                (x[-1], y[-1]), textcoords="offset points", xytext=(6, 0), va="center",
                fontsize=9, color=INK,
            )  # fmt: skip
        if key != "cells":
            ax.yaxis.set_major_formatter(lambda value, _: f"{value:.0%}")
        ax.margins(x=0.02, y=0.15)
    axes[-1].set_xlabel("generations", color=INK)
    return _bytes(figure, form)


def trade_off_chart(
    x: Sequence[float],
    y: Sequence[float],
    inks: Sequence[Sequence[str]],
    x_words: str,
    y_words: str,
    numbers: Sequence[int],
    form: str = "png",
) -> bytes:
    """Return how well designs meet one wish against how well they meet another.

    The designs that no other one beats in both are joined.

    Args:
        x: How well each meets the first wish, 0..1.
        y: How well each meets the second.
        inks: The thread colours of each, ``#rrggbb``.
        x_words: The first wish in words.
        y_words: The second.
        numbers: The number of each design.
        form: "png" or "svg".

    Raises:
        ValueError: Another form.
    """
    figure = _figure(SIZE)
    ax = figure.subplots()
    _quiet(ax)
    front = undominated(np.array([x, y], np.float64)) if len(x) else []
    front.sort(key=lambda n: x[n])
    if front:
        ax.plot(
            [x[n] for n in front], [y[n] for n in front], color=LINE, linewidth=1.2, zorder=1,
            drawstyle="steps-pre", label="no design is better in both",
        )  # fmt: skip
        ax.legend(loc="lower left", frameon=False, fontsize=9)
    _marks(ax, np.column_stack([x, y]) if len(x) else np.zeros((0, 2)), inks, numbers)
    for axis in (ax.xaxis, ax.yaxis):
        axis.set_major_formatter(lambda value, _: f"{value:.0%}")
    ax.set_xlabel(clean_text(x_words), color=INK)
    ax.set_ylabel(clean_text(y_words), color=INK)
    ax.margins(0.12)
    return _bytes(figure, form)


def likeness_map(
    distances: F64, inks: Sequence[Sequence[str]], numbers: Sequence[int], form: str = "png"
) -> bytes:
    """Return a map of a gallery: designs that look alike lie close together.

    Args:
        distances: float64 ``[n, n]``, 0 on the diagonal, symmetric.
        inks: The thread colours of each design, ``#rrggbb``.
        numbers: The number of each.
        form: "png" or "svg".

    Raises:
        ValueError: Another form.
    """
    figure = _figure(SIZE)
    ax = figure.subplots()
    _quiet(ax)
    places = scaled(distances)
    _marks(ax, places, inks, numbers)
    ax.set_xticks([])
    ax.set_yticks([])
    ax.margins(0.15)
    ax.set_title("Designs that look alike lie close together", loc="left", fontsize=10, color=INK)
    return _bytes(figure, form)


def scaled(distances: F64) -> F64:
    """Return places in the plane whose distances are as given, as far as a plane allows.

    Classical multidimensional scaling (Torgerson, Psychometrika 17, 1952): the squared distances,
    centred twice, are scalar products, and the two largest eigenvectors are the places.

    Args:
        distances: float64 ``[n, n]``, symmetric.

    Returns:
        float64 ``[n, 2]``; the sign of each axis is set by its largest entry.

    Examples:
        >>> corners = np.array([[0, 3, 5], [3, 0, 4], [5, 4, 0]], float)
        >>> at = scaled(corners)
        >>> [round(float(np.hypot(*(at[i] - at[j]))), 6) for i, j in ((0, 1), (1, 2), (0, 2))]
        [3.0, 4.0, 5.0]
    """
    n = len(distances)
    if n < 2:
        return np.zeros((n, 2))
    centre = np.eye(n) - np.full((n, n), 1.0 / n)
    product = -0.5 * centre @ (distances**2) @ centre
    values, vectors = np.linalg.eigh(product)
    best = np.argsort(values)[::-1][:2]
    places = vectors[:, best] * np.sqrt(np.maximum(values[best], 0.0))
    if places.shape[1] < 2:
        places = np.column_stack([places, np.zeros(n)])
    signs = np.sign(places[np.abs(places).argmax(0), [0, 1]])
    out: F64 = np.round(places * np.where(signs == 0, 1.0, signs), 9)
    return out


def undominated(points: F64) -> list[int]:
    """Return the columns that no other column beats in one row without being worse in another.

    Args:
        points: float64 ``[k, n]``, more being better.

    Examples:
        >>> undominated(np.array([[1.0, 2.0, 1.0], [2.0, 1.0, 1.0]]))
        [0, 1]
    """
    better = (points[:, :, None] >= points[:, None, :]).all(0)
    strictly = (points[:, :, None] > points[:, None, :]).any(0)
    return np.flatnonzero(~(better & strictly).any(0)).tolist()


def _figure(size: tuple[float, float]) -> Figure:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, dpi=DPI, facecolor=PAPER, layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def _quiet(ax: Axes) -> None:
    ax.set_facecolor(PAPER)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        ax.spines[side].set_color(FAINT)
    ax.tick_params(colors=INK, labelsize=9)
    ax.grid(color=FAINT, linewidth=0.4)


def _marks(ax: Axes, places: F64, inks: Sequence[Sequence[str]], numbers: Sequence[int]) -> None:
    """Draw every design as a small strip of its threads, with its number."""
    from matplotlib.offsetbox import AnnotationBbox, DrawingArea, HPacker, TextArea
    from matplotlib.patches import Rectangle

    for place, own, number in zip(places, inks, numbers, strict=True):
        wide = 5.0 * max(len(own), 1)
        strip = DrawingArea(wide, 16, 0, 0)
        for k, ink in enumerate(own):
            strip.add_artist(
                Rectangle((5.0 * k, 0), 5.0, 16, facecolor=ink, edgecolor=INK, linewidth=0.3)
            )
        label = TextArea(str(number), textprops={"fontsize": 8, "color": INK})
        box = HPacker(children=[strip, label], pad=0, sep=2, align="center")
        ax.add_artist(AnnotationBbox(box, tuple(place), frameon=False, pad=0, zorder=2))
    if len(places):
        ax.plot(places[:, 0], places[:, 1], linestyle="none")


def _bytes(figure: Figure, form: str) -> bytes:
    from matplotlib import rc_context

    if form not in FORMS:
        raise ValueError(f"expected png or svg, got {form!r}")
    out = io.BytesIO()
    metadata = {"Date": None} if form == "svg" else {"Software": None}
    with rc_context({"svg.hashsalt": "motifsearch", "svg.fonttype": "path"}):
        figure.savefig(out, format=form, metadata=metadata, facecolor=PAPER)
    return out.getvalue()
