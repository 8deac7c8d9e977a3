//! The odds of an event by covariates, where everybody was seen to the end.

use super::answer::{Answer, insert};
use super::arguments::EstimateArguments;
use super::covariates::{column_names, covariates};
use super::fit::{model, name_errors, test};
use super::follow_up::{has_event, needed, table_of};
use super::labels::identities;
use crate::failure::Failure;
use serde_json::{Value, json};
use survival::regression::{
    BinaryOutcomes, LogisticOptions, Penalty, c_statistic, calibration, logistic,
};

pub(super) fn logistic_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let cause = needed("cause", &arguments.cause)?;
    let extra: Vec<Option<String>> = column_names(arguments).into_iter().map(Some).collect();
    let mut columns = vec![&arguments.cluster, &arguments.weight, &arguments.cause];
    columns.extend(&extra);
    let table = table_of(arguments, &columns, &[])?;
    let refuse = |error| table.refusal(&error);
    let outcomes = has_event(arguments, &table, cause)?;
    let mut outcomes = BinaryOutcomes::new(outcomes).map_err(refuse)?;
    if let Some(weight) = &arguments.weight {
        outcomes = outcomes
            .with_weight(table.numbers(weight, f64::NAN)?)
            .map_err(refuse)?;
    }
    if let Some(cluster) = &arguments.cluster {
        let cluster = identities(&table.text(cluster));
        outcomes = outcomes.with_cluster(cluster).map_err(refuse)?;
    }
    let options = LogisticOptions {
        penalty: if arguments.firth {
            Penalty::Firth
        } else {
            Penalty::None
        },
        level: arguments.level,
    };
    let fit = logistic(&outcomes, &covariates(arguments, &table)?, &options).map_err(refuse)?;
    let mut answer = Answer::new(arguments, table.n_rows(), table.n_left_out);
    answer.option("level", options.level);
    answer.option("penalty", options.penalty);
    answer.option("event", arguments.event.as_deref().unwrap_or("any"));
    let mut model = model(&fit.terms, fit.log_likelihood, fit.log_likelihood_null);
    name_errors(&mut model, fit.robust_covariance.is_some());
    insert(&mut model, "n_events", fit.n_events);
    insert(&mut model, "covariance", &fit.covariance);
    insert(&mut model, "robust_covariance", &fit.robust_covariance);
    if let Some(concordance) = c_statistic(&outcomes, &fit.fitted).map_err(refuse)? {
        insert(&mut model, "concordance", concordance.estimate);
        insert(&mut model, "concordance_std_error", concordance.std_error);
    }
    if let Ok(calibration) = calibration(&outcomes, &fit.fitted, arguments.level) {
        insert(&mut model, "calibration", calibration);
    }
    answer.part("model", Value::Object(model));
    answer.part(
        "tests",
        json!([test("likelihood-ratio", fit.likelihood_ratio_test.as_ref())]),
    );
    for note in &fit.notes {
        answer.note(note);
    }
    Ok(answer.finished())
}
