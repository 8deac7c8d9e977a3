//! `estimate`: any estimator on any plain table, so that anyone can check the numbers from outside.

mod answer;
mod arguments;
mod asked;
mod counts;
mod covariates;
mod cox;
mod curve_json;
mod curves;
mod fine_gray;
mod fit;
mod follow_up;
mod funnel;
mod guide;
mod guide_words;
mod histories;
mod intervals;
mod labels;
mod logistic;
mod series;
mod standardisation;
mod table;
mod weighted;
mod words;
mod words_table;

pub(crate) use arguments::EstimateArguments;
pub(crate) use asked::options_given;
pub(crate) use guide_words::{explained_method, list_of_methods, method_names, methods_in_help};

pub(crate) use table::unreadable;

use crate::failure::Failure;
use arguments::Method;

/// The answer as text: JSON with `--json`, otherwise tables to read.
pub(crate) fn estimate(arguments: &EstimateArguments) -> Result<String, Failure> {
    let notes = asked::checked(arguments)?;
    let mut answer = match arguments.method {
        Method::KaplanMeier => curves::kaplan_meier_answer(arguments),
        Method::NelsonAalen => curves::nelson_aalen_answer(arguments),
        Method::RestrictedMean => curves::restricted_mean_answer(arguments),
        Method::LogRank => curves::log_rank_answer(arguments),
        Method::CumulativeIncidence => curves::incidence_answer(arguments),
        Method::MultiState => histories::multi_state_answer(arguments),
        Method::MeanCumulativeCount => histories::mean_count_answer(arguments),
        Method::Npmle => intervals::npmle_answer(arguments),
        Method::IntervalRegression => intervals::interval_regression_answer(arguments),
        Method::Cox => cox::cox_answer(arguments),
        Method::FineGray => fine_gray::fine_gray_answer(arguments),
        Method::Logistic => logistic::logistic_answer(arguments),
        Method::WeightedCurve => weighted::weighted_curve_answer(arguments),
        Method::Proportion => counts::proportion_answer(arguments),
        Method::Rate => counts::rate_answer(arguments),
        Method::Standardised => counts::standardised_answer(arguments),
        Method::Funnel => funnel::funnel_answer(arguments),
        Method::ControlChart => series::control_chart_answer(arguments),
        Method::CumulativeSum => series::cumulative_sum_answer(arguments),
    }?;
    answer::add_notes(&mut answer, notes);
    if arguments.json {
        let text = serde_json::to_string_pretty(&answer);
        return text
            .map(|text| text + "\n")
            .map_err(|error| Failure::CannotRun(format!("could not write the answer: {error}")));
    }
    Ok(words::in_words(&answer))
}
