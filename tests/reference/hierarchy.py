"""Posteriors of the model of hierarchy_model.py on the benches of hierarchy_benches.py, by long runs of an ensemble sampler
(emcee: Foreman-Mackey, Hogg, Lang & Goodman 2013, PASP 125:306-312, from memory), kept in expected/hierarchy.json.

    python hierarchy.py [NAME ...]   samples anew, all or those named: about 25 minutes of one core for all
    python hierarchy.py --check      works ln likelihood and ln prior at the kept points out again: seconds

Each posterior is run twice, from other starts with other seeds. A run: differential evolution from around the prior's centre,
then moves of which three in four are independent proposals from a t with the mean and covariance of what was drawn so far, the
others differential evolution, whose steps do not depend on that. `apart` is the largest difference of a 5, 50 or 95 % point
between the two runs, in posterior standard deviations; over 0.03 counts as a problem.
"""

import csv
import json
import math
import sys

import emcee
import numpy as np

from expected import FOLDER, keep, value
from hierarchy_model import Model, load
from timing import DATA, Looks

# Name: (bench, fraction may change with warmth, steps of a run).
POSTERIORS = {
    "two-lots": ("two-lots", False, 20000),
    "one-temperature": ("one-temperature", False, 20000),
    "three-lots": ("three-lots", False, 12000),
    "three-lots-slope": ("three-lots", True, 20000),
}
WALKERS, SEED = 80, 20260412
# Nodes each way while sampling, and for the kept values.
NODES, KEPT_NODES = 7, 25
MIDDLE_C = 20.0
PERCENT = (5, 50, 95)
problems = []


def model_of(name, nodes):
    bench, slope, _ = POSTERIORS[name]
    return Model(load(bench), slope=slope, nodes=nodes)


def natural(model, y):
    """The chain walks in ln days to half at 20 deg C, of each treatment by its own base, in place of ln half: nearly independent
    of the base, and of unit Jacobian."""
    x = y.copy()
    ln_rate = lambda base: np.log(np.maximum(MIDDLE_C - base, 1))
    base = x[:, model.place["base"]]
    x[:, model.place["ln_half"]] += ln_rate(base)
    for treatment in model.treatments if len(model.treatments) > 1 else ():
        own = base + model.column(x, f"treatment/{treatment}/base")
        x[:, model.place[f"treatment/{treatment}/ln_half"]] += ln_rate(own) - ln_rate(base)
    return x


def independent(drawn, freedom=30):
    """Proposals from a t around what was drawn."""
    middle, count = drawn.mean(axis=0), drawn.shape[1]
    root = np.linalg.cholesky(np.cov(drawn.T) * (freedom - 2) / freedom)
    back = np.linalg.inv(root).T
    height = lambda y: -0.5 * (freedom + count) * np.log1p(np.sum(((y - middle) @ back) ** 2, axis=1) / freedom)

    def propose(now, random):
        scale = np.sqrt(random.chisquare(freedom, len(now)) / freedom)[:, None]
        new = middle + (random.randn(*now.shape) / scale) @ root.T
        return new, height(now) - height(new)

    return emcee.moves.MHMove(propose)


def run(model, seed, steps):
    """One chain, (steps and walkers x parameters) in natural coordinates, and its acceptance."""
    random = np.random.RandomState(seed)
    y = model.centre + 0.1 * model.sd * random.randn(WALKERS, len(model.names))
    y[:, model.place["ln_half"]] -= math.log(MIDDLE_C - model.centre[0])
    evolution = [(emcee.moves.DEMove(), 0.9), (emcee.moves.DESnookerMove(), 0.1)]
    for moves, length, drop in ((evolution, 1500, 750), (None, 500, 50), (None, steps, 100)):
        if moves is None:
            moves = [(independent(drawn), 0.75), (emcee.moves.DEMove(), 0.2), (emcee.moves.DESnookerMove(), 0.05)]
        height = lambda y: model.ln_posterior(natural(model, y))
        sampler = emcee.EnsembleSampler(WALKERS, len(model.names), height, vectorize=True, moves=moves)
        sampler.random_state = random.get_state()
        sampler.run_mcmc(y, length, skip_initial_state_check=True)
        random.set_state(sampler.random_state)
        y, drawn = sampler.get_chain()[-1], sampler.get_chain(discard=drop, flat=True)
    chain = sampler.get_chain(discard=drop)
    return natural(model, chain.reshape(-1, chain.shape[2])), float(np.mean(sampler.acceptance_fraction))


def derived(model, x):
    """What the parameters make together, as it is told of a lot and treatment."""
    at = lambda name: model.column(x, name)
    out = {"ceiling": at("optimum") + np.exp(at("ln_fall"))}
    for treatment in model.treatments if len(model.treatments) > 1 else ():
        out[f"middle/{treatment}/base"] = at("base") + at(f"treatment/{treatment}/base")
    pairs = list(dict.fromkeys(zip(model.lot_of, model.treatment_of)))
    for lot, treatment in pairs if len(pairs) > 1 else ():
        for what in ("fraction_logit", "ln_half"):
            out[f"middle/{lot}/{treatment}/{what}"] = at(what) + at(f"lot/{lot}/{what}") + at(f"treatment/{treatment}/{what}")
    return out


def described(runs):
    """5, 50 and 95 % points, mean and sd of one parameter drawn in two runs, and how far the runs are apart."""
    both = np.concatenate(runs)
    sd = float(np.std(both))
    apart = max(abs(np.percentile(runs[0], PERCENT) - np.percentile(runs[1], PERCENT))) / sd
    points = {f"p{q}": round(float(v), 6) for q, v in zip(PERCENT, np.percentile(both, PERCENT))}
    return points | {"mean": round(float(np.mean(both)), 6), "sd": round(sd, 6), "apart": round(float(apart), 4)}


def worth(runs):
    """The longer integrated autocorrelation time of the runs, in steps, and how many independent draws both are worth."""
    times = [float(emcee.autocorr.integrated_time(r.reshape(-1, WALKERS, 1))[0]) for r in runs]
    return {"autocorrelation": round(max(times), 2), "effective": int(sum(len(r) / t for r, t in zip(runs, times)))}


def sample(name):
    model, steps = model_of(name, NODES), POSTERIORS[name][2]
    found = [run(model, SEED + half, steps) for half in (0, 1)]
    kept = {"bench": POSTERIORS[name][0], "slope": POSTERIORS[name][1], "walkers": WALKERS, "steps": [len(f[0]) // WALKERS for f in found]}
    kept["acceptance"] = [round(f[1], 3) for f in found]
    drawn = {parameter: [f[0][:, i] for f in found] for i, parameter in enumerate(model.names)}
    kept["parameters"] = {parameter: described(runs) | worth(runs) for parameter, runs in drawn.items()}
    both = [derived(model, f[0]) for f in found]
    kept["derived"] = {key: described([b[key] for b in both]) for key in both[0]}
    for key, row in (kept["parameters"] | kept["derived"]).items():
        print(f"{name} {key:45}", row)
        if row["apart"] > 0.03 or row.get("effective", math.inf) < 10000:
            problems.append(f"{name}: {key} is not known well enough: {row}")
    random = np.random.RandomState(SEED)
    few = np.concatenate([f[0][random.randint(0, len(f[0]), 100)] for f in found])
    brute = np.concatenate([model.ln_likelihood(few[i : i + 2], brute=141) for i in range(0, len(few), 2)])
    error = np.abs(model.ln_likelihood(few) - brute)
    kept["quadrature"] = {"nodes": NODES, "against": "141 x 141 equally spaced, 200 draws", "median_error": float(np.median(error)), "largest_error": float(np.max(error))}
    heights = model.ln_posterior(few)
    # The best of these draws, four others, and one where boxes differ a great deal.
    chosen = np.vstack([few[np.argmax(heights)], few[:2], few[100:102], few[3]])
    for place, sd in (("ln_sd_speed", 0.2), ("ln_sd_fraction", 1.0)):
        chosen[5, model.place[place]] = math.log(sd)
    kept["points"] = [{"at": dict(zip(model.names, np.round(x, 4).tolist()))} for x in chosen]
    return kept


def evaluated(name, kept):
    """ln likelihood (container effects integrated, multinomial constant left out) and ln prior (sum of -z^2/2) at the points."""
    model = model_of(name, KEPT_NODES)
    x = np.array([[point["at"][n] for n in model.names] for point in kept["points"]])
    fine = model.ln_likelihood(x)
    for brute, row in zip((model.ln_likelihood(row[None], brute=141)[0] for row in x[:2]), fine):
        if abs(brute - row) > 1e-4:
            problems.append(f"{name}: two ways of integrating the container effects give {row} and {brute}")
    for point, likelihood, prior in zip(kept["points"], fine, model.ln_prior(x)):
        point |= {"ln_likelihood": value(likelihood, 1e-6), "ln_prior": value(prior, 1e-9)}
    return kept


def alike_boxes():
    """With boxes alike the likelihood must be that of timing.py, written apart: three boxes at constant temperatures."""
    looks, boxes = Looks.daily("three-temperatures.csv"), {}
    with open(DATA / "three-temperatures.csv", newline="") as file:
        for row in csv.DictReader(file):
            box = boxes.setdefault(row["container"], {"lot": "", "treatment": "", "spot": "", "seeds": int(row["seeds"]), "segments": [], "day": 0.0})
            days, box["day"] = float(row["day"]) - box["day"], float(row["day"])
            box["segments"].append({"pairs": [[float(row["temp_c"]), days]], "sprouted": int(row["sprouted"]), "removed": int(row["removed"]), "lost": 0})
    model = Model({"spots": {"": {"offset_sd": 1.0}}, "containers": list(boxes.values())})
    for base, optimum, fall, half, scale, logit in ((8.4, 30.0, 10.0, 98.0, 0.09, 1.5), (5.0, 23.0, 12.0, 130.0, 0.2, 0.7)):
        x = np.array([[base, optimum, math.log(fall), math.log(half), math.log(scale), logit, -18.0, -18.0, 0.0]])
        apart = looks.log_likelihood("log-logistic", {"base": base, "optimum": optimum, "ceiling": optimum + fall, "half": half, "scale": scale, "germinable": 1 / (1 + math.exp(-logit))})
        if abs(model.ln_likelihood(x)[0] - apart) > 1e-6:
            problems.append(f"boxes that are alike: {model.ln_likelihood(x)[0]}, by another way {apart}")


if __name__ == "__main__":
    alike_boxes()
    wanted = [a for a in sys.argv[1:] if not a.startswith("--")] or list(POSTERIORS)
    file = FOLDER / "hierarchy.json"
    results = json.loads(file.read_text()) if file.exists() else {}
    for name in POSTERIORS:
        if "--check" not in sys.argv and name in wanted:
            results[name] = sample(name)
        if name in results:
            results[name] = evaluated(name, results[name])
    keep("hierarchy.json", results, problems)
