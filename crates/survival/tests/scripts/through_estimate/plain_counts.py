"""Counts, charts and funnels through `limbledger estimate`, against the same formulas written down plainly.

    python3 plain_counts.py PATH/TO/limbledger [SERIES [SEED]]

Series hold nothing but zeros, periods of unequal size, chances of 0, 1, all alike and next to nothing. Centres and limits of charts:
NIST/SEMATECH e-Handbook, sections 6.3.2 and 6.3.3; g and t charts and Laney's (1.128 for the mean range of two, three digits as printed in tables of
constants): Kaminsky 1992, Nelson 1994, Laney 2002; Poisson limits: Garwood 1936; funnels: Spiegelhalter 2005, appendix (from memory).

Needs numpy and scipy (tried with 2.4 and 1.17).
"""

import math
import sys
import tempfile

import numpy as np
from plain import Comparison, Program
from scipy.stats import binom, chi2, norm, poisson

RANGE_OF_TWO = 1.128
POWER = 3.6


def ranges(values):
    return np.mean(np.abs(np.diff(values)))


def charts(draw, number):
    """Columns, and for each chart its options, centre, lower and upper limits."""
    n = int(draw.integers(3, 25))
    events, people = draw.integers(0, 9, n), draw.integers(9, 60, n)
    events = {0: 0 * events, 1: np.minimum(events, 1)}.get(number, events)
    exposure, waiting, values = np.round(30 * draw.random(n) + 0.5, 2), np.round(draw.exponential(5, n), 2), np.round(draw.normal(10, 2, n), 2)
    found = {}
    for name, size, spread, most in [("proportion", people, lambda p: p * (1 - p), 1), ("rate", exposure, lambda u: u, math.inf)]:
        centre = events.sum() / size.sum()
        error = np.sqrt(spread(centre) / size)
        sigma_z = ranges((events / size - centre) / error) / RANGE_OF_TWO if centre > 0 else 0
        column = "people" if name == "proportion" else "exposure"
        for chart, factor in [(name, 1), (f"{name}-laney", sigma_z)]:
            reach = 3 * error * factor
            found[chart] = (["events", "--denominator", column], centre, np.maximum(0, centre - reach), np.minimum(most, centre + reach))
    mean, ones = events.mean(), np.ones(n)
    for chart, error in [("count", math.sqrt(mean)), ("cases-between", math.sqrt(mean * (mean + 1)))]:
        found[chart] = (["events"], mean, max(0, mean - 3 * error) * ones, (mean + 3 * error) * ones)
    root = waiting ** (1 / POWER)
    middle, reach = root.mean(), 2.66 * ranges(root)
    found["time-between"] = (["waiting"], middle**POWER, max(0, middle - reach) ** POWER * ones, (middle + reach) ** POWER * ones)
    middle, reach = values.mean(), 2.66 * ranges(values)
    found["individuals"] = (["values"], middle, (middle - reach) * ones, (middle + reach) * ones)
    return {"events": events, "people": people, "exposure": exposure, "waiting": waiting, "values": values}, found


def of_charts(compare, program, draw, number):
    columns, expected = charts(draw, number)
    program.write(columns)
    for chart, (options, centre, lower, upper) in expected.items():
        answer = program("control-chart", "--chart", chart, "--events", *options)["chart"]
        compare(f"centre of {chart}", answer["centre"], float(centre), number)
        for point, low, high in zip(answer["points"], lower, upper):
            compare(f"limits of {chart}", point["lower"], float(low), number)
            compare(f"limits of {chart}", point["upper"], float(high), number)


def of_rates(compare, program, draw, number):
    events, size = draw.integers(0, 8, 5), np.round(20 * draw.random(5) + 0.1, 3)
    events[0] = 0
    program.write({"events": events, "size": size, "unit": range(5)})
    for method, option in [("rate", "--denominator"), ("standardised", "--expected")]:
        answer = program(method, "--events", "events", option, "size", "--group", "unit")
        for line, count, against in zip(answer["estimates"], events, size):
            low = chi2.ppf(0.025, 2 * count) / 2 / against if count else 0.0
            compare(f"limits of {method}", line["lower"], float(low), number)
            compare(f"limits of {method}", line["upper"], float(chi2.ppf(0.975, 2 * count + 2) / 2 / against), number)


def of_chances(compare, program, draw, number):
    n = int(draw.choice([1, 3, 10, 40]))
    kinds = [draw.random(n), np.full(n, 0.3), draw.choice([0.0, 1.0, 0.5], n), np.r_[draw.random(n - 1) * 1e-12, 1e-9]]
    chance = kinds[number % 4]
    came = (draw.random(n) < chance).astype(int)
    program.write({"came": came, "chance": chance})
    answer = program("standardised", "--cause", "came", "--expected", "chance")["estimates"][0]
    law = np.array([1.0])
    for one in chance:
        law = np.convolve(law, [1 - one, one])
    compare("Poisson-binomial tail", answer["p_at_most"], float(law[: came.sum() + 1].sum()), number)
    compare("Poisson-binomial tail", answer["p_at_least"], float(law[came.sum() :].sum()), number)


def interpolated(law, probability, *parameters):
    """The count whose lower tail reaches the probability, moved back by the share of its own chance that overshoots."""
    count = int(law.ppf(probability, *parameters))
    return count - (law.cdf(count, *parameters) - probability) / law.pmf(count, *parameters)


def of_funnels(compare, program, draw, number):
    people = draw.integers(1, 90, 12)
    events = draw.binomial(people, draw.beta(2, 3, 12))
    program.write({"events": events, "people": people, "unit": range(12)})
    answer = program("funnel", "--events", "events", "--denominator", "people", "--group", "unit")
    target = events.sum() / people.sum()
    for line, n in zip(answer["estimates"], people):
        for limit in line["limits"]:
            value = interpolated(binom, limit["probability"], n, target) / n
            compare("funnel of proportions", limit["value"], min(1.0, max(0.0, float(value))), number, 1e-7)
    z = (events / people - target) / np.sqrt(target * (1 - target) / people)
    phi = np.mean(np.clip(z, *np.quantile(z, [0.1, 0.9])) ** 2)
    precision = people / (target * (1 - target))
    tau_squared = max(0, (12 * phi - 11) / (precision.sum() - (precision**2).sum() / precision.sum()))
    for line in answer["other_limits"]:
        if line["method"] != "normal":
            continue
        variance = target * (1 - target) / line["size"]
        widened = {"nothing": variance, "multiplicative": variance * max(1, phi), "additive": variance + tau_squared}[line["widening"]]
        for limit in line["limits"]:
            value = target + norm.ppf(limit["probability"]) * math.sqrt(widened)
            compare(f"normal funnel widened by {line['widening']}", limit["value"], min(1.0, max(0.0, float(value))), number)
    expected = np.round(20 * draw.random(12) + 0.3, 2)
    program.write({"events": draw.poisson(expected), "expected": expected, "unit": range(12)})
    answer = program("funnel", "--events", "events", "--expected", "expected", "--group", "unit")
    for line, mean in zip(answer["estimates"], expected):
        for limit in line["limits"]:
            value = interpolated(poisson, limit["probability"], mean) / mean
            compare("funnel of ratios", limit["value"], max(0.0, float(value)), number, 1e-7)


def main():
    n_series = int(sys.argv[2]) if len(sys.argv) > 2 else 8
    draw = np.random.default_rng(int(sys.argv[3]) if len(sys.argv) > 3 else 1)
    compare = Comparison()
    with tempfile.TemporaryDirectory() as folder:
        program = Program(sys.argv[1], folder)
        for number in range(n_series):
            for part in (of_charts, of_rates, of_chances, of_funnels):
                part(compare, program, draw, number)
    sys.exit(compare.report())


main()
