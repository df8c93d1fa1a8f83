"""The fault series as tables of letters and as sentences that a builder can act on."""

import math
from collections.abc import Mapping
from typing import Any, Final

from controllers.guards import GUARDS
from models.component import resolve
from models.strings.recoil import stored_energy_j
from scenarios.schema import Scenario
from sim.build import build
from sim.design.guard_limits import limits, why_absent
from sim.design.hardware import hardware, needless
from sim.series.fault_cells import SOUND
from sim.series.fault_findings import broken_runs
from sim.views.tables import Table

Found = Mapping[str, Any]
KEYS: Final = "123456789abcdefghijk"
KNOB_M: Final = 0.01  # from the axis to the rim of a knob (estimate)
TO_STOP: Final = ("readings_to_stop", "seconds_to_stop", "degrees_to_stop", "left_cents")
HARDWARE: Final = {
    "mechanical-stop": ("mechanics", "none", "knob"),
    "slip-clutch": ("mechanics", "none", "torque"),
    "series-resistor": ("wiring", "none", "torque"),
}
LETTERS: Final = "B = some string broke, S = none broke and some runs were stopped, . = none broke, none stopped"
FIRST: Final = 3  # guards to build first
ORDER: Final = (
    "In the order of ISO 12100: first a design that cannot (a weak motor, a clutch), then guards, then information. "
    "This is a simulation, not compared with measurements; it proves neither safety nor conformity. Local codes and a "
    "qualified review decide."
)
WATCH: Final = (
    "No sensor knows a corroded or nicked string: eye protection, face out of the plane of the string, "
    "slacken before changing, inspect and replace old strings.",
    "Batteries: shorted or stalled for long they get hot; fuse them. Neck, bridge or pegbox may be overloaded by "
    "thicker strings; a friction peg may slip all at once.",
)


def cautions(scenario: Scenario) -> list[str]:
    """Return what no guard takes away on a rig."""
    return [*WATCH, _pinches(scenario), _lets_go(scenario), "How severe each of these is, the reviewer fills in."]


def _lets_go(scenario: Scenario) -> str:
    """Return what the string with the most of it holds when it breaks."""
    built = {string: build(scenario, string).chain.string for string in scenario.strings}
    held = {string: stored_energy_j(one.breaking_n, one.stiffness_n_m) for string, one in built.items()}
    most = max(held, key=lambda string: held[string])
    return f"A breaking string lets go what stretched it: up to {held[most]:.1f} J here ({most}), in a moment."


def _pinches(scenario: Scenario) -> str:
    """Return what the stalled motor does to fingers at the coupler."""
    motor, slips_nm = scenario.motor.nominal(), scenario.coupler.nominal().slip_torque_nm or math.inf
    torque_nm = min(motor.stall_torque_nm(scenario.supply.nominal().source(0.0)), slips_nm)
    words = "Fingers and hair at the coupler, pinching while re-gripping: stall torque over radius"
    return f"{words}, {torque_nm / KNOB_M:.0f} N at {1e3 * KNOB_M:g} mm." if torque_nm < math.inf else f"{words}."


def letter(found: Found, fault: str, guards: str) -> str:
    """Return B where some run broke, S where none broke and some were stopped, a dot where neither happened."""
    cells = [cell for cell in found["cells"] if (cell["fault"], cell["guards"]) == (fault, guards)]
    if any(cell["broken"]["count"] for cell in cells):
        return "B"
    return "S" if any(cell["stopped_by"] for cell in cells) else "."


def singles(found: Found) -> list[str]:
    """Return the guards that stand alone in cells, in their order."""
    named = dict.fromkeys(cell["guards"] for cell in found["cells"])
    return [name for name in named if name not in ("none", "all", "hardware") and ":" not in name]


def matrix(found: Found) -> Table:
    """Return which faults break a string, without guards and with each."""
    alone, broken = singles(found), broken_runs(found["cells"])
    runs = _runs(found)
    named = list(dict.fromkeys(cell["guards"] for cell in found["cells"]))
    whole = [name for name in ("hardware", "all") if name in named]
    faults = list(dict.fromkeys(cell["fault"] for cell in found["cells"]))
    rows = tuple(
        (
            _worded(fault),
            str(broken[fault, "none"]),
            " ".join(letter(found, fault, guard) for guard in alone),
            *(letter(found, fault, name) for name in whole),
        )
        for fault in faults
    )
    head = " ".join(KEYS[: len(alone)])
    return Table(
        f"{runs} runs a fault: {LETTERS}", ("fault", "broke,\nno guard", f"each guard alone\n{head}", *whole), rows
    )


def nearest(found: Found) -> Table:
    """Return, for each fault on its worst string, how close it comes, and what stops it when all guards watch."""
    several = len({cell["strategy"] for cell in found["cells"]}) > 1
    guarded = {(c["fault"], c["string"], c["strategy"]): c for c in found["cells"] if c["guards"] == "all"}
    rows = tuple(
        (
            _worded(one["fault"]),
            f"{one['string']}/{one['strategy']}" if several else one["string"],
            *_caught(one, guarded[one["fault"], one["string"], one["strategy"]]),
        )
        for one in found["worst"]
    )
    columns = (
        "fault", "worst\nstring", "no\nguard", "\nall", "most often\nstopped by", "read-\nings", "\ns", "\ndeg",
    )  # fmt: skip
    title = "Tension in % of breaking; from the fault's first act to the stop by all guards, medians"
    return Table(title, columns, rows, left=2)


def _worded(fault: str) -> str:
    return "(sound)" if fault == SOUND else fault


def _caught(bare: Mapping[str, Any], guarded: Mapping[str, Any]) -> tuple[str, ...]:
    by = guarded["stopped_by"]
    first = max(by, key=by.__getitem__) if by else "-"
    ways = (_number(guarded[name]) for name in TO_STOP[:3])
    return _number(bare["percent_of_breaking"]), _number(guarded["percent_of_breaking"]), first, *ways


def _number(value: float | None) -> str:
    return "-" if value is None else f"{value:.3g}"


def guards(found: Found) -> Table:
    """Return the guards with their keys, where they live, by what they know, what they stop, and how well."""
    merits = {one["guard"]: one for one in found["alone"]}
    rows = tuple(
        (f"{KEYS[at]} {name}", *_lives(name), str(merits[name]["prevents"]), str(merits[name]["stops_sound"]))
        for at, name in enumerate(singles(found))
    )
    bare = next(iter(merits.values()))["of"] if merits else 0
    title = f"Each guard alone, of {bare} breaks and of {_runs(found)} sound runs; one place fails as a whole"
    columns = ("guard", "place", "sensor", "acts on", "breaks\nprevented", "sound\nstopped")
    return Table(title, columns, rows, left=4)


def rules(found: Found, scenario: Scenario) -> list[str]:
    """Return the rule that gave each guard its limit, for the first strategy and string."""
    first = found["cells"][0]
    known = rules_of(scenario, (first["strategy"], first["string"]))
    return [f"{name}: {known[name]}" for name in singles(found)]


def rules_of(scenario: Scenario, place: tuple[str, ...]) -> dict[str, str]:
    """Return the rule that gave each guard its limit, for one strategy and string."""
    strategy = next(each for each in scenario.strategies if each.name == place[0])
    found = {name: limit.rule for name, limit in limits(scenario, strategy, place[1]).items()}
    absent = {name: f"not on this rig: {why_absent(name)}" for name in GUARDS if name not in found}
    return absent | needless(scenario) | found | {name: rule for name, (_, rule) in hardware(scenario).items()}


def _lives(guard: str) -> tuple[str, str, str]:
    """Return the place of a guard, its sensor and what it acts on."""
    if guard in HARDWARE:
        return HARDWARE[guard]
    kind = resolve(GUARDS, guard)
    return kind.place, kind.sensor, kind.acts


def _runs(found: Found) -> int:
    return sum(cell["runs"] for cell in found["cells"] if (cell["fault"], cell["guards"]) == (SOUND, "none"))


def sentences(found: Found) -> list[str]:
    """Return what to build first, what it must not be trusted with, and how sure that is."""
    coverage, trips = found["coverage"], found["false_trips"]
    bound = 100 * coverage["bound_of_none"]
    if not coverage["breaking"]:
        return [f"No single fault broke a string on {found['specimens']} machines: at most {bound:.1f} % of them."]
    many = len(coverage["breaking"])
    return [
        f"Build first: {_first(found)}.",
        f"Of {many} faults that break a string, all guards together hold {len(coverage['held_by_all'])} "
        f"(none of {found['specimens']} machines on any string: at most {bound:.1f} %); "
        f"{len(coverage['held_with_any_one_failed'])} also with any one guard failed, "
        f"{len(coverage['held_by_hardware_alone'])} by hardware alone{_by_hardware(found)}.",
        f"These break a string whatever guards it: {_listed(found['residual'])}.",
        f"These need software to be right: {_listed(coverage['needs_software'])}.",
        f"A sound machine is stopped in {trips['count']} of {trips['of']} runs (at most {100 * trips['high']:.1f} %)"
        f"{_by(trips['by'])}; each tuning loses {trips['plucks_lost']:.2g} plucks so, of "
        f"{trips['plucks_of_a_tuning']:.2g}.",
    ]


def _by_hardware(found: Found) -> str:
    broken, breaking = broken_runs(found["cells"]), found["coverage"]["breaking"]
    if not any(cell["guards"] == "hardware" for cell in found["cells"]):
        return ""
    bare, left = (sum(broken[fault, name] for fault in breaking) for name in ("none", "hardware"))
    return f", which prevents {bare - left} of {bare} breaks"


def _first(found: Found) -> str:
    """Return the guards that add most, one after another: by faults that each holds alone, then by breaks prevented."""
    left, rest, picked = set(found["coverage"]["breaking"]), list(found["alone"]), list[str]()
    while rest and len(picked) < FIRST:
        best = max(rest, key=lambda one: (len(left & set(one["faults"])), one["prevents"], -one["stops_sound"]))
        rest.remove(best)
        gained = left & set(best["faults"])
        left -= gained
        if best["prevents"]:
            held = f"holds {_listed(sorted(gained))}; " if gained else ""
            picked.append(f"{best['guard']} ({held}prevents {best['prevents']} of {best['of']} breaks{_cost(best)})")
    return ", then ".join(picked) or "no guard prevents a break alone"


def _cost(one: Mapping[str, Any]) -> str:
    return f", stops {one['stops_sound']} sound runs" if one["stops_sound"] else ""


def _by(counts: Mapping[str, int]) -> str:
    return f", by {_listed([f'{name} {count}' for name, count in counts.items()])}" if counts else ""


def _listed(names: list[str]) -> str:
    return ", ".join(names) or "none"


def told(found: Found, fault: str, guard: str) -> Table:
    """Return one fault against one guard, string by string, beside no guard."""
    rows = tuple(
        (
            cell["string"],
            "none" if cell["guards"] == "none" else "fitted",
            f"{cell['broken']['count']} of {cell['broken']['of']} (<{100 * cell['broken']['high']:.0f} %)",
            str(sum(cell["stopped_by"].values())),
            *(_number(cell[name]) for name in ("percent_of_breaking", *TO_STOP)),
        )
        for cell in found["cells"]
        if cell["fault"] == fault and cell["guards"] in ("none", guard)
    )
    columns = ("string", "guard", "broke", "stop-\nped", "% of\nbreak", "read-\nings", "\ns", "\ndeg", "left at\ncents")
    title = f"{fault}, without a guard and with {guard}; medians from the fault's first act to the stop"
    return Table(title, columns, rows, left=2)
