"""Odd but legal tables through `limbledger estimate`, against the same formulas written down plainly.

    python3 plain_curves.py PATH/TO/limbledger [TABLES [SEED]]

Tables have 1 to 40 rows with ties, events on day 0, delayed entry that empties risk sets, fractional weights and weights of 0, three
causes, clusters that cross groups and strata, groups of one row. Compared: estimates and robust errors of Kaplan-Meier curves, incidences,
restricted means and their differences, limits on all five scales, seven log-rank families
with k groups and trends of uneven scores, with and without strata, and the gradient conditions of the NPMLE. The robust error is made
by moving the weights of one cluster at a time (numerical derivatives), so nothing but the estimate itself is taken from a formula.
Formulas: Klein and Moeschberger, Survival Analysis, 2003, chapters 4 and 7; gradient: Wellner and Zhan, JASA 1997;92:945 (from memory).

Needs numpy and scipy (tried with 2.4 and 1.17).
"""

import math
import sys
import tempfile

import numpy as np
from plain import Comparison, Program
from scipy.stats import norm

SCALES = ["linear", "log", "log-log", "logit", "arcsine"]
FAMILIES = ["log-rank", "gehan-breslow", "tarone-ware", "peto-peto", "peto-peto-modified", "fleming-harrington:1:1", "fleming-harrington:0.5:2"]


def follow_up(draw, number):
    rows = int(draw.choice([1, 2, 3, 5, 8, 15, 30] if number % 3 == 0 else [6, 12, 25, 40]))
    exits = draw.integers(number % 2 == 0, 12, rows).astype(float)
    if number % 5 == 0:
        exits = np.round(exits + draw.random(rows), 2)
    entry = np.zeros(rows)
    if number % 3 == 1:
        entry = np.where(draw.random(rows) < 0.5, np.floor(exits * draw.random(rows)), 0.0)
        entry[entry >= exits] = 0
    weight = draw.choice([0.25, 0.5, 1, 1.5, 3, 0.0] if number % 4 == 1 else [0.3, 1, 2.7], rows)
    weight[0] += weight.sum() == 0
    whole = {name: draw.integers(low, high, rows) for name, low, high in [("cause", 0, 4), ("group", 1, 4), ("stratum", 0, 3)]}
    return {"entry": entry, "exit": exits, **whole, "cluster": draw.integers(1, max(3, rows // 2) + 1, rows), "weight": weight}


def steps(table, weight):
    """At risk, events of any cause and rows of each event time."""
    for time in np.unique(table["exit"][(table["cause"] > 0) & (weight > 0)]):
        at_risk = ((table["entry"] < time) | (table["entry"] == 0)) & (table["exit"] >= time)
        now = (table["exit"] == time) & (table["cause"] > 0)
        yield time, weight[at_risk].sum(), weight[now].sum(), now


def curve(table, weight, times, cause=None):
    """Kaplan-Meier, or the incidence of a cause."""
    event_free, incidence, found = 1.0, 0.0, [(-1.0, 1.0 if cause is None else 0.0)]
    for time, at_risk, events, now in steps(table, weight):
        if cause is not None:
            incidence += event_free * weight[now & (table["cause"] == cause)].sum() / at_risk
        event_free *= 1 - events / at_risk
        found.append((time, event_free if cause is None else incidence))
    known = np.array([time for time, _ in found])
    return np.array([found[np.searchsorted(known, time, side="right") - 1][1] for time in times])


def restricted_mean(table, weight, until):
    times = np.array([time for time, *_ in steps(table, weight) if time < until])
    return np.sum(np.diff(np.r_[0, times, until]) * np.r_[1, curve(table, weight, times)])


def robust_error(estimate, weight, cluster):
    """Root of the sum over clusters of the squared derivative in the logarithm of the cluster's weight."""
    by, total = 1e-5, 0.0
    for one in np.unique(cluster):
        up, down = (np.where(cluster == one, weight * (1 + sign * by), weight) for sign in (1, -1))
        total = total + ((np.atleast_1d(estimate(up)) - np.atleast_1d(estimate(down))) / (2 * by)) ** 2
    return np.sqrt(total)


def limits(scale, p, error, z):
    """Limits of a probability, clipped to [0, 1]; none where the scale has no value."""
    if error is None or (scale != "linear" and p <= 0) or (scale not in ("linear", "log") and p >= 1):
        return None, None
    reach = z * error
    slope = {"linear": 1, "log": p, "log-log": p * math.log(p) if p > 0 else 0, "logit": p * (1 - p), "arcsine": 2 * math.sqrt(max(0, p * (1 - p)))}[scale]
    to, back = {
        "linear": (lambda v: v, lambda v: v),
        "log": (math.log, math.exp),
        "log-log": (lambda v: math.log(-math.log(v)), lambda v: math.exp(-math.exp(v))),
        "logit": (lambda v: math.log(v / (1 - v)), lambda v: 1 / (1 + math.exp(-v))),
        "arcsine": (lambda v: math.asin(math.sqrt(v)), lambda v: math.sin(min(max(v, 0), math.pi / 2)) ** 2),
    }[scale]
    lower, upper = sorted(back(to(p) + sign * reach / slope) for sign in (-1, 1))
    return max(0, min(lower, p)), min(1, max(upper, p))


def of_curves(compare, program, table, place, base):
    rows = len(table["exit"])
    z = norm.ppf(0.95)
    kinds = [("", np.ones(rows), np.arange(rows), ["--variance", "robust"]), (" weighted", table["weight"], table["cluster"], ["--weight", "weight", "--cluster", "cluster"])]
    for kind, weight, cluster, options in kinds:
        for method in ("kaplan-meier", "cumulative-incidence"):
            for scale in SCALES:
                answer = program(method, *base, *options, "--limits", scale, "--level", 0.9)
                for found in answer["curves"]:
                    cause = None if found["quantity"] == "event-free" else int(found["cause"])
                    points = found["points"]
                    times = [point["time"] for point in points]
                    if scale == "linear":
                        plain = curve(table, weight, times, cause)
                        errors = robust_error(lambda moved: curve(table, moved, times, cause), weight, cluster)
                        for point, value, error in zip(points, plain, errors):
                            compare(f"{method}{kind}", point["estimate"], float(value), place)
                            if point["std_error"] is not None:
                                compare(f"error of {method}{kind}", point["std_error"], float(error), place, 1e-5)
                    for point in points:
                        expected = limits(scale, point["estimate"], point["std_error"], z)
                        for name, value in zip(("lower", "upper"), expected):
                            compare(f"{scale} limits", point[name], value, place)


def of_means(compare, program, table, place, base, until=5):
    answer = program("restricted-mean", *base, "--until", until, "--group", "group", "--weight", "weight", "--cluster", "cluster")

    def mean(group, weight):
        own = table["group"] == int(group)
        return restricted_mean({name: column[own] for name, column in table.items()}, weight[own], until)

    weighs = {str(group) for group in np.unique(table["group"]) if table["weight"][table["group"] == group].sum() > 0}
    for found in answer["curves"]:
        group, own = str(found["group"]), found["restricted_mean"]
        if group in weighs:
            compare("restricted mean", own["estimate"], mean(group, table["weight"]), place)
            error = robust_error(lambda moved: mean(group, moved), table["weight"], table["cluster"])
            compare("error of restricted mean", own["std_error"], float(error[0]), place, 1e-5)
    for found in answer.get("differences", []):
        pair = found["group"], found["reference"]
        error = robust_error(lambda moved: mean(pair[0], moved) - mean(pair[1], moved), table["weight"], table["cluster"])
        compare("error of a difference of means", found["std_error"], float(error[0]), place, 1e-5)


def log_rank(table, family, is_stratified, scores=None):
    labels = np.unique(table["group"])
    score, covariance = np.zeros(len(labels)), np.zeros((len(labels), len(labels)))
    strata = table["stratum"] if is_stratified else np.zeros(len(table["exit"]))
    for stratum in np.unique(strata):
        own = {name: column[strata == stratum] for name, column in table.items()}
        event_free = modified = 1.0
        for time, n, d, now in steps(own, np.ones(len(own["exit"]))):
            at_risk = ((own["entry"] < time) | (own["entry"] == 0)) & (own["exit"] >= time)
            share = np.array([(at_risk & (own["group"] == label)).sum() for label in labels]) / n
            events = np.array([(now & (own["group"] == label)).sum() for label in labels])
            modified *= 1 - d / (n + 1)
            weight = {
                "log-rank": 1,
                "gehan-breslow": n,
                "tarone-ware": math.sqrt(n),
                "peto-peto": modified,
                "peto-peto-modified": modified * n / (n + 1),
                "fleming-harrington:1:1": event_free * (1 - event_free),
                "fleming-harrington:0.5:2": event_free**0.5 * (1 - event_free) ** 2,
            }[family]
            score += weight * (events - share * d)
            if n > 1:
                covariance += weight**2 * d * (n - d) / (n - 1) * (np.diag(share) - np.outer(share, share))
            event_free *= 1 - d / n
    if scores is not None:
        variance = scores @ covariance @ scores
        return (scores @ score) ** 2 / variance if variance > 1e-12 else None
    seen = np.diag(covariance) > 1e-12
    if seen.sum() < 2:
        return None
    return float(score[seen] @ np.linalg.pinv(covariance[np.ix_(seen, seen)], rcond=1e-10) @ score[seen])


def of_tests(compare, program, table, place, base):
    scores = np.array([0.5, 3, -2])[: len(np.unique(table["group"]))]
    for family in FAMILIES:
        for is_stratified in (False, True):
            options = ["--group", "group", "--family", family, "--scores=" + ",".join(map(str, scores))]
            answer = program("log-rank", *base, *options, *(["--stratum", "stratum"] if is_stratified else []))
            for test in answer["tests"]:
                expected = log_rank(table, family, is_stratified, scores if "trend" in test["name"] else None)
                compare(f"{family}{' by stratum' if is_stratified else ''}", test["statistic"], expected, place, 1e-7)


def of_npmle(compare, program, draw, place):
    """Intervals (lower, upper], exact times, open ends, ends that meet: no place may gain more than the total weight."""
    rows = int(draw.choice([1, 2, 3, 6, 15, 40]))
    times, kind = np.round(10 * draw.weibull(1.5, rows)) + 1, draw.integers(0, 5, rows)
    lower = np.where(kind == 0, times, np.where(kind == 2, 0, np.maximum(0, times - draw.integers(0, 5, rows))))
    upper = np.where(kind == 0, times, np.where(kind == 1, np.inf, times + draw.integers(0, 4, rows)))
    weight = draw.choice([0.5, 1, 2.0], rows)
    program.write({"lower": lower, "upper": ["" if np.isinf(end) else end for end in upper], "weight": weight})
    answer = program("npmle", "--lower", "lower", "--upper", "upper", "--weight", "weight")
    masses = [(one["lower"], math.inf if one["upper"] is None else one["upper"], one["probability"]) for one in answer["masses"]]

    def is_inside(left, right, low, high):
        if low == high:
            return left == right == low
        return low < left <= high if left == right else left >= low and right <= high

    chance = np.array([sum(p for left, right, p in masses if is_inside(left, right, low, high)) for low, high in zip(lower, upper)])
    compare("npmle: masses add up", sum(p for *_, p in masses), 1.0, place)
    compare("npmle: log likelihood", answer["log_likelihood"], float(np.sum(weight * np.log(chance))), place)
    ends = sorted({*lower, *upper[np.isfinite(upper)]})
    gains = [sum(w / p for w, p, low, high in zip(weight, chance, lower, upper) if (t == low if low == high else low < t <= high)) for t in [*ends, *(end + 0.25 for end in ends), 0.1, 1e9]]
    compare("npmle: largest gain over the total weight", max(1.0, max(gains) / weight.sum()), 1.0, place, 1e-6)


def main():
    n_tables = int(sys.argv[2]) if len(sys.argv) > 2 else 12
    draw = np.random.default_rng(int(sys.argv[3]) if len(sys.argv) > 3 else 1)
    compare = Comparison()
    with tempfile.TemporaryDirectory() as folder:
        program = Program(sys.argv[1], folder)
        for number in range(n_tables):
            table = follow_up(draw, number)
            program.write(table)
            base = ["--exit", "exit", "--cause", "cause", *(["--entry", "entry"] if table["entry"].any() else [])]
            of_curves(compare, program, table, number, base)
            of_means(compare, program, table, number, base)
            of_tests(compare, program, table, number, base)
            of_npmle(compare, program, draw, number)
    sys.exit(compare.report())


main()
