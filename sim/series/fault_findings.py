"""What the cells of the fault series say: coverage, false trips, what to build first and what is left."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

from sim.series.fault_cells import SOUND, Guarding
from sim.series.statistics import wilson, zero_bound

Cells = Sequence[dict[str, Any]]


def findings(cells: Cells, sets: Sequence[Guarding]) -> dict[str, Any]:
    """Return coverage, false trips, the order of merit of single guards, and residual faults."""
    faults = [fault for fault in dict.fromkeys(cell["fault"] for cell in cells) if fault != SOUND]
    broken = broken_runs(cells)
    but = [each.name for each in sets if each.name.startswith("all-but:")]
    breaking = [fault for fault in faults if broken[fault, "none"]]
    held = [fault for fault in breaking if not broken[fault, "all"]]
    hardware = [fault for fault in breaking if any(each.name == "hardware" for each in sets)]
    by_hardware = [fault for fault in hardware if not broken[fault, "hardware"]]
    return {
        "coverage": {
            "breaking": breaking,
            "held_by_all": held,
            "held_with_any_one_failed": [f for f in held if not any(broken[f, name] for name in but)],
            "held_by_hardware_alone": by_hardware,
            "needs_software": [fault for fault in held if fault not in by_hardware],
            "bound_of_none": zero_bound(min(cell["runs"] for cell in cells)),
        },
        "alone": merit(cells, sets, breaking),
        "worst": worst(cells),
        "false_trips": _false_trips(cells),
        "residual": [fault for fault in breaking if broken[fault, "all"]],
    }


def broken_runs(cells: Cells) -> Counter[tuple[str, str]]:
    """Return how many runs broke, by fault and set of guards."""
    found: Counter[tuple[str, str]] = Counter()
    for cell in cells:
        found[cell["fault"], cell["guards"]] += cell["broken"]["count"]
    return found


def merit(cells: Cells, sets: Sequence[Guarding], breaking: Sequence[str]) -> list[dict[str, Any]]:
    """Return the guards by how many of the broken runs each alone prevents, the best first."""
    broken = broken_runs(cells)
    bare = sum(broken[fault, "none"] for fault in breaking)
    single = [each.name for each in sets if len(each.stoppers) + len(each.hardware) == 1 and ":" not in each.name]
    found = [
        {
            "guard": name,
            "prevents": bare - sum(broken[fault, name] for fault in breaking),
            "of": bare,
            "faults": [fault for fault in breaking if not broken[fault, name]],
            "stops_sound": sum(
                sum(c["stopped_by"].values()) for c in cells if (c["fault"], c["guards"]) == (SOUND, name)
            ),
        }
        for name in single
        if name != "hardware"
    ]
    return sorted(found, key=lambda one: (-one["prevents"], one["stops_sound"]))


def worst(cells: Cells) -> list[dict[str, Any]]:
    """Return, for each fault, the string and strategy that it breaks most often without guards, or nearly breaks."""
    found: dict[str, dict[str, Any]] = {}
    for cell in (each for each in cells if each["guards"] == "none"):
        before = found.get(cell["fault"])
        if before is None or _bad(cell) > _bad(before):
            found[cell["fault"]] = cell
    kept = ("fault", "string", "strategy", "broken", "percent_of_breaking")
    return [{name: cell[name] for name in kept} for cell in found.values()]


def _bad(cell: dict[str, Any]) -> tuple[int, float]:
    return cell["broken"]["count"], cell["percent_of_breaking"] or 0.0


def _false_trips(cells: Cells) -> dict[str, Any]:
    """Return how many runs of the sound machine all guards together stop, with an upper bound.

    A run that is stopped has to begin again: the plucks up to its stop are lost, told here per tuning.
    """
    sound = [cell for cell in cells if (cell["fault"], cell["guards"]) == (SOUND, "all")]
    count, of = sum(sum(cell["stopped_by"].values()) for cell in sound), sum(cell["runs"] for cell in sound)
    by: Counter[str] = Counter()
    for each in sound:
        by.update(each["stopped_by"])
    high = wilson(count, of).high if count else zero_bound(of)
    bare = [cell for cell in cells if (cell["fault"], cell["guards"]) == (SOUND, "none")]
    lost = sum(cell["plucks_to_stop"] for cell in sound)
    whole = sum(cell["plucks"] for cell in bare)
    return {
        "count": count, "of": of, "high": high, "by": dict(by),
        "plucks_lost": lost / of, "plucks_of_a_tuning": whole / of,
    }  # fmt: skip
