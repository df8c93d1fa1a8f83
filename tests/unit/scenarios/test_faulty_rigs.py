"""Tables ``[faults.NAME]`` of a rig file: what they take, what they refuse, and in which words."""

import pytest

from scenarios.errors import RigError
from scenarios.load import load_rig, load_text

RIG = """format = 1
[instrument]
part = "steel-string-guitar"
[motor]
part = "servo-standard"
[faults.worn]
"""


def refused(lines: str) -> str:
    """Return what is said about a rig with such a table."""
    with pytest.raises(RigError) as caught:
        load_text(RIG + lines, "my.toml")
    assert len(caught.value.lines) == 1
    return caught.value.lines[0]


def test_a_fault_of_a_rig_file_has_its_kind_and_numbers():
    part = load_text(RIG + 'kind = "corroded"\nstrength_left = 0.5\n', "my.toml").faults["worn"]
    assert (part.kind.__name__, part.values["strength_left"]) == ("Corroded", 0.5)


def test_a_sound_rig_has_no_fault():
    assert load_rig("default").faults == {}


def test_several_faults_stand_side_by_side():
    changes = ['faults.a.kind="octave-low"', 'faults.b.kind="octave-low"', "faults.b.from_reading=5"]
    assert set(load_rig("default", changes=changes).faults) == {"a", "b"}


@pytest.mark.parametrize(
    ("lines", "place", "says"),
    [
        ('kind = "octave-lwo"', "my.toml:7", "did you mean octave-low?"),
        ('kind = "hang"\nform_s = 1', "my.toml:8", "did you mean from_s?"),
        ('kind = "hang"\nfrom_reading = -3', "my.toml:8", "found -3; allowed: a whole number, at least 0"),
        ('kind = "clipping"\nprobability = 5', "my.toml:8", "found 5; allowed: at least 0, at most 1"),
        ('kind = "hang"\nfrom_reading = 1.5', "my.toml:8", "found 1.5; allowed: a whole number"),
        ('kind = "nicked"\nstrength_left = 0.0', "my.toml:8", "found 0.0; allowed: at least 0.01, at most 1"),
        ("from_s = 1", "my.toml:6", "faults.worn.kind  missing; allowed: octave-low"),
        ("kind = 3", "my.toml:7", "found 3; allowed: octave-low"),
    ],
)
def test_a_wrong_table_is_refused_in_one_line_with_its_place(lines: str, place: str, says: str):
    said = refused(lines)
    assert said.startswith(place)
    assert says in said
