"""The wheel against the command line: the same bits, whatever a recording comes in.

The program is the one that REPLAY names.
"""

import os
import subprocess
import sys
import threading
import time

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import tidevane

REPLAY = os.environ["REPLAY"]
SETTINGS = {"weight_g": 980, "threshold_lpm": 0.2}


@pytest.fixture(scope="session")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("recordings")
    for name in ("demo.csv", "demo.parquet"):
        subprocess.run([REPLAY, "--save-demo", folder / name], check=True)
    (folder / "s.toml").write_text("weight_g = 980\nthreshold_lpm = 0.2\n")
    args = [REPLAY, folder / "demo.csv", "--quiet", "--settings", folder / "s.toml"]
    tables = [arg for name in ("breaths", "events", "minutes") for arg in (f"--{name}", folder / f"{name}.parquet")]
    subprocess.run(args + tables, check=True)
    return folder


def same(found, folder):
    """Every table and every bit of it, but for names of its own that a file adds."""
    for name in ("breaths", "events", "minutes"):
        expected = pq.read_table(folder / f"{name}.parquet")
        assert getattr(found, name).equals(expected), name
    assert found.summary.num_rows == 1
    assert found.summary["breaths"][0].as_py() == found.breaths.num_rows > 3_000


def test_a_file_gives_what_the_command_line_gives(folder):
    for name in ("demo.csv", "demo.parquet"):
        same(tidevane.replay(folder / name, SETTINGS), folder)


def test_tables_and_arrays_give_the_same(folder):
    polars = pytest.importorskip("polars")
    pandas = pytest.importorskip("pandas")
    table = pq.read_table(folder / "demo.parquet")
    same(tidevane.replay(table, SETTINGS), folder)
    same(tidevane.replay(table.to_reader(max_chunksize=1_000), SETTINGS), folder)
    same(tidevane.replay(polars.from_arrow(table), SETTINGS), folder)
    same(tidevane.replay(pandas.DataFrame(table.to_pandas()), SETTINGS), folder)
    same(tidevane.replay({name: table[name].to_numpy() for name in table.column_names}, SETTINGS), folder)


def test_units_stand_in_the_fields(folder):
    breaths = tidevane.replay(folder / "demo.csv").breaths
    assert breaths.schema.field("insp_ml").metadata == {b"unit": b"mL"}
    assert breaths.schema.field("onset_us").type == pa.int64()


def test_samples_one_by_one_give_the_same(folder):
    table = pq.read_table(folder / "demo.parquet")
    monitor, said = tidevane.Monitor(SETTINGS), []
    for t_us, flow, paw in zip(*(table[name].to_pylist() for name in table.column_names)):
        said += monitor.push(t_us, flow, paw)
    said += monitor.finish()
    for name in ("breaths", "events"):
        rows = [row for table, row in said if table == name]
        assert rows == pq.read_table(folder / f"{name}.parquet").to_pylist()
    with pytest.raises(tidevane.RecordingError, match="flow is no number"):
        monitor.push(0, float("nan"), 5.0)
    for t_us in (-1, 1 << 70):
        with pytest.raises(tidevane.RecordingError, match="out of range"):
            monitor.push(t_us, 0.0, 5.0)
    assert monitor.lost() == []


def test_numbers_that_stand_for_none_are_gaps(folder):
    table = pq.read_table(folder / "demo.parquet").slice(0, 6_000)
    columns = {name: table[name].to_numpy().copy() for name in table.column_names}
    columns["flow_ml_per_s"][1_000:1_010] = np.nan
    gap = tidevane.replay(columns)
    for value, settings in [(-999.0, {}), (9999.0, {}), (-77.0, {"recording": {"missing": [-77]}})]:
        columns["flow_ml_per_s"][1_000:1_010] = value
        found = tidevane.replay(columns, settings)
        assert found.breaths.equals(gap.breaths) and found.events.equals(gap.events), value
        assert found.summary["bad_rows"].to_pylist() == [10]
    columns["flow_ml_per_s"][1_000:1_010] = -999.0
    assert tidevane.replay(columns, {"recording": {"missing": ["NA"]}}).summary["bad_rows"].to_pylist() == [0]


def test_what_is_wrong_is_said(folder, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text("t_us,flow_ml_per_s,paw_cmH2O\n0,1,5\n10000,x,5\n")
    for source, settings, kind, said in [
        (folder / "gone.csv", {}, tidevane.RecordingError, "gone.csv"),
        (tmp_path, {}, tidevane.RecordingError, "is a folder"),
        (pa.table({"a": [1]}), {}, tidevane.RecordingError, "no column is the time"),
        ({"t_us": np.arange(3), "flow_ml_per_s": np.zeros(3), "paw_cmH2O": ["x"] * 3}, {}, tidevane.RecordingError, "not a number"),
        (folder / "demo.csv", {"wieght_g": 3}, tidevane.SettingsError, "wieght_g"),
        (folder / "demo.csv", {"weight_g": 0}, tidevane.SettingsError, "weight"),
        (folder / "demo.csv", [1], tidevane.SettingsError, "dict"),
        (folder / "demo.csv", {"threshold_lpm": float("nan")}, tidevane.SettingsError, "JSON|float"),
        (3, {}, TypeError, "not int"),
    ]:
        with pytest.raises(kind, match=said):
            tidevane.replay(source, settings)
    for name in ("../demo.csv", str(folder / "demo.csv"), ""):
        assert "no path within" in tidevane.Archive(folder, tmp_path / "out").replay(name)[1]
    assert tidevane.replay(folder / "demo.csv", {"weight_g": np.int64(980)}).summary.num_rows == 1
    with pytest.raises(tidevane.RecordingError, match="bad.csv:3"):
        tidevane.replay(bad, strict=True)
    assert issubclass(tidevane.RecordingError, ValueError)


def test_other_threads_go_on(folder):
    beats, over = [], threading.Event()

    def beat():
        while not over.is_set():
            beats.append(time.perf_counter())
            time.sleep(0.001)

    thread = threading.Thread(target=beat)
    thread.start()
    begun = time.perf_counter()
    tidevane.replay(folder / "demo.parquet")
    ended = time.perf_counter()
    over.set()
    thread.join()
    during = [beat for beat in beats if begun < beat < ended]
    assert len(during) > 10, f"{len(during)} beats in {ended - begun} s"


def test_an_interrupt_is_an_interrupt(folder):
    code = "import sys, tidevane\nwhile True: tidevane.replay(sys.argv[1])"
    child = subprocess.Popen([sys.executable, "-c", code, folder / "demo.csv"], stderr=subprocess.PIPE)
    time.sleep(2)
    child.send_signal(2)
    assert b"KeyboardInterrupt" in child.communicate(timeout=60)[1]
