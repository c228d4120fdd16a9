"""What is believed of a room's air on days that no logger measured: a path through the readings.

The hours of a day swing about the day's level. The level is what is usual in the room (`usual`),
plus weather, which fades within days, plus a season, which fades within months. A reading shows the
level of its day, blurred by the swing of the hours. The method is a fixed-interval Kalman smoother
(Durbin and Koopman's state smoothing recursion) over two Ornstein-Uhlenbeck processes, which are
sampled once a day and seen with noise. Between two readings the path is a Gaussian bridge; after
the last reading the mean returns to the usual figure and the spread to the room's own. Somebody
said what is usual in the room, and every reading tells it better: it is an unknown constant with
the said figure as its prior mean. So the more was read, the less the said figure counts.

How much a day leans on each reading depends on when the readings were taken, never on what they
showed. These shares are never negative and sum to at most 1; the rest falls to the usual figure.
The reason: for a sum of Ornstein-Uhlenbeck processes the inverse covariance of any set of moments
has no positive entry off its diagonal (the spectral density is a Stieltjes function of the cosine,
so its reciprocal is a constant less functions with nonnegative Fourier coefficients), and an
unknown constant is the limit of such a process that never fades. So every belief, of a humidity or
of a pace of drying, is a mean over what was read and what is usual. A new reading moves every day
in the reading's own direction: by a nonnegative share of the difference between the reading and
what was believed of its day before.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from scheduler.words.tuples import NamedTuple


class Process(NamedTuple):
    """How a room's air wanders: standard deviations in points of humidity, times in days.

    swing_pct: how far one hour lies from its day's level, together with the error of a dial;
    weather_pct: how far a day lies from what the season is like; season_pct: how far the season
    lies from the usual figure; said_pct: how far the usual figure lies from what somebody said of
    it. After weather_days and season_days about a third (1/e) of each is left.
    """

    swing_pct: float
    weather_pct: float
    weather_days: float
    season_pct: float
    season_days: float
    said_pct: float


class Belief:
    """The days of a room, from 0, and how each leans on the readings; only their times count."""

    def __init__(self, days: int, shown: Mapping[int, float], process: Process) -> None:
        """Weigh the readings of days 0 to `days` - 1; `shown`: how many single ones a day's are."""
        self.days = days
        self._shown = shown
        self._fades = (
            math.exp(-1 / process.weather_days),
            math.exp(-1 / process.season_days),
        )
        self._variances = (process.weather_pct**2, process.season_pct**2)
        self._noise = process.swing_pct**2
        self._said = 1 / process.said_pct**2
        self._gains: list[tuple[float, float, float] | None] = []
        self._reach: list[tuple[float, float, float]] = []
        self._of_usual: list[float] = []
        self._precision = 0.0
        self._weigh()
        self._show_usual()

    def _weigh(self) -> None:
        """Compute gains and covariances forwards (the variance half of the Kalman filter)."""
        a, b = self._fades
        var_w, var_s = self._variances
        q_w, q_s = var_w * (1 - a * a), var_s * (1 - b * b)
        ww, ws, ss = var_w, 0.0, var_s
        gains, reach, shown, noise = self._gains, self._reach, self._shown, self._noise
        for day in range(self.days):
            c_w, c_s = ww + ws, ws + ss
            reach.append((c_w, c_s, c_w + c_s))
            readings = shown.get(day)
            if not readings:
                gains.append(None)
            else:
                v = c_w + c_s + noise / readings
                gains.append((c_w / v, c_s / v, 1 / v))
                ww, ws, ss = ww - c_w * c_w / v, ws - c_w * c_s / v, ss - c_s * c_s / v
            ww, ws, ss = a * a * ww + q_w, a * b * ws, b * b * ss + q_s

    def of(
        self,
        seen: Sequence[float],
        usual: float,
        first: int = 0,
        dawn: tuple[float, float] = (0.0, 0.0),
    ) -> list[float]:
        """Return what is believed of every day: the mean over what was `seen` and the `usual`.

        seen: by day, the mean of what was read on it; a humidity, or anything else that follows
        from the air. Days without readings are not looked at. Days count from `first`; dawn: the
        weather and the season at the dawn of `first`, as all days before it tell them.
        """
        a, b = self._fades
        w, s = dawn
        ahead: list[float] = []
        errors: list[float] = []
        for value, gain in zip(seen, self._gains[first:], strict=True):
            ahead.append(w + s)
            if gain is None:
                errors.append(0.0)
                w, s = a * w, b * s
            else:
                k, m, info = gain
                error = value - usual - w - s
                errors.append(error * info)
                w, s = a * (w + k * error), b * (s + m * error)
        back_w = back_s = 0.0
        for day in range(self.days - 1, first - 1, -1):
            gain = self._gains[day]
            back_w, back_s = a * back_w, b * back_s
            if gain is not None:
                less = errors[day - first] - gain[0] * back_w - gain[1] * back_s
                back_w, back_s = back_w + less, back_s + less
            c_w, c_s, _ = self._reach[day]
            ahead[day - first] += usual + c_w * back_w + c_s * back_s
        return ahead

    def usual_from(self, told: float, said: float | None) -> float:
        """Return the usual figure as what was said and what was seen tell it together.

        Each of the two is weighted by its precision; what was seen is combined by generalised least
        squares. told: what was seen on each day times its weight (`weights_of_usual`), summed;
        said: None when nobody has said anything, then what was seen counts alone, and the figure
        is 0 when nothing was seen.
        """
        precision = self._precision
        if said is not None:
            told, precision = told + self._said * said, precision + self._said
        return told / precision if precision else 0.0

    def weights_of_usual(self) -> list[float]:
        """Return how much what is seen on each day tells of the usual figure; never negative."""
        found = [0.0] * self.days
        a, b = self._fades
        w = s = 0.0
        for day in range(self.days - 1, -1, -1):
            gain = self._gains[day]
            w, s = a * w, b * s
            if gain is not None:
                k, m, info = gain
                found[day] = here = k * w + m * s + self._of_usual[day] * info
                w, s = w - here, s - here
        return found

    def weights_at(self, first: int) -> tuple[list[float], list[float]]:
        """Return how much each day before `first` tells of weather and season at its dawn.

        Each weight multiplies what was seen on the day less the usual figure.
        """
        return self._weights_at(first, (1.0, 0.0)), self._weights_at(first, (0.0, 1.0))

    def _weights_at(self, first: int, asked: tuple[float, float]) -> list[float]:
        """Return the weights of days before `first` for so much of the weather and the season."""
        found = [0.0] * first
        a, b = self._fades
        w, s = asked
        for day in range(first - 1, -1, -1):
            gain = self._gains[day]
            w, s = a * w, b * s
            if gain is not None:
                found[day] = here = gain[0] * w + gain[1] * s
                w, s = w - here, s - here
        return found

    def _show_usual(self) -> None:
        """Compute how much of the usual figure every reading shows, and how precisely all do."""
        a, b = self._fades
        w = s = 0.0
        for gain in self._gains:
            one = 1.0 - w - s
            self._of_usual.append(one)
            if gain is not None:
                self._precision += one * one * gain[2]
                w, s = w + gain[0] * one, s + gain[1] * one
            w, s = a * w, b * s

    def spread_pct(self, first: int = 0) -> list[float]:
        """Return the standard deviation of each day's level [points], from the day `first` on.

        Readings make it small.
        """
        a, b = self._fades
        n_ww = n_ws = n_ss = 0.0
        found = [0.0] * (self.days - first)
        of_usual = 1 / (self._precision + self._said)
        leans = self.of(found, 1.0, first, self._dawn_of_nothing(first))
        for day in range(self.days - 1, first - 1, -1):
            gain = self._gains[day]
            n_ww, n_ws, n_ss = a * a * n_ww, a * b * n_ws, b * b * n_ss
            if gain is not None:
                k, m, info = gain
                t_w, t_s = k * n_ww + m * n_ws, k * n_ws + m * n_ss
                both = info + k * t_w + m * t_s
                n_ww, n_ws, n_ss = (
                    n_ww - 2 * t_w + both,
                    n_ws - t_w - t_s + both,
                    n_ss - 2 * t_s + both,
                )
            c_w, c_s, total = self._reach[day]
            less = c_w * c_w * n_ww + 2 * c_w * c_s * n_ws + c_s * c_s * n_ss
            lean = leans[day - first]
            found[day - first] = math.sqrt(max(0.0, total - less) + lean**2 * of_usual)
        return found

    def _dawn_of_nothing(self, first: int) -> tuple[float, float]:
        """Return weather and season at the dawn of a day, had all days before it shown 0."""
        a, b = self._fades
        w = s = 0.0
        for gain in self._gains[:first]:
            error = -1.0 - w - s
            w, s = (
                (a * w, b * s)
                if gain is None
                else (a * (w + gain[0] * error), b * (s + gain[1] * error))
            )
        return w, s
