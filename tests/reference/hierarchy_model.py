"""What seeds need, with lots, treatments, containers and doubtful probes, written a second time for checking: plain numpy,
many parameter vectors at once, no knowledge of the program under test.

    rate     tent: T - Tb up to the optimum To, then falling linearly to 0 at the ceiling Tc = To + e^u
    F        log-logistic, 1 / (1 + (Theta / half)^(-1/s))
    Tb       base + treatment
    ln half  ln_half + lot + treatment + e,   e ~ N(0, sd_speed^2) a container
    logit pi fraction + lot + treatment + slope * (mean deg C of the container - mean of the containers) + w,
             w ~ N(0, sd_fraction^2) a container
    deg C    as recorded + the spot's offset (slope: as recorded)

    L of a container = integral over e and w of
        prod_k [pi (F(Theta_k) - F(Theta_(k-1)))]^sprouted_k * (1 - pi)^removed * prod_k (1 - pi F(Theta_k))^lost_k * (1 - pi F(Theta_K))^left

A lot or treatment effect exists for every level where there are two levels or more. Interval-censored likelihood with a
germinable fraction: Onofri, Mesgaran, Tei & Cousens 2011, Weed Res. 51:516-524. Adaptive quadrature: Liu & Pierce 1994,
Biometrika 81:624-629 (both from memory).
"""

import json
import math
import pathlib

import numpy as np
from scipy import special

DATA = pathlib.Path(__file__).resolve().parent.parent / "data"
LEAST_RISE_C = 5.0
LOGISTIC_SCALE_OF_UNIT_SD = math.sqrt(3) / math.pi
GENERAL = [
    ("base", 6.0, 4.0),
    ("optimum", 27.0, 3.0),
    ("ln_fall", math.log(11), 0.3),
    ("ln_half", 4.6, 1.0),
    ("ln_spread", math.log(0.25 * LOGISTIC_SCALE_OF_UNIT_SD), 0.4),
    ("fraction_logit", 0.8, 1.2),
    ("ln_sd_speed", math.log(0.06), 0.6),
    ("ln_sd_fraction", math.log(0.3), 0.7),
]
TREATMENT_SD = {"fraction_logit": 0.8, "ln_half": 0.25, "base": 2.0}
LOT_SD = {"fraction_logit": 0.8, "ln_half": 0.15}
SLOPE_SD = 0.1


def load(name):
    return json.loads((DATA / f"hierarchy-{name}.json").read_text())


def softplus(x):
    """ln(1 + e^x), without overflow."""
    return np.maximum(x, 0) + np.log1p(np.exp(-np.abs(x)))


class Model:
    """ln prior and ln likelihood of a bench as functions of (vectors x parameters) arrays.

    A bench holds `spots`: {name: {"offset_sd": deg C}} and `containers`: [{"lot", "treatment", "spot", "seeds", "segments":
    [{"pairs": [[deg C, days], ...], "sprouted", "removed", "lost"}]}].
    """

    def __init__(self, bench, slope=False, nodes=9):
        self.nodes = np.polynomial.hermite_e.hermegauss(nodes)
        boxes = bench["containers"]
        self.boxes = len(boxes)
        levels = lambda key: list(dict.fromkeys(c[key] for c in boxes))
        self.lots, self.treatments, self.spots = levels("lot"), levels("treatment"), levels("spot")
        table = list(GENERAL)
        for kind, names, sds in (("lot", self.lots, LOT_SD), ("treatment", self.treatments, TREATMENT_SD)):
            if len(names) > 1:
                table += [(f"{kind}/{name}/{what}", 0.0, sd) for name in names for what, sd in sds.items()]
        table += [(f"offset/{spot}", 0.0, bench["spots"][spot]["offset_sd"]) for spot in self.spots]
        if slope:
            table.append(("fraction_slope", 0.0, SLOPE_SD))
        self.names = [row[0] for row in table]
        self.centre, self.sd = (np.array([row[i] for row in table]) for i in (1, 2))
        self.place = {name: i for i, name in enumerate(self.names)}
        self.lot_of, self.treatment_of = [c["lot"] for c in boxes], [c["treatment"] for c in boxes]
        self._temperatures(boxes)
        self._counts(boxes)

    def _temperatures(self, boxes):
        """For each (spot, treatment) the distinct temperatures, and a matrix that turns rates at them into thermal time at
        the looks of its containers."""
        looks = max(len(c["segments"]) for c in boxes)
        self.looks, self.groups, means = looks, [], []
        for key in dict.fromkeys((c["spot"], c["treatment"]) for c in boxes):
            rows = [i for i, c in enumerate(boxes) if (c["spot"], c["treatment"]) == key]
            celsius = sorted({pair[0] for i in rows for s in boxes[i]["segments"] for pair in s["pairs"]})
            at = {t: j for j, t in enumerate(celsius)}
            days = np.zeros((len(celsius), len(rows), looks))
            for r, i in enumerate(rows):
                for k, segment in enumerate(boxes[i]["segments"]):
                    for t, d in segment["pairs"]:
                        days[at[t], r, k:] += d
            self.groups.append((*key, np.array(celsius), rows, days.reshape(len(celsius), -1)))
        for c in boxes:
            pairs = np.array([p for s in c["segments"] for p in s["pairs"]])
            means.append(np.sum(pairs[:, 0] * pairs[:, 1]) / np.sum(pairs[:, 1]))
        self.warmth = np.array(means) - np.mean(means)

    def _counts(self, boxes):
        """Counts by look. ln(F_k - F_(k-1)) = ln(1 - e^(x_(k-1) - x_k)) + ln F_k + ln(1 - F_(k-1)), x = logit F: the first term
        does not depend on e, the others need one softplus a look."""
        get = lambda key: np.array([[s[key] for s in c["segments"]] + [0] * (self.looks - len(c["segments"])) for c in boxes], float)
        self.sprouted, lost = get("sprouted"), get("lost")
        self.removed = get("removed").sum(axis=1)
        left = np.array([c["seeds"] for c in boxes]) - self.sprouted.sum(axis=1) - self.removed - lost.sum(axis=1)
        if np.any(left < 0):
            raise ValueError("more seeds accounted for than sown")
        self.left, self.last = left, np.array([len(c["segments"]) - 1 for c in boxes])
        self.by_then, self.not_before = self.sprouted, np.hstack([self.sprouted[:, 1:], np.zeros((self.boxes, 1))])
        censored = lost.copy()
        censored[np.arange(self.boxes), self.last] += left
        # Columns for right-censored seeds: as many as any container has different times for.
        width = max(1, int(np.max(np.sum(censored > 0, axis=1))))
        self.censored_at, self.censored = np.zeros((self.boxes, width), int), np.zeros((self.boxes, width))
        for i in range(self.boxes):
            for j, k in enumerate(np.flatnonzero(censored[i])):
                self.censored_at[i, j], self.censored[i, j] = k, censored[i, k]
        # Looks that matter for e: those next to a sprout. Squeezed to the left, so that fewer columns are worked through.
        used = (self.by_then + self.not_before) > 0
        width = max(1, int(np.max(used.sum(axis=1))))
        self.used_at = np.zeros((self.boxes, width), int)
        self.plus, self.minus = np.zeros((self.boxes, width)), np.zeros((self.boxes, width))
        for i in range(self.boxes):
            for j, k in enumerate(np.flatnonzero(used[i])):
                self.used_at[i, j], self.plus[i, j], self.minus[i, j] = k, self.by_then[i, k], self.not_before[i, k]

    def column(self, x, name):
        return x[:, self.place[name]] if name in self.place else np.zeros(len(x))

    def ln_prior(self, x):
        """Sum of -z^2/2, normal constants left out; -inf where the optimum is less than 5 deg C above any treatment's base."""
        ok = x[:, 1] >= x[:, 0] + LEAST_RISE_C
        for treatment in self.treatments:
            ok &= x[:, 1] >= x[:, 0] + self.column(x, f"treatment/{treatment}/base") + LEAST_RISE_C
        return np.where(ok, -0.5 * np.sum(((x - self.centre) / self.sd) ** 2, axis=1), -math.inf)

    def thermal_times(self, x):
        """(vectors x containers x looks)."""
        theta = np.zeros((len(x), self.boxes, self.looks))
        fall = np.exp(x[:, 2])[:, None]
        for spot, treatment, celsius, rows, days in self.groups:
            t = celsius[None, :] + self.column(x, f"offset/{spot}")[:, None]
            base = (x[:, 0] + self.column(x, f"treatment/{treatment}/base"))[:, None]
            optimum = x[:, 1][:, None]
            rate = np.minimum(t - base, (optimum - base) * (optimum + fall - t) / fall)
            theta[:, rows, :] = (np.maximum(rate, 0) @ days).reshape(len(x), len(rows), self.looks)
        return theta

    def middles(self, x):
        """ln half and logit pi at container effect 0: (vectors x containers) each."""
        out = []
        for what in ("ln_half", "fraction_logit"):
            lots = {n: self.column(x, f"lot/{n}/{what}") for n in self.lots}
            treatments = {n: self.column(x, f"treatment/{n}/{what}") for n in self.treatments}
            middle = np.stack([lots[l] + treatments[t] for l, t in zip(self.lot_of, self.treatment_of)], axis=1)
            out.append(middle + self.column(x, what)[:, None])
        out[1] = out[1] + self.column(x, "fraction_slope")[:, None] * self.warmth[None, :]
        return out

    def inside(self, x):
        """What of ln likelihood does not depend on the container effects, and the rest as a function of them."""
        ln_half, logit = self.middles(x)
        with np.errstate(divide="ignore"):
            ln_theta = np.log(self.thermal_times(x))
        spread, speed, share = (np.exp(x[:, self.place[n]])[:, None] for n in ("ln_spread", "ln_sd_speed", "ln_sd_fraction"))
        at = np.clip((ln_theta - ln_half[:, :, None]) / spread[:, :, None], -1e8, None)
        before = np.concatenate([np.full(at.shape[:2] + (1,), -math.inf), at[:, :, :-1]], axis=2)
        with np.errstate(divide="ignore", invalid="ignore"):
            gap = np.where(self.sprouted > 0, self.sprouted * np.log(-np.expm1(before - at)), 0.0).sum(axis=2)
        logit_f = np.take_along_axis(at, np.broadcast_to(self.used_at, (len(x), *self.used_at.shape)), axis=2)
        logit_c = np.take_along_axis(at, np.broadcast_to(self.censored_at, (len(x), *self.censored_at.shape)), axis=2)
        return gap, Inside(self, logit_f, logit_c, logit, spread, speed, share)

    def ln_likelihood(self, x, brute=None):
        """Container effects integrated out, multinomial constant left out. brute: so many equally spaced nodes each way
        between -8 and 8 sd of the effects instead of the adaptive ones."""
        gap, inside = self.inside(x)
        with np.errstate(over="ignore", under="ignore"):
            total = inside.brute(brute) if brute else inside.adaptive(*self.nodes)
        total = np.sum(gap + total, axis=1)
        return np.where(np.isnan(total), -math.inf, total)

    def ln_posterior(self, x):
        x = np.atleast_2d(x)
        height = self.ln_prior(x)
        # Far outside any seed numbers would overflow.
        inside = np.isfinite(height) & (np.max(np.abs((x - self.centre) / self.sd), axis=1) < 12)
        height[~inside] = -math.inf
        if np.any(inside):
            height[inside] += self.ln_likelihood(x[inside])
        return height


class Inside:
    """ln of a container's likelihood as a function of its two effects, in units of their sd: (a, b)."""

    def __init__(self, model, logit_f, logit_c, logit, spread, speed, share):
        self.m, self.f, self.c, self.logit = model, logit_f, logit_c, logit
        self.per_a, self.per_b = (speed / spread) * np.ones_like(logit), share * np.ones_like(logit)

    def of_a(self, a):
        """The part that depends on a alone. a: (vectors x containers x nodes)."""
        x = self.f[:, :, None, :] - (a * self.per_a[:, :, None])[..., None]
        plus, minus = self.m.plus[:, None, :], self.m.minus[:, None, :]
        # plus ln F + minus ln(1 - F), with ln(1 - F) = ln F - x
        return np.sum(minus * np.minimum(-x, 0) + plus * np.minimum(x, 0) - (plus + minus) * np.log1p(np.exp(-np.abs(x))), axis=-1)

    def whole(self, a, b):
        """a: (vectors x containers x nodes), b: (vectors x containers x nodes x nodes): prior left out."""
        y = self.logit[:, :, None, None] + self.per_b[:, :, None, None] * b
        ln_not = -softplus(y)
        sprouted, removed = (n[:, None, None] for n in (self.m.sprouted.sum(axis=1), self.m.removed))
        total = self.of_a(a)[..., None] + sprouted * (ln_not + y) + removed * ln_not
        pi = np.exp(ln_not + y)
        for j in range(self.m.censored.shape[1]):
            n = self.m.censored[:, j]
            if np.any(n > 0):
                not_f = special.expit(-(self.c[:, :, j, None] - a * self.per_a[:, :, None]))
                total = total + n[:, None, None] * np.log((1 - pi) + pi * not_f[..., None] + 1e-300)
        return total

    def slopes(self, a, b):
        """Gradient and curvatures of ln likelihood + ln prior; one node a container."""
        ka, kb = self.per_a, self.per_b
        f = special.expit(self.f - (a * ka)[..., None])
        ga = ka * np.sum(self.m.minus * f - self.m.plus * (1 - f), axis=-1)
        haa = -(ka**2) * np.sum((self.m.plus + self.m.minus) * f * (1 - f), axis=-1)
        pi = special.expit(self.logit + kb * b)
        n, r = self.m.sprouted.sum(axis=1), self.m.removed
        gb, hbb = kb * (n * (1 - pi) - r * pi), -(kb**2) * (n + r) * pi * (1 - pi)
        hab = np.zeros_like(a)
        f = special.expit(self.c - (a * ka)[..., None])
        p = pi[..., None]
        q, n = np.maximum(1 - p * f, 1e-12), self.m.censored
        slope = p * f * (1 - f) / q
        ga = ga + ka * np.sum(n * slope, axis=-1)
        haa = haa - ka**2 * np.sum(n * slope * (1 - 2 * f + slope), axis=-1)
        gb = gb - kb * np.sum(n * p * (1 - p) * f / q, axis=-1)
        hbb = hbb + kb**2 * np.sum(n * p * (1 - p) * f / q**2 * (2 * p - 1 - p * p * f), axis=-1)
        hab = hab + ka * kb * np.sum(n * p * (1 - p) * f * (1 - f) / q**2, axis=-1)
        return ga - a, gb - b, haa - 1, hab, hbb - 1

    def peak(self, steps=6):
        """About where the likelihood with the prior is highest, a and b; the width of a, how b leans with a, its width given a."""
        a, b = np.zeros_like(self.logit), np.zeros_like(self.logit)
        for step in range(steps + 1):
            ga, gb, haa, hab, hbb = self.slopes(a, b)
            # Curvatures less than half of the prior's are not believed: centre and width need be good, not exact.
            haa, hbb = np.minimum(haa, -0.5), np.minimum(hbb, -0.5)
            limit = 0.9 * np.sqrt(haa * hbb)
            hab = np.clip(hab, -limit, limit)
            det = haa * hbb - hab**2
            if step < steps:
                a = a - np.clip((hbb * ga - hab * gb) / det, -2, 2)
                b = b - np.clip((haa * gb - hab * ga) / det, -2, 2)
        return a, b, np.sqrt(-hbb / det), -hab / hbb, np.sqrt(-1 / hbb)

    def adaptive(self, nodes, weights):
        a, b, width_a, lean, width_b = self.peak()
        away = width_a[:, :, None] * nodes
        at_a = a[:, :, None] + away
        at_b = (b[:, :, None] + lean[:, :, None] * away)[..., None] + width_b[:, :, None, None] * nodes
        ln_w = np.log(weights) + 0.5 * nodes**2
        height = self.whole(at_a, at_b) - 0.5 * at_a[..., None] ** 2 - 0.5 * at_b**2 + ln_w[:, None] + ln_w
        top = np.max(height, axis=(2, 3))
        return top + np.log(np.sum(np.exp(height - top[:, :, None, None]), axis=(2, 3)) * width_a * width_b / (2 * math.pi))

    def brute(self, count):
        nodes = np.linspace(-8, 8, count)
        shape = (*self.logit.shape, count)
        a = np.broadcast_to(nodes, shape)
        height = self.whole(a, np.broadcast_to(nodes, (*shape, count))) - 0.5 * nodes[:, None] ** 2 - 0.5 * nodes**2
        top = np.max(height, axis=(2, 3))
        return top + np.log(np.sum(np.exp(height - top[:, :, None, None]), axis=(2, 3)) * (nodes[1] - nodes[0]) ** 2 / (2 * math.pi))
