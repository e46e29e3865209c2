"""Makes up three benches whose truth is known, for comparing posteriors: tests/data/hierarchy-{two-lots,one-temperature,
three-lots}.json. `python hierarchy_benches.py` writes them anew: the same bytes, since all comes from fixed seeds.

Temperatures are what a spot's probe shows, every three hours, in halves of a degree; the seeds feel them with the spot's
offset added. Counts are drawn from the model of hierarchy_model.py.
"""

import json
import math

import numpy as np

from hierarchy_model import DATA, LOGISTIC_SCALE_OF_UNIT_SD, Model

STEPS_A_DAY = 8
# Uncalibrated 0.25, calibrated 0.1; in the box 0.15, beside it 0.5, in the same room 1.
sited = lambda calibration, siting: round(math.hypot(calibration, siting), 6)
IN_CALIBRATED, BESIDE, BESIDE_CALIBRATED, ROOM = sited(0.1, 0.15), sited(0.25, 0.5), sited(0.1, 0.5), sited(0.25, 1.0)


class Spot:
    """What a probe shows: mean, day-night swing (half of the range), day-to-day sd, a drift from first to last day."""

    def __init__(self, mean, swing, weather, offset_sd, drift=0.0):
        self.mean, self.swing, self.weather, self.offset_sd, self.drift = mean, swing, weather, offset_sd, drift

    def record(self, random, days):
        time = np.arange(days * STEPS_A_DAY) / STEPS_A_DAY
        anomaly, now = [], 0.0
        for _ in range(days):
            now = 0.7 * now + self.weather * math.sqrt(1 - 0.7**2) * random.randn()
            anomaly.append(now)
        raw = self.mean + self.drift * time / days + np.repeat(anomaly, STEPS_A_DAY) - self.swing * np.cos(2 * math.pi * (time + 1 / 16 - 0.125))
        return np.round(2 * raw) / 2


def grow(what, random, spots, days, looks, truth, boxes):
    """One bench. boxes: [(lot, treatment, spot, seeds, day of the last look, chance of removal and loss a look)]."""
    records = {name: spot.record(random, days) for name, spot in spots.items()}
    containers = []
    for number, (lot, treatment, spot, seeds, last, removal, loss) in enumerate(boxes, 1):
        at = [day for day in looks if day <= last]
        segments = []
        for begin, end in zip([0, *at], at):
            values, counts = np.unique(records[spot][begin * STEPS_A_DAY : end * STEPS_A_DAY], return_counts=True)
            pairs = [[float(v), c / STEPS_A_DAY] for v, c in zip(values, counts)]
            segments.append({"pairs": pairs, "sprouted": 0, "removed": 0, "lost": 0})
        containers.append({"container": f"{number}", "lot": lot, "treatment": treatment, "spot": spot, "seeds": seeds, "segments": segments})
    bench = {"about": what, "spots": {n: {"offset_sd": s.offset_sd} for n, s in spots.items()}, "containers": containers}
    model = Model(bench)
    x = model.centre.copy()
    for name, number in truth.items():
        x[model.place[name]] = number
    for spot in spots:
        x[model.place[f"offset/{spot}"]] = random.normal(0, spots[spot].offset_sd)
    theta, (ln_half, logit) = model.thermal_times(x[None])[0], [m[0] for m in model.middles(x[None])]
    for i, (container, box) in enumerate(zip(containers, boxes)):
        sprout(random, container, box, theta[i], ln_half[i], logit[i], {n: math.exp(truth[n]) for n in ("ln_spread", "ln_sd_speed", "ln_sd_fraction")})
    bench["truth"] = {name: round(float(v), 6) for name, v in zip(model.names, x)}
    return bench


def sprout(random, container, box, theta, ln_half, logit, sd):
    half = math.exp(ln_half + random.normal(0, sd["ln_sd_speed"]))
    share = 1 / (1 + math.exp(-logit - random.normal(0, sd["ln_sd_fraction"])))
    u = random.random_sample(box[3])
    need = np.where(random.random_sample(box[3]) < share, half * (u / (1 - u)) ** sd["ln_spread"], math.inf)
    for k, segment in enumerate(container["segments"]):
        up = need <= theta[k]
        segment["sprouted"], need = int(np.sum(up)), need[~up]
        # Only seeds that never would are taken out mouldy; a mouse asks none of them.
        mouldy = np.isinf(need) & (random.random_sample(len(need)) < box[5])
        segment["removed"], need = int(np.sum(mouldy)), need[~mouldy]
        taken = random.random_sample(len(need)) < box[6]
        segment["lost"], need = int(np.sum(taken)), need[~taken]


def two_lots():
    random = np.random.RandomState(41)
    spots = {"cold frame": Spot(9, 6, 2, BESIDE, 5), "hall sill": Spot(15.5, 3.5, 1.5, IN_CALIBRATED), "boiler shelf": Spot(23, 2.5, 1, ROOM)}
    truth = {"base": 4.5, "optimum": 24.0, "ln_fall": math.log(12), "ln_half": math.log(120), "ln_spread": math.log(0.28 * LOGISTIC_SCALE_OF_UNIT_SD), "fraction_logit": 0.6, "ln_sd_speed": math.log(0.08), "ln_sd_fraction": math.log(0.35), "lot/bank/fraction_logit": 0.4, "lot/bank/ln_half": -0.1, "lot/churchyard/fraction_logit": -0.5, "lot/churchyard/ln_half": 0.08, "treatment/none/fraction_logit": -0.6, "treatment/none/ln_half": 0.1, "treatment/none/base": 0.8, "treatment/30 d cold moist/fraction_logit": 0.7, "treatment/30 d cold moist/ln_half": -0.2, "treatment/30 d cold moist/base": -1.0}
    boxes = []
    for spot, last in (("cold frame", 44), ("hall sill", 30), ("boiler shelf", 20)):
        for lot, treatment, seeds in (("bank", "none", 20), ("bank", "30 d cold moist", 25), ("churchyard", "none", 24), ("churchyard", "30 d cold moist", 20)):
            boxes.append((lot, treatment, spot, seeds, last, 0.01, 0.0))
    looks = [*range(2, 21, 2), 23, 26, 30, 33, 37, 40, 44]
    return grow("cowslips of two lots, chilled or not, at three spots from cold to warm with day-night swings", random, spots, 45, looks, truth, boxes)


def one_temperature():
    random = np.random.RandomState(42)
    spots = {"pantry": Spot(20, 0.6, 0.3, BESIDE)}
    truth = {"base": 7.0, "optimum": 27.0, "ln_fall": math.log(11), "ln_half": math.log(95), "ln_spread": math.log(0.25 * LOGISTIC_SCALE_OF_UNIT_SD), "fraction_logit": 1.2, "ln_sd_speed": math.log(0.06), "ln_sd_fraction": math.log(0.3)}
    boxes = [("market", "none", "pantry", seeds, 21, 0.005, 0.0) for seeds in (20, 25, 20, 20, 30, 25)]
    return grow("parsley of one lot, all at about 20 deg C: the base cannot be told", random, spots, 22, range(1, 22), truth, boxes)


def three_lots():
    random = np.random.RandomState(43)
    # The windowless room's 17 deg C is remembered, give or take 1.5, not measured.
    spots = {"porch": Spot(11, 5, 2, BESIDE_CALIBRATED, 3), "cellar stair": Spot(17, 0, 0, 1.5), "landing": Spot(20.5, 2, 1, BESIDE), "heat mat": Spot(25.5, 1.5, 0.5, IN_CALIBRATED), "over the boiler": Spot(31, 3, 1, ROOM)}
    truth = {"base": 8.0, "optimum": 27.5, "ln_fall": math.log(10), "ln_half": math.log(85), "ln_spread": math.log(0.22 * LOGISTIC_SCALE_OF_UNIT_SD), "fraction_logit": 1.0, "ln_sd_speed": math.log(0.1), "ln_sd_fraction": math.log(0.5), "lot/A/fraction_logit": 0.5, "lot/A/ln_half": 0.1, "lot/B/fraction_logit": -0.2, "lot/B/ln_half": -0.12, "lot/C/fraction_logit": -0.6, "lot/C/ln_half": 0.02}
    boxes = [(lot, "none", spot, 50, last, 0.02, 0.004) for spot, last in (("porch", 40), ("cellar stair", 26), ("landing", 20), ("heat mat", 16), ("over the boiler", 20)) for lot in "AABBCC"]
    return grow("chillies of three lots, fifty seeds a box, at five spots of which one is over the optimum, some seeds removed or lost", random, spots, 41, [*range(2, 21, 2), 23, 26, 30, 35, 40], truth, boxes)


BENCHES = {"two-lots": two_lots, "one-temperature": one_temperature, "three-lots": three_lots}


def written(bench):
    """JSON with one segment a line."""
    compact = lambda value: json.dumps(value, separators=(", ", ": "))
    boxes = []
    for container in bench["containers"]:
        segments = ",\n".join(f"   {compact(s)}" for s in container["segments"])
        boxes.append(f"  {compact({k: v for k, v in container.items() if k != 'segments'})[:-1]}, \"segments\": [\n{segments}\n  ]}}")
    head = "".join(f' "{key}": {compact(bench[key])},\n' for key in ("about", "truth", "spots"))
    return "{\n" + head + ' "containers": [\n' + ",\n".join(boxes) + "\n ]\n}\n"


if __name__ == "__main__":
    for name, make in BENCHES.items():
        bench = make()
        (DATA / f"hierarchy-{name}.json").write_text(written(bench))
        for c in bench["containers"]:
            print(name, c["container"], c["lot"], c["treatment"], c["spot"], c["seeds"], *([sum(s[k] for s in c["segments"]) for k in ("sprouted", "removed", "lost")]), [s["sprouted"] for s in c["segments"]])
