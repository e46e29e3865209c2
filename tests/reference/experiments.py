"""Statistics of experiments on made-up counts and times, by general-purpose libraries, kept in expected/experiments.json.

`python experiments.py` writes the file; `python experiments.py --check` works it out anew and fails where a value has moved.

By statsmodels: Wilson's and Newcombe's intervals, Holm's p-values. By scipy: Fisher's test and its power, the beta-binomial's likelihood,
the multivariate hypergeometric distribution. By lifelines: the log-rank test. Turnbull's curve and permutations are worked out here in numpy,
the long way round: over all pieces between any two edges, over all arrangements one by one.
"""

import itertools
import math

import numpy as np
from lifelines.statistics import multivariate_logrank_test
from scipy import optimize, special, stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from expected import keep, printed, value

SEED = 19780101
draw = np.random.default_rng(SEED)
problems = []
results = {"seed": SEED}
near = lambda number, relative=1e-8: value(number, relative * max(1.0, abs(number)))

# Shares and their differences; with effective counts, which are fractions, too.
results["wilson"], results["newcombe"] = [], []
for at in range(24):
    trials = [int(n) for n in draw.integers(1, 120, 2)]
    counts = [int(draw.integers(0, n + 1)) for n in trials]
    if at % 2:
        design = float(np.round(draw.uniform(1, 3), 2))
        trials, counts = [n / design for n in trials], [x / design for x in counts]
    level = float(draw.choice([0.8, 0.9, 0.95, 0.975]))
    low, high = proportion_confint(counts[0], trials[0], alpha=1 - level, method="wilson")
    results["wilson"].append({"count": counts[0], "trials": trials[0], "level": level, "low": near(low), "high": near(high)})
    low, high = confint_proportions_2indep(counts[0], trials[0], counts[1], trials[1], method="newcomb", compare="diff", alpha=1 - level)
    results["newcombe"].append({"counts": counts, "trials": trials, "level": level, "low": near(low), "high": near(high)})

# Fisher's test, and its power over all tables.
fisher = lambda x, n, y, m: float(stats.fisher_exact([[x, n - x], [y, m - y]]).pvalue)
results["fisher"], results["fisher_power"] = [], []
for _ in range(40):
    n, m = (int(v) for v in draw.integers(1, 200, 2))
    x, y = int(draw.binomial(n, draw.uniform())), int(draw.binomial(m, draw.uniform()))
    results["fisher"].append({"a": [x, n], "b": [y, m], "p": near(fisher(x, n, y, m), 1e-7)})
for _ in range(6):
    n, m = (int(v) for v in draw.integers(4, 22, 2))
    p, q = (float(np.round(v, 2)) for v in draw.uniform(0.05, 0.95, 2))
    tables = itertools.product(range(n + 1), range(m + 1))
    power = sum(stats.binom.pmf(x, n, p) * stats.binom.pmf(y, m, q) for x, y in tables if fisher(x, n, y, m) <= 0.05)
    results["fisher_power"].append({"shares": [p, q], "seeds": [n, m], "power": near(power)})

# The log-rank test of groups looked at together, whose seeds were lost or left at any look.
results["log_rank"] = []
for groups in [2, 2, 2, 2, 2, 2, 3, 3, 4]:
    rows = []
    for group in range(groups):
        seeds = int(draw.integers(10, 40))
        slower, most = draw.uniform(0.8, 1.5), draw.uniform(0.4, 1.0)
        for _ in range(seeds):
            comes = math.ceil(6 * slower * draw.lognormal(0, 0.4)) if draw.uniform() < most else 10**6
            leaves = int(draw.integers(5, 22)) if draw.uniform() < 0.15 else 21
            rows.append([min(comes, leaves), int(comes <= leaves), group])
    days, seen, group = np.array(rows).T
    found = multivariate_logrank_test(days, group, seen)
    results["log_rank"].append({"groups": groups, "rows": rows, "chi_square": near(found.test_statistic), "p": near(found.p_value)})


def spread_out(windows):
    """The likeliest masses of all pieces between neighbouring edges, and the chance of each window."""
    edges = sorted({edge for window in windows for edge in window})
    pieces = list(zip(edges, edges[1:]))
    within = np.array([[after <= a and b <= until for a, b in pieces] for after, until in windows], float)
    mass = np.full(len(pieces), 1 / len(pieces))
    for _ in range(100000):
        chances = within @ mass
        slope = within.T @ (1 / chances) / len(windows)
        if slope.max() < 1 + 1e-9:
            break
        mass *= slope
    return edges, mass, within @ mass


def sun_scores(windows):
    """Scores of J. Sun 1996, Statistics in Medicine 15:1387-1395, from survival and hazard at each edge."""
    edges, mass, _ = spread_out(windows)
    still = np.concatenate([[1], 1 - np.cumsum(mass)])
    hazard = np.concatenate([[0], np.cumsum(mass / np.maximum(still[:-1], 1e-300))])
    at = lambda edge: edges.index(edge)
    came = lambda a, b: (still[b] * hazard[b] - still[a] * hazard[a]) / (still[a] - still[b])
    return np.array([-hazard[at(after)] if math.isinf(until) else came(at(after), at(until)) for after, until in windows])


# Turnbull's curve: the chance of each window is the same wherever the peak is flat.
results["turnbull"], results["sun"] = [], []
for seeds in [6, 12, 25, 40, 40]:
    windows = []
    for _ in range(seeds):
        comes, looks = draw.lognormal(2.2, 0.5), np.cumsum(draw.integers(1, 6, 5))
        after, until = max([0, *looks[looks < comes]]), min([math.inf, *looks[looks >= comes]])
        windows.append((float(after), float(until)))
    _, _, chances = spread_out(windows)
    height = float(np.log(chances).sum())
    kept = [[after, None if math.isinf(until) else until] for after, until in windows]
    results["turnbull"].append({"windows": kept, "log_likelihood": value(height, 2e-6), "chances": [value(c, 1e-4) for c in chances]})
    # Every other seed is of the first group; the variance is that of scores dealt out anew.
    scores, first = sun_scores(windows), (seeds + 1) // 2
    dealt = first * (seeds - first) / (seeds * (seeds - 1)) * ((scores - scores.mean()) ** 2).sum()
    results["sun"].append({"windows": kept, "sum": value(scores[::2].sum(), 1e-4), "dealt_variance": value(dealt, 1e-4)})


def beta_binomial(groups, share_logits, correlation):
    """ln L; the binomial where the correlation is so low that the beta-binomial's gamma functions cancel out."""
    height = 0.0
    for boxes, share in zip(groups, special.expit(share_logits)):
        sprouted, seeds = np.array(boxes).T
        if correlation < 1e-6:
            height += stats.binom.logpmf(sprouted, seeds, share).sum()
        else:
            both = (1 - correlation) / correlation
            height += stats.betabinom.logpmf(sprouted, seeds, share * both, (1 - share) * both).sum()
    return float(height)


def profile(groups, correlation):
    """ln L at a correlation, each group at its best."""
    best = lambda boxes: -optimize.minimize_scalar(lambda x: -beta_binomial([boxes], [x], correlation), bounds=(-12, 12), method="bounded", options={"xatol": 1e-10}).fun
    return sum(best(boxes) for boxes in groups)


def correlated(groups, level):
    """The likeliest correlation of seeds of a box, its profile interval, ln L there and without any."""
    places = [0.0, *np.geomspace(1e-4, 0.9, 30)]
    heights = [profile(groups, place) for place in places]
    at = int(np.argmax(heights))
    bounds = (places[max(at - 1, 0)], places[at + 1])
    best = optimize.minimize_scalar(lambda rho: -profile(groups, rho), bounds=bounds, method="bounded", options={"xatol": 1e-9})
    estimate, height = (float(best.x), -best.fun) if -best.fun > heights[0] + 1e-6 else (0.0, heights[0])
    reach = 0.5 * stats.norm.ppf(0.5 * (1 + level)) ** 2
    beyond = lambda rho: height - profile(groups, rho) - reach
    low = optimize.brentq(beyond, 0, estimate, xtol=1e-9) if estimate > 0 and beyond(0) > 0 else 0.0
    high = optimize.brentq(beyond, estimate, 0.95, xtol=1e-9)
    kept = {"correlation": value(estimate, 2e-6), "low": value(low, 2e-6), "high": value(high, 2e-6)}
    return {**kept, "log_likelihood": value(height, 1e-7), "log_likelihood_alike": value(heights[0], 1e-7)}


# Broomrape on 21 plates: M. J. Crowder 1978, Applied Statistics 27:34-37, table 3.
OROBANCHE = [
    [[10, 39], [23, 62], [23, 81], [26, 51], [17, 39]],
    [[5, 6], [53, 74], [55, 72], [32, 51], [46, 79], [10, 13]],
    [[8, 16], [10, 30], [8, 28], [23, 45], [0, 4]],
    [[3, 12], [22, 41], [15, 30], [32, 51], [3, 7]],
]
found = correlated(OROBANCHE, 0.95)
printed(problems, "broomrape, correlation", found["correlation"]["value"], "0.01236")
printed(problems, "broomrape, ln L", found["log_likelihood"]["value"], "-53.7668")
results["overdispersion"] = [{"groups": OROBANCHE, "level": 0.95, **found}]
for sd in [0.0, 0.3, 0.6, 1.0]:
    groups = []
    for _ in range(int(draw.integers(1, 4))):
        middle, seeds = draw.normal(0, 1), draw.integers(8, 40, int(draw.integers(3, 7)))
        groups.append([[int(draw.binomial(n, special.expit(middle + sd * draw.normal()))), int(n)] for n in seeds])
    results["overdispersion"].append({"groups": groups, "level": 0.9, **correlated(groups, 0.9)})


def logit_normal_sd(groups):
    """The likeliest standard deviation of boxes' logits, by 41 Gauss-Hermite nodes."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(41)
    weights = weights / weights.sum()

    def height(x):
        sd, total = math.exp(x[-1]), 0.0
        for boxes, middle in zip(groups, x):
            sprouted, seeds = np.array(boxes).T
            chances = special.expit(middle + sd * nodes)
            total += np.log(stats.binom.pmf(sprouted[:, None], seeds[:, None], chances[None, :]) @ weights).sum()
        return -total

    start = [special.logit(np.array(boxes)[:, 0].sum() / np.array(boxes)[:, 1].sum()) for boxes in groups]
    return math.exp(optimize.minimize(height, [*start, math.log(0.3)], method="BFGS", options={"gtol": 1e-8}).x[-1])


# The same plates as logits that differ (N. E. Breslow & D. G. Clayton 1993, JASA 88:9-25, maximum likelihood; from memory).
sd = logit_normal_sd(OROBANCHE)
printed(problems, "broomrape, sd of logits", sd, "0.2362")
results["logit_normal"] = {"groups": OROBANCHE, "sd": value(sd, 1e-5)}

# Whether boxes differ, given how many sprouted in all: every way to share the sprouts out.
results["dispersion"] = []
for boxes in [2, 3, 3, 3, 4, 4]:
    seeds = [int(n) for n in draw.integers(4, 13, boxes)]
    counts = [int(draw.binomial(n, np.clip(0.5 + draw.normal(0, 0.25), 0.05, 0.95))) for n in seeds]
    share = sum(counts) / sum(seeds)
    apart = lambda x: sum((a - n * share) ** 2 / (n * share * (1 - share)) for a, n in zip(x, seeds))
    ways = [x for x in itertools.product(*(range(n + 1) for n in seeds)) if sum(x) == sum(counts)]
    chances = stats.multivariate_hypergeom.pmf(np.array(ways), seeds, sum(counts))
    p = sum(chance for x, chance in zip(ways, chances) if apart(x) >= apart(counts) - 1e-9)
    results["dispersion"].append({"boxes": [list(pair) for pair in zip(counts, seeds)], "chi_square": near(apart(counts)), "p": near(p)})

# Labels dealt out anew within blocks.
results["permuted"] = []
for blocks in [1, 1, 2, 3]:
    units = []
    for block in range(blocks):
        size = int(draw.integers(3, 8)) if blocks > 1 else int(draw.integers(6, 13))
        first = set(draw.choice(size, int(draw.integers(1, size)), replace=False).tolist())
        units += [[float(np.round(draw.normal(), 1)), int(at in first), block] for at in range(size)]
    own = [[(score, first) for score, first, of in units if of == block] for block in range(blocks)]
    choices = [list(itertools.combinations([score for score, _ in of], sum(first for _, first in of))) for of in own]
    sums = np.array([sum(map(sum, chosen)) for chosen in itertools.product(*choices)])
    observed = sum(score for score, first, _ in units if first)
    p = np.mean(np.abs(sums - sums.mean()) >= abs(observed - sums.mean()) - 1e-9)
    results["permuted"].append({"units": units, "p": near(p)})

# Several tests at once.
results["holm"] = []
for tests in [2, 3, 6, 10]:
    p = [float(v) for v in np.round(draw.uniform(0, 1, tests) ** 3, 4)]
    results["holm"].append({"p": p, "adjusted": [near(v) for v in multipletests(p, method="holm")[1]]})

keep("experiments.json", results, problems)
