"""Strings: what the rig file leaves open is computed from gauge, core and materials, or taken from the library."""

from collections.abc import Mapping
from typing import Any, Final

from models.strings.material import strength_at
from models.strings.winding import area_mm2, plain_unit_weight_g_per_m, wound_unit_weight_g_per_m
from models.units import target_hz
from scenarios.errors import Report, listed, nearest, shown
from scenarios.library import LibraryPart, Sourced, names_of, part, wire
from scenarios.lines import Place
from scenarios.schema import Range
from scenarios.values import as_value, joined, read_number, span

RESOLVED: Final = ("material", "wrap")
MAKE: Final = ("gauge_mm", "core_mm", "material", "wrap")
"""Keys that say what a string is made of; a change of one makes the library's weight and stiffness another string's."""
MADE: Final = ("unit_weight_g_per_m", "axial_stiffness_kn", "bending_stiffness_gpa", "strength_mpa", "knot_factor")


class Strings:
    """Completes the tables of strings, one at a time."""

    def __init__(self, report: Report, a4_hz: float) -> None:
        self._report, self._a4_hz = report, a4_hz

    def complete(self, given: Mapping[str, Any], place: Place, library: Mapping[str, Sourced]) -> Mapping[str, Sourced]:
        """Return library values for one string, with those computed that neither library nor rig file gives.

        What cannot be computed because the rig file is wrong is left out, and the fault noted.
        """
        made_anew = any(key in given for key in MAKE)
        base = {key: sourced for key, sourced in library.items() if not (made_anew and key in MADE)}
        known = {key: sourced.value for key, sourced in base.items()}
        known |= {key: as_value(raw) for key, raw in given.items() if self._usable(key, raw)}
        self._check_target(known.get("target"), place)
        materials = [self._material(known.get(key), (*place, key)) for key in RESOLVED]
        numbers = all(isinstance(known.get(key, 1.0), int | float | Range) for key in ("gauge_mm", "core_mm"))
        if materials[0] is None or "gauge_mm" not in known or not numbers:
            return {key: sourced for key, sourced in base.items() if key not in RESOLVED}
        if "wrap" not in known and (made_anew or "core_mm" not in known) and "core_mm" not in given:
            base["core_mm"] = Sourced(known["gauge_mm"], "a plain string is all core")
            known["core_mm"] = known["gauge_mm"]
        if "core_mm" not in known or self._core_too_thick(known, place):
            return {key: sourced for key, sourced in base.items() if key not in RESOLVED}
        return {key: sourced for key, sourced in (_derived(known, *materials) | base).items() if key not in RESOLVED}

    def _usable(self, key: str, raw: Any) -> bool:
        if key in RESOLVED or key == "target":
            return isinstance(raw, str)
        return not isinstance(raw, bool | list | str) and read_number(raw) is None

    def _check_target(self, target: Any, place: Place) -> None:
        if not isinstance(target, str):
            return
        try:
            hertz = target_hz(target, self._a4_hz)
        except ValueError:
            hertz = 0.0
        if not 10.0 <= hertz <= 5000.0:
            allowed = 'a note ("E2"), a note with cents ("G3-3.9") or hertz ("195.6 Hz"), 10 to 5000 Hz'
            self._report.add((*place, "target"), f"found {shown(target)}; allowed: {allowed}")

    def _material(self, name: Any, place: Place) -> LibraryPart | None:
        if name is None and place[-1] == "wrap":
            return None
        names = names_of("material")
        if name in names:
            return part("material", str(name))
        if name is not None or place[-1] == "material":
            found = "missing" if name is None else f"found {shown(name)}"
            self._report.add(place, f"{found}; allowed: {listed(names)}{nearest(str(name), names)}")
        return None

    def _core_too_thick(self, known: Mapping[str, Any], place: Place) -> bool:
        core, gauge = span(float, known["core_mm"]), span(float, known["gauge_mm"])
        core_high = core.high if isinstance(core, Range) else core
        gauge_low = gauge.low if isinstance(gauge, Range) else gauge
        wound = "wrap" in known
        if 0 < core_high < gauge_low or (not wound and core == gauge and core_high > 0):
            return False
        bound = "less than" if wound else "the same as"
        self._report.add(
            (*place, "core_mm"),
            f"found {core_high:g} mm for a gauge of {gauge_low:g} mm; allowed: above 0, {bound} the gauge",
        )
        return True


def _derived(known: Mapping[str, Any], core: LibraryPart | None, wrap: LibraryPart | None) -> dict[str, Sourced]:
    assert core is not None
    gauge, core_mm = known["gauge_mm"], known["core_mm"]
    value = {key: sourced.value for key, sourced in core.values.items()}
    if wrap is None:
        weight = span(plain_unit_weight_g_per_m, gauge, value["density_kg_m3"])
    else:
        wrap_density = wrap.values["density_kg_m3"].value
        weight = span(wound_unit_weight_g_per_m, gauge, core_mm, value["density_kg_m3"], wrap_density)
    stiffness = span(lambda modulus, diameter: modulus * area_mm2(diameter), value["youngs_modulus_gpa"], core_mm)
    made = f"gauge and density of {core.name}" + (f" and {wrap.name}" if wrap else "")
    return {
        "unit_weight_g_per_m": Sourced(weight, made),
        "axial_stiffness_kn": Sourced(
            stiffness, f"core area and modulus of {core.name}: {_source(core, 'youngs_modulus_gpa')}"
        ),
        "bending_stiffness_gpa": core.values["youngs_modulus_gpa"],
        "strength_mpa": _strength(core, core_mm),
        "knot_factor": core.values["knot_factor"],
    }


def _source(material: LibraryPart, key: str) -> str:
    return material.values[key].source


def _strength(material: LibraryPart, core_mm: Any) -> Sourced:
    if material.wire is None:
        return material.values["strength_mpa"]
    table = wire(material.wire)
    diameters = [row[0] for row in table.rows]
    low = span(lambda diameter: strength_at(diameter, diameters, [row[1] for row in table.rows]), core_mm)
    high = span(lambda diameter: strength_at(diameter, diameters, [row[2] for row in table.rows]), core_mm)
    return Sourced(joined(low, high), f"{table.source}, at the core's diameter")
