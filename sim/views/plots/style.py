"""What all plots share: palette, line styles that survive grey printing, and files that are the same each time."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill
from typing import Any, Final

from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

WIDTH_INCH: Final = 7.5
DPI: Final = 130  # pixels an inch of the PNG
TITLE_CHARACTERS: Final = 98  # a line of a title at 10 points across the width
KEY_CHARACTERS: Final = 96  # of labels side by side in a key
NAME_CHARACTERS: Final = 18  # of a strategy's name beside an axis
BAND: Final = "#d9d9d9"
MUTED: Final = "#595959"


@dataclass(frozen=True, slots=True)
class Look:
    """How one strategy is drawn in every plot; differs in colour, line and marker."""

    colour: str
    line: Any
    marker: str


# Colours of Okabe & Ito, Color Universal Design (2008), which stay apart for colour-blind readers; yellow is left out.
LOOKS: Final = (
    Look("#0072B2", "-", "o"),
    Look("#D55E00", (0, (5, 2)), "s"),
    Look("#009E73", (0, (5, 2, 1, 2)), "^"),
    Look("#CC79A7", (0, (1, 1.5)), "D"),
    Look("#000000", (0, (8, 2)), "v"),
    Look("#56B4E9", (0, (3, 1, 1, 1, 1, 1)), "P"),
)


def look(number: int) -> Look:
    """Return how the strategy with this number is drawn; after six, colours return with other lines and marks."""
    colour, shape = LOOKS[number % len(LOOKS)], LOOKS[(number + number // len(LOOKS)) % len(LOOKS)]
    return Look(colour.colour, shape.line, shape.marker)


def figure(height_inch: float) -> Figure:
    """Return an empty figure of the common width that makes room for its labels."""
    return Figure(figsize=(WIDTH_INCH, height_inch), layout="constrained")


def put_title(drawn: Figure, sentences: Sequence[str]) -> None:
    """Write what was found above a figure, wrapped to its width, a line for each sentence."""
    text = "\n".join(fill(sentence, TITLE_CHARACTERS, subsequent_indent="    ") for sentence in sentences)
    drawn.suptitle(text, fontsize=10, x=0.01, ha="left")


def brief(name: str) -> str:
    """Return a name cut to what fits beside an axis; the title has it in full."""
    return name if len(name) <= NAME_CHARACTERS else name[: NAME_CHARACTERS - 1] + "…"


def put_key(drawn: Figure, handles: Sequence[Artist]) -> None:
    """Write the key below a figure, where it hides nothing."""
    longest = max(len(str(handle.get_label())) for handle in handles)
    columns = max(1, min(3, KEY_CHARACTERS // longest))
    drawn.legend(
        handles=handles, loc="outside lower left", ncols=columns, fontsize=7.5, handlelength=3.5, frameon=False
    )


def tidy(axes: Axes) -> None:
    """Take away what carries no information and put a light grid behind the rest."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(True, color="#e6e6e6", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=8)


def _settle(drawn: Figure) -> None:
    """Lay a figure out and round its axes' places: the layout's solver differs in the last bit from run to run."""
    drawn.set_dpi(DPI)
    for _ in range(2):  # the second time with the ticks that the first one led to
        drawn.draw_without_rendering()
    drawn.set_layout_engine("none")
    for axes in drawn.axes:
        axes.set_position(tuple(round(edge, 4) for edge in axes.get_position().bounds))


def save(drawn: Figure, out: Path, stem: str) -> list[Path]:
    """Write ``stem.svg`` and ``stem.png`` into a folder, which is made if missing; equal figures give equal bytes."""
    out.mkdir(parents=True, exist_ok=True)
    _settle(drawn)
    svg, png = out / f"{stem}.svg", out / f"{stem}.png"
    with rc_context({"svg.hashsalt": "pegloop", "svg.fonttype": "path"}):
        drawn.savefig(svg, metadata={"Date": None, "Creator": None})
    drawn.savefig(png, dpi=DPI, metadata={"Software": None})
    return [svg, png]
