"""Reference values for counts, made with scipy 1.17.1 and numpy 2.4.6.

Run from crates/survival: python3 tests/scripts/counts_reference.py > tests/reference/expected/counts_scipy.json
"""

import csv
import json

import numpy as np
from scipy import optimize, stats

cases = []


def add(id, values, computed_by, **options):
    cases.append({"id": id, "options": options, "values": values, "computed_by": computed_by})


# Binomial mid-P limits: roots of tail minus half of the own point.
rows = []
for x, n, level in [(0, 10, 0.95), (1, 10, 0.95), (5, 10, 0.95), (10, 10, 0.95), (3, 17, 0.99), (81, 263, 0.95), (99, 100, 0.9), (700, 2000, 0.95)]:
    a = (1 - level) / 2
    low = 0.0 if x == 0 else optimize.brentq(lambda p: stats.binom.sf(x - 1, n, p) - 0.5 * stats.binom.pmf(x, n, p) - a, 1e-12, 1 - 1e-12, xtol=1e-15)
    high = 1.0 if x == n else optimize.brentq(lambda p: stats.binom.cdf(x, n, p) - 0.5 * stats.binom.pmf(x, n, p) - a, 1e-12, 1 - 1e-12, xtol=1e-15)
    rows.append({"n_events": x, "n": n, "level": level, "lower": low, "upper": high})
add("binomial-mid-p", rows, "scipy stats.binom, optimize.brentq")

# Direct standardisation: gamma limits of Fay and Feuer (1997) on indirect_std.csv at reference person-years.
strata = list(csv.DictReader(open("tests/reference/data/indirect_std.csv")))
d = np.array([float(r["study_events"]) for r in strata])
t = np.array([float(r["study_py"]) for r in strata])
w = np.array([float(r["ref_py"]) for r in strata])
w = w / w.sum()
y, v, wm = np.sum(w * d / t), np.sum(w**2 * d / t**2), np.max(w / t)
add(
    "direct-gamma",
    {
        "estimate": y,
        "variance": v,
        "lower": v / (2 * y) * stats.chi2.ppf(0.025, 2 * y * y / v),
        "upper": (v + wm**2) / (2 * (y + wm)) * stats.chi2.ppf(0.975, 2 * (y + wm) ** 2 / (v + wm**2)),
    },
    "scipy stats.chi2.ppf",
)

# Homogeneity and minimum likelihood p-value of a zero count.
add("homogeneity-p", {"p_value": stats.chi2.sf(25.427643682975, 23)}, "scipy stats.chi2.sf")
k = np.arange(0, 200)
pm = stats.poisson.pmf(k, 3.0)
add("poisson-zero-of-three", {"minimum_likelihood": pm[pm <= pm[0] * (1 + 1e-7)].sum()}, "scipy stats.poisson")

# Poisson-binomial: law, tails, quantiles; limits of O/E by moving all odds alike.
rng = np.random.default_rng(20240607)
chances = np.round(rng.uniform(0.02, 0.95, 40), 3)
law = stats.poisson_binom(chances)
logit = np.log(chances / (1 - chances))
expected = chances.sum()
limits = []
for observed in [0, 9, 18, 25, 40]:
    def moved(g):
        return 1 / (1 + np.exp(-(logit + g)))

    low = 0.0 if observed == 0 else moved(optimize.brentq(lambda g: stats.poisson_binom.sf(observed - 1, moved(g)) - 0.025, -30, 30, xtol=1e-14)).sum()
    high = 40.0 if observed == 40 else moved(optimize.brentq(lambda g: stats.poisson_binom.cdf(observed, moved(g)) - 0.025, -30, 30, xtol=1e-14)).sum()
    limits.append({"observed": observed, "lower": low / expected, "upper": high / expected, "p_at_most": law.cdf(observed), "p_at_least": law.sf(observed - 1)})
add(
    "poisson-binomial-40",
    {
        "chances": chances.tolist(),
        "mean": law.mean(),
        "variance": law.var(),
        "pmf": law.pmf(np.arange(41)).tolist(),
        "q025": float(law.ppf(0.025)),
        "q975": float(law.ppf(0.975)),
        "limits": limits,
    },
    "scipy stats.poisson_binom, optimize.brentq",
)

# In-control run length of the risk-adjusted cumulative sum: Markov chain on a fine grid of the sum,
# independent of any simulation.
def run_length(chances, ratio, limit, cells):
    chances = np.asarray(chances)
    shared = np.log(1 - chances + ratio * chances)
    step = limit / cells
    matrix = np.zeros((cells + 1, cells + 1))
    grid = np.arange(cells + 1) * step
    for p, s in zip(chances, shared):
        for score, probability in [(np.log(ratio) - s, p), (-s, 1 - p)]:
            target = np.maximum(0.0, grid + score)
            keep = target <= limit
            place = target[keep] / step
            low = np.minimum(np.floor(place).astype(int), cells)
            share = place - low
            rows_ = np.nonzero(keep)[0]
            np.add.at(matrix, (rows_, low), probability * (1 - share) / len(chances))
            np.add.at(matrix, (rows_, np.minimum(low + 1, cells)), probability * share / len(chances))
    return float(np.linalg.solve(np.eye(cells + 1) - matrix, np.ones(cells + 1))[0])


mix = [0.05, 0.1, 0.2, 0.1, 0.3, 0.05, 0.15, 0.1]
add(
    "cumulative-sum-run-length",
    [{"limit": h, "odds_ratio": r, "run_length": run_length(mix, r, h, 1500)} for r, h in [(2.0, 2.0), (2.0, 3.0), (0.5, 2.0)]],
    "numpy, Markov chain with 1500 cells and linear sharing between neighbours",
    chances=mix,
)

# False alarms of 3 sigma + shift 7 + trend 6 + 2 of 3 beyond 2 sigma on normal noise with known limits, written
# as plain loops over many series.
def alarm(z):
    n = len(z)
    if np.any(np.abs(z) > 3):
        return True
    for i in range(n - 6):
        if np.all(z[i : i + 7] > 0) or np.all(z[i : i + 7] < 0):
            return True
    for i in range(n - 5):
        steps = np.diff(z[i : i + 6])
        if np.all(steps > 0) or np.all(steps < 0):
            return True
    for i in range(n - 2):
        if np.sum(z[i : i + 3] > 2) >= 2 or np.sum(z[i : i + 3] < -2) >= 2:
            return True
    return False


noise = np.random.default_rng(1)
add(
    "false-alarm",
    [{"n_points": n, "chance": float(np.mean([alarm(noise.standard_normal(n)) for _ in range(40000)]))} for n in [8, 12, 20]],
    "numpy simulation, 40000 series; standard error 0.0012 to 0.0021",
)

print("[\n" + ",\n".join(json.dumps(case) for case in cases) + "\n]")
