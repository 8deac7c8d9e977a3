//! The truths agree with each other and with the hazards they were drawn from.

use simulate::truth::{
    ConstantHazards, Ending, LatentUlcer, constant_hazard_incidence, simulated_incidence,
};
use simulate::{Practice, Scenario, simulate};
use std::collections::BTreeMap;

const SEED: u64 = 4_711;

fn practice(scenario: Scenario) -> Practice {
    simulate(&scenario, SEED).expect("settings within their ranges")
}

fn constant(n_patients: u64) -> Scenario {
    Scenario {
        n_patients,
        ..Scenario::with_constant_hazards()
    }
}

/// A share of n drawn with this probability stays within four standard errors but once in 16,000 times.
fn is_plausible(share: f64, probability: f64, n: f64) -> bool {
    (share - probability).abs() <= 4.0 * (probability * (1.0 - probability) / n).sqrt()
}

#[test]
fn simulated_ends_of_ulcers_have_the_closed_form_of_their_hazards() {
    let n_patients = 8_000;
    let mut scenario = constant(n_patients);
    // One ulcer a person, so that the shares are of independent draws.
    scenario.hazards.recurrence_per_year = 0.0;
    let hazards = ConstantHazards {
        healing_per_year: scenario.hazards.healing_per_year,
        minor_amputation_per_year: scenario.hazards.minor_amputation_per_year,
        major_amputation_per_year: scenario.hazards.major_amputation_per_year,
        death_per_year: scenario.hazards.death_per_year,
    };
    for drawn in simulated_incidence(&practice(scenario), &[28, 84, 168, 365]) {
        let truth = constant_hazard_incidence(hazards, drawn.day);
        for (share, probability) in [
            (drawn.healed, truth.healed),
            (drawn.minor_amputation, truth.minor_amputation),
            (drawn.major_amputation, truth.major_amputation),
            (drawn.died, truth.died),
        ] {
            assert!(
                is_plausible(share, probability, n_patients as f64),
                "day {}: {share} for {probability}",
                drawn.day
            );
        }
    }
}

#[test]
fn recurrence_after_healing_has_the_closed_form_of_its_hazards() {
    let mut scenario = constant(8_000);
    scenario.people.share_prior_minor_amputation = 0.0;
    scenario.hazards.minor_amputation_per_year = 0.0;
    scenario.hazards.major_amputation_per_year = 0.0;
    scenario.hazards.healing_per_year = 12.0;
    scenario.follow_on_days = 730;
    let (recurrence, death) = (
        scenario.hazards.recurrence_per_year,
        scenario.hazards.death_per_year,
    );
    let reach = f64::from(
        (scenario.cut_off - scenario.data_start).num_days() as i32 + scenario.follow_on_days,
    );
    let people = practice(scenario).latent_truth().people;
    // Everybody whose first year after healing lies within the latent course, dead or alive.
    let healed: Vec<_> = people
        .iter()
        .filter(|p| p.all_healed_day.is_some_and(|day| day + 365.0 <= reach))
        .collect();
    let within_a_year = |p: &&&simulate::truth::LatentPerson| {
        p.recurrence_day
            .zip(p.all_healed_day)
            .is_some_and(|(again, healed)| again - healed <= 365.0)
    };
    let share = healed.iter().filter(within_a_year).count() as f64 / healed.len() as f64;
    // Cause-specific hazards: h/H (1 - exp(-H t)).
    let total = recurrence + death;
    let truth = recurrence / total * (1.0 - (-total * 365.0 / 365.25).exp());
    assert!(healed.len() > 6_000);
    assert!(
        is_plausible(share, truth, healed.len() as f64),
        "{share} for {truth}"
    );
}

#[test]
fn latent_healing_lies_between_the_last_open_and_the_first_closed_visit() {
    let mut scenario = Scenario {
        n_patients: 600,
        ..Scenario::default()
    }
    .without_noise();
    // A letter that covers two lesions, or parts of one, has no single latent day.
    scenario.hazards.split_per_year = 0.0;
    scenario.hazards.share_dehiscence = 0.0;
    let practice = practice(scenario);
    let latent = practice.latent_truth();
    let mut of_label: BTreeMap<(&str, &str), Vec<&LatentUlcer>> = BTreeMap::new();
    for ulcer in &latent.ulcers {
        if let Some(label) = &ulcer.label {
            of_label
                .entry((&ulcer.patient, label))
                .or_default()
                .push(ulcer);
        }
    }
    let visible = practice.visible_truth();
    let healed = visible
        .ulcers
        .iter()
        .filter(|ulcer| ulcer.end == Ending::Healed);
    let mut n_checked = 0;
    for ulcer in healed {
        let [truth] = of_label[&(ulcer.patient.as_str(), ulcer.label.as_str())][..] else {
            continue;
        };
        if let (Some(closed), Some(day)) = (ulcer.first_closed_day, truth.lasting_healing_day) {
            assert!(
                f64::from(ulcer.last_open_day) < day && day <= f64::from(closed),
                "{ulcer:?} {truth:?}"
            );
            n_checked += 1;
        }
    }
    assert!(n_checked > 400, "{n_checked}");
}

#[test]
fn an_ulcer_seen_amputated_or_dead_truly_was() {
    let practice = practice(constant(1_500));
    let latent = practice.latent_truth();
    let visible = practice.visible_truth();
    let deaths: BTreeMap<&str, f64> = latent
        .people
        .iter()
        .filter_map(|p| Some((p.patient.as_str(), p.death_day?)))
        .collect();
    let majors: BTreeMap<(&str, &str), i32> = latent
        .limbs
        .iter()
        .filter_map(|l| Some(((l.patient.as_str(), l.side), l.major_amputation_day?)))
        .collect();
    let mut n_of = BTreeMap::new();
    for ulcer in &visible.ulcers {
        *n_of.entry(ulcer.end).or_insert(0) += 1;
        match ulcer.end {
            Ending::Died => assert_eq!(deaths[ulcer.patient.as_str()].ceil() as i32, ulcer.end_day),
            Ending::MajorAmputation => {
                assert_eq!(majors[&(ulcer.patient.as_str(), ulcer.side)], ulcer.end_day)
            }
            _ => (),
        }
        assert!(
            ulcer.index_day <= ulcer.last_open_day && ulcer.last_open_day <= ulcer.last_known_day,
            "{ulcer:?}"
        );
        assert!(ulcer.last_open_day <= ulcer.end_day, "{ulcer:?}");
    }
    // Nobody leaves and every visit is kept: nobody is lost, and every ending occurs.
    assert_eq!(n_of.get(&Ending::Lost), None, "{n_of:?}");
    for ending in [
        Ending::Healed,
        Ending::MinorAmputation,
        Ending::MajorAmputation,
        Ending::Died,
        Ending::Open,
    ] {
        assert!(n_of[&ending] > 10, "{n_of:?}");
    }
}

#[test]
fn what_is_seen_of_a_person_never_comes_before_what_is_true() {
    let mut scenario = Scenario {
        n_patients: 500,
        ..Scenario::default()
    }
    .without_noise();
    scenario.people.share_under_care_at_start = 0.0;
    scenario.ulcers.share_pre_ulcerative = 0.0;
    let practice = practice(scenario);
    let latent: BTreeMap<String, _> = practice
        .latent_truth()
        .people
        .into_iter()
        .map(|person| (person.patient.clone(), person))
        .collect();
    let mut n_closed = 0;
    for person in practice.visible_truth().people {
        let truth = &latent[&person.patient];
        if let (Some(seen), Some(first_open)) = (person.all_closed_day, person.first_open_day) {
            n_closed += 1;
            assert!(
                person
                    .all_closed_last_open_day
                    .is_some_and(|open| first_open <= open && open <= seen),
                "{person:?}"
            );
            assert!(
                person.next_ulcer_day.is_none_or(|next| next > seen),
                "{person:?}"
            );
            assert!(
                person.death_day.is_none_or(|death| death >= seen),
                "{person:?}"
            );
        }
        if let (Some(seen), Some(death)) = (person.death_day, truth.death_day) {
            assert_eq!(seen, death.ceil() as i32);
        }
        assert!(person.death_day.is_none() || truth.death_day.is_some());
    }
    assert!(n_closed > 200, "{n_closed}");
}

#[test]
fn loss_of_those_who_heal_slowly_lowers_their_share_among_the_seen() {
    let lost_ratio = |ratio: f64| {
        let mut scenario = constant(3_000);
        scenario.visits.loss_per_year = 1.0;
        scenario.visits.loss_ratio_slow_healing = ratio;
        let visible = practice(scenario).visible_truth();
        let known = visible.ulcers.iter().filter(|ulcer| {
            ulcer.last_known_day - ulcer.index_day >= 84 || ulcer.end == Ending::Healed
        });
        let healed = known.clone().filter(|ulcer| {
            ulcer
                .first_closed_day
                .is_some_and(|day| day - ulcer.index_day <= 84)
        });
        healed.count() as f64 / known.count() as f64
    };
    // Complete cases flatter when non-healers leave and slander when healers do.
    assert!(lost_ratio(4.0) > lost_ratio(1.0) + 0.02);
    assert!(lost_ratio(0.25) < lost_ratio(1.0) - 0.02);
}
