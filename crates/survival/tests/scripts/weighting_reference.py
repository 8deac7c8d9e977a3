"""Reference values for propensity weights and their uncertainty, made with numpy 2.4.6 and statsmodels 0.15.0.

Run from crates/survival: python3 tests/scripts/weighting_reference.py > tests/reference/expected/weighting_numpy.json

Influences are found by brute force: each row's case weight is moved a little up and down and everything is estimated
again, the propensity model too where the weights count as estimated. No formula of the program is used.
"""

import json

import numpy as np
import statsmodels.api as sm

rng = np.random.default_rng(20250301)
n = 90
x = rng.normal(size=n).round(3)
z = (rng.uniform(size=n) < 0.4).astype(float)
treated = (rng.uniform(size=n) < 1 / (1 + np.exp(-(-0.2 + 0.7 * x + 0.5 * z)))).astype(float)
entry = np.where(rng.uniform(size=n) < 0.3, rng.integers(1, 6, n), 0).astype(float)
exit_ = entry + rng.integers(1, 40, n)
cause = rng.choice([0, 1, 2], size=n, p=[0.3, 0.5, 0.2])
cluster = rng.integers(0, 50, n)
case = np.ones(n)
design = np.column_stack([np.ones(n), x, z])


def propensity(case):
    return sm.GLM(treated, design, family=sm.families.Binomial(), freq_weights=case).fit(tol=1e-14, maxiter=100).fittedvalues


def weights(e, population):
    if population == "average":
        return treated / e + (1 - treated) / (1 - e)
    if population == "treated":
        return treated + (1 - treated) * e / (1 - e)
    return treated * (1 - e) + (1 - treated) * e


def curves(w, member):
    """Event-free and incidence steps of one group: plain loops over the event times."""
    times = np.unique(exit_[member])
    s, f = 1.0, {1: 0.0, 2: 0.0}
    steps = []
    for t in times:
        at_risk = member & ((entry < t) | (entry == 0)) & (exit_ >= t)
        y = w[at_risk].sum()
        for k in (1, 2):
            f[k] += s * w[at_risk & (exit_ == t) & (cause == k)].sum() / y
        s *= 1 - w[at_risk & (exit_ == t) & (cause > 0)].sum() / y
        steps.append((t, s, f[1], f[2]))
    return steps


TIMES, UNTIL = [5.0, 12.0, 20.0], 18.0


def targets(w):
    found = []
    for arm in (1, 0):
        member = treated == arm
        steps = curves(w, member)
        for t in TIMES:
            last = [step for step in steps if step[0] <= t]
            found += list(last[-1][1:]) if last else [1.0, 0.0, 0.0]
        area, before, s = 0.0, 0.0, 1.0
        for t, after, _, _ in steps:
            if t >= UNTIL:
                break
            area, before, s = area + s * (t - before), t, after
        found.append(area + s * (UNTIL - before))
    return np.array(found)


NAMES = [f"{kind}@{t:g}" for t in TIMES for kind in ("event-free", "incidence-1", "incidence-2")] + [f"restricted-mean@{UNTIL:g}"]


def std_errors(estimate):
    """Infinitesimal jackknife by central differences, summed by row and by cluster."""
    h = 1e-4
    influence = []
    for i in range(n):
        up, down = case.copy(), case.copy()
        up[i] += h
        down[i] -= h
        influence.append((estimate(up) - estimate(down)) / (2 * h))
    influence = np.array(influence)
    half = len(NAMES)
    influence = np.column_stack([influence, influence[:, :half] - influence[:, half:]])
    by_cluster = np.array([influence[cluster == c].sum(axis=0) for c in np.unique(cluster)])
    return np.sqrt((influence**2).sum(axis=0)), np.sqrt((by_cluster**2).sum(axis=0))


cases = []
e = propensity(case)
for population in ["average", "treated", "overlap"]:
    w = weights(e, population)
    found = targets(w)
    known = std_errors(lambda c: targets(c * w))
    estimated = std_errors(lambda c: targets(c * weights(propensity(c), population)))
    half = len(NAMES)
    rows = []
    for place, name in enumerate(NAMES):
        pick = lambda errors: [float(errors[place]), float(errors[half + place]), float(errors[2 * half + place])]
        rows.append(
            {
                "target": name,
                "treated": float(found[place]),
                "untreated": float(found[half + place]),
                "std_error_known": pick(known[0]),
                "std_error_known_clustered": pick(known[1]),
                "std_error_estimated": pick(estimated[0]),
                "std_error_estimated_clustered": pick(estimated[1]),
            }
        )
    cases.append(
        {
            "id": f"contrast-{population}",
            "columns": {
                "entry": entry.tolist(),
                "exit": exit_.tolist(),
                "cause": cause.tolist(),
                "treated": treated.tolist(),
                "cluster": cluster.tolist(),
                "x": x.tolist(),
                "z": z.tolist(),
                "propensity": e.tolist(),
            },
            "values": {"weights": w.tolist(), "contrasts": rows},
            "note": "std_error lists: treated, untreated, difference",
            "computed_by": "numpy and statsmodels GLM, influences by central differences of whole refits",
        }
    )

w = weights(e, "average")
low, high = np.quantile(w, [0.05, 0.9])
cases.append(
    {
        "id": "truncated-weights",
        "options": {"lower": 0.05, "upper": 0.9},
        "values": {"weights": np.clip(w, low, high).tolist(), "n_truncated": int(((w < low) | (w > high)).sum())},
        "computed_by": "numpy quantile (linear = type 7)",
    }
)
print("[\n" + ",\n".join(json.dumps(case) for case in cases) + "\n]")
