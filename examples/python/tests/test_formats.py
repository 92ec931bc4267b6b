"""WFDB and EDF as the packages `wfdb` and `pyedflib` write them, read sample by sample as these read them."""

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import tidevane
from test_tidevane import folder  # noqa: F401  (a fixture)

MINUTES = 2


@pytest.fixture(scope="session")
def samples(folder):
    table = pq.read_table(folder / "demo.parquet").slice(0, MINUTES * 6_000)
    return table["flow_ml_per_s"].to_numpy(), table["paw_cmH2O"].to_numpy()


def same(found, flow, paw):
    """As if the samples had come as arrays: every bit of every breath."""
    times = np.arange(len(flow), dtype=np.int64) * 10_000
    expected = tidevane.replay({"t_us": times, "flow_ml_per_s": flow, "paw_cmH2O": paw})
    assert found.breaths.equals(expected.breaths)
    assert found.breaths.num_rows > 50
    assert found.summary["samples"][0].as_py() == len(flow)


@pytest.mark.parametrize("form", ["16", "24", "32", "212"])
def test_wfdb(form, samples, tmp_path):
    wfdb = pytest.importorskip("wfdb")
    gains = {"16": [200.0, 400.0], "212": [8.0, 20.0]}.get(form, [10_000.0, 10_000.0])
    wfdb.wrsamp(
        "rec", fs=100, units=["mL/s", "cmH2O"], sig_name=["flow", "paw"], p_signal=np.column_stack(samples),
        fmt=[form, form], adc_gain=gains, baseline=[7, -30], write_dir=str(tmp_path),
    )
    signals, fields = wfdb.rdsamp(str(tmp_path / "rec"))
    assert fields["sig_name"] == ["flow", "paw"]
    same(tidevane.replay(tmp_path / "rec.hea"), signals[:, 0], signals[:, 1])


def test_wfdb_without_a_sample(samples, tmp_path):
    wfdb = pytest.importorskip("wfdb")
    flow, paw = (values.copy() for values in samples)
    flow[3_000:3_050] = np.nan
    wfdb.wrsamp(
        "gap", fs=100, units=["mL/s", "cmH2O"], sig_name=["flow", "paw"], p_signal=np.column_stack([flow, paw]),
        fmt=["16", "16"], adc_gain=[200.0, 400.0], baseline=[0, 0], write_dir=str(tmp_path),
    )
    found = tidevane.replay(tmp_path / "gap.hea")
    assert found.summary["bad_rows"][0].as_py() == 50
    assert any("gap" in flags for flags in found.breaths["flags"].to_pylist())


@pytest.mark.parametrize("plus", [False, True])
def test_edf(plus, samples, tmp_path):
    pyedflib = pytest.importorskip("pyedflib")
    path = str(tmp_path / "rec.edf")
    kind = pyedflib.FILETYPE_EDFPLUS if plus else pyedflib.FILETYPE_EDF
    signal = dict(sample_frequency=100, digital_min=-32768, digital_max=32767, transducer="", prefilter="")
    with pyedflib.EdfWriter(path, 2, file_type=kind) as writer:
        writer.setSignalHeaders([
            dict(signal, label="Flow", dimension="mL/s", physical_min=-160, physical_max=160),
            dict(signal, label="Paw", dimension="cmH2O", physical_min=-10, physical_max=80),
        ])
        writer.writeSamples([np.ascontiguousarray(values) for values in samples])
    with pyedflib.EdfReader(path) as reader:
        flow, paw = reader.readSignal(0), reader.readSignal(1)
    found = tidevane.replay(path)
    # Both turn digital into physical values by sums of their own: to the last bit of a double at best.
    times = np.arange(len(flow), dtype=np.int64) * 10_000
    expected = tidevane.replay({"t_us": times, "flow_ml_per_s": flow, "paw_cmH2O": paw})
    assert found.breaths["onset_us"].equals(expected.breaths["onset_us"])
    for name in ("insp_ml", "exp_ml", "peak_cmH2O"):
        assert np.allclose(found.breaths[name].to_numpy(), expected.breaths[name].to_numpy(), atol=2e-4), name


def test_many_by_duckdb(folder, tmp_path):
    duckdb = pytest.importorskip("duckdb")
    import os
    import subprocess
    (tmp_path / "all").mkdir()
    for name in ("a", "b"):
        pq.write_table(pq.read_table(folder / "demo.parquet").slice(0, 12_000), tmp_path / "all" / f"{name}.parquet")
    subprocess.run([os.environ["REPLAY"], "--many", "all", "--out", "tables", "--quiet"], cwd=tmp_path, check=True)
    guide = (Path(__file__).parents[3] / "src/guide/researcher.md").read_text()
    query = guide.split("```sql\n")[1].split("```")[0]
    rows = duckdb.sql(query.replace("tables", str(tmp_path / "tables"))).fetchall()
    assert [row[0] for row in rows] == ["a.parquet", "b.parquet"]
    breaths = pq.read_table(tmp_path / "tables/breaths/a.parquet.parquet").to_pylist()
    trusted = [row for row in breaths if row["flags"] == ""]
    assert rows[0][1] == len(trusted) > 50
    assert rows[0][2] == pytest.approx(np.median([row["exp_ml"] for row in trusted]))
    assert rows[0][1:] == rows[1][1:]
