"""Every key of a brief, said once: default, bounds, option, words.

A record is one key.  The reader of briefs, the options of the commands and their help texts, the
diagnosis of a brief that no design keeps, and the pages are all made from these; nothing here needs
NumPy, so that a help text comes at once.  How far a batch of designs exceeds a limit, and how well
it meets a wish, is computed in `motifsearch.search.wishes`, under the same keys.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from motifsearch.base.units import IN_CM, LONGEST_MM, SHORTEST_MM
from motifsearch.pattern.names import KNOTS, MAX_STRANDS, MIN_STRANDS

Kind = Literal["whole", "number", "flag", "text", "file", "knots"]


@dataclass(frozen=True, kw_only=True)
class Record:
    """One key of a brief.

    Attributes:
        key: With its table, such as ``limits.evenness_min``.
        kind: What stands there.
        words: What it is, as an option's help begins.
        default: What holds when nothing stands there; None where it is computed or must be given.
        low: The least; of a number.
        high: The most; of a number.
        above: Whether `low` itself is refused.
        option: The option; for a flag both, with a stroke between; empty for none.
        label: What a page calls it; empty where pages do not ask for it.
        small: What is asked back where a number is above 0 and below `low`.
        choices: What a text may be; any when empty.
        exceeded: For a limit, what is said of designs that break it.
        several: Whether a list may stand there instead of one number.
    """

    key: str
    kind: Kind
    words: str
    default: Any = None
    low: float = 0.0
    high: float = 1e9
    above: bool = False
    option: str = ""
    label: str = ""
    small: str = ""
    choices: tuple[str, ...] = ()
    exceeded: str = ""
    several: bool = False

    @property
    def name(self) -> str:
        """The key without its table."""
        return self.key.rpartition(".")[2]

    @property
    def help(self) -> str:
        """The help text of the option: words, bounds where they say something, and default.

        Examples:
            >>> record("limits.evenness_min").help
            'Least evenness of thread use, 0 to 1 (0).'
        """
        bounds = ""
        if self.kind in ("whole", "number") and self.high <= 1000:
            bounds = f", {'above ' if self.above else ''}{self.low:g} to {self.high:g}"
        shown = self.default
        if isinstance(shown, bool) or shown is None or shown == "":
            return f"{self.words}{bounds}."
        if isinstance(shown, tuple):
            shown = " ".join(shown)
        return f"{self.words}{bounds} ({shown:g})." if isinstance(shown, int | float) else (
            f"{self.words}{bounds} ({shown})."
        )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Wish:
    """One wish: a weight of the brief's table ``[wishes]``.

    Attributes:
        name: Its key there.
        weight: How much it counts when a brief says nothing.
        label: What a page calls it.
        meaning: What is measured, and when it is met in full.
    """

    name: str
    weight: float
    label: str
    meaning: str


#: Room for a braid and a knot at both ends, which lie around the wrist too (common practice).
DEFAULT_FASTENING_MM: Final = 30.0
DEFAULT_EASE_MM: Final = 10.0
#: Weight of likeness when a brief names a target and says nothing else.
TARGET_WEIGHT: Final = 20.0
MAX_WEIGHT: Final = 100.0

TOP: Final = (
    Record(key="title", kind="text", words="Title of the gallery", default="Untitled",
           option="--title"),
    Record(key="strands", kind="whole", words="Number of strands, or several such as 10,12,14",
           low=MIN_STRANDS, high=MAX_STRANDS, option="--strands", label="strands", several=True),
    Record(key="length_mm", kind="number", words="Knotted length, instead of the wrist",
           low=SHORTEST_MM, high=LONGEST_MM, option="--length-mm", label="knotted length",
           small=IN_CM),
    Record(key="wrist_mm", kind="number", words="Wrist; knotted length = wrist + ease - fastening",
           low=50, high=600, option="--wrist-mm", label="wrist", small=IN_CM),
    Record(key="ease_mm", kind="number", words="Added to the wrist", default=DEFAULT_EASE_MM,
           high=500, option="--ease-mm", label="ease"),
    Record(key="fastening_mm", kind="number", words="Left to the fastening",
           default=DEFAULT_FASTENING_MM, high=1000, option="--fastening-mm",
           label="left to the fastening"),
    Record(key="folded", kind="flag", default=True, option="--folded/--unfolded",
           words="Fold every thread in two (the default), or use it single",
           label="fold every thread in two"),
    Record(key="first_notch", kind="whole", words="Number of the notch of strand 1", default=1,
           low=1, high=99, option="--first-notch", label="first notch"),
    Record(key="stash", kind="file", words="The threads on hand (a stash file)",
           option="--stash"),
    Record(key="text", kind="text", words="A name or words, knotted in letters along the band",
           option="--text"),
    Record(key="reads", kind="text", default="wearer", choices=("wearer", "onlooker"),
           words="For whom the text reads, the start of the band at the wearer's left",
           option="--reads"),
    Record(key="repeated", kind="flag", default=False, option="--repeated/--once",
           words="The text as often as there is room, or once in the middle (the default)"),
    Record(key="ink", kind="text", words="The thread of the letters", option="--ink"),
    Record(key="ground", kind="text", words="The thread behind the letters", option="--ground"),
    Record(key="colours_min", kind="whole", words="Fewest colours in a design (2 where there are)",
           low=1, high=24, option="--colours-min", label="fewest colours",
           exceeded="fewer colours"),
    Record(key="colours_max", kind="whole", words="Most colours in a design (4 where there are)",
           low=1, high=24, option="--colours-max", label="most colours",
           exceeded="more colours"),
    Record(key="pairing", kind="text", words="What folding and pairing aim at", default="total",
           choices=("total", "few_lengths", "fit"), label="what folding aims at"),
    Record(key="cut.style", kind="text", default="auto", choices=("auto", "simple", "exact"),
           words="One length for all threads, or each to its need", label="how threads are cut"),
    Record(key="start_allowance_mm", kind="number", words="Per strand, above the first row",
           default=60.0, high=2000, label="for loop and braid at the start"),
    Record(key="finish_allowance_mm", kind="number", words="Per strand, below the last row",
           default=120.0, high=2000, label="for braid and knot at the end"),
    Record(key="risk", kind="number", words="Chance that any strand runs out", default=0.05,
           low=1e-6, high=0.5, label="chance that any strand runs out"),
)  # fmt: skip

LIMITS: Final = (
    Record(key="limits.repeat_rows_max", kind="whole", words="Longest repeat in rows", default=48,
           low=2, high=400, option="--repeat-rows-max", label="longest repeat, in rows",
           exceeded="longer repeats"),
    Record(key="limits.evenness_min", kind="number", words="Least evenness of thread use",
           default=0.0, high=1, option="--evenness-min",
           label="no strand runs out long before the others", exceeded="less even thread use"),
    Record(key="limits.contrast_min", kind="number", default=0.0, high=200,
           words="Least CIEDE2000 difference of touching colours", option="--contrast-min",
           label="touching colours can be told apart", exceeded="less contrast"),
    Record(key="limits.flatness_min", kind="number", words="Least flatness", default=0.0, high=1,
           option="--flatness-min", label="lies flat", exceeded="bands that curl"),
    Record(key="limits.lone_max", kind="number", words="Largest share of lone knots", default=1.0,
           high=1, option="--lone-max", label="few lone knots", exceeded="more lone knots"),
    Record(key="limits.steps_max", kind="whole", words="Most steps in a round; 0 for any number",
           default=0, high=400, option="--steps-max", label="most steps in a round",
           exceeded="more steps in a round"),
    Record(key="limits.knots", kind="knots", words="The knots that may be used", default=KNOTS,
           option="--knot", label="knots that may be used", exceeded="other knots"),
    Record(key="limits.symmetric", kind="flag", default=False,
           option="--symmetric/--any-symmetry", words="Only faces with an exact symmetry",
           label="symmetric", exceeded="faces without an exact symmetry"),
    Record(key="limits.border", kind="flag", default=False, option="--border/--no-border",
           words="Keep the outermost strands outside as a border", label="a border",
           exceeded="bands without a border"),
    Record(key="limits.on_hand", kind="flag", default=True, option="--on-hand/--any-amount",
           words="Only what the pieces on hand are enough for",
           label="only from the threads on hand", exceeded="more thread than is on hand"),
)  # fmt: skip

SEARCH: Final = (
    Record(key="search.seed", kind="whole", words="Seed of the search", default=1, high=2**32 - 1,
           option="--seed"),
    Record(key="search.generations", kind="whole", default=200, low=1, high=10**7,
           words="At most this many generations, in all", option="--generations"),
    Record(key="search.seconds", kind="number", high=10**6, above=True, option="--seconds",
           words="Search at most this long; drawing comes on top"),
    Record(key="search.population", kind="whole", words="Designs per island", default=400, low=20,
           high=20000, option="--population"),
    Record(key="search.exchange_every", kind="whole", default=10, low=1, high=1000,
           words="Generations between exchanges"),
    Record(key="search.rest_after", kind="whole", default=8, high=10**6,
           words="Stop when nothing got better for so many exchanges"),
    Record(key="search.warm", kind="flag", default=False, option="--warm/--cold",
           words="Start from the kinds of the library that comes with the program"),
)  # fmt: skip

GALLERY: Final = (
    Record(key="gallery.size", kind="whole", words="Designs in the gallery", default=24, low=1,
           high=500, option="--size", label="designs in the gallery"),
)  # fmt: skip

WISHES: Final = (
    Wish(name="movement", weight=1.5, label="movement along the band",
         meaning="colours change along the band; full at 0.5: a chevron has more"),
    Wish(name="calm", weight=1.5, label="few lone knots", meaning="none at 20 % lone knots"),
    Wish(name="coherence", weight=1.0, label="areas of one colour",
         meaning="touching knots of one colour; full at 70 % of the pairs"),
    Wish(name="balance", weight=1.0, label="colour balance", meaning="colours share the face"),
    Wish(name="symmetry", weight=1.5, label="symmetry", meaning="full only where it is exact"),
    Wish(name="evenness", weight=1.0, label="thread evenness",
         meaning="the least used strand against the most used; none at half"),
    Wish(name="contrast", weight=0.5, label="colours easy to tell apart",
         meaning="the smallest CIEDE2000 difference that touches; full at 30"),
    Wish(name="flatness", weight=0.5, label="lies flat",
         meaning="as many forward as backward knots"),
    Wish(name="short_repeat", weight=0.5, label="short repeat",
         meaning="full at 8 rows and fewer"),
    Wish(name="easy", weight=0.5, label="easy to knot",
         meaning="few kinds of knots, few steps in a round, few changes of hand"),
    Wish(name="likeness", weight=0.0, label="like the wanted motif",
         meaning="cells that are as painted, squared"),
)  # fmt: skip

#: The wish that picks bring (`motifsearch.search.taste`); a brief without picks has none.
TASTE: Final = Wish(name="taste", weight=20.0, label="to your taste",
                    meaning="learnt from the designs that you picked")  # fmt: skip

RECORDS: Final[Mapping[str, Record]] = {r.key: r for r in (*TOP, *LIMITS, *SEARCH, *GALLERY)}


def record(key: str) -> Record:
    """Return the record of a key.

    Raises:
        KeyError: There is none; a mistake in the program.
    """
    return RECORDS[key]


def option_of(key: str) -> str:
    """Return the option of a key, as messages name it.

    Examples:
        >>> option_of("limits.evenness_min"), option_of("wishes.calm"), option_of("colours")
        ('--evenness-min', '--wish', '--colour')
    """
    if key.startswith("wishes."):
        return "--wish"
    if key == "colours":
        return "--colour"
    known = RECORDS.get(key)
    if known is None or not known.option:
        return "--" + key.rpartition(".")[2].replace("_", "-")
    return known.option.split("/")[0]


def wish_label(name: str) -> str:
    """Return a wish in plain words.

    Examples:
        >>> wish_label("calm"), wish_label("of_mine")
        ('few lone knots', 'of mine')
    """
    return next((w.label for w in (*WISHES, TASTE) if w.name == name), name.replace("_", " "))
