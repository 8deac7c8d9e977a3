//! What each method needs, a worked example and where its formula comes from. `estimate --help`, `explain` and `list methods` read it.
//!
//! Papers stand as the code of each estimator cites them; references, section and equation numbers are from memory of the papers.

use super::arguments::Method;

/// How to use one method.
pub(crate) struct Guide {
    /// Options without which the method cannot run.
    pub(crate) needs: &'static [&'static str],
    /// Further options that it reads.
    pub(crate) takes: &'static [&'static str],
    /// What is computed.
    pub(crate) formula: &'static str,
    /// Where the formula comes from.
    pub(crate) source: &'static str,
    /// A command that runs in the root of the repository.
    pub(crate) example: &'static str,
}

impl Method {
    pub(crate) fn guide(self) -> Guide {
        match self {
            Self::KaplanMeier => Guide {
                needs: &["--exit", "--cause"],
                takes: &[
                    "--entry",
                    "--event",
                    "--group",
                    "--cluster",
                    "--weight",
                    "--times",
                    "--until",
                    "--level",
                    "--limits",
                    "--variance",
                    "--draws",
                    "--seed",
                ],
                formula: "S(t) = product over event times up to t of 1 - d/n; Greenwood's variance. A quantile is the first time at \
                    which the curve has come down to it, midway along a step that lies just there; its limits are those of the curve's limits",
                source: "Kaplan and Meier, JASA 1958;53:457. Klein and Moeschberger 2003, eq. 4.2.1 and 4.2.2 (from memory). \
                    Quantiles: Brookmeyer and Crowley, Biometrics 1982;38:29; drawn with `--draws`: Efron, JASA 1981;76:312.",
                example: "limbledger estimate kaplan-meier sample-data/estimate/follow-up.csv --exit days --cause outcome --group site --times 84",
            },
            Self::NelsonAalen => Guide {
                needs: &["--exit", "--cause"],
                takes: &[
                    "--entry",
                    "--event",
                    "--group",
                    "--cluster",
                    "--weight",
                    "--times",
                    "--level",
                    "--limits",
                    "--variance",
                ],
                formula: "H(t) = sum over event times up to t of d/n; variance sum of d/n^2",
                source: "Nelson, Technometrics 1972;14:945; Aalen, Ann Stat 1978;6:701. \
                    Klein and Moeschberger 2003, eq. 4.2.3 and 4.2.4 (from memory).",
                example: "limbledger estimate nelson-aalen sample-data/estimate/follow-up.csv --exit days --cause outcome \
                    --event amputated",
            },
            Self::RestrictedMean => Guide {
                needs: &["--exit", "--cause"],
                takes: &[
                    "--until",
                    "--entry",
                    "--event",
                    "--group",
                    "--cluster",
                    "--weight",
                    "--level",
                    "--variance",
                ],
                formula: "area under the Kaplan-Meier curve up to a bound; differences between groups",
                source: "Irwin, J Hygiene 1949;47:188; Royston and Parmar, BMC Med Res Methodol 2013;13:152 (from memory).",
                example: "limbledger estimate restricted-mean sample-data/estimate/follow-up.csv --exit days --cause outcome \
                    --group site --until 84",
            },
            Self::LogRank => Guide {
                needs: &["--exit", "--cause", "--group"],
                takes: &[
                    "--family",
                    "--scores",
                    "--entry",
                    "--event",
                    "--stratum",
                    "--cluster",
                    "--weight",
                    "--variance",
                ],
                formula: "weighted sum of observed minus expected events, against its hypergeometric covariance",
                source: "Andersen, Borgan, Gill and Keiding 1993, section V.2; \
                    Klein and Moeschberger 2003, sections 7.3 to 7.5 (from memory).",
                example: "limbledger estimate log-rank sample-data/estimate/follow-up.csv --exit days --cause outcome \
                    --event healed --group site",
            },
            Self::CumulativeIncidence => Guide {
                needs: &["--exit", "--cause"],
                takes: &[
                    "--entry",
                    "--event",
                    "--group",
                    "--stratum",
                    "--cluster",
                    "--weight",
                    "--times",
                    "--level",
                    "--limits",
                    "--variance",
                ],
                formula: "F(t) = sum over event times up to t of S(t-) d/n of the cause; Gray's test between groups",
                source: "Aalen and Johansen, Scand J Stat 1978;5:141; Andersen, Borgan, Gill and Keiding 1993, section IV.4. \
                    Test: Gray, Ann Stat 1988;16:1141, score after eq. 2.9, variance of section 4 (from memory).",
                example: "limbledger estimate cumulative-incidence sample-data/estimate/follow-up.csv --exit days \
                    --cause outcome --cluster person --times 84,168",
            },
            Self::MultiState => Guide {
                needs: &["--subject", "--exit", "--from", "--to"],
                takes: &[
                    "--entry",
                    "--group",
                    "--cluster",
                    "--weight",
                    "--until",
                    "--times",
                    "--level",
                    "--limits",
                    "--variance",
                ],
                formula: "P(t) = product over times up to t of I + dA, from the shares of the states at the start",
                source: "Aalen and Johansen, Scand J Stat 1978;5:141; Datta and Satten, Stat Probab Lett 2001;55:403; \
                    Andersen, Borgan, Gill and Keiding 1993, eq. 4.4.17 (from memory).",
                example: "limbledger estimate multi-state sample-data/estimate/states.csv --subject person --exit until_day \
                    --from state --to moved_to --until 365",
            },
            Self::MeanCumulativeCount => Guide {
                needs: &["--subject", "--exit", "--cause"],
                takes: &[
                    "--entry",
                    "--event",
                    "--group",
                    "--cluster",
                    "--weight",
                    "--times",
                    "--level",
                    "--limits",
                    "--variance",
                ],
                formula: "M(t) = sum over times up to t of S(t-) d/n, S being that of the events that end everything; \
                    the variance adds each subject's influence, with events that end everything Ghosh and Lin's, in which those answer as a hazard",
                source: "Nelson, J Qual Technol 1988;20:24; Lawless and Nadeau, Technometrics 1995;37:158; \
                    Ghosh and Lin, Biometrics 2000;56:554, eq. 2 (from memory).",
                example: "limbledger estimate mean-cumulative-count sample-data/estimate/new-ulcers.csv --subject person \
                    --exit day --cause what --event new-ulcer --times 365",
            },
            Self::Npmle => Guide {
                needs: &["--lower", "--upper"],
                takes: &["--group", "--weight", "--times"],
                formula: "the masses on innermost intervals that make the intervals seen most likely",
                source: "Peto, Appl Stat 1973;22:86; Turnbull, JRSS B 1976;38:290; \
                    Wellner and Zhan, JASA 1997;92:945 (from memory).",
                example: "limbledger estimate npmle sample-data/estimate/intervals.csv --lower last_open_day \
                    --upper first_closed_day --times 84",
            },
            Self::IntervalRegression => Guide {
                needs: &["--lower", "--upper"],
                takes: &[
                    "--covariates",
                    "--distribution",
                    "--cluster",
                    "--weight",
                    "--level",
                ],
                formula: "ln T = intercept + sum of coefficient times covariate + scale times W, by maximum likelihood",
                source: "Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data, 2002, section 3.6 \
                    (from memory).",
                example: "limbledger estimate interval-regression sample-data/estimate/intervals.csv --lower last_open_day \
                    --upper first_closed_day --covariates area_cm2,site --distribution weibull",
            },
            Self::Cox => Guide {
                needs: &["--exit", "--cause"],
                takes: &[
                    "--covariates",
                    "--entry",
                    "--event",
                    "--stratum",
                    "--cluster",
                    "--weight",
                    "--ties",
                    "--clock",
                    "--profile",
                    "--adjusted-by",
                    "--times",
                    "--baseline",
                    "--residuals",
                    "--level",
                ],
                formula: "hazard = baseline times exp(sum of coefficient times covariate), by partial likelihood",
                source: "Cox, JRSS B 1972;34:187; Efron, JASA 1977;72:557, eq. 4.2; Breslow, Biometrics 1974;30:89; \
                    by cluster Lin and Wei, JASA 1989;84:1074, eq. 2.4; repeated events: Andersen and Gill, Ann Stat 1982;10:1100; \
                    curves: Tsiatis, Ann Stat 1981;9:93, averaged as Makuch, J Chronic Dis 1982;35:437; \
                    residuals: Schoenfeld, Biometrika 1982;69:239 (from memory).",
                example: "limbledger estimate cox sample-data/estimate/follow-up.csv --exit days --cause outcome \
                    --event healed --covariates area_cm2,age,site --cluster person --adjusted-by site --times 84",
            },
            Self::FineGray => Guide {
                needs: &["--exit", "--cause", "--event"],
                takes: &[
                    "--entry",
                    "--covariates",
                    "--stratum",
                    "--cluster",
                    "--weight",
                    "--ties",
                    "--profile",
                    "--times",
                    "--level",
                ],
                formula: "sub-distribution hazard = baseline times exp(sum of coefficient times covariate), \
                    weighted for censoring and delayed entry",
                source: "Fine and Gray, JASA 1999;94:496, eq. 7 and 8 for the variance (from memory); \
                    delayed entry: Geskus, Biometrics 2011;67:39.",
                example: "limbledger estimate fine-gray sample-data/estimate/follow-up.csv --exit days --cause outcome \
                    --event amputated --covariates area_cm2,age --cluster person",
            },
            Self::Logistic => Guide {
                needs: &["--cause"],
                takes: &[
                    "--covariates",
                    "--event",
                    "--cluster",
                    "--weight",
                    "--firth",
                    "--level",
                ],
                formula: "ln(p/(1 - p)) = intercept + sum of coefficient times covariate, by maximum likelihood",
                source: "Hosmer, Lemeshow and Sturdivant, Applied Logistic Regression, 2013, chapter 2; \
                    Firth, Biometrika 1993;80:27; Heinze and Schemper, Stat Med 2002;21:2409 (from memory).",
                example: "limbledger estimate logistic sample-data/estimate/follow-up.csv --cause outcome --event amputated \
                    --covariates area_cm2,age --firth",
            },
            Self::WeightedCurve => Guide {
                needs: &["--exit", "--cause", "--group", "--covariates"],
                takes: &[
                    "--entry",
                    "--event",
                    "--cluster",
                    "--population",
                    "--stabilised",
                    "--until",
                    "--times",
                    "--draws",
                    "--seed",
                    "--level",
                    "--limits",
                    "--variance",
                ],
                formula: "Kaplan-Meier curves with weights from the chance of being in the group, by logistic regression",
                source: "Xie and Liu, Stat Med 2005;24:3089; Li, Morgan and Zaslavsky, JASA 2018;113:390; contrasts: \
                    Lunceford and Davidian, Stat Med 2004;23:2937, section 3.1 (from memory).",
                example: "limbledger estimate weighted-curve sample-data/estimate/follow-up.csv --exit days --cause outcome \
                    --group site --covariates area_cm2,age --population overlap --until 84",
            },
            Self::Proportion => Guide {
                needs: &["--events", "--denominator"],
                takes: &["--group", "--cause", "--event", "--level"],
                formula: "events/n; Wilson's score limits, with five others beside them. \
                    `--cause` instead of both counts rows",
                source: "Wilson, JASA 1927;22:209; Newcombe, Stat Med 1998;17:857, methods 3 to 5; \
                    Clopper and Pearson, Biometrika 1934;26:404 (from memory).",
                example: "limbledger estimate proportion sample-data/estimate/clinicians.csv --events healed \
                    --denominator ulcers --group site",
            },
            Self::Rate => Guide {
                needs: &["--events", "--denominator"],
                takes: &["--group", "--level"],
                formula: "events/exposure; exact Poisson limits, with three others beside them",
                source: "Garwood, Biometrika 1936;28:437; Cohen and Yang, Stat Med 1994;13:2189; \
                    Breslow and Day II, 1987, chapter 2 (from memory).",
                example: "limbledger estimate rate sample-data/estimate/clinicians.csv --events amputations \
                    --denominator limb_years --group site",
            },
            Self::Standardised => Guide {
                needs: &["--events", "--expected"],
                takes: &[
                    "--group",
                    "--cause",
                    "--event",
                    "--denominator",
                    "--standard",
                    "--reference-events",
                    "--reference-denominator",
                    "--level",
                ],
                formula: "observed/expected; exact Poisson limits. `--cause` with `--expected`, a chance for each row, \
                    calls for the exact law of their sum. Instead of `--expected`, over strata: `--reference-events` and \
                    `--reference-denominator` (indirect: events over those expected at the reference's rates), or `--standard` (direct: the \
                    sum of rate times share of the standard population, gamma limits), each with `--denominator`",
                source: "Breslow and Day II, 1987, chapter 2; Garwood, Biometrika 1936;28:437; law of the sum: \
                    Barlow and Heidtmann, IEEE Trans Reliability 1984;33:322; gamma limits: Fay and Feuer, Stat Med 1997;16:791 (from memory).",
                example: "limbledger estimate standardised sample-data/estimate/clinicians.csv --events healed \
                    --expected expected_healed --group site",
            },
            Self::Funnel => Guide {
                needs: &["--events", "--denominator"],
                takes: &["--expected", "--group"],
                formula: "limits that a unit of its size passes by chance with probability 0.05 and 0.002, interpolated \
                    between counts. Limits of other kinds stand beside them: whole counts, normal, on a stabilised scale, score limits, and \
                    each widened (by phi, and by tau squared) where units spread more than by chance. `--expected` instead of `--denominator` for ratios",
                source: "Spiegelhalter, Stat Med 2005;24:1185, section 3 and appendix A.1; tau squared: DerSimonian and Laird, \
                    Control Clin Trials 1986;7:177 (from memory).",
                example: "limbledger estimate funnel sample-data/estimate/clinicians.csv --events healed \
                    --denominator ulcers --group clinician",
            },
            Self::ControlChart => Guide {
                needs: &["--chart", "--events"],
                takes: &["--denominator"],
                formula: "centre -+ 3 standard deviations of the law of the chart, and runs within them",
                source: "NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.3.2 and 6.3.3; \
                    Laney, Qual Eng 2002;14:531; Kaminsky and others, J Qual Technol 1992;24:63; \
                    Nelson, J Qual Technol 1994;26:239 (from memory).",
                example: "limbledger estimate control-chart sample-data/estimate/quarters.csv --chart proportion \
                    --events healed --denominator ulcers",
            },
            Self::CumulativeSum => Guide {
                needs: &["--cause", "--expected"],
                takes: &[
                    "--event",
                    "--odds-ratio",
                    "--limit",
                    "--run-length",
                    "--draws",
                    "--seed",
                ],
                formula: "largest of 0 and the sum before plus the log likelihood ratio of the outcome. `--run-length` finds the limit \
                    that a sum passes by chance once in so many people on average, `--draws` how long a sum with the limit \
                    runs, people being drawn again from those of the table",
                source: "Steiner, Cook, Farewell and Treasure, Biostatistics 2000;1:441, sections 2 and 3 (from memory).",
                example: "limbledger estimate cumulative-sum sample-data/estimate/predicted.csv --cause outcome \
                    --expected predicted_chance --odds-ratio 2",
            },
        }
    }
}
