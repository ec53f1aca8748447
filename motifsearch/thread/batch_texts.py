"""A batch of kits in words: what a kit costs and how that is reckoned, and the cuts of a piece."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from motifsearch.base.text import count
from motifsearch.base.units import YARD_MM, cut_text, piece_text
from motifsearch.thread.batch import BatchCut, KitCost, Taken, hundredths
from motifsearch.thread.cutting import CutList
from motifsearch.thread.texts import table


def amount(cost: float | None, currency: str = "") -> str:
    """Return an amount of money, or a question mark.

    Examples:
        >>> amount(2.5, "EUR"), amount(None, "EUR"), amount(0.125)
        ('2.50 EUR', '?', '0.13')
    """
    return "?" if cost is None else f"{hundredths(cost):.2f} {currency}".strip()


def fine_length(mm: float, show: str) -> str:
    """Return what a kit uses, to a hundredth: metres or yards.

    Examples:
        >>> fine_length(5423.0, "metric"), fine_length(914.4, "imperial")
        ('5.42 m', '1.00 yd')
    """
    return f"{mm / YARD_MM:.2f} yd" if show == "imperial" else f"{mm / 1000.0:.2f} m"


def cost_rows(cost: KitCost, show: str) -> list[tuple[str, str, str, str, str]]:
    """Return the lines of a cost: what, thread used, share of the waste, price, cost."""
    rows = []
    for one in cost.threads:
        skein = piece_text(one.skein_m * 1000.0, show)
        price = "?" if one.price is None else f"{one.price:.2f} for {skein}"
        used, waste = fine_length(one.used_mm, show), fine_length(one.waste_mm, show)
        rows.append((one.colour, used, waste, price, amount(one.cost)))
    return rows + [(one.name, "", "", "", amount(one.cost)) for one in cost.extras]


def cost_head(cost: KitCost) -> str:
    """Return what one kit costs in a sentence, or whose price is not known."""
    if cost.cost is not None:
        return f"One kit costs {amount(cost.cost, cost.currency)}."
    names = ", ".join(cost.unknown)
    return f"What one kit costs is not known: the stash has no price_per_skein of {names}."


def cost_notes(cost: KitCost, kits: int) -> list[str]:
    """Return how a cost is reckoned, in sentences."""
    notes = [
        f"Thread: the cuts of one kit and its share of what {count(kits, 'kit')} waste (leftovers "
        "shorter than the shortest cut), at the price of a skein. Other leftovers are not charged."
    ]
    assumed = [one.colour for one in cost.threads if one.assumed and one.price is not None]
    if assumed:
        metres = next(one.skein_m for one in cost.threads if one.assumed)
        notes.append(f"A skein is taken as {metres:g} m of {', '.join(assumed)}.")
    return [*notes, "Your work is not in it."]


def cost_text(cost: KitCost, kits: int, show: str = "metric") -> str:
    """Return what one kit costs, and how it is reckoned."""
    head = ["of one kit", "thread", "waste", "price", "cost"]
    rows = [list(row) for row in cost_rows(cost, show)]
    rows.append(["together", "", "", "", amount(cost.cost, cost.currency)])
    return f"{cost_head(cost)}\n{table(head, rows)}" + "".join(
        f"{note}\n" for note in cost_notes(cost, kits)
    )


def numbers_text(numbers: Iterable[int]) -> str:
    """Return numbers with runs drawn together.

    Examples:
        >>> numbers_text([3, 1, 2, 7]), numbers_text([5])
        ('1-3, 7', '5')
    """
    runs: list[list[int]] = []
    for n in sorted(set(numbers)):
        if runs and n == runs[-1][1] + 1:
            runs[-1][1] = n
        else:
            runs.append([n, n])
    return ", ".join(f"{low}" if low == high else f"{low}-{high}" for low, high in runs)


def take_text(piece: Taken, show: str) -> str:
    """Return what is taken up: ``deep teal, 8 m``."""
    new = ", a new skein" if piece.new else ""
    return f"{piece.colour}, {piece_text(piece.piece_mm, show)}{new}"


def cuts_text(piece: Taken, show: str) -> str:
    """Return the cuts of one piece in turn, with one unit: ``180, 180, 175 cm``.

    Equal cuts that are many are counted: ``9 x 80 cm``.
    """
    parts = []
    for mm, group in groupby(cut.length_mm for cut in piece.cuts):
        times = len(list(group))
        words = cut_text(mm, show)
        parts += [words] * times if times <= 4 else [f"{times} x {words}"]
    unit = parts[-1].rpartition(" ")[2]
    return ", ".join(part.removesuffix(f" {unit}") for part in parts) + f" {unit}"


def rest_text(piece: Taken, show: str) -> str:
    """Return what becomes of what is left of a piece."""
    if piece.left_mm < 1.0:
        return "nothing is left"
    left = piece_text(piece.left_mm, show)
    if not piece.kept:
        return f"{left} left, waste"
    short = ", too short for one more" if piece.waste else ""
    return f"{left} left{short}, back into the box"


def bags_text(pieces: Sequence[Taken], bands: int) -> str:
    """Return for which kits the cuts of some pieces are, by label.

    Args:
        pieces: Pieces that are cut alike.
        bands: Bands of one kit; where there are several, a label begins with the band's number.
    """
    return joined_bags([cut for piece in pieces for cut in piece.cuts], bands)


def joined_bags(cuts: Iterable[BatchCut], bands: int) -> str:
    """Return cuts by label and kit: ``A of kits 1-3; B of kit 1``."""
    found: dict[str, list[int]] = {}
    for cut in cuts:
        name = cut.label if bands == 1 else f"{cut.band}{cut.label}"
        found.setdefault(name, []).append(cut.kit)
    by_kits: dict[str, list[str]] = {}
    for name, numbers in found.items():
        by_kits.setdefault(numbers_text(numbers), []).append(name)
    return "; ".join(f"{' '.join(names)} of {_kits(kits)}" for kits, names in by_kits.items())


def _kits(numbers: str) -> str:
    return f"kit {numbers}" if numbers.isdigit() else f"kits {numbers}"


def packed(cuts: CutList) -> list[tuple[str, float, str]]:
    """Return the threads of one band as they lie in a bag: (colour, length in mm, labels).

    Threads of one colour and length lie together.
    """
    found: dict[tuple[str, float], list[str]] = {}
    for cut in cuts.cuts:
        found.setdefault((cut.colour, cut.length_mm), []).append(cut.label)
    return [(colour, mm, " ".join(labels)) for (colour, mm), labels in found.items()]


def bought_text(bought: Mapping[str, int]) -> str:
    """Return what is bought first; empty for nothing.

    Examples:
        >>> bought_text({"sand": 2, "brick": 1}), bought_text({})
        ('Buy first: 2 skeins of sand, 1 skein of brick.', '')
    """
    each = ", ".join(f"{count(n, 'skein')} of {name}" for name, n in bought.items())
    return f"Buy first: {each}." if each else ""
