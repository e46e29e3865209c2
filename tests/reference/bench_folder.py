"""Makes up a bench folder for timing whole programs: `python bench_folder.py OUT`. 14 boxes of one species and two lots at five
spots, eight of them from two past seasons and six of the present batch; five probes, 20,000 readings each (every ten minutes).
All from one fixed seed: the same bytes every time. Prints the time as of which to ask.
"""

import csv
import datetime
import math
import pathlib
import sys

import numpy as np

SEED = 20260320
STEP = datetime.timedelta(minutes=10)
STEPS_A_DAY = 144
# First reading of a season and how many follow each other: 20,000 in all.
SEASONS = [("2024", datetime.datetime(2024, 2, 20), 7200), ("2025", datetime.datetime(2025, 2, 20), 7200), ("2026", datetime.datetime(2026, 2, 10), 5600)]
# Spot: probe, calibration, siting, offset sd, mean, half of the day-night range, share of the weather, drift a month.
SPOTS = {
    "porch": ("blue", "", "beside", 0.559, 9.0, 4.5, 1.0, 3.0),
    "landing": ("green", "0.1", "beside", 0.51, 15.5, 2.0, 0.5, 1.0),
    "kitchen shelf": ("yellow", "", "beside", 0.559, 19.0, 1.5, 0.3, 0.3),
    "heat mat": ("red", "-0.2", "in", 0.18, 24.5, 1.0, 0.1, 0.0),
    "over the boiler": ("black", "", "room", 1.031, 29.5, 2.5, 0.2, 0.0),
}
# Batch: when sown, days watched, boxes (spot, lot, seeds).
BATCHES = {
    "2024": (datetime.datetime(2024, 2, 25, 18, 30), 38, [("porch", "own", 20), ("landing", "own", 20), ("heat mat", "own", 25), ("over the boiler", "own", 20)]),
    "2025": (datetime.datetime(2025, 2, 24, 19, 0), 38, [("porch", "swap", 24), ("kitchen shelf", "own", 20), ("heat mat", "swap", 20), ("landing", "swap", 20)]),
    "2026": (datetime.datetime(2026, 3, 12, 17, 45), 60, [("porch", "own", 20), ("landing", "own", 25), ("landing", "swap", 20), ("kitchen shelf", "swap", 25), ("kitchen shelf", "own", 20), ("heat mat", "swap", 20)]),
}
BASE, OPTIMUM, CEILING, HALF, SCALE, LOGIT = 5.5, 26.0, 37.0, 105.0, 0.14, 1.1
LOTS = {"own": (0.3, 0.05), "swap": (-0.4, -0.08)}
SD_SPEED, SD_FRACTION = 0.07, 0.35
stamp = lambda time: time.strftime("%Y-%m-%dT%H:%M:%SZ")


def season_readings(random, count):
    """deg C in sixteenths, ten minutes apart, by spot: one weather for all spots, each with its own share of it."""
    days, weather, now = count // STEPS_A_DAY + 2, [], 0.0
    for _ in range(days):
        now = 0.75 * now + 3.0 * math.sqrt(1 - 0.75**2) * random.randn()
        weather.append(now)
    time = np.arange(count) / STEPS_A_DAY
    smooth = np.interp(time, np.arange(days), weather)
    out = {}
    for spot, (_, _, _, _, mean, swing, share, drift) in SPOTS.items():
        celsius = mean + drift * time / 30 + share * smooth - swing * np.cos(2 * math.pi * (time - 0.125)) + 0.08 * random.randn(count)
        out[spot] = np.round(16 * celsius) / 16
    return out


def rate(celsius):
    return np.maximum(np.minimum(celsius - BASE, (OPTIMUM - BASE) * (CEILING - celsius) / (CEILING - OPTIMUM)), 0)


def grow(random, container, begin, celsius, sown, days, seeds, lot, last):
    """Rows of checks of one box, looked at each morning until `last`."""
    theta = np.concatenate([[0.0], np.cumsum(rate(celsius)) / STEPS_A_DAY])
    at = lambda time: np.interp((time - begin) / STEP, np.arange(len(theta)), theta)
    logit, slower = LOTS[lot]
    half = HALF * math.exp(slower + random.normal(0, SD_SPEED))
    share = 1 / (1 + math.exp(-LOGIT - logit - random.normal(0, SD_FRACTION)))
    u = random.random_sample(seeds)
    need = np.where(random.random_sample(seeds) < share, half * (u / (1 - u)) ** SCALE, math.inf)
    rows, morning = [], sown.replace(hour=7, minute=20) + datetime.timedelta(days=1)
    for day in range(days):
        time = morning + datetime.timedelta(days=day, minutes=int(random.randint(0, 25)))
        if time > last:
            break
        up = need <= at(time) - at(sown)
        mouldy = np.isinf(need) & (random.random_sample(len(need)) < 0.004)
        rows.append([container, stamp(time), int(np.sum(up)), int(np.sum(mouldy))])
        need = need[~up & ~mouldy]
    return rows


def main(folder):
    random = np.random.RandomState(SEED)
    folder.mkdir(parents=True, exist_ok=True)
    offsets = {spot: random.normal(0, row[3]) for spot, row in SPOTS.items()}
    tables = {"bench.csv": [["key", "value"], ["zone", "Europe/Lisbon"]], "spots.csv": [["spot", "kind"]] + [[spot, "indoors"] for spot in SPOTS]}
    tables["probes.csv"] = [["probe", "spot", "since", "offset_c", "gain", "siting"]] + [[row[0], spot, stamp(SEASONS[0][1]), row[1], "1" if row[1] else "", row[2]] for spot, row in SPOTS.items()]
    containers = [["container", "batch", "species", "lot", "treatment", "seeds", "sown", "spot", "ended"]]
    checks = [["container", "time", "sprouted", "removed"]]
    for (name, begin, count), (batch, (sown, days, boxes)) in zip(SEASONS, BATCHES.items()):
        celsius = season_readings(random, count)
        times = [stamp(begin + i * STEP) for i in range(count)]
        tables[f"readings-{name}.csv"] = [["time", "probe", "celsius"]] + [[times[i], SPOTS[spot][0], f"{celsius[spot][i]:g}"] for i in range(count) for spot in SPOTS]
        last = begin + count * STEP
        for number, (spot, lot, seeds) in enumerate(boxes, 1):
            box, calibrated = f"{batch}-{number}", float(SPOTS[spot][1] or 0)
            rows = grow(random, box, begin, celsius[spot] + calibrated + offsets[spot], sown, days, seeds, lot, last)
            containers.append([box, batch, "marigold", lot, "none", seeds, stamp(sown), spot, rows[-1][1] if batch != "2026" else ""])
            checks += rows
    tables |= {"containers.csv": containers, "checks.csv": checks}
    for name, rows in tables.items():
        with open(folder / name, "w", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows(rows)
    print(stamp(SEASONS[-1][1] + (SEASONS[-1][2] - 1) * STEP))


if __name__ == "__main__":
    main(pathlib.Path(sys.argv[1]))
