//! Rows of recurrent events and of changing covariates, by hand and on the bladder tumour trial (R survival 3.5-3; Wei, Lin
//! and Weissfeld, JASA 1989;84:1065-1073).

use survival::regression::cox::{CoxFit, CoxOptions, cox};
use survival::regression::{
    Clock, CountingRow, Covariate, Covariates, SubjectEvents, counting_rows, counting_sample,
    split_follow_up,
};
use survival::{Sample, SurvivalError};

use crate::support::{Table, assert_all_near, assert_near, cases, numbers, reference};

fn history(entry: f64, exit: f64, event_times: &[f64]) -> SubjectEvents {
    SubjectEvents {
        entry,
        exit,
        event_times: event_times.to_vec(),
    }
}

#[test]
fn stretches_end_at_events_and_at_the_end_of_observation() {
    let rows = |clock| {
        counting_rows(
            &[
                history(0.0, 9.0, &[3.0, 7.0]),
                history(2.0, 5.0, &[5.0]),
                history(4.0, 4.0, &[]),
            ],
            clock,
        )
        .unwrap()
    };
    let row = |subject, event_number, start, stop, has_event| CountingRow {
        subject,
        event_number,
        start,
        stop,
        has_event,
    };
    assert_eq!(
        rows(Clock::Total),
        vec![
            row(0, 1, 0.0, 3.0, true),
            row(0, 2, 3.0, 7.0, true),
            row(0, 3, 7.0, 9.0, false),
            row(1, 1, 2.0, 5.0, true)
        ]
    );
    assert_eq!(
        rows(Clock::Gap),
        vec![
            row(0, 1, 0.0, 3.0, true),
            row(0, 2, 0.0, 4.0, true),
            row(0, 3, 0.0, 2.0, false),
            row(1, 1, 0.0, 3.0, true)
        ]
    );
}

#[test]
fn a_history_out_of_order_is_refused_by_its_number() {
    for wrong in [
        history(0.0, 5.0, &[3.0, 3.0]),
        history(0.0, 5.0, &[6.0]),
        history(2.0, 5.0, &[2.0]),
        history(5.0, 2.0, &[]),
        history(0.0, f64::NAN, &[]),
        history(0.0, 5.0, &[f64::NAN]),
    ] {
        let found = counting_rows(&[history(0.0, 1.0, &[]), wrong], Clock::Total);
        assert_eq!(
            found.err(),
            Some(SurvivalError::HistoryOutOfOrder { history: 2 })
        );
    }
}

/// Histories of the trial, first row of each patient for the covariates.
fn bladder() -> (Table, Vec<SubjectEvents>, Vec<usize>) {
    let table = Table::read("bladder2.csv");
    let (id, start, stop, event) = (
        table.numbers("id"),
        table.numbers("start"),
        table.numbers("stop"),
        table.numbers("event"),
    );
    let mut histories: Vec<SubjectEvents> = Vec::new();
    let mut first_rows = Vec::new();
    for row in 0..table.n_rows {
        if row == 0 || id[row] != id[row - 1] {
            histories.push(history(start[row], stop[row], &[]));
            first_rows.push(row);
        }
        let last = histories.last_mut().unwrap();
        last.exit = stop[row];
        if event[row] == 1.0 {
            last.event_times.push(stop[row]);
        }
    }
    (table, histories, first_rows)
}

fn fit(clock: Clock, is_conditional: bool) -> CoxFit {
    let (table, histories, first_rows) = bladder();
    let rows = counting_rows(&histories, clock).unwrap();
    assert_eq!(rows.len(), 178);
    let columns = ["rx", "size", "number"].map(|name| {
        let values = table.numbers(name);
        Covariate {
            name: name.to_owned(),
            values: rows
                .iter()
                .map(|row| values[first_rows[row.subject]])
                .collect(),
        }
    });
    let covariates = Covariates::new(rows.len(), columns.to_vec()).unwrap();
    let strata: Vec<u32> = rows.iter().map(|row| row.event_number).collect();
    cox(
        &counting_sample(&rows).unwrap(),
        &covariates,
        is_conditional.then_some(&strata[..]),
        &CoxOptions::default(),
    )
    .unwrap()
}

fn check(fit: &CoxFit, estimates: &[f64], errors: &[f64]) {
    let found: Vec<f64> = fit
        .terms
        .iter()
        .map(|term| term.estimate.unwrap())
        .collect();
    assert_all_near("coefficients", &found, estimates, 1e-7);
    let found: Vec<f64> = fit
        .terms
        .iter()
        .map(|term| term.robust_std_error.unwrap())
        .collect();
    assert_all_near("robust errors", &found, errors, 1e-7);
}

#[test]
fn built_rows_give_the_reference_fits_in_total_and_in_gap_time() {
    for (case, is_conditional) in [("cox-bladder2-ag", false), ("cox-bladder2-pwp", true)] {
        let case = cases("cox.json")
            .into_iter()
            .find(|found| found["id"] == case)
            .unwrap();
        let expected = &case["values"]["fits"][0];
        check(
            &fit(Clock::Total, is_conditional),
            &numbers(&expected["coef"]),
            &numbers(&expected["robust_se"]),
        );
    }
    let expected = reference("recurrent.json");
    let gap = fit(Clock::Gap, true);
    check(
        &gap,
        &numbers(&expected["gap_coef"]),
        &numbers(&expected["gap_robust_se"]),
    );
    assert_near(
        "likelihood",
        gap.log_likelihood,
        numbers(&expected["gap_loglik"])[1],
        1e-10,
    );
}

#[test]
fn a_covariate_that_changes_is_in_force_after_the_change() {
    let sample = Sample::new(vec![5.0, 8.0, 4.0], vec![1, 2, 0])
        .unwrap()
        .with_entry(vec![0.0, 3.0, 0.0])
        .unwrap();
    let parts =
        split_follow_up(&sample, &[vec![2.0, 5.0], vec![1.0, 3.0, 6.0, 6.0], vec![]]).unwrap();
    let found: Vec<(usize, f64, f64, u32, usize)> = parts
        .iter()
        .map(|part| (part.row, part.entry, part.exit, part.cause, part.n_changes))
        .collect();
    assert_eq!(
        found,
        vec![
            (0, 0.0, 2.0, 0, 0),
            (0, 2.0, 5.0, 1, 1),
            (1, 3.0, 6.0, 0, 2),
            (1, 6.0, 8.0, 2, 4),
            (2, 0.0, 4.0, 0, 0)
        ]
    );
    assert!(split_follow_up(&sample, &[vec![2.0, 1.0], vec![], vec![]]).is_err());
    assert!(split_follow_up(&sample, &[vec![]]).is_err());
}
