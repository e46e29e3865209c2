"""Rice germinated at five temperatures (source in ../data/README.md): maximum likelihood of the threshold and the tent rate,
the 90 % profile interval of the base, and the posterior under the general prior by a long run of an ensemble sampler
(emcee: Foreman-Mackey, Hogg, Lang & Goodman 2013, PASP 125:306-312, from memory)."""

import math

import emcee
import numpy as np
from scipy import optimize, stats

from expected import keep, value
from timing import Looks, maximise

KIND = "log-logistic"
looks = Looks.intervals("rice-by-temperature.csv")
problems = []
logit = lambda p: math.log(p / (1 - p))
expit = lambda x: 1 / (1 + math.exp(-min(max(x, -700), 700)))


def threshold(x):
    """base, ln half, ln scale, logit germinable."""
    return {"base": x[0], "half": math.exp(x[1]), "scale": math.exp(x[2]), "germinable": expit(x[3])}


def tent(x):
    """base, optimum, ln(ceiling - optimum), ln half, ln scale, logit germinable."""
    return {"base": x[0], "optimum": x[1], "ceiling": x[1] + math.exp(x[2]), **{k: v for k, v in threshold([x[0], *x[3:]]).items() if k != "base"}}


def log_likelihood(shape, x):
    # Far outside any seed: logarithms that would overflow, an optimum below the base.
    if np.max(np.abs(x)) > 300 or np.max(np.abs(x[-3:])) > 30 or (shape is tent and (x[1] <= x[0] or not -5 < x[2] < 8)):
        return -math.inf
    p = shape(x)
    return looks.log_likelihood(KIND, p)


def described(shape, height, x):
    p = shape(x)
    names = {"base": "base_c", "optimum": "optimum_c", "ceiling": "ceiling_c", "half": "half_requirement", "scale": "spread_ln", "germinable": "germinable"}
    return {"log_likelihood": value(height, 1e-6)} | {names[k]: value(v, 1e-4 * max(1, abs(v))) for k, v in p.items()}


def agreeing(what, reached, least):
    """Several starts must reach the same maximum, or it is not believed."""
    best = [r for r in reached if reached[0][0] - r[0] < 1e-6]
    print(f"{what}: {len(best)} of {len(reached)} starts reach {reached[0][0]:.6f}")
    if len(best) < least:
        problems.append(f"{what}: only {len(best)} of {len(reached)} starts reach the same maximum")
    return reached[0]


# Threshold.
starts = [[b, math.log(80 * (20 - b) / 12), math.log(s), logit(0.8)] for b in (-20, 0, 8, 13) for s in (0.3, 0.8)]
height, x = agreeing("threshold", maximise(lambda x: log_likelihood(threshold, x), starts), 3)
results = {"threshold": described(threshold, height, x)}


def drop(base):
    z = maximise(lambda z: log_likelihood(threshold, [base, *z]), [x[1:], [math.log(math.exp(x[1]) * (25 - base) / (25 - x[0])), *x[2:]]])
    return height - z[0][0] - stats.chi2.ppf(0.90, 1) / 2


def side(step):
    """The end of the interval on one side, sought outwards; infinite where the likelihood never falls far enough."""
    base = x[0]
    while abs(base - x[0]) < 300 and base + step < 16:
        if drop(base + step) > 0:
            return optimize.brentq(drop, base, base + step, xtol=1e-5)
        base += step
        step *= 1.5 if step < 0 else 1
    return None


low, high = side(-1.0), side(0.25)
print("threshold base", x[0], low, high)
for name, end in (("profile90_low", low), ("profile90_high", high)):
    results["threshold"]["base_" + name] = None if end is None else value(end, 1e-3)

# Tent. Its likelihood rises for ever as the ceiling goes to infinity (the rate then stays level above the optimum): the
# least upper bound has no finite ceiling, and a fit without a prior has to say so.
starts = [[b, o, math.log(w), math.log(80 * (o - b) / 15), math.log(s), logit(0.8)] for b in (0, 8, 12) for o in (26, 29, 32) for w in (8, 14, 20) for s in (0.15, 0.4)]
level = lambda x: {"base": x[0], "optimum": x[1], "ceiling": math.inf, **{k: v for k, v in threshold([x[0], *x[2:]]).items() if k != "base"}}
height, x = agreeing("tent, no ceiling", maximise(lambda x: log_likelihood(level, x), [[*s[:2], *s[3:]] for s in starts]), 3)
results["tent_supremum"] = {k: v for k, v in described(level, height, x).items() if k != "ceiling_c"}
heights = []
for ceiling in (50, 60, 80, 150, 1000):
    fixed = lambda x: {**level(x), "ceiling": ceiling}
    at = maximise(lambda x: log_likelihood(fixed, x) if x[1] < ceiling - 0.01 else -math.inf, [[*s[:2], *s[3:]] for s in starts])[0]
    heights.append(at[0])
    results[f"tent_ceiling_{ceiling}"] = described(fixed, *at)
    print("  ceiling fixed at", ceiling, round(at[0], 6), {k: round(float(v), 4) for k, v in fixed(at[1]).items()})
# Level from 50 to 80: one temperature above the optimum cannot tell optimum and ceiling apart.
if any(b < a - 1e-6 for a, b in zip(heights, heights[1:])) or heights[-1] > height:
    problems.append(f"the likelihood does not rise with the ceiling: {heights}, {height}")
# The function itself at some places, no maximum involved.
results["points"] = []
for point in ([8, 30, 14, 80, 0.2, 0.7], [2, 27, 20, 120, 0.12, 0.8], [10, 34, 8, 60, 0.3, 0.6], [-3, 37, 13, 140, 0.15, 0.65]):
    at = [point[0], point[1], math.log(point[2]), math.log(point[3]), math.log(point[4]), logit(point[5])]
    p = tent(at)
    results["points"].append({"base_c": p["base"], "optimum_c": p["optimum"], "ceiling_c": p["ceiling"], "half_requirement": p["half"], "spread_ln": p["scale"], "germinable": p["germinable"], "tent": value(log_likelihood(tent, at), 1e-9), "threshold": value(log_likelihood(threshold, [at[0], *at[3:]]), 1e-9)})


# The general prior: base N(6, 4), optimum N(27, 3) and at least base + 5, ln(ceiling - optimum) N(ln 11, .3),
# ln half N(4.6, 1), ln sd of ln requirement N(ln .25, .4) with logistic scale = .551 sd, logit germinable N(.8, 1.2), to which
# warmth above the dishes' mean adds N(0, .1) per deg C: three or more temperatures teach it.
CENTRE, SD = np.array([6, 27, math.log(11), 4.6, math.log(0.25 * 0.551), 0.8, 0]), np.array([4, 3, 0.3, 1, 0.4, 1.2, 0.1])
MIDDLE_C = float(np.mean(np.unique(looks.temp)))


def sloping(x):
    return {**tent(x[:6]), "germinable": 1 / (1 + np.exp(-(x[5] + x[6] * (looks.temp - MIDDLE_C))))}


def log_posterior(x):
    if x[1] < x[0] + 5:
        return -math.inf
    # As log_likelihood, which looks at six numbers only.
    if log_likelihood(tent, x[:6]) == -math.inf:
        return -math.inf
    return -0.5 * np.sum(((x - CENTRE) / SD) ** 2) + looks.log_likelihood(KIND, sloping(x))


def log_posteriors(xs):
    """The same for many places at once; that it is the same is checked below."""
    base, optimum, width, half, scale, odds, slope = (c[:, None] for c in xs.T)
    t = looks.temp[None, :]
    width, scale = np.exp(np.clip(width, -20, 20)), np.exp(np.clip(scale, -20, 20))
    germinable = 1 / (1 + np.exp(-(odds + slope * (t - MIDDLE_C))))
    per_day = np.where(t <= optimum, np.maximum(t - base, 0), (optimum - base) * np.maximum(optimum + width - t, 0) / width)
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        share = lambda days: germinable / (1 + np.exp(-(np.log(per_day * days) - half) / scale))
        high = np.where(np.isinf(looks.end), 1.0, share(np.where(np.isinf(looks.end), 1.0, looks.end)))
        chance = np.log(high - np.where(looks.start > 0, share(np.maximum(looks.start, 1e-9)), 0.0))
        height = np.sum(np.where(looks.count > 0, looks.count * chance, 0.0), axis=1)
    height = height - 0.5 * np.sum(((xs - CENTRE) / SD) ** 2, axis=1)
    return np.where((xs[:, 1] >= xs[:, 0] + 5) & np.isfinite(height), height, -math.inf)


height, mode = agreeing("posterior mode", maximise(log_posterior, [[*s, 0.0] for s in starts]), 3)
results["tent_general_prior"] = {"mode": {"log_likelihood": value(looks.log_likelihood(KIND, sloping(mode)), 1e-4), "log_posterior": value(height, 1e-6)}}
random = np.random.RandomState(20260405)
# Another processor's rounding makes another chain: 130,000 independent draws tell an outer point to .015 standard deviations even where the
# density is low, so that two chains agree within .05.
walkers, steps, burnt = 120, 63000, 3000
begin = mode + 0.1 * SD * random.randn(walkers, 7)
one_by_one = np.array([log_posterior(x) for x in begin])
if not np.allclose(one_by_one, log_posteriors(begin), rtol=1e-9):
    problems.append("the two ways of computing the posterior disagree")
moves = [(emcee.moves.DEMove(), 0.7), (emcee.moves.DESnookerMove(), 0.1), (emcee.moves.StretchMove(), 0.2)]
sampler = emcee.EnsembleSampler(walkers, 7, log_posteriors, vectorize=True, moves=moves)
np.random.seed(20260405)
sampler.random_state = random.get_state()
sampler.run_mcmc(begin, steps, skip_initial_state_check=True)
chain = sampler.get_chain(discard=burnt)
print("acceptance", sampler.acceptance_fraction.mean(), "autocorrelation", sampler.get_autocorr_time(discard=burnt, quiet=True))
flat = chain.reshape(-1, 7)
drawn = {
    "base_c": flat[:, 0],
    "optimum_c": flat[:, 1],
    "ceiling_c": flat[:, 1] + np.exp(flat[:, 2]),
    "half_requirement": np.exp(flat[:, 3]),
    "spread_ln": np.exp(flat[:, 4]),
    "germinable": 1 / (1 + np.exp(-flat[:, 5])),
}
halves = np.split(chain, 2)
for name, draws in drawn.items():
    tolerance = round(0.05 * float(np.std(draws)), 6)
    results["tent_general_prior"][name] = {f"p{q}": value(np.percentile(draws, q), tolerance) for q in (5, 50, 95)}
    results["tent_general_prior"][name]["sd"] = value(np.std(draws), tolerance)
    print(name, [round(float(np.percentile(draws, q)), 4) for q in (5, 50, 95)], "sd", round(float(np.std(draws)), 4))
for i in range(7):
    a, b = (np.percentile(h[:, :, i], [5, 50, 95]) for h in halves)
    if np.any(np.abs(a - b) > 0.1 * np.std(flat[:, i])):
        problems.append(f"the two halves of the run disagree in parameter {i}: {a} and {b}")

keep("rice.json", results, problems)
