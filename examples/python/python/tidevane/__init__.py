"""An independent, breath-by-breath second check on recordings of synchronised ventilation.

Advisory only; not a medical device. Licensed practice and local protocol decide.

    import tidevane
    seen = tidevane.replay("recording.csv", {"weight_g": 1000})
    seen.breaths.to_pandas()

Tables are pyarrow's; each column's unit stands in its field's metadata, under ``unit``.
"""

import json
import os
from typing import NamedTuple

import pyarrow

from . import _tidevane
from ._tidevane import RecordingError, SettingsError, __version__

__all__ = ["Archive", "Monitor", "RecordingError", "Replayed", "SettingsError", "replay", "__version__"]


class Replayed(NamedTuple):
    """What a recording came to."""

    breaths: pyarrow.Table
    events: pyarrow.Table
    minutes: pyarrow.Table
    summary: pyarrow.Table


def _json(settings):
    try:
        entries = {k: v for k, v in (settings or {}).items() if v is not None}
        # Numbers of numpy are numbers.
        return json.dumps(entries, allow_nan=False, default=lambda value: value.item())
    except (AttributeError, TypeError, ValueError) as why:
        raise SettingsError(f"settings are a dict of entries as in a settings file: {why}") from None


def replay(source, settings=None, *, strict=False):
    """Puts a recording through a monitor of its own.

    source: a path (any kind of file that the command line reads; read a piece at a time, however
        long it is), a table or a stream of batches (pyarrow, polars, pandas: whatever has
        ``__arrow_c_stream__``), or a dict of arrays by column name. Columns as in a file:
        ``t_us`` (us), ``flow_ml_per_s`` (mL/s, inward positive), ``paw_cmH2O`` (cmH2O), or others
        by ``{"recording": {"columns": ["time=...", "flow=...", "pressure=..."]}}``.
    settings: the entries of a settings file, as ``{"weight_g": 1000, "threshold_lpm": 0.2}``.
    strict: stop at the first row that cannot be read, instead of taking it for a gap.

    Raises RecordingError, SettingsError (both ValueErrors). Other threads go on meanwhile.
    """
    settings = _json(settings)
    if isinstance(source, (str, os.PathLike)):
        found = _tidevane.replay_file(os.fspath(source), settings, strict)
    else:
        if isinstance(source, dict):
            source = pyarrow.table(source)
        if not hasattr(source, "__arrow_c_stream__"):
            raise TypeError(f"a recording is a path, a table or a dict of arrays, not {type(source).__name__}")
        found = _tidevane.replay_stream(source, settings, strict)
    tables = (found.breaths, found.events, found.minutes, found.summary)
    return Replayed(*(pyarrow.RecordBatchReader.from_stream(table).read_all() for table in tables))


class Monitor:
    """A monitor for samples as they come."""

    def __init__(self, settings=None):
        self._monitor = _tidevane.Monitor(_json(settings))

    def push(self, t_us, flow_ml_per_s, paw_cmH2O):
        """One sample: microseconds, mL/s, cmH2O. Gives what there is to say: pairs of
        ``"breaths"`` or ``"events"`` and a dict by column; mostly none. A number that is none or out
        of range raises RecordingError and counts as lost."""
        return self._monitor.push(t_us, flow_ml_per_s, paw_cmH2O)

    def lost(self):
        """A sample that could not be had."""
        return self._monitor.lost()

    def finish(self):
        """No sample comes any more: the breath under way is closed."""
        return self._monitor.finish()


class Archive:
    """A folder of recordings and the folder of their tables, for one machine or many.

    The same files as the command line's ``--many`` writes: a Parquet file of breaths, events and minutes for each
    recording, ``summary.csv`` and ``failures.csv``. What any engine distributes are the names of recordings, never
    rows; both folders are to be seen from every worker. An archive can be pickled.
    """

    def __init__(self, folder, out, settings=None):
        self._where = (os.fspath(folder), os.fspath(out), _json(settings))

    def recordings(self):
        """The recordings, by their paths within the folder."""
        return [os.fspath(name) for name in _tidevane.archive_recordings(*self._where)]

    def replay(self, name):
        """Replays one recording; its tables take their places when all are whole. What was done before of the same
        file by the same settings is not done again. Gives its name and None, or the reason why it failed."""
        try:
            _tidevane.archive_replay(*self._where, name)
        except RecordingError as why:
            return name, str(why)
        return name, None

    def finish(self, outcomes):
        """Writes summary and failures from what ``replay`` gave for each; gives hours, breaths and failures."""
        failures = [(name, why) for name, why in outcomes if why is not None]
        hours, breaths = _tidevane.archive_finish(*self._where, failures)
        return hours, breaths, failures
