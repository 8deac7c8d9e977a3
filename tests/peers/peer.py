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
ten = [name for name in table.columns if name.startswith("x")]
x = ten[:4]
exit_day = table["exit"].to_numpy(float)
any_event = (table["cause"] > 0).to_numpy()


def at_day(times, values):
    """The value of a step function on the day, read the usual way round: unchanged from its last step."""
    return float(np.asarray(values)[np.searchsorted(np.asarray(times), DAY, side="right") - 1])


def lifelines_methods():
    import lifelines
    from lifelines.statistics import logrank_test

    in_group = (table["group"] == 1).to_numpy()
    cox_table = table.assign(event=table["cause"] == 1)

    def curve(fitter, name):
        fitted = fitter.fit(exit_day, any_event)
        frame = getattr(fitted, name)
        return at_day(frame.index, frame.iloc[:, 0])

    def incidence():
        fitted = lifelines.AalenJohansenFitter(seed=1).fit(exit_day, table["cause"], event_of_interest=1)
        frame = fitted.cumulative_density_
        return at_day(frame.index, frame.iloc[:, 0])

    def cox(columns, covariates=x, **options):
        return lifelines.CoxPHFitter().fit(cox_table[covariates + ["exit", "event"] + columns], "exit", "event", **options)

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
        "cox-of-ten": lambda: float(cox([], ten).params_["x1"]),
        "cox-by-cluster": lambda: float(cox(["cluster"], cluster_col="cluster").standard_errors_["x1"]),
        "cox-with-delayed-entry": lambda: float(cox(["entry"], entry_col="entry").params_["x1"]),
        "interval-regression": interval_regression,
    }


def scikit_survival_methods():
    from sksurv import compare, linear_model, nonparametric
    from sksurv.util import Surv

    def kaplan_meier():
        times, values, _ = nonparametric.kaplan_meier_estimator(any_event, exit_day, conf_type="log-log")
        return at_day(times, values)

    def incidence():
        times, values, _ = nonparametric.cumulative_incidence_competing_risks(
            table["cause"].to_numpy(), exit_day, conf_type="log-log"
        )
        return at_day(times, values[1])

    def cox(covariates):
        outcome = Surv.from_arrays(table["cause"] == 1, exit_day)
        features = table[covariates].to_numpy(float)
        return float(linear_model.CoxPHSurvivalAnalysis(ties="efron").fit(features, outcome).coef_[0])

    return {
        "kaplan-meier": kaplan_meier,
        "nelson-aalen": lambda: at_day(*nonparametric.nelson_aalen_estimator(any_event, exit_day)),
        "log-rank": lambda: float(compare.compare_survival(Surv.from_arrays(any_event, exit_day), table["group"])[0]),
        "cumulative-incidence": incidence,
        "cox": lambda: cox(x),
        "cox-of-ten": lambda: cox(ten),
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

    def cox(covariates=x, **options):
        return sm.PHReg(exit_day, table[covariates], status=table["cause"] == 1, ties="efron", **options).fit(disp=0)

    return {
        "kaplan-meier": kaplan_meier,
        "log-rank": lambda: float(survdiff(exit_day, any_event, table["group"].to_numpy())[0]),
        "cumulative-incidence": incidence,
        "cox": lambda: float(cox().params[0]),
        "cox-of-ten": lambda: float(cox(ten).params[0]),
        "cox-with-delayed-entry": lambda: float(cox(entry=table["entry"].to_numpy(float)).params[0]),
        "logistic": lambda: float(sm.Logit(table["cause"] == 1, sm.add_constant(table[x])).fit(disp=0).params["x1"]),
    }


def comprisk_methods():
    import comprisk

    cause = table["cause"].to_numpy()

    def incidence():
        curve = comprisk.CumulativeIncidence().fit(exit_day, cause).curves_[(None, 1)]
        return at_day(curve.times, curve.cif)

    return {
        "cumulative-incidence": incidence,
        "gray": lambda: float(comprisk.gray_test(exit_day, cause, table["group"].to_numpy()).stat),
        "fine-gray": lambda: float(comprisk.FineGrayRegression().fit(table[x].to_numpy(float), time=exit_day, event=cause).coef_[0]),
    }


def survival_methods():
    """Its functions of arrays, which are faster than those of formulas."""
    from survival import core, regression, surv_analysis

    cause, cluster, group = table["cause"].to_numpy(), table["cluster"].to_numpy(), table["group"].to_numpy()
    entry = table["entry"].to_numpy(float)
    event, first = any_event.astype(float), (cause == 1).astype(float)

    def features(covariates):
        return table[covariates].to_numpy(float)

    def cox(covariates=x, **options):
        return float(regression.coxph_fit(exit_day, first, features(covariates), **options).coefficients[0])

    def cox_by_cluster(covariates=x):
        return float(regression.coxph_fit(exit_day, first, features(covariates), cluster=cluster).var[0][0]) ** 0.5

    def by_cluster(fitted):
        scale = at_day(fitted.time, fitted.surv) if fitted.logse else 1.0
        return scale * at_day(fitted.time, fitted.std_err)

    def proportional_hazards_test():
        return float(regression.cox_zph(regression.coxph_fit(exit_day, first, features(x)), transform="km").global_test.chisq)

    def concordance():
        outcome = core.SurvivalData(exit_day, (cause == 1).astype(int))
        score = core.CovariateMatrix(table["x1"].to_numpy(float), len(exit_day), 1)
        return float(core.concordancefit(outcome, score, reverse=True).concordance[0])

    def median(rows):
        fitted = surv_analysis.survfitkm(exit_day[rows], event[rows], se_fit=False)
        return float(surv_analysis.quantile_survfit(fitted, probs=[0.5], conf_int=False).quantile[0][0])

    def bootstrap():
        draw = np.random.default_rng(1)
        for _ in range(200):
            median(draw.integers(0, len(exit_day), len(exit_day)))
        return median(slice(None))

    def kaplan_meier():
        fitted = surv_analysis.survfitkm(exit_day, event)
        return at_day(fitted.time, fitted.surv)

    def incidence(column, **options):
        fitted = surv_analysis.survfitaj(exit_day, cause, ["first", "second"], **options)
        return at_day(fitted.time, [row[1] for row in getattr(fitted, column)])

    return {
        "kaplan-meier": kaplan_meier,
        "kaplan-meier-by-cluster": lambda: by_cluster(surv_analysis.survfitkm(exit_day, event, cluster=cluster)),
        "log-rank": lambda: float(surv_analysis.survdiff(exit_day, event, group).chisq),
        "cumulative-incidence": lambda: incidence("pstate"),
        "cumulative-incidence-by-cluster": lambda: incidence("std_err", cluster=cluster),
        "cox": cox,
        "cox-of-ten": lambda: cox(ten),
        "cox-with-delayed-entry": lambda: cox(entry=entry),
        "cox-of-ten-with-delayed-entry": lambda: cox(ten, entry=entry),
        "cox-by-cluster": cox_by_cluster,
        "cox-of-ten-by-cluster": lambda: cox_by_cluster(ten),
        "proportional-hazards-test": proportional_hazards_test,
        "concordance": concordance,
        "bootstrap-of-a-median": bootstrap,
    }


def survival_bare_methods():
    """Its fit that stops at coefficients and covariance: no tests, no residuals."""
    from survival import regression

    first, entry = (table["cause"] == 1).to_numpy(float), table["entry"].to_numpy(float)

    def cox(covariates, **options):
        fitted = regression.coxph_fit_raw(exit_day, first, table[covariates].to_numpy(float), resid=False, **options)
        return float(fitted.coefficients[0])

    return {
        "cox": lambda: cox(x),
        "cox-of-ten": lambda: cox(ten),
        "cox-with-delayed-entry": lambda: cox(x, entry=entry),
        "cox-of-ten-with-delayed-entry": lambda: cox(ten, entry=entry),
    }


known = {
    "lifelines": lifelines_methods,
    "scikit-survival": scikit_survival_methods,
    "statsmodels": statsmodels_methods,
    "comprisk": comprisk_methods,
    "survival": survival_methods,
    "survival/bare": survival_bare_methods,
}[library]()
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
