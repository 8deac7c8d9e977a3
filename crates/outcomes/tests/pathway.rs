//! Hand-worked stories of the vascular pathway and of the action list.
//!
//! 2023 Q3 is story day 181 to 272. Gangrene is an urgent trigger; a toe pressure below 30 mmHg too; an ABI of 0.55 is WIfI
//! ischaemia grade 2 and a routine one.

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::analyse::{Material, analyse};
use outcomes::report::{ActionItem, Audience, Count, MeasureResult, Provenance, Value};
use outcomes::rules::{Quarter, Rules};
use outcomes::tables::Tables;
use support::{derived, horizon, measured, stories, story};

fn results(tables: &Tables, cut_off_day: i64, id: &str) -> Vec<MeasureResult> {
    measured(tables, cut_off_day, id, "2023Q3")
}

/// Shares within 1, 7, 14 and 28 days, in percent.
fn shares(results: &[MeasureResult]) -> Vec<String> {
    results
        .iter()
        .map(|result| match &result.value {
            Value::Known(known) => format!("{:.1}", known.estimate * 100.0),
            other => panic!("{other:?}"),
        })
        .collect()
}

fn actions(text: &str, cut_off_day: i64) -> Vec<ActionItem> {
    let tables = story(text);
    derived(&tables, cut_off_day, |people| {
        let material = Material {
            dates: &outcomes::rules::DeclaredDates::AS_RECORDED,
            title: "Title",
            practice: "Tarnwick Foot Practice",
            audience: Audience::Clinic,
            quarter: Quarter::parse("2023Q3").unwrap(),
            trend_quarters: 1,
            measures: &[],
            strata: &[],
            tables: &tables,
            people,
            rules: &Rules::default(),
            horizon: &horizon(cut_off_day),
            findings: &[],
            check_words: &[],
            accounts: &[],
            completeness: &[],
            provenance: &Provenance::default(),
        };
        analyse(&material).action_list
    })
}

fn lines(items: &[ActionItem]) -> Vec<String> {
    items
        .iter()
        .map(|item| format!("{}: {} ({})", item.rule, item.reason, item.days))
        .collect()
}

/// Five legs with gangrene on day 200, every step in its own order.
///
/// | leg | screen | study | imaging | referral | seen | revascularised | end        |
/// |-----|--------|-------|---------|----------|------|----------------|------------|
/// | 1   | day 0  | day 3 | day 10  | day 1    | 8    | 20             | -          |
/// | 2   | -      | -40   | -       | day 7    | 14   | -              | healed 25  |
/// | 3   | -      | -     | -       | -        | -    | -              | died 5     |
/// | 4   | day 2  | -     | day 0   | day 28   | 29   | -              | -          |
/// | 5   | -      | day 9 | -       | day 9    | -    | -              | major 9    |
fn five_legs() -> Tables {
    let leg = |rest: &str| format!("200 open right A site=toe-1 gangrene=digits\n{rest}\n");
    stories(&[
        &leg(
            "200 bedside-vascular-screen right\n203 physiologic-study right\n210 vascular-imaging right\n201 vascular-referral right\n208 vascular-seen right\n220 revascularisation right\n240 open right A",
        ),
        &leg(
            "160 physiologic-study right\n207 vascular-referral\n214 vascular-seen right\n225 closed right A\n240 closed right A",
        ),
        &leg("205 death"),
        &leg(
            "202 bedside-vascular-screen right\n200 vascular-imaging right\n228 vascular-referral right\n229 vascular-seen right\n256 open right A",
        ),
        &leg(
            "209 physiologic-study right\n209 vascular-referral right\n209 major-amputation right\n240 visit",
        ),
    ])
}

#[test]
fn every_step_is_timed_from_the_trigger_in_whatever_order_it_came() {
    // Nobody is lost within 28 days, so each share is a plain fraction of five legs.
    for (step, wanted) in [
        (
            "vascular-screen-after-trigger",
            ["20.0", "40.0", "40.0", "40.0"],
        ),
        (
            "vascular-study-after-trigger",
            ["20.0", "40.0", "60.0", "60.0"],
        ),
        (
            "vascular-imaging-after-trigger",
            ["20.0", "20.0", "40.0", "40.0"],
        ),
        (
            "vascular-referral-after-trigger",
            ["20.0", "40.0", "60.0", "80.0"],
        ),
        (
            "vascular-seen-after-trigger",
            ["0.0", "0.0", "40.0", "40.0"],
        ),
        (
            "revascularisation-after-trigger",
            ["0.0", "0.0", "0.0", "20.0"],
        ),
    ] {
        let results = results(&five_legs(), 600, step);
        assert_eq!(shares(&results), wanted, "{step}");
        assert!(
            results
                .iter()
                .all(|result| result.denominator == Some(Count::Shown(5)))
        );
    }
}

#[test]
fn a_step_before_the_trigger_is_day_0_and_is_said() {
    let study = results(&five_legs(), 600, "vascular-study-after-trigger");
    assert!(
        study[0]
            .notes
            .contains(&"1 before the trigger, counted as day 0".to_owned()),
        "{:?}",
        study[0].notes
    );
}

#[test]
fn a_step_on_the_day_of_a_major_amputation_counts_and_one_a_day_later_does_not() {
    for (day, wanted) in [(209, "100.0"), (210, "0.0")] {
        let tables = story(&format!(
            "200 open right A site=toe-1 gangrene=digits\n209 major-amputation right\n{day} vascular-imaging right\n240 visit"
        ));
        let results = results(&tables, 600, "vascular-imaging-after-trigger");
        assert_eq!(shares(&results)[3], wanted, "imaging on day {day}");
    }
}

#[test]
fn the_wait_after_a_referral_counts_only_referred_legs() {
    // Referred: legs 1, 2, 4, 5. Leg 5 was lost on the day of its referral. Seen 7, 7 and 1 days after it.
    let seen = results(&five_legs(), 600, "vascular-seen-after-referral");
    assert_eq!(seen[0].denominator, Some(Count::Shown(4)));
    assert_eq!(shares(&seen), ["25.0", "75.0", "75.0", "75.0"]);
    // Revascularised: leg 1, 19 days after its referral.
    let restored = results(&five_legs(), 600, "revascularisation-after-referral");
    assert_eq!(shares(&restored), ["0.0", "0.0", "0.0", "25.0"]);
}

#[test]
fn a_referral_after_the_limb_had_healed_starts_no_wait() {
    let tables = story(
        "200 open right A site=toe-1 gangrene=digits\n210 closed right A\n225 closed right A\n230 vascular-referral right",
    );
    let seen = results(&tables, 600, "vascular-seen-after-referral");
    assert_eq!(seen[0].denominator, Some(Count::Shown(0)));
}

/// What a leg with gangrene on day 200 answers to "not referred by day 84" (story day 284).
fn never_referred(rest: &str) -> &'static str {
    let tables = story(&format!(
        "200 open right A site=toe-1 gangrene=digits\n{rest}"
    ));
    let result = results(&tables, 600, "never-referred-after-trigger").remove(0);
    match (result.numerator, result.denominator, result.n_unknown) {
        (Some(Count::Shown(1)), ..) => "yes",
        (_, Some(Count::Shown(1)), _) => "no",
        (_, _, Some(Count::Shown(1))) => "unknown",
        other => panic!("{other:?}"),
    }
}

#[test]
fn never_referred_is_known_only_when_the_wait_ended_or_was_watched_for_12_weeks() {
    for (rest, wanted) in [
        ("284 open right A", "yes"),
        ("283 open right A", "unknown"),
        ("284 vascular-referral right", "no"),
        ("285 vascular-referral right\n290 open right A", "yes"),
        ("120 vascular-referral right\n210 open right A", "no"),
        ("109 vascular-referral right\n284 open right A", "yes"),
        ("220 death", "yes"),
        ("220 closed right A\n240 closed right A", "yes"),
        (
            "220 major-amputation right\n221 vascular-referral right",
            "yes",
        ),
        ("220 vascular-referral right\n220 death", "no"),
    ] {
        assert_eq!(never_referred(rest), wanted, "{rest}");
    }
}

#[test]
fn an_urgent_trigger_stays_on_the_list_until_the_vascular_service_has_seen_the_limb() {
    let text = "200 open right A site=toe-1 gangrene=digits\n203 vascular-referral right\n210 open right A";
    assert_eq!(
        lines(&actions(text, 213)),
        [
            "urgent-vascular-trigger: gangrene; referred 10 days ago, not recorded as seen by the vascular service (13)"
        ]
    );
    for step in ["vascular-seen", "revascularisation"] {
        assert!(
            actions(&format!("{text}\n212 {step} right"), 213).is_empty(),
            "{step}"
        );
    }
    assert!(!actions(&format!("{text}\n212 vascular-imaging right"), 213).is_empty());
}

#[test]
fn a_routine_trigger_leaves_the_list_with_its_referral() {
    let text = "200 exam right abi=0.55\n200 open right A site=mth-1\n210 open right A";
    assert_eq!(
        lines(&actions(text, 213)),
        [
            "vascular-trigger-no-referral: WIfI ischaemia grade 2 or 3; no vascular referral recorded (13)"
        ]
    );
    assert!(actions(&format!("{text}\n213 vascular-referral right"), 213).is_empty());
}

#[test]
fn a_missed_visit_is_listed_until_the_person_is_seen_again() {
    let text =
        "200 open right A site=mth-1\n207 visit attendance=missed\n214 visit attendance=cancelled";
    assert_eq!(
        lines(&actions(text, 216)),
        ["missed-visit-without-later-one: visit missed 9 days ago, not seen since (9)"]
    );
    assert!(actions(&format!("{text}\n216 open right A"), 216).is_empty());
    // Missed in the morning and seen in the afternoon of one day.
    assert!(
        actions(
            "200 open right A\n207 visit attendance=missed\n207 visit",
            216
        )
        .is_empty()
    );
    assert!(actions("200 open right A\n207 visit attendance=cancelled", 216).is_empty());
}

#[test]
fn offloading_prescribed_is_owed_until_a_device_is_dispensed_or_the_ulcer_closes() {
    let text = "200 open right A site=mth-1-plantar offloading=prescribed\n207 open right A offloading=prescribed";
    assert_eq!(
        lines(&actions(text, 210)),
        [
            "offloading-not-dispensed: offloading prescribed 10 days ago, none recorded as dispensed (10)"
        ]
    );
    assert!(actions("200 open right A offloading=prescribed", 200).is_empty());
    assert!(
        actions(
            &format!("{text}\n209 open right A offloading=dispensed"),
            210
        )
        .is_empty()
    );
    assert!(actions(&format!("{text}\n209 offloading-supplied right"), 210).is_empty());
    assert!(!actions(&format!("{text}\n209 offloading-supplied left"), 210).is_empty());
    // A device handed out before the present prescription is another one.
    assert!(!actions(&format!("190 offloading-supplied right\n{text}"), 210).is_empty());
}

#[test]
fn each_rule_of_the_list_begins_on_its_own_day() {
    let has = |text: &str, cut_off: i64, rule: &str| {
        actions(text, cut_off).iter().any(|item| item.rule == rule)
    };
    // Open for more than 84 days: day 285 is the 85th after 200.
    let open = "200 open right A\n280 open right A";
    assert!(!has(open, 284, "open-too-long"));
    assert!(has(open, 285, "open-too-long"));
    // Unseen for 28 days.
    assert!(!has("200 open right A", 227, "open-and-unseen"));
    assert!(has("200 open right A", 228, "open-and-unseen"));
    // Closed on day 210, to be confirmed 14 days later.
    let closed = "200 open right A\n210 closed right A";
    assert!(!has(closed, 223, "closed-not-confirmed"));
    assert!(has(closed, 224, "closed-not-confirmed"));
    assert!(!has(
        &format!("{closed}\n224 closed right A"),
        224,
        "closed-not-confirmed"
    ));
    // Exactly half the area gone at day 28 is half; 4 x 2 cm to 4 x 1 cm, and to 4 x 1.1 cm.
    for (width, is_listed) in [("1", false), ("1.1", true)] {
        let area =
            format!("200 open right A length=4 width=2\n228 open right A length=4 width={width}");
        assert_eq!(
            has(&area, 230, "area-not-halved-at-4-weeks"),
            is_listed,
            "{width}"
        );
    }
    // A visit on day 14 is not a visit at 4 weeks.
    let early = "200 open right A length=4 width=2\n214 open right A length=4 width=2";
    assert!(!has(early, 220, "area-not-halved-at-4-weeks"));
}

#[test]
fn urgent_entries_come_first_and_the_oldest_of_a_rule_before_the_younger() {
    let text = "100 open left B site=mth-1\n190 open left B\n150 open left C site=mth-2\n190 open left C\n200 open right A site=toe-1 gangrene=digits\n205 open right A\n280 open left B\n280 open left C\n280 open right A";
    let rules: Vec<String> = actions(text, 290)
        .iter()
        .map(|item| format!("{} {}", item.rule, item.place))
        .collect();
    assert_eq!(rules[0], "urgent-vascular-trigger right leg");
    let long: Vec<&String> = rules
        .iter()
        .filter(|rule| rule.starts_with("open-too-long"))
        .collect();
    assert_eq!(
        long,
        [
            "open-too-long left mth-1 (ulcer B)",
            "open-too-long left mth-2 (ulcer C)",
            "open-too-long right toe-1 (ulcer A)"
        ]
    );
}
