"""Series through the real loop: the rows are the same however they come about."""

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from scenarios.load import load_rig
from sim.cli import main
from sim.cli.cluster import cluster
from sim.cli.refused import Refused
from sim.series.compare import compare
from sim.series.plugins import load_plugin
from sim.series.store import StoreError
from sim.trace import Outcome

SMALL = {"specimens": 6, "tunings": 2, "strategies": ["coarse", "proportional"], "strings": ["E2", "G3"]}
ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def rig():
    return load_rig("default")


@pytest.fixture(scope="module")
def serial(rig):
    return compare([rig], jobs=1, **SMALL)


def same(one, other):
    return one.rows.tobytes() == other.rows.tobytes() and one.summary == other.summary


@pytest.mark.parametrize("jobs", [2, 3])
def test_processes_give_the_rows_of_one(rig, serial, jobs):
    assert same(compare([rig], jobs=jobs, **SMALL), serial)


@pytest.mark.parametrize("method", ["fork", "spawn", "forkserver"])
def test_processes_give_the_same_rows_however_they_start(rig, serial, method):
    if method not in multiprocessing.get_all_start_methods():
        pytest.skip(f"no {method} here")
    with ProcessPoolExecutor(2, multiprocessing.get_context(method)) as executor:
        assert same(compare([rig], executor=executor, jobs=2, **SMALL), serial)


@pytest.mark.slow
def test_a_cluster_of_two_workers_gives_the_same_rows(rig, serial):
    distributed = pytest.importorskip("distributed", reason="needs the extra cluster")
    local = distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None)
    with local, cluster(local.scheduler_address) as (executor, threads):
        assert threads == 2
        assert same(compare([rig], executor=executor, jobs=threads, **SMALL), serial)


SERIES = (
    ("compare", "theory", "--rigs", "6"),
    ("sweep", "theory", "--vary", "strategies.relay.step_deg=2:10:5", "--rigs", "4"),
    ("sweep", "theory", "--vary", "strategies.relay.step_deg=3:30:log", "--best", "plucks", "--rigs", "8"),
    ("unknowns", "theory", "--rigs", "8"),
)


@pytest.mark.slow
def test_every_command_of_series_takes_a_cluster_and_tells_the_same(tmp_path, capsys):
    distributed = pytest.importorskip("distributed", reason="needs the extra cluster")

    def told(words, out, *where):
        code = main([*words, "--tunings", "2", "--out", str(out), "--json", "--quiet", *where])
        files = sorted(file for file in out.rglob("*") if file.suffix in {".csv", ".json", ".md", ".svg"})
        kept = {file.relative_to(out): file.read_bytes() for file in files if file.name != "manifest.json"}
        return code, capsys.readouterr(), kept

    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as local:
        for place, words in enumerate(SERIES):
            alone = told(words, tmp_path / f"{place}-alone", "--jobs", "1")
            spread = told(words, tmp_path / f"{place}-spread", "--cluster", local.scheduler_address)
            assert alone == spread
            assert alone[0] in (0, 1)
            assert any(name.name == "runs.csv" for name in alone[2])


def test_a_cluster_that_does_not_answer_is_one_line():
    pytest.importorskip("distributed", reason="needs the extra cluster")
    with pytest.raises(Refused, match="--cluster nonsense://x: no scheduler answers"), cluster("nonsense://x"):
        pass


def test_threads_of_an_executor_give_the_rows_of_one(rig, serial):
    with ThreadPoolExecutor(3) as executor:
        assert same(compare([rig], executor=executor, **SMALL), serial)


def test_another_seed_gives_other_rows(rig, serial):
    assert not same(compare([rig], jobs=1, seed=2, **SMALL), serial)


def test_strategies_meet_the_same_start(serial):
    rows = serial.rows
    first, second = (rows[rows["strategy"] == which] for which in sorted(set(rows["strategy"].tolist())))
    assert first["start_cents"].tolist() == second["start_cents"].tolist()


def test_a_chosen_strategy_has_the_rows_that_it_has_among_others(rig, serial):
    alone = compare([rig], jobs=1, **SMALL | {"strategies": ["proportional"]})
    rows = serial.rows[serial.rows["strategy"] == alone.rows["strategy"][0]]
    assert alone.rows.tobytes() == rows.tobytes()


class Interrupted(Exception):
    pass


def test_resumed_series_has_the_rows_of_an_uninterrupted_one(rig, serial, tmp_path):
    def stop(done, total):
        if done > total / 3:
            raise Interrupted

    with pytest.raises(Interrupted):
        compare([rig], jobs=1, out=tmp_path / "out", progress=stop, **SMALL)
    kept = len((tmp_path / "out/journal.jsonl").read_text().splitlines())
    assert 0 < kept < len(serial.rows)
    done = []
    resumed = compare([rig], jobs=1, out=tmp_path / "out", resume=True, progress=lambda n, _: done.append(n), **SMALL)
    assert same(resumed, serial)
    assert done[0] > kept
    assert len((tmp_path / "out/journal.jsonl").read_text().splitlines()) == len(serial.rows)


def test_asking_again_does_nothing_new_and_more_specimens_add(rig, serial, tmp_path):
    fewer = SMALL | {"specimens": 4}
    compare([rig], jobs=1, out=tmp_path / "out", **fewer)
    journal = (tmp_path / "out/journal.jsonl").read_bytes()
    compare([rig], jobs=1, out=tmp_path / "out", resume=True, progress=lambda *_: pytest.fail("ran again"), **fewer)
    assert (tmp_path / "out/journal.jsonl").read_bytes() == journal
    assert same(compare([rig], jobs=1, out=tmp_path / "out", resume=True, **SMALL), serial)
    with pytest.raises(StoreError):
        compare([rig], jobs=1, out=tmp_path / "out", **SMALL)


def test_result_folder_stands_in_for_its_rig(rig, serial, tmp_path):
    other = load_rig("default", changes=("task.tolerance_cents=6.0",))
    compare([rig], jobs=1, out=tmp_path / "first", **SMALL)
    both = compare([tmp_path / "first", other], jobs=1, out=tmp_path / "both", specimens=99)
    mine = both.rows[both.rows["rig"] == 0]
    assert mine.tobytes() == serial.rows.tobytes()
    assert both.summary["rigs"] == ["default", "default (2)"]
    assert both.summary["specimens"] == SMALL["specimens"]
    again = compare([tmp_path / "both"], jobs=1)
    assert same(again, both)


KILLER = """
import os
from controllers.bang_bang import BangBang
from models.component import component

@component
class Killer(BangBang):
    \"\"\"Takes the worker that asks it with it when the string starts sharp.\"\"\"

    def update(self, memory, reading):
        if reading.cents is not None and reading.cents > 40.0:
            os.kill(os.getppid(), 9)
        return BangBang.update(self, memory, reading)
"""


def with_killer(folder):
    """Return the default rig with one more strategy from a file, and its plug-in."""
    path = folder / "killer.py"
    path.write_text(KILLER)
    text = '[strategies.killer]\nkind = "killer"\nstep_deg = 5.0\ndeadband_cents = 2.0\n'
    file = folder / "rig.toml"
    file.write_text((ROOT / "scenarios/rigs/default.toml").read_text() + "\n" + text)
    return load_rig(str(file), plugins={"killer": load_plugin(str(path), "Killer")}), ("killer", str(path), "Killer")


def test_worker_that_dies_is_replaced_and_only_what_kills_it_is_crashed(tmp_path):
    scenario, plugin = with_killer(tmp_path)
    options = SMALL | {"specimens": 10, "strings": ["E2"]}
    rows = compare([scenario], jobs=2, plugins=[plugin], **options | {"strategies": ["coarse", "killer"]}).rows
    crashed = rows["outcome"] == list(Outcome).index(Outcome.CRASHED)
    killer = rows["strategy"] == [each.name for each in scenario.strategies].index("killer")
    sharp = rows[~killer]["start_cents"] > 45.0  # of the same specimens; the ear errs by less than 5 cents
    assert np.all(crashed[killer][sharp]) and np.any(sharp)
    assert not np.any(crashed[~killer]), "a run that was in hand beside the killer's is told to have crashed"
    assert np.all(np.isnan(rows["seconds"][crashed]))
    clean = compare([scenario], jobs=1, plugins=[plugin], **options | {"strategies": ["coarse"]})
    assert rows[~killer].tobytes() == clean.rows.tobytes()


@pytest.mark.slow
def test_a_cluster_whose_workers_die_is_told_in_one_line(tmp_path):
    distributed = pytest.importorskip("distributed", reason="needs the extra cluster")
    scenario, plugin = with_killer(tmp_path)
    local = distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None)
    options = SMALL | {"specimens": 10, "strings": ["E2"], "strategies": ["killer"], "plugins": [plugin]}
    with (
        local,
        pytest.raises(Refused, match=r"gave up on some runs .* go on with --resume"),
        cluster(local.scheduler_address) as (executor, threads),
    ):
        compare([scenario], executor=executor, jobs=threads, **options)


SLOW = """
import sys, time
from scenarios.load import load_rig
from sim.series.compare import compare
compare([load_rig("default")], jobs=1, out=sys.argv[1], specimens=6, tunings=2, strings=["E2", "G3"],
        strategies=["coarse", "proportional"], progress=lambda done, total: (print(done, flush=True), time.sleep(60)))
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL here")
def test_kill_in_the_middle_loses_no_finished_row(rig, serial, tmp_path):
    out = tmp_path / "out"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, "-c", SLOW, str(out)], stdout=subprocess.PIPE, text=True, env=environment
    ) as process:
        assert process.stdout is not None
        told = int(process.stdout.readline())
        process.send_signal(signal.SIGKILL)
    lines = (out / "journal.jsonl").read_text().splitlines()
    assert len(lines) == told > 0
    assert all(json.loads(line) for line in lines)
    assert same(compare([rig], jobs=1, out=out, resume=True, **SMALL), serial)


def test_unguarded_script_is_told_what_to_do(tmp_path):
    script = tmp_path / "script.py"
    script.write_text(
        "from scenarios.load import load_rig\nfrom sim.series.compare import compare\n"
        "compare([load_rig('default')], specimens=1, tunings=1, jobs=2)\n"
    )
    begun = time.monotonic()
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, env=environment, timeout=60)
    assert "__name__ == '__main__'" in done.stderr.splitlines()[-1]
    assert time.monotonic() - begun < 60


def test_plugin_is_loaded_once_and_its_folder_is_not_on_the_path(tmp_path):
    path = tmp_path / "mine.py"
    path.write_text("class Mine: pass\n")
    first = load_plugin(str(path), "Mine")
    assert load_plugin(str(tmp_path / "." / "mine.py"), "Mine") is first
    assert str(tmp_path) not in sys.path


@pytest.mark.parametrize(
    ("text", "words"), [("class Other: pass", "no class Mine"), ("1/0", "ZeroDivisionError"), ("def", "SyntaxError")]
)
def test_plugin_that_cannot_serve_is_refused_in_one_line(tmp_path, text, words):
    path = tmp_path / "mine.py"
    path.write_text(text)
    with pytest.raises(ValueError, match=words):
        load_plugin(str(path), "Mine")
    with pytest.raises(ValueError, match="no Python file"):
        load_plugin(str(tmp_path / "none.py"), "Mine")


def test_comparison_shows_itself(serial):
    assert "\n" not in repr(serial)
    assert "coarse" in repr(serial)
    assert serial._repr_html_().startswith("<table>")
