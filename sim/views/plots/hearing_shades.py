"""Areas that are told apart by hatching and brightness as well as by colour; keyword arguments of bars and patches."""

from typing import Any, Final

from matplotlib.patches import Patch

Shade = dict[str, Any]

EDGE: Final[Shade] = {"edgecolor": "black", "linewidth": 0.4}
PLAIN: Final[Shade] = EDGE | {"facecolor": "#56B4E9"}
RISING: Final[Shade] = EDGE | {"facecolor": "#D55E00", "hatch": "////"}
FALLING: Final[Shade] = EDGE | {"facecolor": "#F0C8DC", "hatch": "\\\\\\\\"}
DOTTED: Final[Shade] = EDGE | {"facecolor": "#FFFFFF", "hatch": "...."}
FULL: Final[Shade] = EDGE | {"facecolor": "#000000"}


def key(shades: dict[str, Shade]) -> list[Patch]:
    """Return an entry of a key for each meaning."""
    return [Patch(label=meaning, **shade) for meaning, shade in shades.items()]
