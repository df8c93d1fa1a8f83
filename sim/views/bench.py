"""The bench in words: what to do, what it should read, what it settles."""

from collections.abc import Sequence

from sim.design.bench import SPECIMENS, Asked, Bench
from sim.design.bench_log import Readings
from sim.views.numbers import number
from sim.views.tables import Table

ABREAST = 4  # measurements beside each other in 80 columns
NOTE = (
    f"Bands hold 95 of 100 machines ({SPECIMENS} were drawn). A reading outside its band means that a part is not what "
    "the rig file says, or that the model is wrong; a reading inside narrows the keys that it settles."
)


def instructions(bench: Bench) -> list[tuple[str, str]]:
    """Return a heading and a paragraph for each measurement."""
    return [
        (f"{place}. {asked.measurement.name} ({asked.measurement.unit})", _paragraph(asked))
        for place, asked in enumerate(bench.asked, 1)
    ]


def _paragraph(asked: Asked) -> str:
    measurement = asked.measurement
    do = measurement.do.format(setting=f"{asked.setting:g}")
    return f"{do} Settles: {', '.join(shortened(asked.settles))}. Caution: {measurement.caution}"


def shortened(keys: Sequence[str]) -> list[str]:
    """Return keys with the strings' names left out: ``strings.*.axial_stiffness_kn`` stands for all of them."""
    bare = [f"strings.*.{key.split('.')[2]}" if key.startswith("strings.") else key for key in keys]
    return list(dict.fromkeys(bare))


def tables(bench: Bench, readings: Readings) -> list[Table]:
    """Return the predicted bands, with a simulated reading below each where there is one."""
    of_strings = [asked for asked in bench.asked if asked.measurement.each == "string"]
    parts = [of_strings[start : start + ABREAST] for start in range(0, len(of_strings), ABREAST)]
    found = [*(_by_string(part, readings) for part in parts), _of_rig(bench, readings)]
    return [table for table in found if table.rows]


def _by_string(part: Sequence[Asked], readings: Readings) -> Table:
    rows = tuple(
        (bands[0].string, *(_cell(asked, place, readings) for asked in part))
        for place, bands in enumerate(zip(*(asked.bands for asked in part), strict=True))
    )
    columns = ("string", *(_headed(asked.measurement.name, asked.measurement.unit) for asked in part))
    return Table(_titled("Predicted, string by string", readings), columns, rows)


def _of_rig(bench: Bench, readings: Readings) -> Table:
    rows = tuple(
        (asked.measurement.name, asked.measurement.unit, _cell(asked, 0, readings))
        for asked in bench.asked
        if asked.measurement.each == "rig"
    )
    return Table(_titled("Predicted, once for the rig", readings), ("measurement", "unit", "predicted"), rows, left=2)


def _cell(asked: Asked, place: int, readings: Readings) -> str:
    band = asked.bands[place]
    reading = readings.get((asked.measurement.name, band.string))
    return f"{number(band.low)} to {number(band.high)}" + ("" if reading is None else f"\n{number(reading)}")


def _titled(title: str, readings: Readings) -> str:
    return f"{title}; below it what a simulated machine reads" if readings else title


def _headed(name: str, unit: str) -> str:
    return "\n".join([*name.split("-"), unit])
