from os import PathLike
from typing import Any, Iterable, Literal, Mapping, NamedTuple

import pyarrow

__version__: str

class RecordingError(ValueError): ...
class SettingsError(ValueError): ...

class Replayed(NamedTuple):
    breaths: pyarrow.Table
    events: pyarrow.Table
    minutes: pyarrow.Table
    summary: pyarrow.Table

Said = list[tuple[Literal["breaths", "events"], dict[str, int | float | str | None]]]

def replay(
    source: str | PathLike[str] | Mapping[str, Any] | Any,
    settings: Mapping[str, Any] | None = None,
    *,
    strict: bool = False,
) -> Replayed: ...

class Archive:
    def __init__(
        self, folder: str | PathLike[str], out: str | PathLike[str], settings: Mapping[str, Any] | None = None
    ) -> None: ...
    def recordings(self) -> list[str]: ...
    def replay(self, name: str) -> tuple[str, str | None]: ...
    def finish(self, outcomes: Iterable[tuple[str, str | None]]) -> tuple[float, int, list[tuple[str, str]]]: ...

class Monitor:
    def __init__(self, settings: Mapping[str, Any] | None = None) -> None: ...
    def push(self, t_us: int, flow_ml_per_s: float, paw_cmH2O: float) -> Said: ...
    def lost(self) -> Said: ...
    def finish(self) -> Said: ...
