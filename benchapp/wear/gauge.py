"""How far each instrument read from its check standards on the day: gains that its readings are divided by.

A drift common to all elements shows well in the mean over a check run's elements, one element's own only weakly; both
are drawn towards one by how often instruments drift and how noisy a check is.
"""

from __future__ import annotations

import bisect
import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np

from benchapp.records import CheckRun
from benchapp.wear.rules import Rules

_NO_GAINS: Mapping[str, float] = {}


class Gauge:
    """Gains by instrument and moment, from the check runs of the bench file."""

    def __init__(self, runs: Sequence[CheckRun], rules: Rules) -> None:
        self._common_sd = rules.number("check", "common_drift")
        self._own_sd = rules.number("check", "own_drift")
        self._noise = rules.number("check", "noise")
        self._valid = dt.timedelta(hours=rules.number("check", "valid_h"))
        grouped: dict[str, dict[dt.datetime, dict[str, float]]] = {}
        for run in runs:
            if run.expected_ppm > rules.number("check", "from_ppm") and run.found_ppm > 0:
                day = grouped.setdefault(run.instrument, {}).setdefault(run.run_at, {})
                day[run.element] = run.found_ppm / run.expected_ppm
        self._moments = {name: sorted(days) for name, days in grouped.items()}
        self._gains = {name: {at: self._shrunk(day) for at, day in days.items()} for name, days in grouped.items()}

    def gains(self, instrument: str, moment: dt.datetime | None) -> Mapping[str, float]:
        """Element -> gain (reading over truth), "" for elements not checked; empty where no check is near."""
        moments = self._moments.get(instrument)
        if not moments or moment is None:
            return _NO_GAINS
        at = bisect.bisect_right(moments, moment) - 1
        if at < 0 or moment - moments[at] > self._valid:
            return _NO_GAINS
        return self._gains[instrument][moments[at]]

    def _shrunk(self, day: Mapping[str, float]) -> dict[str, float]:
        logs = {element: float(np.log(ratio)) for element, ratio in day.items()}
        single = self._own_sd**2 + self._noise**2
        weight = self._common_sd**2 / (self._common_sd**2 + single / len(logs))
        common = weight * float(np.median(list(logs.values())))
        own = self._own_sd**2 / single
        gains = {element: float(np.exp(common + own * (value - common))) for element, value in logs.items()}
        gains[""] = float(np.exp(common))
        return gains
