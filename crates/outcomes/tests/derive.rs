//! Hand-worked derivation cases: a story in, the episodes a clinician would write down out.
//!
//! Rules: the confirmation gap is 14 days, the reopening window 28, lost is more than 90 days unseen.

mod support;

use outcomes::derive::Trigger;
use outcomes::rules::Rules;
use support::{day, derived, episode_lines, person_episode_lines, story};

#[test]
fn three_ulcers_on_one_foot_and_one_on_the_other_are_four_episodes_and_one_person_episode() {
    let tables = story(
        "200 open right A site=toe-1-plantar
         200 open right B site=mth-1-plantar
         200 open right C site=heel
         200 open left  D site=toe-2-tip
         228 closed right A
         228 open right B
         228 open right C
         228 closed left D
         256 closed right B
         256 open right C
         284 closed right C",
    );
    assert_eq!(
        episode_lines(&tables, 600),
        [
            "left D: from 200, healed at 228 in (200, 228]",
            "right A: from 200, healed at 228 in (200, 228]",
            "right B: from 200, healed at 256 in (228, 256]",
            "right C: from 200, healed at 284 in (256, 284]",
        ]
    );
    assert_eq!(
        person_episode_lines(&tables, 600),
        ["from 200, all closed in (256, 284], 4 wounds"]
    );
}

#[test]
fn open_again_after_10_days_is_the_same_episode() {
    let tables =
        story("200 open right A\n230 closed right A\n240 open right A\n260 closed right A");
    assert_eq!(
        episode_lines(&tables, 600),
        ["right A: from 200, healed at 260 in (240, 260], reopened 1x"]
    );
}

#[test]
fn open_again_after_28_days_is_the_same_episode() {
    let tables =
        story("200 open right A\n230 closed right A\n258 open right A\n280 closed right A");
    assert_eq!(
        episode_lines(&tables, 600),
        ["right A: from 200, healed at 280 in (258, 280], reopened 1x"]
    );
}

#[test]
fn open_again_after_29_days_is_a_new_episode() {
    let tables =
        story("200 open right A\n230 closed right A\n259 open right A\n280 closed right A");
    assert_eq!(
        episode_lines(&tables, 600),
        [
            "right A: from 200, healed at 230 in (200, 230]",
            "right A: from 259, healed at 280 in (259, 280]",
        ]
    );
}

#[test]
fn a_confirmed_closure_is_still_cancelled_by_reopening_within_28_days() {
    let tables = story(
        "200 open right A\n230 closed right A\n244 closed right A\n250 open right A\n290 closed right A\n304 closed right A",
    );
    assert_eq!(
        episode_lines(&tables, 600),
        ["right A: from 200, healed at 290 in (250, 290], confirmed 304, reopened 1x"]
    );
}

#[test]
fn a_second_closed_visit_confirms_after_14_days_and_not_after_13() {
    let after_13 = story("200 open right A\n230 closed right A\n243 closed right A");
    assert_eq!(
        episode_lines(&after_13, 600),
        ["right A: from 200, healed at 230 in (200, 230]"]
    );
    let after_14 = story("200 open right A\n230 closed right A\n244 closed right A");
    assert_eq!(
        episode_lines(&after_14, 600),
        ["right A: from 200, healed at 230 in (200, 230], confirmed 244"]
    );
}

#[test]
fn a_new_label_at_the_same_site_within_28_days_continues_the_episode() {
    let tables = story(
        "200 open right A site=mth-2-plantar
         230 closed right A site=mth-2-plantar
         250 open right B site=mth-2-plantar
         270 closed right B site=mth-2-plantar",
    );
    assert_eq!(
        episode_lines(&tables, 600),
        ["right A: from 200, healed at 270 in (250, 270], reopened 1x"]
    );
}

#[test]
fn a_neighbouring_site_is_another_ulcer() {
    let tables = story(
        "200 open right A site=mth-2-plantar
         230 closed right A site=mth-2-plantar
         250 open right B site=mth-3-plantar
         270 closed right B site=mth-3-plantar",
    );
    assert_eq!(
        episode_lines(&tables, 600),
        [
            "right A: from 200, healed at 230 in (200, 230]",
            "right B: from 250, healed at 270 in (250, 270]"
        ]
    );
}

#[test]
fn an_ulcer_excised_by_toe_amputation_is_not_healed() {
    let tables = story(
        "200 open right A site=toe-2-tip
         214 open right A site=toe-2-tip
         220 minor-amputation right A height=toe
         240 open right S site=toe-2-tip origin=post-surgical parent=A
         300 closed right S",
    );
    assert_eq!(
        episode_lines(&tables, 600),
        [
            "right A: from 200, excised-by-minor-amputation at 220",
            "right S: from 240, healed at 300 in (240, 300]",
        ]
    );
}

#[test]
fn a_person_episode_runs_on_until_the_surgical_wound_closes_although_it_was_first_seen_later() {
    let tables = story(
        "200 open right A site=toe-2-tip
         220 minor-amputation right A height=toe
         230 open left B
         240 open right S site=toe-2-tip origin=post-surgical parent=A
         260 closed left B
         300 closed right S",
    );
    assert_eq!(
        person_episode_lines(&tables, 600),
        ["from 200, all closed in (240, 300], 3 wounds"]
    );
}

#[test]
fn an_amputation_that_names_no_lesion_takes_what_lies_distal_and_is_not_seen_open_again() {
    let tables = story(
        "200 open right A site=toe-2-tip
         200 open right B site=heel
         200 open right C site=toe-5-dorsal
         220 minor-amputation right height=toe
         240 open right B
         240 open right C
         300 closed right B
         300 closed right C",
    );
    assert_eq!(
        episode_lines(&tables, 600),
        [
            "right A: from 200, excised-by-minor-amputation at 220",
            "right B: from 200, healed at 300 in (240, 300]",
            "right C: from 200, healed at 300 in (240, 300]",
        ]
    );
}

#[test]
fn a_major_amputation_ends_every_ulcer_of_that_limb_and_none_of_the_other() {
    let tables = story(
        "200 open right A
         200 open left B
         230 major-amputation right height=below-knee
         240 open left B
         260 closed left B",
    );
    assert_eq!(
        episode_lines(&tables, 600),
        [
            "left B: from 200, healed at 260 in (240, 260]",
            "right A: from 200, major-amputation at 230"
        ]
    );
}

/// Last seen on day 200, the leg lost on 215, nobody at the foot until the day of the next ulcer: 90 days after the operation that
/// ulcer is of the same person-episode, 91 days after it of a new one.
#[test]
fn an_operation_is_a_sight_of_the_wound_it_removes() {
    for (next, n_person_episodes) in [(305, 1), (306, 2)] {
        let tables = story(&format!(
            "200 open right A
             215 major-amputation right height=below-knee
             {next} open left B
             350 closed left B"
        ));
        let found = person_episode_lines(&tables, 600);
        assert_eq!(found.len(), n_person_episodes, "{next}: {found:?}");
    }
}

#[test]
fn a_person_who_dies_with_an_open_ulcer_has_died_and_is_not_lost() {
    let tables = story("200 open right A\n230 open right A\n260 death");
    assert_eq!(
        episode_lines(&tables, 600),
        ["right A: from 200, died at 260"]
    );
}

#[test]
fn a_death_more_than_90_days_after_the_last_known_state_does_not_compete() {
    let within = story("200 open right A\n290 death");
    assert_eq!(
        episode_lines(&within, 600),
        ["right A: from 200, died at 290"]
    );
    let beyond = story("200 open right A\n291 death");
    assert_eq!(
        episode_lines(&beyond, 600),
        ["right A: from 200, lost-to-follow-up at 200"]
    );
}

#[test]
fn an_ulcer_seen_once_is_an_episode_that_ends_where_it_began() {
    let tables = story("200 open right A");
    assert_eq!(
        episode_lines(&tables, 230),
        ["right A: from 200, open-at-cut-off at 200"]
    );
}

#[test]
fn an_ulcer_unseen_for_90_days_is_open_and_for_91_days_lost() {
    let tables = story("200 open right A\n210 open right A");
    assert_eq!(
        episode_lines(&tables, 300),
        ["right A: from 200, open-at-cut-off at 210"]
    );
    assert_eq!(
        episode_lines(&tables, 301),
        ["right A: from 200, lost-to-follow-up at 210"]
    );
}

#[test]
fn ulcers_transferred_in_or_open_at_data_start_are_prevalent() {
    let tables = story(
        "90 open right A
         91 open right B
         200 open left C origin=transferred-in onset=150",
    );
    assert_eq!(
        episode_lines(&tables, 210),
        [
            "right A: from 90, lost-to-follow-up at 90, first seen within the window after data start",
            "right B: from 91, lost-to-follow-up at 91",
            "left C: from 200, open-at-cut-off at 200, transferred in",
        ]
    );
}

#[test]
fn a_split_ulcer_closes_when_all_its_parts_are_closed() {
    let tables = story(
        "200 open right A
         220 open right B parent=A
         220 open right C parent=A
         240 closed right B
         240 open right C
         260 closed right C",
    );
    assert_eq!(
        episode_lines(&tables, 600),
        ["right A: from 200, healed at 260 in (240, 260]"]
    );
}

#[test]
fn a_parent_that_is_still_seen_is_a_part_of_its_own() {
    let tables = story(
        "200 open right A
         220 open right A
         220 open right B parent=A
         240 open right A
         240 closed right B
         260 closed right A",
    );
    assert_eq!(
        episode_lines(&tables, 600),
        ["right A: from 200, healed at 260 in (240, 260]"]
    );
}

#[test]
fn merged_ulcers_are_one_episode_with_the_earliest_onset() {
    let tables = story(
        "200 open right A onset=150
         210 open right B onset=190
         220 open right A into=B
         220 open right B
         250 closed right B",
    );
    assert_eq!(
        episode_lines(&tables, 600),
        ["right B: from 200, healed at 250 in (220, 250]"]
    );
    derived(&tables, 600, |people| {
        assert_eq!(
            people[0].reading.episodes[0]
                .onset
                .map(|onset| day(onset.dated)),
            Some(150)
        );
    });
}

#[test]
fn only_a_clinician_closes_an_ulcer() {
    let tables = story(
        "200 open right A\n230 closed right A by=patient\n250 closed right A by=home-nurse\n270 closed right A",
    );
    assert_eq!(
        episode_lines(&tables, 600),
        ["right A: from 200, healed at 270 in (200, 270]"]
    );
}

#[test]
fn a_pre_ulcerative_lesion_is_an_ulcer_from_the_day_it_opens() {
    let tables = story("200 pre-ulcerative right A\n220 open right A\n250 closed right A");
    assert_eq!(
        episode_lines(&tables, 600),
        ["right A: from 220, healed at 250 in (220, 250]"]
    );
}

#[test]
fn two_rows_of_one_day_that_disagree_leave_the_ulcer_open() {
    let tables =
        story("200 open right A\n230 closed right A\n230 open right A\n260 closed right A");
    assert_eq!(
        episode_lines(&tables, 600),
        ["right A: from 200, healed at 260 in (230, 260]"]
    );
}

#[test]
fn a_limb_ulcer_above_the_foot_is_no_foot_ulcer() {
    let tables = story("200 open right A site=above-foot");
    assert!(episode_lines(&tables, 600).is_empty());
}

#[test]
fn staged_amputations_count_once_and_a_higher_level_counts_even_inside_90_days() {
    let tables = story(
        "200 open right A site=toe-1
         210 minor-amputation right height=toe
         210 minor-amputation right height=toe
         230 minor-amputation right height=toe staged=yes
         250 minor-amputation right height=transmetatarsal staged=yes
         300 major-amputation right height=below-knee staged=yes
         380 major-amputation right height=below-knee staged=yes",
    );
    derived(&tables, 600, |people| {
        let counted: Vec<String> = people[0]
            .reading
            .facts
            .amputations
            .iter()
            .map(|amputation| format!("{} at {}", amputation.level, day(amputation.at)))
            .collect();
        assert_eq!(counted, ["minor at 210", "minor at 250", "major at 300"]);
    });
}

fn amputations(text: &str) -> Vec<String> {
    derived(&story(text), 600, |people| {
        let counted = people[0].reading.facts.amputations.iter();
        counted
            .map(|done| format!("{} {} at {}", done.side, done.level, day(done.at)))
            .collect()
    })
}

/// Worked by hand: an operation lies between the last look at an ulcer and the day it was found removed.
#[test]
fn an_ulcer_found_removed_counts_as_an_amputation_where_no_event_tells_of_one() {
    let table: [(&str, &[&str]); 12] = [
        // no event at all: the day it was found removed
        (
            "200 open right A\n230 excised right A",
            &["right minor at 230"],
        ),
        // an event of that leg since the last look is the operation, whatever ulcer it names
        (
            "200 open right A\n220 minor-amputation right B\n230 excised right A",
            &["right minor at 220"],
        ),
        (
            "200 open right A\n220 major-amputation right\n230 excised right A",
            &["right major at 220"],
        ),
        // one before the last look, or of the other leg, is another
        (
            "200 open right A\n150 minor-amputation right B\n230 excised right A",
            &["right minor at 150", "right minor at 230"],
        ),
        (
            "200 open right A\n220 minor-amputation left B\n230 excised right A",
            &["left minor at 220", "right minor at 230"],
        ),
        // told again later, by the state or by an event that names it up to 28 days later
        (
            "200 open right A\n230 excised right A\n260 excised right A",
            &["right minor at 230"],
        ),
        (
            "200 open right A\n230 excised right A\n258 minor-amputation right A",
            &["right minor at 230"],
        ),
        (
            "200 open right A\n230 excised right A\n259 minor-amputation right A",
            &["right minor at 230", "right minor at 259"],
        ),
        // the event names it, the wound was seen open under the old label, its removal written down afterwards
        (
            "200 open right A\n220 minor-amputation right A\n225 open right A\n230 excised right A",
            &["right minor at 220"],
        ),
        // two ulcers found removed on one day: one operation
        (
            "200 open right A\n200 open right B\n230 excised right A\n230 excised right B",
            &["right minor at 230"],
        ),
        // found removed before it was ever seen: nobody knows when, so no amputation in view
        ("200 open right A\n230 excised right B", &[]),
        // the same day says open, which counts
        (
            "200 open right A\n230 excised right A\n230 open right A",
            &[],
        ),
    ];
    for (text, expected) in table {
        assert_eq!(amputations(text), expected, "{text}");
    }
}

/// Worked by hand: the wound of the operation of day 220 was seen on day 240, its state not written, and closed on day 270.
#[test]
fn a_surgical_wound_first_told_without_a_state_is_open_until_it_is_seen_closed() {
    let tables = story(
        "200 open right A site=toe-2-tip
         220 minor-amputation right A height=toe
         240 state-not-written right S origin=post-surgical parent=A
         270 closed right S
         300 open left B
         330 closed left B",
    );
    derived(&tables, 600, |people| {
        let remissions = people[0].reading.remissions.iter();
        let starts: Vec<i64> = remissions.map(|spell| day(spell.start)).collect();
        assert_eq!(starts, [270, 330]);
    });
    assert_eq!(
        person_episode_lines(&tables, 600),
        [
            "from 200, all closed in (240, 270], 2 wounds",
            "from 300, all closed in (300, 330], 1 wounds"
        ]
    );
    // told closed at its first look: closed then; of whole skin with a callus: no open wound either
    for first in ["closed", "pre-ulcerative"] {
        let tables = story(&format!(
            "200 open right A\n220 minor-amputation right A\n240 {first} right S origin=post-surgical parent=A"
        ));
        derived(&tables, 600, |people| {
            assert_eq!(day(people[0].reading.remissions[0].start), 240, "{first}");
        });
    }
}

#[test]
fn a_limb_is_at_risk_from_its_first_ulcer_whatever_follows() {
    let tables = story(
        "200 open right A
         230 closed right A
         400 open right B site=heel
         430 major-amputation right height=below-knee
         500 open left C
         520 death",
    );
    derived(&tables, 600, |people| {
        let limbs: Vec<String> = people[0]
            .reading
            .limbs()
            .iter()
            .map(|limb| {
                format!(
                    "{} from {}, major {:?}, death {:?}",
                    limb.side,
                    day(limb.index),
                    limb.major_amputation.map(day),
                    limb.death.map(day)
                )
            })
            .collect();
        assert_eq!(
            limbs,
            [
                "left from 500, major None, death Some(520)",
                "right from 200, major Some(430), death Some(520)",
            ]
        );
    });
}

#[test]
fn a_new_ulcer_after_all_wounds_closed_ends_the_remission_whatever_its_place() {
    let tables = story(
        "200 open right A site=toe-1-plantar
         230 closed right A site=toe-1-plantar
         300 exam right pulses=palpable
         330 open left B site=heel",
    );
    derived(&tables, 600, |people| {
        let remission = &people[0].reading.remissions[0];
        let recurrence = remission.recurrence.unwrap();
        assert_eq!(day(remission.start), 230);
        assert_eq!(
            (recurrence.last_clear.map(day), day(recurrence.first_open)),
            (Some(300), 330)
        );
        assert_eq!(recurrence.place.code(), "other foot");
    });
}

#[test]
fn of_new_ulcers_of_one_day_the_nearest_gives_the_place_in_any_order_of_rows() {
    let before = "200 open right A site=toe-1-plantar\n 230 closed right A site=toe-1-plantar";
    let (near, far) = ("330 open right C site=heel", "330 open left B site=heel");
    for rows in [[near, far], [far, near]] {
        let tables = story(&format!("{before}\n {}\n {}", rows[0], rows[1]));
        derived(&tables, 600, |people| {
            let recurrence = people[0].reading.remissions[0].recurrence.unwrap();
            assert_eq!(recurrence.place.code(), "same foot, other site");
        });
    }
}

#[test]
fn an_ulcer_referred_on_the_day_of_its_trigger_waits_no_day() {
    let tables = story(
        "200 open right A site=toe-1-tip gangrene=digits
         200 vascular-referral right
         221 revascularisation right
         260 closed right A",
    );
    derived(&tables, 600, |people| {
        let pathway = &people[0].pathways[0];
        assert_eq!((pathway.trigger, day(pathway.at)), (Trigger::Gangrene, 200));
        assert_eq!(
            pathway.referral.map(|step| (step.day, step.was_before)),
            Some((0, false))
        );
        assert_eq!(pathway.revascularisation.map(|step| step.day), Some(21));
        assert_eq!(pathway.limb_healed.map(day), Some(260));
    });
}

#[test]
fn a_referral_before_the_trigger_is_day_0_within_90_days_and_none_beyond() {
    for (referred, wanted) in [(110, Some((0, true))), (109, None)] {
        let tables = story(&format!(
            "{referred} vascular-referral right
             200 open right A site=toe-1-tip
             200 exam right toe=25",
        ));
        derived(&tables, 600, |people| {
            let pathway = &people[0].pathways[0];
            assert_eq!(pathway.trigger, Trigger::LowToePressure);
            assert_eq!(
                pathway.referral.map(|step| (step.day, step.was_before)),
                wanted
            );
        });
    }
}

#[test]
fn six_weeks_open_without_measured_perfusion_is_a_trigger_and_a_stiff_artery_measures_nothing() {
    // Day 42 after the first visit is not yet more than six weeks; day 43 is.
    for (last, wanted) in [(242, None), (243, Some(243))] {
        let tables = story(&format!(
            "200 open right A site=mth-1-plantar length=1 width=1
             200 exam right pulses=palpable abi=1.45
             {last} open right A length=0.2 width=0.2",
        ));
        derived(&tables, 600, |people| {
            assert_eq!(
                people[0].pathways.first().map(|pathway| day(pathway.at)),
                wanted
            );
        });
    }
}

#[test]
fn history_counts_only_from_the_day_it_is_dated() {
    let tables = story(
        "100 exam right sensation=lost pulses=palpable deformity=no
         100 exam left sensation=lost pulses=palpable deformity=no
         200 open right A
         230 closed right A
         300 exam right pulses=palpable
         300 exam left pulses=palpable",
    );
    derived(&tables, 600, |people| {
        let tiers = people[0].reading.tiers(&Rules::default());
        let tiers: Vec<(i64, u8, u8)> = tiers
            .iter()
            .map(|record| (day(record.at), record.tier.lowest, record.tier.highest))
            .collect();
        // Before the ulcer nobody had asked about history: at least tier 1, at most 3. After it: tier 3.
        assert_eq!(tiers, [(100, 1, 3), (300, 3, 3)]);
    });
}

#[test]
fn shuffled_rows_give_the_same_episodes() {
    let text = "200 open right A\n230 closed right A\n240 open right A\n260 closed right A\n300 open left B\n310 death";
    let mut lines: Vec<&str> = text.lines().collect();
    let wanted = episode_lines(&story(text), 600);
    lines.reverse();
    assert_eq!(episode_lines(&story(&lines.join("\n")), 600), wanted);
    lines.swap(0, 3);
    assert_eq!(episode_lines(&story(&lines.join("\n")), 600), wanted);
}
