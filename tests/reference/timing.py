"""The interval-censored likelihood of germination counts, written a second time for checking: plain formulas, constant
temperatures, no knowledge of the program under test.

Parameters travel as a dict: base, optimum, ceiling (deg C), half (deg C d), scale (of ln requirement), germinable.
"""

import csv
import math
import pathlib

import numpy as np
from scipy import optimize, special

DATA = pathlib.Path(__file__).resolve().parent.parent / "data"


def distribution(kind, thermal_time, half, scale):
    """Share of germinable seeds with a requirement up to `thermal_time`: 'log-logistic' or 'log-normal'."""
    with np.errstate(divide="ignore"):
        z = (np.log(np.maximum(thermal_time, 0.0)) - math.log(half)) / scale
    return special.expit(z) if kind == "log-logistic" else special.ndtr(z)


def rate(temperature, base, optimum=math.inf, ceiling=math.inf):
    """Thermal time per day: base to optimum T - base, falling linearly from there to 0 at the ceiling; without a
    ceiling it stays level, without an optimum it rises for ever."""
    below = np.maximum(temperature - base, 0.0)
    if math.isinf(ceiling):
        return np.minimum(below, optimum - base)
    above = (optimum - base) * np.maximum(ceiling - temperature, 0.0) / (ceiling - optimum)
    return np.where(temperature <= optimum, below, above)


class Looks:
    """Counts between looks: (temperature or None, from day, to day, count), to day infinite for what was left sound,
    and seeds removed unsprouted: (temperature, day before, day, count)."""

    def __init__(self, counts, removed=()):
        self.temp, self.start, self.end, self.count = (np.array(c, float) for c in zip(*counts))
        self.removed = tuple(np.array(c, float) for c in zip(*removed)) if removed else None

    @classmethod
    def intervals(cls, name):
        with open(DATA / name, newline="") as file:
            rows = list(csv.DictReader(file))
        return cls([(r["temp_c"], r["from_day"], r["to_day"] or math.inf, r["sprouted"]) for r in rows])

    @classmethod
    def daily(cls, name, only=None):
        with open(DATA / name, newline="") as file:
            rows = [r for r in csv.DictReader(file) if only in (None, r["container"])]
        counts, removed = [], []
        for container in dict.fromkeys(r["container"] for r in rows):
            before, left = 0.0, None
            for r in (r for r in rows if r["container"] == container):
                temp, day = float(r["temp_c"] or "nan"), float(r["day"])
                left = (float(r["seeds"]) if left is None else left) - float(r["sprouted"]) - float(r["removed"])
                counts.append((temp, before, day, float(r["sprouted"])))
                if float(r["removed"]):
                    removed.append((temp, before, day, float(r["removed"])))
                before = day
            counts.append((temp, before, math.inf, left))
        return cls(counts, removed)

    def log_likelihood(self, kind, p, mould="dead"):
        """Multinomial constant dropped. mould: 'dead' (1 - pi), 'censored' (sound at this look), 'rotted' (sound at the look
        before)."""
        if "base" in p:
            per_day = lambda t: rate(t, p["base"], p.get("optimum", math.inf), p.get("ceiling", math.inf))
        else:
            per_day = lambda t: np.ones_like(t)
        share = lambda temp, day: p["germinable"] * distribution(kind, per_day(temp) * day, p["half"], p["scale"])
        last = np.isinf(self.end)
        high = np.where(last, 1.0, share(self.temp, np.where(last, 0.0, self.end)))
        chance = high - share(self.temp, self.start)
        some = self.count > 0
        if np.any(chance[some] <= 0):
            return -math.inf
        total = np.sum(self.count[some] * np.log(chance[some]))
        if self.removed:
            temp, before, day, count = self.removed
            sound = {"dead": p["germinable"], "censored": share(temp, day), "rotted": share(temp, before)}[mould]
            total += np.sum(count * np.log(1.0 - sound))
        return float(total)


def maximise(objective, starts):
    """The maxima that simplex searches from several starts reach, best first, as (height, place). Each search is restarted at
    its own result until it gains nothing; starts outside the possible are passed over."""
    reached = []
    for start in starts:
        place, height = np.asarray(start, float), objective(start)
        gain = math.inf
        while math.isfinite(height) and gain > 1e-9:
            found = optimize.minimize(lambda x: -objective(x), place, method="Nelder-Mead", options=dict(xatol=1e-8, fatol=1e-10, maxiter=5000))
            place, gain, height = found.x, -found.fun - height, -found.fun
        if math.isfinite(height):
            reached.append((height, place))
    if not reached:
        raise ValueError("no start is possible")
    return sorted(reached, key=lambda r: -r[0])


def hessian(objective, x, step=1e-4):
    """Second derivatives by central differences."""
    n = len(x)
    h = np.zeros((n, n))
    for i in range(n):
        for j in range(n):
            d = lambda a, b: objective(x + a * step * np.eye(n)[i] + b * step * np.eye(n)[j])
            h[i, j] = (d(1, 1) - d(1, -1) - d(-1, 1) + d(-1, -1)) / (4 * step * step)
    return h
