import csv
import io
import json
import math
import sys
import tracemalloc
from mmap import mmap

import numpy as np
import pytest

from sim.series.files import safe_text, to_csv, to_json, write_aside
from sim.series.grid import Grid, Sheet
from sim.series.journal import Journal, read_journal
from sim.series.store import Store, StoreError, read_results
from sim.series.summary import summarise
from tests.unit.series.made import all_good, facts


def grid(specimens=3, **values):
    return Grid((facts(**values),), specimens, 2)


def written(path, rows):
    journal = Journal(path)
    journal.append(rows)
    journal.close()


def read(path):
    return np.concatenate(list(read_journal(path)))


def test_journal_gives_back_every_bit(tmp_path):
    rows = all_good(grid())
    rows["seconds"], rows["settling_s"] = np.random.default_rng(1).exponential(7, len(rows)), math.nan
    written(tmp_path / "j", rows)
    assert read(tmp_path / "j").tobytes() == rows.tobytes()


def test_journal_is_one_json_line_a_run(tmp_path):
    rows = all_good(grid())
    rows["final_error_cents"][0] = math.nan
    written(tmp_path / "j", rows)
    lines = [json.loads(line, parse_constant=pytest.fail) for line in (tmp_path / "j").read_text().splitlines()]
    assert len(lines) == len(rows)
    assert lines[0]["final_error_cents"] is None
    assert lines[1]["in_tune"] is True


@pytest.mark.parametrize("torn", [b'{"rig":0,"stra', b"\xff", b"x" * 200_000])
def test_torn_tail_is_cut_and_the_rest_kept(tmp_path, torn):
    rows = all_good(grid())
    written(tmp_path / "j", rows[:4])
    with (tmp_path / "j").open("ab") as file:
        file.write(torn)
    assert len(read(tmp_path / "j")) == 4
    written(tmp_path / "j", rows[4:])
    assert read(tmp_path / "j").tobytes() == rows.tobytes()


def test_edited_journal_is_named_with_its_line(tmp_path):
    written(tmp_path / "j", all_good(grid())[:1])
    with (tmp_path / "j").open("ab") as file:
        file.write(b"nonsense\n")
    with pytest.raises(ValueError, match="j:2  is no row"):
        read(tmp_path / "j")


def complete(out, rows=None, resume=False, seed=1, of=None):
    of = of or grid()
    rows = all_good(of) if rows is None else rows
    with Store(out, of, seed, (), resume) as store:
        store.append(rows)
        store.complete(rows, {"x": math.nan})


def test_folder_says_incomplete_until_the_end(tmp_path):
    with Store(tmp_path / "out", grid(), 1, (), False):
        assert json.loads((tmp_path / "out/manifest.json").read_text())["complete"] is False
    complete(tmp_path / "out", resume=True)
    assert json.loads((tmp_path / "out/manifest.json").read_text())["complete"] is True
    assert json.loads((tmp_path / "out/summary.json").read_text()) == {"x": None}
    assert not list((tmp_path / "out").glob("*.part"))


def test_folder_with_something_in_it_is_refused_and_left_alone(tmp_path):
    (tmp_path / "letter.txt").write_text("mine")
    with pytest.raises(StoreError, match="not empty"):
        Store(tmp_path, grid(), 1, (), False)
    with pytest.raises(StoreError, match="no result folder"):
        Store(tmp_path, grid(), 1, (), True)
    assert [file.name for file in tmp_path.iterdir()] == ["letter.txt"]


@pytest.mark.parametrize("resume", [False, True])
def test_folder_of_a_process_killed_before_its_manifest_stood_is_as_good_as_new(tmp_path, resume):
    (tmp_path / "out").mkdir()
    (tmp_path / "out/manifest.json.part").write_text('{"format": 1, "seed')
    complete(tmp_path / "out", resume=resume)
    assert json.loads((tmp_path / "out/manifest.json").read_text())["complete"] is True


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"seed": 2}, "another seed"),
        ({"of": grid(name="other")}, "another rig"),
        ({"of": grid(strings=("E2",))}, "another rig"),
        ({"of": grid(specimens=2)}, "more than the 2 asked for"),
    ],
)
def test_another_series_is_refused_in_one_line(tmp_path, other, words):
    complete(tmp_path / "out")
    before = (tmp_path / "out/manifest.json").read_bytes()
    with pytest.raises(StoreError, match=words) as caught:
        complete(tmp_path / "out", resume=True, **other)
    assert "\n" not in str(caught.value)
    assert (tmp_path / "out/manifest.json").read_bytes() == before


def test_another_version_is_refused(tmp_path):
    complete(tmp_path / "out")
    path = tmp_path / "out/manifest.json"
    held = json.loads(path.read_text())
    held["versions"]["pegloop"] = "0.0.0"
    path.write_text(json.dumps(held))
    with pytest.raises(StoreError, match=r"another version \(pegloop 0\.0\.0 there"):
        complete(tmp_path / "out", resume=True)


def test_results_are_read_back_in_run_order(tmp_path):
    rows = all_good(grid())
    rows["plucks"] = np.arange(len(rows))
    with Store(tmp_path / "out", grid(), 7, (), False) as store:
        store.append(rows[::-1])
    results = read_results(tmp_path / "out")
    assert results.rows.tobytes() == rows.tobytes()
    assert (results.seed, results.grid) == (7, grid())


def test_half_a_series_does_not_stand_in_for_a_rig(tmp_path):
    with Store(tmp_path / "out", grid(), 1, (), False) as store:
        store.append(all_good(grid())[:5])
    with pytest.raises(StoreError, match="19 of 24 runs are missing"):
        read_results(tmp_path / "out")


def test_table_has_names_for_indices_and_full_precision():
    of = grid(name="=cmd()")
    rows = all_good(of)
    rows["seconds"][0], rows["settling_s"][0] = 0.1 + 0.2, math.nan
    first = next(csv.DictReader(io.StringIO("".join(to_csv(of.rigs, rows)))))
    assert (first["rig"], first["strategy"], first["string"], first["outcome"]) == ("'=cmd()", "slow", "E2", "finished")
    assert float(first["seconds"]) == 0.1 + 0.2
    assert first["settling_s"] == ""


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@x"])
def test_no_name_is_taken_for_a_formula(text):
    assert safe_text(text) == "'" + text
    assert safe_text("E2") == "E2"


def test_json_has_neither_nan_nor_infinity():
    assert json.loads(to_json({"a": [math.nan, math.inf, 1.5]}), parse_constant=pytest.fail) == {"a": [None, None, 1.5]}


def test_failed_write_leaves_the_old_file(tmp_path):
    path = tmp_path / "f"
    write_aside(path, "old")
    with pytest.raises(UnicodeEncodeError):
        write_aside(path, "\ud800")
    assert path.read_text() == "old"


def test_sheet_passes_over_rows_of_another_series():
    sheet = Sheet(grid(specimens=2))
    sheet.put(all_good(grid(specimens=3)))
    assert sheet.done() == len(sheet.grid)
    assert sheet.rows.tobytes() == all_good(sheet.grid).tobytes()


def test_more_specimens_only_add_at_the_end():
    few, many = grid(specimens=2), grid(specimens=5)
    assert [few.item(n) for n in range(len(few))] == [many.item(n) for n in range(len(few))]


def test_a_long_table_is_made_block_by_block():
    of = grid(specimens=1500)
    rows = all_good(of)
    rows["plucks"] = np.arange(len(rows))
    blocks = list(to_csv(of.rigs, rows))
    assert max(block.count("\n") for block in blocks) <= 4096 < len(rows)
    assert [int(row["plucks"]) for row in csv.DictReader(io.StringIO("".join(blocks)))] == list(range(len(rows)))


def test_many_rows_live_in_a_file_without_a_name(tmp_path, monkeypatch):
    monkeypatch.setattr("sim.series.grid.IN_MEMORY", 5)
    of = grid(specimens=2)
    kept, held = Sheet(of, tmp_path), Sheet(of)
    for sheet in (kept, held):
        sheet.put(all_good(of)[::2])
    assert kept.rows.tobytes() == held.rows.tobytes()
    assert isinstance(kept.rows.base.obj, mmap) and held.rows.base is None
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform != "linux", reason="a full disk is made with Linux' limit of file sizes")
def test_no_room_for_many_rows_is_said_at_once(tmp_path, monkeypatch):
    import resource

    monkeypatch.setattr("sim.series.grid.IN_MEMORY", 5)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, before[1]))
    try:
        with pytest.raises(OSError, match="large"):
            Sheet(grid(), tmp_path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def peak_of_summary(specimens, folder):
    tracemalloc.start()
    sheet = Sheet(grid(specimens=specimens, strategies=tuple("abcdef")), folder)
    sheet.rows["specimen"] = np.arange(len(sheet.rows)) // (len(sheet.rows) // specimens)
    sheet.known[:] = True
    summarise(sheet.grid, sheet.rows, 1)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak, len(sheet.grid)


def test_memory_of_a_series_on_disk_hardly_grows(tmp_path):
    """A row takes 127 bytes; what is left in memory is which are known, and a few columns of one strategy."""
    peak_of_summary(2500, tmp_path)  # what is kept from one summary to the next
    (few, runs), (many, more) = (peak_of_summary(specimens, tmp_path) for specimens in (5000, 25_000))
    assert (many - few) / (more - runs) < 40
