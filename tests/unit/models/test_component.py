"""Components are strict and frozen; names of kinds resolve, unknown ones do not."""

import math
from dataclasses import FrozenInstanceError
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from models.component import component, resolve
from models.coupler import Coupler
from models.motors import MOTORS
from models.supply import Supply

GOOD = {"slop_deg": 3.0, "compliance_deg_per_nm": 0.0, "slip_torque_nm": 0.0, "regrip": True}


@pytest.mark.parametrize(
    "values",
    [
        {"slop_deg": "3"},
        {"slop_deg": True},
        {"regrip": 1},
        {"regrip": "yes"},
        {"slop_deg": math.nan},
        {"slop_deg": math.inf},
        {"slop_deg": -0.1},
        {"slop_deg": 90.1},
        {"slop_deg": None},
        {"compliance_deg_per_nm": -1.0},
        {"slip_torque_nm": -0.1},
        {"colour": "red"},
    ],
    ids=repr,
)
def test_values_of_the_wrong_kind_or_range_are_refused(values: dict[str, Any]) -> None:
    with pytest.raises((ValidationError, TypeError)):
        Coupler(**GOOD | values)


def test_a_missing_value_is_refused() -> None:
    with pytest.raises(ValidationError):
        Coupler(slop_deg=3.0)  # type: ignore[call-arg]


def test_a_whole_number_is_a_number() -> None:
    assert Coupler(**GOOD | {"slop_deg": 3, "regrip": False}).slop_deg == 3.0


def test_components_cannot_be_changed() -> None:
    coupler = Coupler(**GOOD)
    with pytest.raises(FrozenInstanceError):
        coupler.slop_deg = 4.0
    assert coupler == Coupler(**GOOD)
    assert hash(coupler) == hash(Coupler(**GOOD))
    assert not hasattr(coupler, "__dict__")


def test_attribute_docstrings_become_the_schema() -> None:
    schema = TypeAdapter(Supply).json_schema()
    assert "open-circuit" in schema["properties"]["voltage_v"]["description"].lower()
    assert schema["additionalProperties"] is False


def test_arguments_go_by_name() -> None:
    @component
    class Part:
        """A part."""

        size_mm: float
        """Size."""

    with pytest.raises((ValidationError, TypeError)):
        Part(1.0)  # type: ignore[misc]


def test_kinds_resolve_by_name() -> None:
    assert resolve(MOTORS, "servo").__name__ == "PositionalServo"
    with pytest.raises(KeyError):
        resolve(MOTORS, "nonsense")
