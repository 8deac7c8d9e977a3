"""Times methods of one Python library on a table in memory: python3 peer.py FILE LIBRARY METHOD,METHOD. Prints a line of JSON for each."""

import json
import sys
import time
import warnings

import numpy as np
import pandas as pd

DAY = 180
file, library, methods = sys.argv[1:]
warnings.simplefilter("ignore")
table = pd.read_csv(file)
x = [name for name in table.columns if name.startswith("x")]
exit_day = table["exit"].to_numpy(float)
any_event = (table["cause"] > 0).to_numpy()


def at_day(times, values):
    """The value of a step function on the day, read the usual way round: unchanged from its last step."""
    return float(np.asarray(values)[np.searchsorted(np.asarray(times), DAY, side="right") - 1])


def lifelines_methods():
    import lifelines
    from lifelines.statistics import logrank_test

    in_group = (table["group"] == 1).to_numpy()
    cox_table = table[x + ["entry", "exit", "cluster"]].assign(event=table["cause"] == 1)

    def curve(fitter, name):
        fitted = fitter.fit(exit_day, any_event)
        frame = getattr(fitted, name)
        return at_day(frame.index, frame.iloc[:, 0])

    def incidence():
        fitted = lifelines.AalenJohansenFitter(seed=1).fit(exit_day, table["cause"], event_of_interest=1)
        frame = fitted.cumulative_density_
        return at_day(frame.index, frame.iloc[:, 0])

    def cox(columns, **options):
        return lifelines.CoxPHFitter().fit(cox_table[x + ["exit", "event"] + columns], "exit", "event", **options)

    def interval_regression():
        columns = table[x].assign(lower=table["lower"].clip(lower=1e-9), upper=table["upper"].fillna(np.inf))
        fitted = lifelines.WeibullAFTFitter().fit_interval_censoring(columns, "lower", "upper")
        return float(fitted.params_["lambda_"]["x1"])

    return {
        "kaplan-meier": lambda: curve(lifelines.KaplanMeierFitter(), "survival_function_"),
        "nelson-aalen": lambda: curve(lifelines.NelsonAalenFitter(nelson_aalen_smoothing=False), "cumulative_hazard_"),
        "log-rank": lambda: float(
            logrank_test(exit_day[in_group], exit_day[~in_group], any_event[in_group], any_event[~in_group]).test_statistic
        ),
        "cumulative-incidence": incidence,
        "cox": lambda: float(cox([]).params_["x1"]),
        "cox-by-cluster": lambda: float(cox(["cluster"], cluster_col="cluster").standard_errors_["x1"]),
        "cox-with-delayed-entry": lambda: float(cox(["entry"], entry_col="entry").params_["x1"]),
        "interval-regression": interval_regression,
    }


def scikit_survival_methods():
    from sksurv import compare, linear_model, nonparametric
    from sksurv.util import Surv

    features = table[x].to_numpy(float)

    def kaplan_meier():
        times, values, _ = nonparametric.kaplan_meier_estimator(any_event, exit_day, conf_type="log-log")
        return at_day(times, values)

    def incidence():
        times, values, _ = nonparametric.cumulative_incidence_competing_risks(
            table["cause"].to_numpy(), exit_day, conf_type="log-log"
        )
        return at_day(times, values[1])

    def cox():
        outcome = Surv.from_arrays(table["cause"] == 1, exit_day)
        return float(linear_model.CoxPHSurvivalAnalysis(ties="efron").fit(features, outcome).coef_[0])

    return {
        "kaplan-meier": kaplan_meier,
        "nelson-aalen": lambda: at_day(*nonparametric.nelson_aalen_estimator(any_event, exit_day)),
        "log-rank": lambda: float(compare.compare_survival(Surv.from_arrays(any_event, exit_day), table["group"])[0]),
        "cumulative-incidence": incidence,
        "cox": cox,
    }


def statsmodels_methods():
    import statsmodels.api as sm
    from statsmodels.duration.survfunc import CumIncidenceRight, survdiff

    def kaplan_meier():
        fitted = sm.SurvfuncRight(exit_day, any_event)
        return at_day(fitted.surv_times, fitted.surv_prob)

    def incidence():
        fitted = CumIncidenceRight(exit_day, table["cause"].to_numpy())
        return at_day(fitted.times, fitted.cinc[0])

    def cox(**options):
        return sm.PHReg(exit_day, table[x], status=table["cause"] == 1, ties="efron", **options).fit(disp=0)

    return {
        "kaplan-meier": kaplan_meier,
        "log-rank": lambda: float(survdiff(exit_day, any_event, table["group"].to_numpy())[0]),
        "cumulative-incidence": incidence,
        "cox": lambda: float(cox().params[0]),
        "cox-with-delayed-entry": lambda: float(cox(entry=table["entry"].to_numpy(float)).params[0]),
        "logistic": lambda: float(sm.Logit(table["cause"] == 1, sm.add_constant(table[x])).fit(disp=0).params["x1"]),
    }


known = {"lifelines": lifelines_methods, "scikit-survival": scikit_survival_methods, "statsmodels": statsmodels_methods}[library]()
for name in methods.split(","):
    run = known[name]
    seconds, begun = float("inf"), time.perf_counter()
    # the best of three to twenty, fewer when they are long
    for turn in range(1, 21):
        start = time.perf_counter()
        figure = run()
        seconds = min(seconds, time.perf_counter() - start)
        spent = time.perf_counter() - begun
        if spent > 5 or (turn >= 3 and spent > 1):
            break
    print(json.dumps({"method": name, "seconds": seconds, "figure": figure}), flush=True)
