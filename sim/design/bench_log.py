"""The log of the bench: one row a reading, to be filled in with any spreadsheet or editor.

Columns are ``COLUMNS``; what they hold is in DEVELOPERS.md. A row may be repeated for each repetition of a reading.
"""

import csv
import io
from collections.abc import Mapping
from typing import Final

from sim.design.bench import Asked, Band, Bench
from sim.series.files import safe_text

COLUMNS: Final = ("measurement", "string", "setting", "unit", "predicted_low", "predicted_high", "reading", "note")
DIGITS: Final = 4  # significant ones of a predicted band

Readings = Mapping[tuple[str, str], float]
"""By measurement and string: what was read."""


def to_log(bench: Bench, readings: Readings, note: str) -> str:
    """Return the log as CSV; a reading that is not there leaves its cell and its note empty."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(_row(asked, band, readings, note) for asked in bench.asked for band in asked.bands)
    return text.getvalue()


def _row(asked: Asked, band: Band, readings: Readings, note: str) -> tuple[str, ...]:
    measurement, reading = asked.measurement, readings.get((asked.measurement.name, band.string))
    setting = f"{measurement.setting}={asked.setting:g}" if measurement.setting else ""
    read = ("", "") if reading is None else (_digits(reading), note)
    predicted = _digits(band.low), _digits(band.high)
    return (measurement.name, safe_text(band.string), setting, measurement.unit, *predicted, *read)


def _digits(value: float) -> str:
    return f"{value:.{DIGITS}g}"
