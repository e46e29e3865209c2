"""Worked examples with printed values, recomputed: counts without temperature, three constant temperatures, germination
indices, handbook days, and daily means that mislead. Sources stand in ../data/README.md."""

import csv
import math
import re

import numpy as np
from scipy import integrate, optimize, stats

from expected import keep, printed, value
from timing import DATA, Looks, hessian, maximise, rate

problems = []
results = {}
logit = lambda p: math.log(p / (1 - p))
expit = lambda x: 1 / (1 + math.exp(-x))


def without_temperature(x):
    return {"half": math.exp(x[0]), "scale": math.exp(x[1]), "germinable": expit(x[2])}


def threshold(x):
    return {"base": x[0], **without_temperature(x[1:])}


def by_days(looks, kind):
    """Time alone: no temperature."""
    starts = [[math.log(h), math.log(s), logit(g)] for h in (4, 8) for s in (0.15, 0.5) for g in (0.7, 0.95)]
    return maximise(lambda x: looks.log_likelihood(kind, without_temperature(x)), starts)[0]


# Counts without temperature: 30 seeds every fifth day, and the index example.
for name, file, rows in [
    ("one_dish", "one-dish-days.csv", {"log-normal": "0.93779 5.89874 0.47078 -35.99670", "log-logistic": "0.94436 5.87637 0.27597 -35.83784"}),
    ("index_example", "germination-index.csv", {"log-logistic": "0.884702 6.25693 0.153936 -52.014646", "log-normal": "0.881195 6.27924 0.267405 -51.941205"}),
]:
    looks = Looks.daily(file)
    results[name] = {}
    for kind, texts in rows.items():
        height, x = by_days(looks, kind)
        p = without_temperature(x)
        found = [p["germinable"], p["half"], p["scale"], height]
        for what, number, text in zip(("germinable", "half_days", "spread_ln", "log_likelihood"), found, texts.split()):
            printed(problems, f"{name} {kind} {what}", number, text)
        results[name][kind] = dict(zip(("germinable", "half_days", "spread_ln", "log_likelihood"), (value(n, 2e-6 * max(1, abs(n))) for n in found)))

# Three temperatures, threshold rate: maxima, standard errors from the observed information, correlation, 95 % profile.
PRINTED = {
    ("log-normal", "censored"): "8.4876 0.534 98.323 0.16146 0.0153 0.85638 -143.42864 -0.932 7.290 9.444",
    ("log-normal", "dead"): "8.4357 0.541 98.454 0.16078 0.0152 0.82668 -147.40276 -0.932 - -",
    ("log-logistic", "censored"): "8.4881 0.525 97.791 0.09183 0.0102 0.85623 -143.83691 -0.933 7.315 9.429",
    ("log-logistic", "dead"): "8.4376 0.529 97.878 0.09110 0.0101 0.82688 -147.70744 -0.933 - -",
    ("log-normal", "rotted"): "- - - - - - -142.73678 - - -",
    ("log-logistic", "rotted"): "- - - - - - -143.06116 - - -",
}
NAMES = "base_c base_c_se half_requirement spread_ln spread_ln_se germinable log_likelihood corr_base_ln_half profile95_low profile95_high".split()
looks = Looks.daily("three-temperatures.csv")
results["three_temperatures"] = {}
for (kind, mould), texts in PRINTED.items():
    objective = lambda x: looks.log_likelihood(kind, threshold(x), mould)
    starts = [[b, math.log(h), math.log(s), logit(0.8)] for b, h in ((2, 180), (8, 100), (11, 60)) for s in (0.08, 0.2)]
    height, x = maximise(objective, starts)[0]
    # In the scale itself rather than its logarithm, as the standard error is printed.
    natural = lambda y: objective([y[0], y[1], math.log(y[2]), y[3]])
    y = np.array([x[0], x[1], math.exp(x[2]), x[3]])
    covariance = np.linalg.inv(-hessian(natural, y))
    se = np.sqrt(np.diag(covariance))
    corr = covariance[0, 1] / (se[0] * se[1])

    def drop(base):
        profile = maximise(lambda z: objective([base, *z]), [x[1:], x[1:] + [(x[0] - base) / 10, 0, 0]])[0][0]
        return height - profile - stats.chi2.ppf(0.95, 1) / 2

    low, high = (optimize.brentq(drop, x[0], x[0] + d, xtol=1e-6) for d in (-4, 2.5))
    p = threshold(x)
    found = [p["base"], se[0], p["half"], p["scale"], se[2], p["germinable"], height, corr, low, high]
    for what, number, text in zip(NAMES, found, texts.split()):
        if text != "-":
            printed(problems, f"three temperatures {kind} {mould} {what}", number, text)
    tolerances = [2e-5, 1e-4, 2e-4, 1e-6, 1e-5, 2e-6, 1e-6, 2e-4, 2e-4, 2e-4]
    results["three_temperatures"].setdefault(kind, {})[mould] = {n: value(v, t) for n, v, t in zip(NAMES, found, tolerances)}

# One temperature: the likelihood does not know the base.
looks = Looks.daily("three-temperatures.csv", only="20C")
flat = {}
for base, text in ((0, "174.93"), (4, "139.95"), (8, "104.96"), (12, "69.97")):
    heights = {}
    for kind in ("log-normal", "log-logistic"):
        objective = lambda z: looks.log_likelihood(kind, threshold([base, *z]), "censored")
        height, z = maximise(objective, [[math.log((20 - base) * 9), math.log(0.15), logit(0.8)]])[0]
        heights[kind] = {"log_likelihood": value(height, 1e-6), "half_requirement": value(math.exp(z[0]), 2e-4)}
    flat[str(base)] = heights
    printed(problems, f"one temperature, base {base}, half", heights["log-normal"]["half_requirement"]["value"], text)
    printed(problems, f"one temperature, base {base}, log-likelihood", heights["log-normal"]["log_likelihood"]["value"], "-48.613714")
results["one_temperature"] = flat

# Germination indices by their formulas.
with open(DATA / "germination-index.csv", newline="") as file:
    rows = list(csv.DictReader(file))
t = np.array([float(r["day"]) for r in rows])
n = np.array([float(r["sprouted"]) for r in rows])
seeds, total, cum = float(rows[0]["seeds"]), n.sum(), n.cumsum()
mgt = (n * t).sum() / total
variance = (n * (t - mgt) ** 2).sum() / (total - 1)
share = n[n > 0] / total


def crossing(target):
    after = int(np.argmax(cum >= target))
    return t[after - 1] + (target - cum[after - 1]) / (cum[after] - cum[after - 1]) * (t[after] - t[after - 1])


mean_daily = 100 * cum / seeds / t
indices = {
    "germination_percent": (100 * total / seeds, "88.0"),
    "energy_day_7": (100 * cum[6] / seeds, "60.0"),
    "mean_time": (mgt, "7.0000"),
    "mean_time_midpoints": ((n * (t - 0.5)).sum() / total, "6.5000"),
    "mean_rate": (1 / mgt, "0.142857"),
    "coefficient_of_velocity": (100 * total / (n * t).sum(), "14.2857"),
    "variance": (variance, "3.42857"),
    "standard_deviation": (math.sqrt(variance), "1.85164"),
    "coefficient_of_variation": (100 * math.sqrt(variance) / mgt, "26.4520"),
    "t50_coolbear": (crossing((total + 1) / 2), "6.3000"),
    "t50_farooq": (crossing(total / 2), "6.2000"),
    "t50_sown": (crossing(seeds / 2), "6.5000"),
    "speed_index": ((n / t).sum(), "3.344841"),
    "timson": ((100 * cum / seeds).sum(), "704.0"),
    "timson_per_day": ((100 * cum / seeds).sum() / 14, "50.2857"),
    "weighted_index": (((15 - t) * n).sum(), "176"),
    "synchrony": ((n * (n - 1) / 2).sum() / (total * (total - 1) / 2), "0.138528"),
    "uncertainty_bit": (-(share * np.log2(share)).sum(), "2.703559"),
    "peak_value": (mean_daily.max(), "9.0"),
    "peak_day": (t[mean_daily.argmax()], "8"),
    "mean_daily_germination": (mean_daily[-1], "6.285714"),
    "germination_value": (mean_daily.max() * mean_daily[-1], "56.571429"),
}
results["index_example"]["indices"] = {}
for what, (number, text) in indices.items():
    printed(problems, f"index {what}", number, text)
    results["index_example"]["indices"][what] = value(number, 1e-9)

# Handbook days: least squares of 1/days on temperature, from the coldest entry up to the first with the fewest days.
TABLE = """
Asparagus 4 6.9 186 .992; Bean, snap 4 6.4 144 .993; Beet 5 3.1 109 .987; Cabbage 5 2.6 110 .996; Carrot 5 2.1 132 .992
Cauliflower 4 5.0 97 .986; Celery 4 2.1 133 .963; Corn, sweet 6 6.8 86 .965; Cucumber 4 10.4 59 1.000; Eggplant 3 14.1 81 .984
Lettuce 6 0.9 53 .967; Onion 6 0.9 98 .986; Parsley 5 -8.1 432 .901; Parsnip 5 -1.1 301 .995; Pea 5 -0.1 151 .978
Pepper 3 10.5 118 .994; Radish 6 1.5 85 .969; Spinach 6 -1.6 130 .987; Tomato 4 7.5 103 .998; Watermelon 4 14.0 62 .976
Okra 5 11.0 146 .950; Muskmelon 3 13.7 48 .987
"""
with open(DATA / "harrington-minges-days.csv", newline="") as file:
    days_of = {r.pop("vegetable"): [(float(c), float(d)) for c, d in r.items() if d not in ("", "NG")] for r in csv.DictReader(file)}
results["handbook_days"] = {}
for entry in re.split(r"[;\n]", TABLE.strip()):
    crop, points, base, theta, r2 = entry.strip().rsplit(" ", 4)
    temps, days = np.array(days_of[crop]).T
    until = int(np.argmin(days)) + 1
    fit = stats.linregress(temps[:until], 1 / days[:until])
    found = {"points": until, "base_c": -fit.intercept / fit.slope, "thermal_time": 1 / fit.slope, "r_squared": fit.rvalue**2}
    for (what, number), text in zip(found.items(), (points, base, theta, r2)):
        printed(problems, f"{crop} {what}", number, text)
    results["handbook_days"][crop] = {what: value(number, 1e-9 * max(1, abs(number))) for what, number in found.items()}

# Daily means that mislead: a sine of the day through a tent with base 10, optimum 30, ceiling 40.
results["misleading_means"] = []
for mean, amplitude, true, of_mean, ratio in [(20, 0, "10.00", 10, "1.00"), (20, 10, "10.00", 10, "1.00"), (14, 6, "4.35", 4, "1.09"), (11, 4, "1.81", 1, "1.81"), (11, 6, "2.44", 1, "2.44"), (28, 4, "16.69", 18, "0.93"), (28, 8, "13.12", 18, "0.73"), (32, 6, "12.95", 16, "0.81")]:
    at = lambda u: float(rate(mean + amplitude * math.sin(math.tau * u), 10, 30, 40))
    # Cut where the sine crosses the corners of the rate, so that the quadrature sees smooth pieces only.
    corners = [(c - mean) / amplitude for c in (10, 30, 40)] if amplitude else []
    cuts = sorted({0.0, 1.0} | {(k * math.pi + (-1) ** k * math.asin(c)) / math.tau % 1 for c in corners if abs(c) <= 1 for k in (0, 1)})
    found = sum(integrate.quad(at, a, b, epsabs=1e-12, epsrel=1e-12)[0] for a, b in zip(cuts, cuts[1:]))
    printed(problems, f"mean {mean} +- {amplitude}", found, true)
    printed(problems, f"mean {mean} +- {amplitude}, ratio", found / of_mean, ratio)
    results["misleading_means"].append({"mean_c": mean, "amplitude_c": amplitude, "rate_of_mean": of_mean, "rate": value(found, 1e-9)})

keep("fixtures.json", results, problems)
