"""Lines of keys: right for every key of generated files, whatever shape the TOML takes."""

import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from scenarios.lines import key_lines

BARE = st.text("abcxyz0189_-", min_size=1, max_size=5)
QUOTED = st.sampled_from(['"a.b"', "'c = d'", '"[x]"', '"tab\\t"'])
SCALAR = st.sampled_from(
    ["1", "-2.5e3", "true", '"text # no comment"', "'[not.a.table]'", '"\\"quoted\\""', "1979-05-27 07:32:00", "inf"]
)
LONG = st.sampled_from(['"""\nkey = 1\n[table]\n"""', "'''\na = 2\n# no\n'''", '"""one \\\n  two"""'])


@st.composite
def values(draw, depth=2):
    """Text of a value, and the paths inside it relative to its own key with their line offsets."""
    choice = draw(st.integers(0, 4 if depth else 1))
    if choice == 0:
        return draw(SCALAR), []
    if choice == 1:
        return draw(LONG), []
    if choice == 2:
        keys = draw(st.lists(BARE, unique=True, max_size=3))
        return "{ " + ", ".join(f"{key} = {draw(SCALAR)}" for key in keys) + " }", [((key,), 0) for key in keys]
    text, paths, line = "[", [], 0
    for number in range(draw(st.integers(0, 3))):
        inner, below = draw(values(depth - 1))
        text += "\n  # a comment, [with] = signs\n  " + inner + ","
        line += 2
        paths.append(((number,), line))
        paths += [((number, *path), line + offset) for path, offset in below]
        line += inner.count("\n")
    return text + "\n]", paths


@st.composite
def files(draw):
    """A TOML text and the line of every path in it."""
    lines: list[str] = []
    wanted: dict[tuple, int] = {}

    def pairs(table):
        for key in draw(st.lists(st.one_of(BARE, QUOTED), unique=True, max_size=3)):
            name = next(iter(tomllib.loads(f"{key} = 1")))
            text, below = draw(values())
            start = len(lines) + 1
            wanted[(*table, name)] = start
            wanted.update({(*table, name, *path): start + offset for path, offset in below})
            lines.extend(f"{key} = {text}  # end".split("\n"))
            lines.extend([""] * draw(st.integers(0, 1)))

    pairs(())
    for number in range(draw(st.integers(0, 3))):
        name = f"table{number}"
        repeats = draw(st.integers(0, 2))
        for index in range(max(1, repeats)):
            lines.append(f"[[{name}]]" if repeats else f"[ {name} . sub ] # header")
            place = (name, index) if repeats else (name, "sub")
            wanted.setdefault((name,), len(lines))
            wanted[place] = len(lines)
            pairs(place)
    return "\n".join(lines) + "\n", wanted


@settings(max_examples=300, deadline=None)
@given(files())
def test_every_key_is_found_on_its_line(made):
    text, wanted = made
    tomllib.loads(text)
    found = key_lines(text)
    assert {path: found.get(path) for path in wanted} == wanted
    assert set(found) == set(wanted)


def test_dotted_keys_and_tables_below_arrays():
    text = "a.b.c = 1\n[[x]]\n[x.y]\nz = 2\n[[x]]\n[x.y]\nz = 3\n"
    found = key_lines(text)
    assert found[("a", "b", "c")] == 1
    assert found[("x", 0, "y", "z")] == 4
    assert found[("x", 1, "y", "z")] == 7
