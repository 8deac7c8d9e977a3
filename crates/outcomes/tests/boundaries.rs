//! Hand-worked stories, a rule at a time, at its boundaries. Answers come from the rules that decide the numbers.
//!
//! 2023 Q2 is story day 90 to 180, 2023 Q3 day 181 to 272, 2023 Q4 day 273 to 364.
#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::analyse::{Material, analyse};
use outcomes::derive::{Trigger, derive};
use outcomes::measure::{Cohort, MEASURES, Study, evaluate, find_measure, prepare};
use outcomes::report::{Audience, Count, Figure, MeasureResult, Provenance, Report, Value};
use outcomes::rules::{Clock, DataHorizon, Quarter, Rules};
use outcomes::tables::{
    AmputationLevel, Dated, DatedAnswer, PriorAmputation, Side, SourceRow, Tables,
};
use support::{date, day, derived, episode_lines, horizon, person_episode_lines, stories, story};

fn results_with(
    tables: &Tables,
    rules: &Rules,
    horizon: &DataHorizon,
    id: &str,
    cohort: Cohort,
) -> Vec<MeasureResult> {
    let people = derive(tables, rules, horizon);
    let study = Study {
        people: &people,
        rules,
        horizon,
    };
    let measure = find_measure(id).unwrap();
    evaluate(measure, &prepare(measure, &study), &study, &cohort)
}

fn quarter(text: &str) -> Cohort {
    Cohort::quarter(Quarter::parse(text).unwrap())
}

fn result(tables: &Tables, cut_off: i64, id: &str, of: &str) -> MeasureResult {
    results_with(
        tables,
        &Rules::default(),
        &horizon(cut_off),
        id,
        quarter(of),
    )
    .remove(0)
}

/// (numerator, denominator, unknown); 999 where not shown.
fn counts(result: &MeasureResult) -> (u64, u64, u64) {
    let n = |count| match count {
        Some(Count::Shown(n)) => n,
        _ => 999,
    };
    (
        n(result.numerator),
        n(result.denominator),
        n(result.n_unknown),
    )
}

fn ulcer_free(text: &str) -> &'static str {
    answer(&result(
        &story(text),
        600,
        "ulcer-free-at-12-weeks",
        "2023Q3",
    ))
}

fn answer(status: &MeasureResult) -> &'static str {
    match counts(status) {
        (1, 1, 0) => "yes",
        (0, 1, 0) => "no",
        (0, 0, 1) => "unknown",
        other => panic!("{other:?} {status:?}"),
    }
}

fn report(tables: &Tables, cut_off: i64, of: &str) -> Report {
    let (rules, horizon) = (Rules::default(), horizon(cut_off));
    let people = derive(tables, &rules, &horizon);
    analyse(&Material {
        dates: &outcomes::rules::DeclaredDates::AS_RECORDED,
        strata: &[],
        title: "t",
        practice: "Tarnwick Foot Practice",
        audience: Audience::Clinic,
        quarter: Quarter::parse(of).unwrap(),
        trend_quarters: 8,
        measures: MEASURES,
        tables,
        people: &people,
        rules: &rules,
        horizon: &horizon,
        findings: &[],
        check_words: &[],
        accounts: &[],
        completeness: &[],
        provenance: &Provenance::default(),
    })
}

fn action_rules(tables: &Tables, cut_off: i64, of: &str) -> Vec<String> {
    report(tables, cut_off, of)
        .action_list
        .into_iter()
        .map(|item| item.rule)
        .collect()
}

fn remissions(text: &str, cut_off: i64) -> Vec<String> {
    derived(&story(text), cut_off, |people| {
        people[0]
            .reading
            .remissions
            .iter()
            .map(|spell| {
                format!(
                    "{} after-amputation={} new={:?}",
                    day(spell.start),
                    spell.is_after_amputation,
                    spell.recurrence.map(|new| day(new.first_open))
                )
            })
            .collect()
    })
}

fn trigger(text: &str) -> Option<(Trigger, i64)> {
    derived(&story(text), 600, |people| {
        people[0]
            .pathways
            .first()
            .map(|pathway| (pathway.trigger, day(pathway.at)))
    })
}

fn amputations(text: &str) -> Vec<String> {
    derived(&story(text), 900, |people| {
        people[0]
            .reading
            .facts
            .amputations
            .iter()
            .map(|amputation| format!("{} {}", amputation.level, day(amputation.at)))
            .collect()
    })
}

// ---------------------------------------------------------------- healing, reopening, splits, merges

#[test]
fn reopening_under_a_new_label_at_28_days_joins_and_at_29_does_not() {
    let at = |reopened: i64| {
        episode_lines(
            &story(&format!(
                "200 open right A site=heel\n230 closed right A site=heel\n244 closed right A site=heel\n{reopened} open right B site=heel\n300 closed right B site=heel"
            )),
            600,
        )
    };
    assert_eq!(
        at(258),
        ["right A: from 200, healed at 300 in (258, 300], reopened 1x"]
    );
    assert_eq!(
        at(259),
        [
            "right A: from 200, healed at 230 in (200, 230], confirmed 244",
            "right B: from 259, healed at 300 in (259, 300]"
        ]
    );
}

/// "cancelled by a reopening of the same site up to 28 days later"
#[test]
fn reopening_under_a_label_that_had_an_earlier_life_at_the_site_cancels_the_closure() {
    let lines = episode_lines(
        &story(
            "100 open right B site=heel
             130 closed right B site=heel
             200 open right A site=heel
             230 closed right A site=heel
             250 open right B site=heel
             280 closed right B site=heel",
        ),
        600,
    );
    assert!(
        !lines.iter().any(|line| line.contains("healed at 230")),
        "{lines:?}"
    );
}

#[test]
fn a_split_counts_reopening_from_the_day_its_last_part_closed() {
    let at = |reopened: i64| {
        episode_lines(
            &story(&format!(
                "200 open right A\n220 open right B parent=A\n220 open right C parent=A\n240 closed right B\n260 closed right C\n{reopened} open right B\n320 closed right B"
            )),
            600,
        )
    };
    assert_eq!(
        at(288),
        ["right A: from 200, healed at 320 in (288, 320], reopened 1x"]
    );
    assert_eq!(
        at(289),
        [
            "right A: from 200, healed at 260 in (220, 260]",
            "right A: from 289, healed at 320 in (289, 320]"
        ]
    );
}

/// "a later export changes a matured figure only through corrected rows"
#[test]
fn a_parent_label_seen_again_long_after_does_not_undo_the_healing_of_its_parts() {
    let base = "200 open right A\n220 open right B parent=A\n220 open right C parent=A\n240 closed right B\n240 open right C\n260 closed right C";
    let before = result(&story(base), 450, "healed-within-12-weeks", "2023Q3");
    let after = result(
        &story(&format!("{base}\n500 open right A")),
        600,
        "healed-within-12-weeks",
        "2023Q3",
    );
    assert_eq!(counts(&before), (1, 1, 0));
    assert_eq!(before, after);
}

#[test]
fn a_merge_after_the_evidence_horizon_does_not_change_a_matured_figure() {
    let base = "200 open right A\n210 open right B\n250 closed right B\n300 open right A\n330 open right A\n380 open right A";
    let before = result(&story(base), 390, "healed-within-12-weeks", "2023Q3");
    let later = format!("{base}\n440 open right B\n450 open right A into=B\n450 open right B");
    let after = result(&story(&later), 600, "healed-within-12-weeks", "2023Q3");
    assert_eq!(counts(&before), (1, 2, 0));
    assert_eq!(before, after);
}

#[test]
fn a_split_told_after_the_evidence_horizon_does_not_change_a_matured_figure() {
    // B is an ulcer of its own until somebody writes on day 420 that it came from A.
    let base = "200 open right A\n210 open right B\n250 closed right B\n300 open right A\n330 open right A\n380 open right A";
    let before = result(&story(base), 390, "healed-within-12-weeks", "2023Q3");
    let after = result(
        &story(&format!("{base}\n420 open right B parent=A")),
        600,
        "healed-within-12-weeks",
        "2023Q3",
    );
    assert_eq!(before, after);
}

#[test]
fn an_origin_first_told_after_the_evidence_horizon_does_not_change_a_matured_figure() {
    let base = "200 open right A\n300 open right A\n350 open right A";
    let before = result(&story(base), 390, "healed-within-12-weeks", "2023Q3");
    for origin in ["post-surgical", "transferred-in"] {
        let later = format!("{base}\n410 open right A origin={origin}");
        assert_eq!(
            result(&story(&later), 600, "healed-within-12-weeks", "2023Q3"),
            before,
            "{origin}"
        );
    }
}

#[test]
fn a_site_first_told_after_the_evidence_horizon_does_not_change_a_matured_figure() {
    let base = "200 open right A site=heel\n230 closed right A site=heel\n250 open right B\n290 open right B\n350 open right B";
    let before = result(&story(base), 390, "healed-within-12-weeks", "2023Q3");
    let after = result(
        &story(&format!("{base}\n410 open right B site=heel")),
        600,
        "healed-within-12-weeks",
        "2023Q3",
    );
    assert_eq!(before, after);
}

#[test]
fn a_merged_lesion_that_opens_again_is_not_lost_from_sight() {
    // A merged into B on 220, all closed on 250; on 400 the label A is open again: a new ulcer.
    let lines = episode_lines(
        &story(
            "200 open right A\n210 open right B\n220 open right A into=B\n220 open right B\n250 closed right B\n400 open right A\n430 open right A",
        ),
        440,
    );
    assert_eq!(lines.len(), 2, "{lines:?}");
}

#[test]
fn merged_lesions_that_closed_on_different_days_close_with_the_survivor() {
    let lines = episode_lines(
        &story(
            "200 open right A\n210 open right B\n230 closed right A\n240 open right B\n240 closed right A into=B\n260 closed right B",
        ),
        600,
    );
    assert_eq!(lines, ["right B: from 200, healed at 260 in (240, 260]"]);
}

// ---------------------------------------------------------------- excision and surgical wounds

#[test]
fn an_excised_row_and_the_operation_of_another_day_are_one_minor_amputation() {
    for rows in [
        "220 minor-amputation right A\n225 excised right A",
        "220 excised right A\n225 minor-amputation right A",
    ] {
        assert_eq!(
            episode_lines(&story(&format!("200 open right A site=toe-2\n{rows}")), 600),
            ["right A: from 200, excised-by-minor-amputation at 220"],
            "{rows}"
        );
    }
}

#[test]
fn the_same_label_open_after_its_excision_is_a_surgical_wound_and_no_ulcer() {
    let tables = story(
        "200 open right A site=toe-2\n220 minor-amputation right A\n240 open right A\n290 closed right A",
    );
    derived(&tables, 600, |people| {
        let kinds: Vec<bool> = people[0]
            .reading
            .episodes
            .iter()
            .map(|episode| episode.is_post_surgical)
            .collect();
        assert_eq!(kinds, [false, true]);
    });
}

/// A denominator of "ulcers first seen" holds no wound that was there before.
#[test]
fn a_part_that_stays_open_when_another_is_amputated_is_no_new_ulcer() {
    let kinds = |text: &str| -> Vec<(i64, bool)> {
        derived(&story(text), 600, |people| {
            let episodes = people[0].reading.episodes.iter();
            episodes
                .map(|episode| (day(episode.index), episode.is_post_surgical))
                .collect()
        })
    };
    let split = "200 open right A\n220 open right A\n220 open right B parent=A\n230 minor-amputation right B";
    assert_eq!(
        kinds(&format!(
            "{split}\n264 open right A\n264 excised right B\n290 closed right A"
        )),
        [(200, false), (264, true)]
    );
    // a closure that no clinician saw is none
    assert_eq!(
        kinds(&format!(
            "{split}\n250 closed right A by=patient\n264 open right A"
        )),
        [(200, false), (264, true)]
    );
    // the same label, closed in between and open again: a new ulcer
    assert_eq!(
        kinds(&format!("{split}\n250 closed right A\n290 open right A")),
        [(200, false), (290, false)]
    );
}

/// One label for the stump, amputated twice: each time the wound began with its own operation.
#[test]
fn a_label_of_surgical_wounds_that_is_used_again_begins_with_its_own_operation() {
    let tables = story(
        "200 open right A site=toe-2
         220 minor-amputation right A
         240 open right S origin=post-surgical parent=A
         300 closed right S
         400 open right E site=toe-4
         410 minor-amputation right E
         412 open right S origin=post-surgical parent=E
         450 closed right S",
    );
    assert_eq!(
        person_episode_lines(&tables, 600),
        [
            "from 200, all closed in (240, 300], 2 wounds",
            "from 400, all closed in (412, 450], 2 wounds"
        ]
    );
}

/// V1: "minor amputation of that lesion ... compete"; a part cut away is not "closed without amputation".
#[test]
fn a_split_ulcer_of_which_one_part_was_excised_has_not_healed_without_amputation() {
    let lines = episode_lines(
        &story(
            "200 open right A site=toe-1\n220 open right B parent=A\n220 open right C parent=A\n240 excised right B\n240 open right C\n260 closed right C",
        ),
        600,
    );
    assert!(
        !lines.iter().any(|line| line.contains(", healed")),
        "{lines:?}"
    );
}

/// Person-episode: "until all ulcers on both feet are closed"; "the event is closure of the surgical wound, not the operation".
#[test]
fn a_person_episode_stays_open_until_the_surgical_wound_has_closed() {
    let tables = story(
        "200 open right A site=toe-2
         220 minor-amputation right A
         240 open right S origin=post-surgical parent=A
         300 closed right S",
    );
    assert_eq!(
        person_episode_lines(&tables, 600),
        ["from 200, all closed in (240, 300], 2 wounds"]
    );
}

/// Recurrence: "the clock starts when all wounds are closed".
#[test]
fn remission_after_an_amputation_starts_when_its_wound_has_closed() {
    let text = "200 open right A site=toe-2
         220 minor-amputation right A
         240 open right S origin=post-surgical parent=A
         300 closed right S
         400 exam right pulses=palpable";
    assert_eq!(
        remissions(text, 600),
        ["300 after-amputation=true new=None"]
    );
}

#[test]
fn an_amputation_whose_wound_was_never_seen_begins_no_remission() {
    let text = "200 open right A site=toe-2\n220 minor-amputation right A";
    assert_eq!(remissions(text, 600), Vec::<String>::new());
}

/// The export names the parent; the first visit after the operation is 35 days later.
#[test]
fn a_surgical_wound_that_names_its_parent_belongs_to_it_however_late_it_is_first_seen() {
    let tables = story(
        "200 open right A site=toe-2
         220 minor-amputation right A
         255 open right S origin=post-surgical parent=A
         300 closed right S",
    );
    assert_eq!(
        person_episode_lines(&tables, 600),
        ["from 200, all closed in (255, 300], 2 wounds"]
    );
}

/// "Person-episode: from its first open ulcer": a surgical wound that came first begins none.
#[test]
fn a_person_episode_begins_with_its_first_ulcer_and_not_with_a_surgical_wound_before_it() {
    let tables = story(
        "200 open right S origin=post-surgical\n280 open right S\n350 open left A\n380 closed left A\n380 closed right S",
    );
    assert_eq!(
        person_episode_lines(&tables, 600),
        ["from 350, all closed in (350, 380], 2 wounds"]
    );
}

#[test]
fn an_ulcer_that_joins_a_surgical_wound_later_adds_nobody_to_a_matured_quarter() {
    let base = "200 open right S origin=post-surgical\n280 open right S\n360 open right S";
    let before = result(&story(base), 398, "ulcer-free-at-12-weeks", "2023Q3");
    let after = result(
        &story(&format!("{base}\n420 open left A")),
        600,
        "ulcer-free-at-12-weeks",
        "2023Q3",
    );
    assert_eq!(before, after);
}

// ---------------------------------------------------------------- alive and ulcer-free

#[test]
fn the_status_window_reads_days_70_and_98_and_not_69_and_99() {
    for (text, wanted) in [
        ("200 open right A\n269 closed right A", "yes"), // closed on day 69, discharged
        ("200 open right A\n270 closed right A", "yes"),
        ("200 open right A\n298 closed right A", "yes"),
        ("200 open right A\n299 closed right A", "unknown"), // open when last seen on day 0, first closed on day 99
        ("200 open right A\n298 open right A", "no"),
        ("200 open right A\n269 open right A", "unknown"),
        // ties: days 70 and 98 are equally near day 84: the later
        (
            "200 open right A\n270 open right A\n298 closed right A",
            "yes",
        ),
        (
            "200 open right A\n250 closed right A\n270 visit\n298 open left B",
            "no",
        ),
        // dead on day 85 and not seen in the window
        ("200 open right A\n250 closed right A\n285 death", "no"),
        ("200 open right A\n250 closed right A\n298 death", "no"),
        // dead on day 99: alive in the window, discharged healed
        ("200 open right A\n250 closed right A\n299 death", "yes"),
    ] {
        assert_eq!(ulcer_free(text), wanted, "{text}");
    }
}

/// "open or lost and unseen = unknown"; first seen open on day 99 it was last seen open on day 60: unseen in the window.
#[test]
fn an_ulcer_open_before_and_after_the_window_and_unseen_in_it_is_not_ulcer_free() {
    assert_ne!(
        ulcer_free("200 open right A\n260 open right A\n299 open right A"),
        "yes"
    );
}

/// "all wounds closed, amputated or not = yes": nobody ever saw the amputation wound closed.
#[test]
fn an_amputation_wound_that_nobody_saw_closed_is_not_discharged_healed() {
    assert_eq!(
        ulcer_free("200 open right A site=toe-1\n210 minor-amputation right A"),
        "unknown"
    );
}

#[test]
fn a_major_amputation_and_then_silence_is_not_discharged_healed() {
    assert_eq!(
        ulcer_free("200 open right A\n250 major-amputation right"),
        "unknown"
    );
}

#[test]
fn an_amputation_wound_open_after_the_visit_in_the_window_was_open_at_it() {
    let text = "200 open right A site=toe-1\n270 minor-amputation right A\n284 visit\n300 open right S origin=post-surgical parent=A\n360 closed right S";
    assert_ne!(ulcer_free(text), "yes");
}

#[test]
fn a_row_dated_after_death_makes_nobody_alive() {
    assert_eq!(
        ulcer_free("200 open right A\n250 closed right A\n288 death\n290 visit"),
        "no"
    );
}

/// Known on day 80 to be open; an attendance on day 85 at which nobody wrote down the ulcer tells nothing.
#[test]
fn a_visit_that_tells_nothing_does_not_hide_one_that_does() {
    assert_eq!(
        ulcer_free("200 open right A\n280 open right A\n285 visit"),
        "no"
    );
}

/// The rule "dead = no", and a figure is mature only when it cannot change without corrected rows.
#[test]
fn a_status_is_not_yet_known_before_deaths_are() {
    let tables = story("200 open right A\n250 closed right A\n270 death");
    let early = DataHorizon {
        deaths_known_to: date(260),
        ..horizon(600)
    };
    let status = results_with(
        &tables,
        &Rules::default(),
        &early,
        "ulcer-free-at-12-weeks",
        quarter("2023Q3"),
    )
    .remove(0);
    assert!(matches!(status.value, Value::NotYet { .. }), "{status:?}");
}

#[test]
fn healing_is_not_mature_before_the_procedures_and_deaths_that_compete_are_known() {
    let tables =
        story("200 open right A site=toe-1\n235 open right A\n240 minor-amputation right A");
    for early in [
        DataHorizon {
            procedures_known_to: date(230),
            ..horizon(600)
        },
        DataHorizon {
            deaths_known_to: date(230),
            ..horizon(600)
        },
    ] {
        let healed = results_with(
            &tables,
            &Rules::default(),
            &early,
            "healed-within-12-weeks",
            quarter("2023Q3"),
        )
        .remove(0);
        assert!(matches!(healed.value, Value::NotYet { .. }), "{healed:?}");
    }
}

#[test]
fn not_yet_never_promises_a_date_that_lies_before_the_cut_off() {
    let tables = story("200 open right A");
    let early = DataHorizon {
        procedures_known_to: date(260),
        ..horizon(900)
    };
    for id in ["limbs-kept-at-12-months", "major-amputations"] {
        let kept =
            results_with(&tables, &Rules::default(), &early, id, quarter("2023Q3")).remove(0);
        if let Value::NotYet { matures_on } = kept.value {
            assert!(matures_on > early.cut_off, "{id}: {matures_on}");
        }
    }
}

/// "Wilson for uncensored person-level counts only; otherwise cluster-robust"
#[test]
fn two_person_episodes_of_one_person_get_no_wilson_interval() {
    let tables = story(
        "185 open right A\n200 closed right A\n240 open left B\n255 closed left B\n400 visit",
    );
    let status = result(&tables, 600, "ulcer-free-at-12-weeks", "2023Q3");
    assert_eq!(counts(&status), (2, 2, 0));
    let Value::Known(estimate) = &status.value else {
        panic!()
    };
    assert!(
        estimate
            .interval
            .as_ref()
            .is_none_or(|interval| interval.method != "Wilson"),
        "{estimate:?}"
    );
}

// ---------------------------------------------------------------- prevalent, person-episodes

#[test]
fn first_seen_90_days_after_data_start_is_prevalent_and_91_is_not() {
    for (opened, n) in [(90, 0), (91, 1)] {
        let healed = result(
            &story(&format!("{opened} open right A\n120 closed right A")),
            600,
            "healed-within-12-weeks",
            "2023Q2",
        );
        assert_eq!(counts(&healed).1, n);
    }
}

#[test]
fn a_wound_first_seen_on_the_day_another_closes_continues_the_person_episode() {
    assert_eq!(
        person_episode_lines(
            &story("200 open right A\n230 closed right A\n230 open left B\n260 closed left B"),
            600
        ),
        ["from 200, all closed in (230, 260], 2 wounds"]
    );
    assert_eq!(
        person_episode_lines(
            &story("200 open right A\n230 closed right A\n231 open left B\n260 closed left B"),
            600
        )
        .len(),
        2
    );
}

#[test]
fn a_wound_transferred_in_a_year_later_does_not_make_a_matured_person_episode_prevalent() {
    let base = "200 open right A\n280 open right A\n360 open right A";
    let before = result(&story(base), 398, "ulcer-free-at-12-weeks", "2023Q3");
    let after = result(
        &story(&format!("{base}\n420 open left B origin=transferred-in")),
        600,
        "ulcer-free-at-12-weeks",
        "2023Q3",
    );
    assert_eq!(answer(&before), "no");
    assert_eq!(before, after);
}

/// "until all ulcers on both feet are closed": A is open from 200 to 500, only unseen between.
#[test]
fn nobody_is_in_remission_while_an_ulcer_is_open() {
    let text = "200 open right A\n291 open left B\n310 closed left B\n320 open right A\n400 open right A\n500 closed right A";
    let spells = remissions(text, 900);
    assert!(
        spells.iter().all(|spell| spell.starts_with("500 ")),
        "{spells:?}"
    );
}

/// Missing is not "no": A was open when last seen and nobody knows since.
#[test]
fn closing_one_ulcer_begins_no_remission_while_the_other_was_last_seen_open() {
    let text =
        "200 open right A\n295 open left B\n310 closed left B\n400 exam left pulses=palpable";
    assert_eq!(remissions(text, 900), Vec::<String>::new());
}

// ---------------------------------------------------------------- recurrence

#[test]
fn a_new_ulcer_on_day_28_is_before_entry_and_on_day_29_an_event() {
    for (opened, wanted) in [(228, (0, 0)), (229, (1, 1))] {
        let tables = story(&format!(
            "150 open right A site=heel\n200 closed right A site=heel\n{opened} open left B\n300 open left B"
        ));
        let found = result(&tables, 900, "recurrence-within-12-months", "2023Q3");
        assert_eq!(counts(&found).1, wanted.1, "{opened}: {found:?}");
    }
}

/// Denominator words: "people whose last wound closed in the quarter and who were still free of ulcers on day 28".
#[test]
fn a_person_whose_first_spell_ended_at_once_is_at_risk_from_the_next_one() {
    let tables = story(
        "150 open right A\n185 closed right A\n195 open left B\n210 closed left B\n600 exam left pulses=palpable",
    );
    let found = result(&tables, 900, "recurrence-within-12-months", "2023Q3");
    assert_eq!(counts(&found), (0, 1, 0));
}

#[test]
fn a_one_sided_major_amputation_does_not_end_risk_of_a_new_ulcer() {
    let tables =
        story("150 open right A\n200 closed right A\n300 major-amputation right\n400 open left B");
    assert_eq!(
        counts(&result(
            &tables,
            900,
            "recurrence-within-12-months",
            "2023Q3"
        ))
        .0,
        1
    );
}

// ---------------------------------------------------------------- limbs, amputations

#[test]
fn a_death_90_days_after_the_last_state_competes_and_91_days_does_not() {
    for (died, wanted) in [(250, (0, 1, 0)), (291, (0, 1, 1))] {
        let healed = result(
            &story(&format!("200 open right A\n{died} death")),
            600,
            "healed-within-24-weeks",
            "2023Q3",
        );
        assert_eq!(counts(&healed), wanted);
    }
}

#[test]
fn a_staged_amputation_at_90_days_counts_once_and_at_91_twice() {
    for (second, wanted) in [(310, 1), (311, 2)] {
        let counted = amputations(&format!(
            "220 minor-amputation right height=transmetatarsal\n{second} minor-amputation right height=transmetatarsal staged=yes"
        ));
        assert_eq!(counted.len(), wanted, "{second}");
    }
    assert_eq!(
        amputations(
            "220 minor-amputation right height=midfoot\n230 major-amputation right height=below-knee staged=yes\n250 major-amputation right height=above-knee staged=yes"
        ),
        ["minor 220", "major 230", "major 250"]
    );
}

#[test]
fn an_unstaged_repeat_of_the_same_level_counts_twice() {
    assert_eq!(
        amputations("220 minor-amputation right height=toe\n250 minor-amputation right height=toe")
            .len(),
        2
    );
}

/// Two reports of one day: the order of labels must not decide the count.
#[test]
fn two_minor_amputations_of_one_day_count_alike_whatever_their_labels() {
    let one = amputations(
        "220 minor-amputation right A height=ray\n220 minor-amputation right B height=toe",
    );
    let other = amputations(
        "220 minor-amputation right A height=toe\n220 minor-amputation right B height=ray",
    );
    assert_eq!(one, other);
}

#[test]
fn an_ulcer_removed_at_a_later_stage_is_removed_on_the_day_of_that_stage() {
    let lines = episode_lines(
        &story(
            "200 open right A site=toe-1
             200 open right B site=toe-5
             220 minor-amputation right A height=toe
             240 open right B
             270 open right B
             280 minor-amputation right B height=toe staged=yes",
        ),
        600,
    );
    assert_eq!(
        lines,
        [
            "right A: from 200, excised-by-minor-amputation at 220",
            "right B: from 200, excised-by-minor-amputation at 280"
        ]
    );
}

#[test]
fn limbs_lost_before_are_out_and_earlier_minor_amputation_is_a_stratum() {
    let mut tables = stories(&["200 open right A", "200 open right A"]);
    for (patient, level) in tables
        .patients
        .iter_mut()
        .zip([AmputationLevel::Major, AmputationLevel::Minor])
    {
        patient.prior_amputations.push(PriorAmputation {
            side: Some(Side::Right),
            level,
            recorded: Dated::new(date(200), SourceRow::default()),
        });
    }
    let kept = results_with(
        &tables,
        &Rules::default(),
        &horizon(900),
        "limbs-kept-at-12-months",
        Cohort::year_to(Quarter::parse("2023Q3").unwrap(), date(0)),
    );
    assert_eq!(counts(&kept[0]), (1, 1, 0));
    assert_eq!(kept[1].stratum, "earlier minor amputation");
}

/// Principle 3, "missing is not no": nobody was asked about earlier amputations.
#[test]
fn a_limb_of_which_nobody_asked_about_earlier_amputations_is_not_said_to_have_had_none() {
    let kept = results_with(
        &story("200 open right A"),
        &Rules::default(),
        &horizon(900),
        "limbs-kept-at-12-months",
        Cohort::year_to(Quarter::parse("2023Q3").unwrap(), date(0)),
    );
    assert!(
        kept.iter()
            .all(|result| result.stratum != "no earlier minor amputation")
    );
}

#[test]
fn a_major_amputation_on_the_day_of_the_first_ulcer_is_an_event_of_day_0() {
    let kept = result(
        &stories(&[
            "200 open right A\n200 major-amputation right",
            "200 open right A",
        ]),
        900,
        "limbs-kept-at-12-months",
        "2023Q3",
    );
    assert_eq!(counts(&kept), (1, 2, 0));
    let Value::Known(estimate) = &kept.value else {
        panic!()
    };
    assert!((estimate.estimate - 0.5).abs() < 1e-12);
}

#[test]
fn a_day_0_event_counts_before_a_day_0_censoring() {
    let tables = stories(&[
        "200 open right A site=toe-1\n200 minor-amputation right A",
        "200 open right A",
    ]);
    let healed = result(&tables, 600, "healed-within-12-weeks", "2023Q3");
    assert_eq!(counts(&healed).1, 2);
    let referred = stories(&[
        "200 open right A site=toe-1 gangrene=digits\n200 vascular-referral right",
        "200 open right A site=toe-1 gangrene=digits",
    ]);
    let share = result(&referred, 600, "vascular-referral-after-trigger", "2023Q3");
    assert_eq!(counts(&share), (1, 2, 1));
}

/// Presentation: WIfI of the day the limb was first seen; perfusion after revascularisation is another state.
#[test]
fn perfusion_after_revascularisation_does_not_describe_the_presentation() {
    let text = "200 open right A site=toe-1-tip depth=skin gangrene=none infection=none\n200 exam right toe=25\n205 revascularisation right\n212 exam right toe=75";
    derived(&story(text), 900, |people| {
        let reading = &people[0].reading;
        let presentation = reading.presentation(&reading.episodes[0], &Rules::default());
        assert_eq!(presentation.ischaemia.known(), Some(3));
    });
}

/// Expected only where the stage is known: the other ulcer's range reaches stage 4.
#[test]
fn a_limb_whose_worst_stage_is_not_known_has_no_expectation() {
    // A: heel, bone (W3), I0, fI0 = stage 3 exactly. B: toe, skin, infection not recorded: W1 I0 = 1 to 3... with gangrene digits W2: 2 to 4.
    let text = "200 open right A site=heel depth=bone-or-joint gangrene=none infection=none
                200 open right B site=toe-1 depth=skin gangrene=digits
                200 exam right toe=80";
    let all = results_with(
        &story(text),
        &Rules::default(),
        &horizon(900),
        "threatened-limbs-kept-at-12-months",
        quarter("2023Q3"),
    );
    assert_eq!(counts(&all[0]).1, 1);
    assert!(
        all.iter()
            .all(|result| result.stratum != "observed against expected events"),
        "{all:?}"
    );
}

// ---------------------------------------------------------------- vascular

#[test]
fn each_vascular_trigger_has_its_boundary() {
    let with = |ulcer: &str, exam: &str| {
        trigger(&format!(
            "200 open right A site=mth-1 {ulcer}\n200 exam right {exam}"
        ))
    };
    let base = "depth=skin infection=none gangrene=none";
    for (exam, wanted) in [
        ("abi=0.39", Some(Trigger::LowAbi)),
        ("abi=0.40", Some(Trigger::IschaemiaGrade)),
        ("abi=0.59", Some(Trigger::IschaemiaGrade)),
        ("abi=0.60", None),
        ("abi=0.394", Some(Trigger::LowAbi)),
        ("abi=0.396", Some(Trigger::IschaemiaGrade)),
        ("toe=29", Some(Trigger::LowToePressure)),
        ("toe=30", Some(Trigger::IschaemiaGrade)),
        ("toe=39", Some(Trigger::IschaemiaGrade)),
        ("toe=40", None),
        ("waveform=monophasic", Some(Trigger::PoorWaveform)),
        ("waveform=absent", Some(Trigger::PoorWaveform)),
        ("waveform=biphasic", None),
        ("abi=1.31 toe=45", None),
        ("abi=1.31 toe=29", Some(Trigger::LowToePressure)),
        ("pulses=absent", None),
    ] {
        assert_eq!(
            with(base, exam).map(|(trigger, _)| trigger),
            wanted,
            "{exam}"
        );
    }
    assert_eq!(
        with("gangrene=digits", "toe=80").map(|(trigger, _)| trigger),
        Some(Trigger::Gangrene)
    );
    // W1 I1 fI2: stage 3 with ischaemia; W1 I0 fI3 is stage 3 without.
    assert_eq!(
        with("depth=skin infection=moderate gangrene=none", "toe=45").map(|(trigger, _)| trigger),
        Some(Trigger::Stage)
    );
    assert_eq!(
        with("depth=skin infection=severe gangrene=none", "toe=80"),
        None
    );
}

#[test]
fn slow_healing_is_more_than_half_the_area_left_on_day_28_or_later() {
    let at = |last: i64, length: &str, exam: &str| {
        trigger(&format!(
            "200 open right A site=mth-1 length=2 width=2\n200 exam right {exam}\n{last} open right A length={length} width=2"
        ))
    };
    assert_eq!(at(228, "1.1", "toe=45"), Some((Trigger::SlowHealing, 228)));
    assert_eq!(at(227, "1.1", "toe=45"), None);
    assert_eq!(at(228, "1.0", "toe=45"), None);
    assert_eq!(at(228, "1.1", "toe=80"), None);
    assert_eq!(at(228, "1.1", "abi=1.5"), Some((Trigger::SlowHealing, 228)));
}

/// A toe amputation is not "every wound of the limb closed", and the wound it leaves still needs its vascular opinion.
#[test]
fn an_amputation_wound_still_open_has_not_healed_the_limb() {
    let text = "200 open right A site=toe-1 gangrene=digits\n205 minor-amputation right A\n212 open right S origin=post-surgical parent=A\n240 open right S";
    derived(&story(text), 250, |people| {
        assert_eq!(people[0].pathways[0].limb_healed.map(day), None);
    });
}

#[test]
fn gangrene_with_a_toe_amputated_and_no_referral_stays_on_the_action_list() {
    let text = "200 open right A site=toe-1 gangrene=digits\n205 minor-amputation right A\n212 open right S origin=post-surgical parent=A\n240 open right S";
    let rules = action_rules(&story(text), 250, "2023Q3");
    assert!(
        rules.contains(&"urgent-vascular-trigger".to_owned()),
        "{rules:?}"
    );
}

#[test]
fn new_gangrene_without_referral_is_on_the_action_list_though_an_older_ulcer_was_referred() {
    let text = "200 open right A site=toe-1 gangrene=digits\n200 vascular-referral right\n260 closed right A\n700 open right B site=heel gangrene=extensive\n710 open right B gangrene=extensive";
    let rules = action_rules(&story(text), 720, "2024Q4");
    assert!(
        rules.contains(&"urgent-vascular-trigger".to_owned()),
        "{rules:?}"
    );
}

/// "negative delays recorded as day 0 and counted": the limb had been referred before the person died.
#[test]
fn a_referral_in_the_look_back_counts_though_the_person_dies_on_the_day_of_the_trigger() {
    let tables = story(
        "150 vascular-referral right\n200 open right A site=toe-1 gangrene=digits\n200 death",
    );
    assert_eq!(
        counts(&result(
            &tables,
            600,
            "vascular-referral-after-trigger",
            "2023Q3"
        ))
        .0,
        1
    );
}

/// "Everyone is at risk on day 0, seen once or not; day-0 events count"; major amputation competes.
#[test]
fn a_limb_with_gangrene_amputated_on_the_day_of_the_trigger_is_in_the_denominator() {
    let tables = stories(&[
        "200 open right A site=toe-1 gangrene=digits\n200 major-amputation right",
        "200 open right A site=toe-1 gangrene=digits\n201 major-amputation right",
    ]);
    assert_eq!(
        counts(&result(
            &tables,
            600,
            "vascular-referral-after-trigger",
            "2023Q3"
        ))
        .1,
        2
    );
}

/// Referred on the very visit that first saw the limb closed: the referral was made.
#[test]
fn a_referral_made_on_the_day_the_limb_closes_is_a_referral() {
    let tables = story(
        "200 open right A site=toe-1 gangrene=digits\n210 closed right A\n210 vascular-referral right\n240 closed right A",
    );
    let (rules, horizon) = (Rules::default(), horizon(600));
    let of = "vascular-referral-after-trigger";
    let within = results_with(&tables, &rules, &horizon, of, quarter("2023Q3"));
    let by_day: Vec<u64> = within.iter().map(|result| counts(result).0).collect();
    // Day 1, 7, 14 and 28: referred on day 10.
    assert_eq!(by_day, [0, 0, 1, 1]);
}

/// The look-back at 90 and 91 days, with a later referral of its own.
#[test]
fn a_referral_91_days_before_does_not_count_and_the_next_one_does() {
    for (first, wanted) in [(110, 0), (109, 20)] {
        let text = format!(
            "{first} vascular-referral right\n200 open right A site=toe-1 gangrene=digits\n220 vascular-referral right"
        );
        derived(&story(&text), 600, |people| {
            assert_eq!(
                people[0].pathways[0].referral.map(|step| step.day),
                Some(wanted)
            );
        });
    }
}

// ---------------------------------------------------------------- tiers

#[test]
fn a_tier_is_not_known_from_items_older_than_they_stay_known() {
    let full = "sensation=intact pulses=palpable deformity=no";
    // Examined on day 100 only; seen again on day 600. At the end of 2024 (day 730) the exam is 630 days old.
    let tables = story(&format!(
        "100 exam right {full}\n100 exam left {full}\n600 visit"
    ));
    let classes = results_with(
        &tables,
        &Rules::default(),
        &horizon(800),
        "risk-tier-distribution",
        quarter("2024Q4"),
    );
    let class = classes
        .iter()
        .find(|result| result.numerator == Some(Count::Shown(1)))
        .unwrap();
    assert_eq!(class.stratum, "not gradable");
}

/// "more than N" everywhere: an examination exactly 12 months old still tells a tier, one a day older does not, in the
/// distribution and as a stratum.
#[test]
fn an_examination_exactly_as_old_as_items_stay_known_still_tells_the_tier() {
    // The second quarter of 2024 ends on 30 June; 30 June 2023 is story day 180.
    for (examined, wanted) in [(180, "tier 3"), (179, "not gradable")] {
        let full = "sensation=lost pulses=palpable deformity=no";
        let tables = story(&format!(
            "50 open right A\n100 closed right A\n{examined} exam right {full}\n{examined} exam left {full}\n500 visit"
        ));
        let (rules, horizon) = (Rules::default(), horizon(800));
        let classes = results_with(
            &tables,
            &rules,
            &horizon,
            "risk-tier-distribution",
            quarter("2024Q2"),
        );
        let class = classes
            .iter()
            .find(|result| result.numerator == Some(Count::Shown(1)))
            .unwrap();
        assert_eq!(class.stratum, wanted);
        let people = derive(&tables, &rules, &horizon);
        let end = quarter("2024Q2").last.end();
        let tier = people[0].reading.tier_on(end, &rules);
        assert_eq!(tier.is_some(), wanted == "tier 3");
    }
}

/// "history counts only as far as dated before the exam"
#[test]
fn a_no_given_later_does_not_answer_for_an_earlier_exam() {
    // The loader keeps `prior_ulcer_denied` without a date: the same person, before and after the question was first answered.
    let exam = "100 exam right sensation=lost pulses=palpable deformity=no\n100 exam left sensation=lost pulses=palpable deformity=no";
    let before = story(exam);
    let mut after = story(&format!("{exam}\n500 visit"));
    let asked = Dated::new(date(500), SourceRow::default());
    after.patients[0].prior_ulcer_denied = Some(asked);
    after.patients[0].prior_amputation_denied = Some(asked);
    after.patients[0].renal_replacement = Some(DatedAnswer {
        is_yes: false,
        at: asked,
    });
    let of = |tables: &Tables, cut_off| {
        results_with(
            tables,
            &Rules::default(),
            &horizon(cut_off),
            "risk-tier-distribution",
            quarter("2023Q2"),
        )
    };
    assert_eq!(of(&before, 300), of(&after, 600));
}

#[test]
fn a_lost_open_ulcer_is_not_read_as_no_ulcer() {
    let full = "sensation=lost pulses=palpable deformity=no";
    // Open on day 89, never seen closed, unseen for 91 days at the end of 2023 Q2 (day 180).
    let tables = story(&format!(
        "50 exam right {full}\n50 exam left {full}\n60 open right A\n88 exam right {full}\n89 open right A"
    ));
    let classes = results_with(
        &tables,
        &Rules::default(),
        &horizon(800),
        "risk-tier-distribution",
        quarter("2023Q2"),
    );
    let class = classes
        .iter()
        .find(|result| result.numerator == Some(Count::Shown(1)))
        .unwrap();
    assert!(!class.stratum.starts_with("tier"), "{}", class.stratum);
}

// ---------------------------------------------------------------- onset clock

fn onset_rules() -> Rules {
    Rules {
        clock: Clock::Onset,
        ..Rules::default()
    }
}

#[test]
fn on_the_onset_clock_a_transferred_ulcer_is_counted_with_delayed_entry() {
    let tables = stories(&["200 open right A onset=150 origin=transferred-in\n220 closed right A"]);
    let healed = results_with(
        &tables,
        &onset_rules(),
        &horizon(600),
        "healed-within-12-weeks",
        quarter("2023Q3"),
    )
    .remove(0);
    assert_eq!(counts(&healed), (1, 1, 0));
}

/// "Wilson for uncensored person-level counts only": with delayed entry the estimate is not a proportion of the counts.
#[test]
fn on_the_onset_clock_the_interval_holds_the_estimate() {
    let tables = stories(&[
        "200 open right A onset=200\n240 closed right A",
        "200 open right A onset=150\n262 closed right A",
    ]);
    let healed = results_with(
        &tables,
        &onset_rules(),
        &horizon(600),
        "healed-within-12-weeks",
        quarter("2023Q3"),
    )
    .remove(0);
    let Value::Known(estimate) = &healed.value else {
        panic!()
    };
    assert!(
        estimate.interval.as_ref().is_none_or(|interval| {
            interval.method != "Wilson"
                && interval
                    .lower
                    .is_none_or(|lower| lower <= estimate.estimate)
                && interval
                    .upper
                    .is_none_or(|upper| upper >= estimate.estimate)
        }),
        "{estimate:?}"
    );
}

#[test]
fn an_ulcer_that_enters_after_the_horizon_is_in_no_denominator() {
    // Onset on day 100, first seen on day 200: it enters on day 100 of its clock, after day 84.
    let tables = stories(&[
        "200 open right A onset=200\n240 closed right A",
        "200 open right A onset=100\n206 open right A",
    ]);
    let healed = results_with(
        &tables,
        &onset_rules(),
        &horizon(600),
        "healed-within-12-weeks",
        quarter("2023Q3"),
    )
    .remove(0);
    assert_eq!(counts(&healed), (1, 1, 0));
}

#[test]
fn an_earlier_onset_told_after_the_evidence_horizon_does_not_change_a_matured_figure() {
    let base = "200 open right A onset=195\n240 closed right A";
    let of = |text: &str, cut_off| {
        results_with(
            &story(text),
            &onset_rules(),
            &horizon(cut_off),
            "healed-within-12-weeks",
            quarter("2023Q3"),
        )
        .remove(0)
    };
    let open = "200 open right A onset=195\n280 open right A\n320 open right A";
    assert_eq!(of(base, 390), of(base, 600));
    assert_eq!(
        of(open, 390),
        of(&format!("{open}\n450 open right A onset=100"), 600)
    );
}

// ---------------------------------------------------------------- caveats and words

/// "outcome known at 12 weeks (75% gate)": the median is a follow-up figure too.
#[test]
fn a_median_below_the_gate_says_so() {
    let tables = stories(&[
        "200 open right A\n220 closed right A",
        "200 open right A",
        "200 open right A",
        "200 open right A",
    ]);
    let median = result(&tables, 600, "median-time-to-healing", "2023Q3");
    assert!(
        median.notes.iter().any(|note| note.contains("gate")),
        "{median:?}"
    );
}

/// The caution says "Not reached means that fewer than half healed by 24 weeks, not that the data are missing."
#[test]
fn a_median_of_people_nobody_followed_is_not_estimable_rather_than_not_reached() {
    let tables = stories(&[
        "200 open right A\n230 open right A",
        "200 open right A\n230 open right A",
    ]);
    let median = result(&tables, 600, "median-time-to-healing", "2023Q3");
    assert!(
        matches!(median.value, Value::NotEstimable { .. }),
        "{median:?}"
    );
}

/// Half have healed by day 160 (one of two), and 24 weeks is day 168.
#[test]
fn a_median_is_reached_when_half_have_healed_by_24_weeks() {
    let tables = stories(&[
        "200 open right A\n360 closed right A",
        "200 open right A\n380 open right A",
    ]);
    let share = result(&tables, 900, "healed-within-24-weeks", "2023Q3");
    assert_eq!(counts(&share), (1, 2, 0));
    let median = result(&tables, 900, "median-time-to-healing", "2023Q3");
    assert!(matches!(median.value, Value::Known(_)), "{median:?}");
}

#[test]
fn a_front_page_sentence_below_the_gate_carries_its_caveat() {
    let tables = stories(&[
        "200 open right A\n220 closed right A",
        "200 open right A",
        "200 open right A",
        "200 open right A",
        "700 visit",
    ]);
    let page = report(&tables, 600, "2023Q3").front_page;
    let sentence = page
        .sentences
        .iter()
        .find(|text| text.contains("had healed within 12 weeks"))
        .unwrap();
    assert!(
        sentence.contains("known") || sentence.contains("not to be relied on"),
        "{sentence}"
    );
}

#[test]
fn a_curve_title_claims_no_day_to_which_nobody_was_followed() {
    let tables = stories(&[
        "200 open right A\n220 closed right A",
        "200 open right A\n230 open right A",
    ]);
    let made = report(&tables, 600, "2023Q3");
    let sheet = result(&tables, 600, "healed-within-24-weeks", "2023Q3");
    assert!(matches!(sheet.value, Value::NotEstimable { .. }));
    for figure in made
        .figures
        .iter()
        .filter(|figure| matches!(figure, Figure::CumulativeIncidence { .. }))
    {
        assert!(
            !figure.frame().title.contains("by 24 weeks"),
            "{}",
            figure.frame().title
        );
    }
}

/// "observed against expected beside it, 'as known to this practice' printed"
#[test]
fn the_amputation_avoidance_headline_says_as_known_to_this_practice() {
    let tables = story(
        "200 open right A site=toe-1 gangrene=digits depth=skin infection=none\n200 exam right toe=25\n700 visit",
    );
    let made = report(&tables, 900, "2024Q4");
    let headline = made
        .front_page
        .headlines
        .iter()
        .find(|headline| headline.result.measure.starts_with("threatened"))
        .unwrap();
    let said = format!(
        "{} {} {}",
        headline.title,
        headline.reading,
        headline.result.notes.join(" ")
    )
    .to_lowercase();
    assert!(said.contains("as known to this practice"), "{said}");
}

#[test]
fn equal_quarters_a_year_apart_are_not_called_missing() {
    let tables = stories(&[
        "200 open right A\n220 closed right A",
        "565 open right A\n590 closed right A",
    ]);
    let made = report(&tables, 900, "2024Q3");
    assert!(
        !made
            .front_page
            .chance
            .contains("no pair of mature quarters"),
        "{}",
        made.front_page.chance
    );
}

/// "open and unseen for 28 days": who is falling through the net does not leave the list by staying away longer.
#[test]
fn an_open_ulcer_unseen_for_91_days_is_still_on_the_action_list() {
    assert!(!action_rules(&story("200 open right A\n210 open right A"), 300, "2023Q3").is_empty());
    assert!(!action_rules(&story("200 open right A\n210 open right A"), 301, "2023Q3").is_empty());
}

#[test]
fn an_urgent_trigger_without_referral_stays_on_the_list_when_the_person_stays_away() {
    let text = "200 open right A site=toe-1 gangrene=digits";
    assert!(
        action_rules(&story(text), 290, "2023Q3").contains(&"urgent-vascular-trigger".to_owned())
    );
    assert!(
        action_rules(&story(text), 291, "2023Q3").contains(&"urgent-vascular-trigger".to_owned())
    );
}

#[test]
fn a_person_who_came_back_after_a_transfer_is_on_the_action_list() {
    let text = "200 open right A\n220 transfer-out\n300 open right A\n400 open right A";
    assert!(!action_rules(&story(text), 410, "2024Q1").is_empty());
}

#[test]
fn an_ulcer_seen_here_after_a_transfer_did_not_end_with_it() {
    assert_eq!(
        episode_lines(
            &story("200 open right A\n220 transfer-out\n300 open right A\n400 open right A"),
            410
        ),
        ["right A: from 200, open-at-cut-off at 400"]
    );
}

/// A year's figure needs a year of data.
#[test]
fn a_year_that_begins_before_the_export_is_not_labelled_as_a_year() {
    let tables = story("100 open right A\n120 minor-amputation right A");
    let made = report(&tables, 200, "2023Q2");
    let sheets = made.families.iter().flat_map(|family| &family.measures);
    for sheet in sheets {
        for result in &sheet.results {
            assert!(
                !result.period.starts_with("2022"),
                "{}: {}",
                sheet.id,
                result.period
            );
        }
    }
}

/// With `clock = onset` transferred and prevalent ulcers are counted, from onset.
#[test]
fn the_words_of_a_measure_follow_the_clock_in_force() {
    let rules = onset_rules();
    let tables = story("200 open right A onset=150 origin=transferred-in\n220 closed right A");
    let cut_off = horizon(600);
    let people = derive(&tables, &rules, &cut_off);
    let study = Study {
        people: &people,
        rules: &rules,
        horizon: &cut_off,
    };
    let measure = find_measure("healed-within-12-weeks").unwrap();
    let counted = evaluate(
        measure,
        &prepare(measure, &study),
        &study,
        &quarter("2023Q3"),
    )
    .remove(0);
    assert_eq!(counts(&counted).1, 1, "the transferred ulcer is counted");
    assert!(
        !measure.exclusions_under(&rules).contains("transferred in")
            && !measure
                .words_under(&rules)
                .contains("counted from the first visit")
    );
}

/// Of a limb every minor amputation counts, of an ulcer its own, of a person-episode any; but one that is followed by its index
/// ulcer is told of that ulcer.
#[test]
fn the_rule_of_a_measure_speaks_of_what_is_counted() {
    let rules = Rules::default();
    for (id, expected) in [
        ("healed-within-12-weeks", "minor amputation of that lesion"),
        (
            "healed-against-published-strata",
            "minor amputation of that lesion",
        ),
        (
            "every-ulcer-healed-within-12-weeks",
            "minor amputation of any of its lesions",
        ),
        (
            "minor-amputation-within-12-months",
            "minor amputation of that limb",
        ),
    ] {
        let line = find_measure(id).unwrap().rule_line(&rules);
        let said = format!("{}; {}", line.event, line.competing);
        assert!(
            said.split("; ").any(|part| part == expected),
            "{id}: {said}"
        );
    }
}

// ---------------------------------------------------------------- any export: what is not yet covered by `invariants.rs`

mod any_export {
    use super::{Quarter, Rules, Tables, Value, date, horizon, stories};
    use outcomes::derive::derive;
    use outcomes::measure::{Cohort, MEASURES, Study, evaluate, prepare};
    use outcomes::report::MeasureResult;
    use outcomes::rules::DataHorizon;
    use proptest::prelude::*;

    /// Lines as a clinic writes them: a label keeps its site and origin; stages, heights, transfers, nurses and surgical
    /// wounds occur. No split, merge or late origin: those have stories of their own above.
    fn line() -> impl Strategy<Value = (i64, String)> {
        (0..800i64, 0..16usize, any::<bool>(), 0..4usize, 0..6u8).prop_map(
            |(day, what, is_left, label, extra)| {
                let side = if is_left { "left" } else { "right" };
                let (name, fixed) = [
                    ("A", "site=toe-1-tip"),
                    ("B", "site=toe-1-tip"),
                    ("C", "site=heel"),
                    ("S", "site=toe-1-tip origin=post-surgical"),
                ][label];
                let staged = if extra % 2 == 0 { "staged=yes" } else { "" };
                let height = ["toe", "ray", "transmetatarsal"][usize::from(extra % 3)];
                let text = match what {
                    0..=3 => format!(
                        "open {side} {name} {fixed} length={extra}.5 width=1 gangrene={}",
                        if extra == 0 { "digits" } else { "none" }
                    ),
                    4..=6 => format!("closed {side} {name} {fixed}"),
                    7 => format!("closed {side} {name} {fixed} by=home-nurse"),
                    8 => format!("excised {side} {name} {fixed}"),
                    9 => format!("minor-amputation {side} {name} height={height} {staged}"),
                    10 => format!("minor-amputation {side} height={height} {staged}"),
                    11 => format!("major-amputation {side} height=below-knee {staged}"),
                    12 => format!("exam {side} toe={extra}0 sensation=lost deformity=no"),
                    13 => "vascular-referral".to_owned(),
                    14 => {
                        if extra == 0 {
                            "death".to_owned()
                        } else {
                            "visit".to_owned()
                        }
                    }
                    _ => {
                        if extra < 2 {
                            "transfer-out".to_owned()
                        } else {
                            "visit".to_owned()
                        }
                    }
                };
                (day, format!("{day} {text}"))
            },
        )
    }

    fn tables_up_to(people: &[Vec<(i64, String)>], last: i64) -> Tables {
        let texts: Vec<String> = people
            .iter()
            .map(|lines| {
                let kept: Vec<&str> = lines
                    .iter()
                    .filter(|(day, _)| *day <= last)
                    .map(|(_, line)| line.as_str())
                    .collect();
                kept.join("\n")
            })
            .collect();
        stories(&texts.iter().map(String::as_str).collect::<Vec<_>>())
    }

    fn all(tables: &Tables, horizon: &DataHorizon, quarter: Quarter) -> Vec<MeasureResult> {
        let rules = Rules::default();
        let people = derive(tables, &rules, horizon);
        let study = Study {
            people: &people,
            rules: &rules,
            horizon,
        };
        MEASURES
            .iter()
            .flat_map(|measure| {
                evaluate(
                    measure,
                    &prepare(measure, &study),
                    &study,
                    &Cohort::quarter(quarter),
                )
            })
            .collect()
    }

    fn same(before: &[MeasureResult], after: &[MeasureResult]) -> Result<(), TestCaseError> {
        for result in before
            .iter()
            .filter(|result| !matches!(result.value, Value::NotYet { .. }))
        {
            prop_assert!(after.contains(result), "{result:?}");
        }
        Ok(())
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, max_shrink_iters: 5000, ..ProptestConfig::default() })]

        #[test]
        fn a_later_export_never_changes_a_matured_figure(
            people in prop::collection::vec(prop::collection::vec(line(), 0..16), 1..3), back in 0..4u32
        ) {
            let quarter = Quarter::parse("2024Q2").unwrap().back(back);
            let before = all(&tables_up_to(&people, 600), &horizon(600), quarter);
            let after = all(&tables_up_to(&people, 800), &horizon(800), quarter);
            same(&before, &after)?;
        }

        /// Deaths and procedures told four months late, as the pipeline file declares.
        #[test]
        fn a_later_export_never_changes_a_matured_figure_when_deaths_and_procedures_lag(
            people in prop::collection::vec(prop::collection::vec(line(), 0..16), 1..3), back in 0..4u32
        ) {
            let lagged = |cut_off: i64| DataHorizon {
                deaths_known_to: date(cut_off - 120),
                procedures_known_to: date(cut_off - 120),
                ..horizon(cut_off)
            };
            let quarter = Quarter::parse("2024Q2").unwrap().back(back);
            let before = all(&tables_up_to(&people, 600), &lagged(600), quarter);
            let after = all(&tables_up_to(&people, 800), &lagged(800), quarter);
            same(&before, &after)?;
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

        /// No person is in remission on a day after which a wound seen open before is seen open again without a closure between.
        #[test]
        fn a_remission_begins_with_every_wound_closed(people in prop::collection::vec(prop::collection::vec(line(), 0..16), 1..3)) {
            let tables = tables_up_to(&people, 800);
            for person in derive(&tables, &Rules::default(), &horizon(800)) {
                for spell in &person.reading.remissions {
                    for wound in &person.reading.episodes {
                        let is_open_across = wound.index.date <= spell.start.date && wound.last_open.date > spell.start.date;
                        prop_assert!(!is_open_across, "{spell:?} {wound:?}");
                    }
                }
            }
        }

        /// The same where no wound went unseen for more than 90 days.
        #[test]
        fn a_remission_begins_with_every_followed_wound_closed(people in prop::collection::vec(prop::collection::vec(line(), 0..16), 1..3)) {
            let tables = tables_up_to(&people, 800);
            for person in derive(&tables, &Rules::default(), &horizon(800)) {
                let is_followed = person.reading.episodes.iter().all(|wound| {
                    wound.known_days.windows(2).all(|pair| (pair[1] - pair[0]).num_days() <= 90)
                });
                for spell in person.reading.remissions.iter().filter(|_| is_followed) {
                    for wound in &person.reading.episodes {
                        let is_open_across = wound.index.date <= spell.start.date && wound.last_open.date > spell.start.date;
                        prop_assert!(!is_open_across, "{spell:?} {wound:?}");
                    }
                }
            }
        }

        /// The same without transfers.
        #[test]
        fn an_episode_that_was_not_transferred_ends_no_earlier_than_it_was_last_seen_open(people in prop::collection::vec(prop::collection::vec(line(), 0..16), 1..3)) {
            let tables = tables_up_to(&people, 800);
            for person in derive(&tables, &Rules::default(), &horizon(800)) {
                for wound in person.reading.episodes.iter().filter(|wound| wound.transferred_out.is_none()) {
                    prop_assert!(wound.end_at.date >= wound.last_open.date, "{wound:?}");
                }
            }
        }

        #[test]
        fn an_episode_ends_no_earlier_than_it_was_last_seen_open(people in prop::collection::vec(prop::collection::vec(line(), 0..16), 1..3)) {
            let tables = tables_up_to(&people, 800);
            for person in derive(&tables, &Rules::default(), &horizon(800)) {
                for wound in &person.reading.episodes {
                    prop_assert!(wound.end_at.date >= wound.last_open.date, "{wound:?}");
                }
            }
        }
    }
}
