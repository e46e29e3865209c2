"""The same job as `seedclock fit` and `seedclock forecast` in plain numpy and scipy: what a competent person would write in an
afternoon, for comparing time and answers.

    python plain_forecast.py BENCH_FOLDER --as-of 2026-03-20T21:10:00Z [--days 60]

Reads a bench folder, fits the model of hierarchy_model.py (peak by L-BFGS-B from three starts, numerical Hessian, adaptive
importance sampling), and forecasts each box that has not ended from 1000 draws; temperatures to come are whole days of the last
14, drawn in runs of three, the same at every spot. Prints JSON, fit and forecast. For benches of one species whose boxes stay
where they were put, at spots with one probe, times in UTC, removed seeds taken for dead.

On a bench of bench_folder.py (14 boxes, 100,000 readings) the whole process takes MEASURED on one core.
"""

import argparse
import csv
import datetime
import json
import math
import pathlib
import sys

import numpy as np
from scipy import optimize

from hierarchy_model import Model

DAY = 86400.0
SLOTS_A_DAY = 96
RECENT_DAYS, RUN_DAYS, DRAWS, SEED = 14, 3, 1000, 1
BRIDGE_S = 2 * 3600
CALIBRATED, UNCALIBRATED = 0.1, 0.25
SITING = {"in": 0.15, "beside": 0.5, "room": 1.0, "": 0.5}
LEVELS = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)


def seconds(text):
    return datetime.datetime.fromisoformat(text).timestamp()


def rows(folder, name):
    if not (folder / name).exists():
        return []
    with open(folder / name, newline="") as file:
        return list(csv.DictReader(file))


class Spot:
    """A probe's readings at a spot: each stands for the time halfway to its neighbours, an hour at most."""

    def __init__(self, time, celsius, offset_sd):
        order = np.argsort(time)
        self.time, self.celsius, self.offset_sd = time[order], celsius[order], offset_sd
        half = np.minimum(np.diff(self.time) / 2, BRIDGE_S / 2)
        self.begin = self.time - np.concatenate([[0.0], half])
        self.end = self.time + np.concatenate([half, [0.0]])

    def pairs(self, begin, end):
        """[deg C, days] between two times."""
        first, last = np.searchsorted(self.end, begin), np.searchsorted(self.begin, end)
        spent = np.minimum(self.end[first:last], end) - np.maximum(self.begin[first:last], begin)
        values, place = np.unique(self.celsius[first:last], return_inverse=True)
        return np.stack([values, np.bincount(place, spent, len(values)) / DAY], axis=1).tolist()

    def sampled(self, begin, count, step):
        """deg C in the middles of `count` slots from `begin` on: the reading last before."""
        at = begin + (np.arange(count) + 0.5) * step
        return self.celsius[np.clip(np.searchsorted(self.time, at, side="right") - 1, 0, len(self.time) - 1)]


def read(folder, now):
    """The bench as hierarchy_model wants it, the spots' records, and what a forecast needs of each box."""
    time, probe, celsius = [], [], []
    for file in sorted(folder.glob("readings*.csv")):
        with open(file, newline="") as lines:
            reader = csv.reader(lines)
            if next(reader) != ["time", "probe", "celsius"]:
                sys.exit(f"{file}:1: the columns must be time,probe,celsius")
            for row in reader:
                time.append(row[0].removesuffix("Z"))
                probe.append(row[1])
                celsius.append(row[2])
    time = (np.array(time, "datetime64[s]") - np.datetime64("1970-01-01T00:00:00")).astype(float)
    probe, celsius, spots = np.array(probe), np.array(celsius, float), {}
    for row in rows(folder, "probes.csv"):
        mine = (probe == row["probe"]) & (time <= now)
        calibration = CALIBRATED if row["offset_c"] else UNCALIBRATED
        true = float(row["gain"] or 1) * celsius[mine] + float(row["offset_c"] or 0)
        spots[row["spot"]] = Spot(time[mine], true, math.hypot(calibration, SITING[row["siting"]]))
    looks = {}
    for row in rows(folder, "checks.csv"):
        if seconds(row["time"]) <= now:
            looks.setdefault(row["container"], []).append((seconds(row["time"]), row))
    containers, boxes = [], []
    for row in rows(folder, "containers.csv"):
        sown, segments = seconds(row["sown"]), []
        if sown > now or row["container"] not in looks:
            continue
        before, seen = sown, []
        for at, look in sorted(looks[row["container"]], key=lambda pair: pair[0]):
            counts = {key: int(look.get(key) or 0) for key in ("sprouted", "removed", "lost")}
            segments.append({"pairs": spots[row["spot"]].pairs(before, at), **counts})
            seen += [at] * counts["sprouted"]
            before = at
        containers.append({key: row[key] for key in ("container", "batch", "species", "lot", "treatment", "spot")} | {"seeds": int(row["seeds"]), "segments": segments})
        left = int(row["seeds"]) - sum(s[key] for s in segments for key in ("sprouted", "removed", "lost"))
        ended = row.get("ended") and seconds(row["ended"]) <= now
        if not ended and left > 0 and now - before <= 30 * DAY:
            boxes.append({"place": len(containers) - 1, "checked": before, "seen": seen, "left": left})
    return {"spots": {name: {"offset_sd": spot.offset_sd} for name, spot in spots.items()}, "containers": containers}, spots, boxes


def second_differences(function, z, step):
    """Hessian by central differences, all places asked for at once."""
    n = len(z)
    i, j = np.triu_indices(n)
    unit = step * np.eye(n)
    corners = np.concatenate([z + a * unit[i] + b * unit[j] for a, b in ((1, 1), (1, -1), (-1, 1), (-1, -1))])
    f = function(corners).reshape(4, -1)
    out = np.zeros((n, n))
    out[i, j] = out[j, i] = (f[0] - f[1] - f[2] + f[3]) / (4 * step * step)
    return out


def fit(model, random):
    """1000 posterior draws, and the effective number of those they were picked from."""
    height = lambda z: np.maximum(model.ln_posterior(model.centre + model.sd * z), -1e10)
    unit = 1e-5 * np.eye(len(model.names))

    def cost(z):
        f = height(np.concatenate([z[None], z + unit, z - unit]))
        n = len(z)
        return -f[0], -(f[1 : n + 1] - f[n + 1 :]) / 2e-5

    starts = [0.3 * random.randn(len(model.names)) for _ in range(3)]
    found = [optimize.minimize(cost, z, jac=True, method="L-BFGS-B", bounds=[(-6, 6)] * len(z)) for z in starts]
    middle = min(found, key=lambda f: f.fun).x
    values, vectors = np.linalg.eigh(-second_differences(height, middle, 1e-2))
    # No direction is wider than the prior's by more than a little.
    spread = (vectors / np.maximum(values, 0.7)) @ vectors.T
    # Three rounds, each from a t around the one before; the draws come from the last.
    for count, freedom in ((3000, 6), (4000, 8), (8000, 10)):
        root = np.linalg.cholesky(spread)
        normal, scale = random.randn(count, len(middle)), np.sqrt(random.chisquare(freedom, count) / freedom)
        z = middle + (normal / scale[:, None]) @ root.T
        ln_q = -0.5 * (freedom + len(middle)) * np.log1p(np.sum(normal**2, axis=1) / scale**2 / freedom)
        ln_w = height(z) - ln_q
        w = np.exp(ln_w - ln_w.max())
        # A few great weights would make the next proposal too narrow.
        tame = np.minimum(w, np.sort(w)[-max(count // 100, 1)])
        middle, spread = np.average(z, axis=0, weights=tame), np.cov(z.T, aweights=tame)
    picked = random.choice(len(z), DRAWS, p=w / w.sum())
    return model.centre + model.sd * z[picked], float(w.sum() ** 2 / np.sum(w**2))


def own_effects(model, x, random, tries=40):
    """For each draw and container one (a, b) from the posterior of its effects: importance resampling around their peak."""
    _, inside = model.inside(x)
    a, b, width_a, lean, width_b = (v[..., None] for v in inside.peak())
    u, v = (random.standard_t(6, (*a.shape[:2], tries)) for _ in range(2))
    at_a = a + width_a * u
    at_b = b + lean * width_a * u + width_b * v
    ln_w = inside.whole(at_a, at_b[..., None])[..., 0] - 0.5 * (at_a**2 + at_b**2) + 3.5 * (np.log1p(u**2 / 6) + np.log1p(v**2 / 6))
    # The largest of ln w + Gumbel noise is a pick with chances in proportion to w.
    pick = np.argmax(ln_w + random.gumbel(size=ln_w.shape), axis=2)[..., None]
    return (np.take_along_axis(v, pick, axis=2)[..., 0] for v in (at_a, at_b))


def gains(model, x, spot, treatment, slots):
    """Thermal time of each hour: slots (hours x slots an hour) of deg C -> (draws x hours)."""
    base = (x[:, 0] + model.column(x, f"treatment/{treatment}/base"))[:, None]
    optimum, fall = x[:, 1][:, None], np.exp(x[:, 2])[:, None]
    # Distinct temperatures only: a probe has a few hundred.
    values, place = np.unique(slots, return_inverse=True)
    t = values + model.column(x, f"offset/{spot}")[:, None]
    rate = np.maximum(np.minimum(t - base, (optimum - base) * (optimum + fall - t) / fall), 0) / SLOTS_A_DAY
    return rate[:, place.reshape(slots.shape)].sum(axis=2)


def quantile(values, level):
    """The smallest value that reaches the level; infinite ones count."""
    return np.quantile(values, level, axis=0, method="inverted_cdf")


def forecast(model, x, bench, spots, boxes, now, days, random):
    a, b = own_effects(model, x, random)
    theta, (ln_half, logit) = model.thermal_times(x), model.middles(x)
    spread, speed, share = (np.exp(model.column(x, n)) for n in ("ln_spread", "ln_sd_speed", "ln_sd_fraction"))
    begins = random.randint(0, RECENT_DAYS, (len(x), math.ceil(days / RUN_DAYS)))
    future = ((begins[:, :, None] + np.arange(RUN_DAYS)) % RECENT_DAYS).reshape(len(x), -1)[:, :days]
    to_come, out = {}, []
    for box in boxes:
        i = box["place"]
        container = bench["containers"][i]
        key = (container["spot"], container["treatment"])
        if key not in to_come:
            recent = spots[key[0]].sampled(now - RECENT_DAYS * DAY, RECENT_DAYS * SLOTS_A_DAY, DAY / SLOTS_A_DAY)
            by_day = gains(model, x, *key, recent.reshape(-1, SLOTS_A_DAY // 24)).reshape(len(x), RECENT_DAYS, 24)
            to_come[key] = by_day[np.arange(len(x))[:, None], future].reshape(len(x), -1)
        # From the last look to now as it was, in slots like those to come; then hours.
        hours = max(math.ceil((now - box["checked"]) / 3600), 1)
        step = (now - box["checked"]) / hours / 4
        since = gains(model, x, *key, spots[key[0]].sampled(box["checked"], 4 * hours, step).reshape(-1, 4)) * (step * SLOTS_A_DAY / DAY)
        time = np.concatenate([box["checked"] + 4 * step * np.arange(hours), now + 3600.0 * np.arange(24 * days + 1)])
        reached = theta[:, i, -1:] + np.cumsum(np.concatenate([np.zeros((len(x), 1)), since, to_come[key]], axis=1), axis=1)
        ln_own, pi = ln_half[:, i] + a[:, i] * speed, 1 / (1 + np.exp(-logit[:, i] - b[:, i] * share))
        with np.errstate(divide="ignore", over="ignore"):
            f = 1 / (1 + np.exp(-(np.log(theta[:, i, -1]) - ln_own) / spread))
            count = random.binomial(box["left"], pi * (1 - f) / (1 - pi * f))
            u = f[:, None] + (1 - f[:, None]) * random.random_sample((len(x), box["left"]))
            need = np.exp(ln_own[:, None] + spread[:, None] * (np.log(u) - np.log1p(-u)))
        need[np.arange(box["left"]) >= count[:, None]] = math.inf
        comes = np.stack([np.interp(n, r, time, right=math.inf) for n, r in zip(need, reached)])
        out.append(told(container, box, np.sort(comes, axis=1), count, now, days))
    return out


def told(container, box, comes, count, now, days):
    """Quantiles of one box in the shape of the program's JSON. comes: (draws x seeds), sorted, infinite where never or later."""
    stamp = lambda s: None if math.isinf(s) else datetime.datetime.fromtimestamp(round(s), datetime.timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")
    seen, draws = len(box["seen"]), np.arange(len(comes))
    total = seen + count
    every = np.concatenate([np.tile(np.array(box["seen"], float), (len(comes), 1)), comes, np.full((len(comes), 1), math.inf)], axis=1)

    def event(number):
        at = every[draws, np.where(total > 0, number - 1, -1)]
        return {name: stamp(quantile(at, q)) for name, q in (("p10", 0.1), ("p50", 0.5), ("p90", 0.9))} | {"chance": float(np.mean(np.isfinite(at)))}

    by_date = []
    for day in range(1, days + 1):
        counts = seen + np.sum(comes <= now + day * DAY, axis=1)
        by_date.append({"time": stamp(now + day * DAY), "quantiles": {str(q): int(quantile(counts, q)) for q in LEVELS}})
    more = np.sum(np.isfinite(comes), axis=1)
    head = {key: container[key] for key in ("container", "batch", "species", "spot", "seeds")} | {"sprouted": seen}
    events = {"first": event(np.ones_like(total)), "half": event(np.ceil(total / 2).astype(int)), "last": event(np.ceil(0.95 * total).astype(int))}
    return head | events | {"by_date": by_date, "more_to_come": {"expected": float(more.mean()), "chance_any": float(np.mean(more > 0))}}


def parameters(model, x):
    at = lambda name: model.column(x, name)
    natural = {"base_c": at("base"), "optimum_c": at("optimum"), "ceiling_c": at("optimum") + np.exp(at("ln_fall")), "half_requirement": np.exp(at("ln_half")), "spread_ln": np.exp(at("ln_spread")), "container_speed_sd": np.exp(at("ln_sd_speed")), "container_fraction_sd": np.exp(at("ln_sd_fraction"))}
    return {name: dict(zip(("low", "estimate", "high"), np.percentile(v, (5, 50, 95)).tolist())) for name, v in natural.items()}


def main():
    options = argparse.ArgumentParser()
    options.add_argument("folder", type=pathlib.Path)
    options.add_argument("--as-of", required=True)
    options.add_argument("--days", type=int, default=60)
    given = options.parse_args()
    now, random = seconds(given.as_of), np.random.RandomState(SEED)
    bench, spots, boxes = read(given.folder, now)
    model = Model(bench, nodes=5)
    x, effective = fit(model, random)
    told = forecast(model, x, bench, spots, boxes, now, given.days, random)
    print(json.dumps({"fit": {"parameters": parameters(model, x), "effective_draws": effective}, "as_of": given.as_of, "containers": told}))


if __name__ == "__main__":
    main()
