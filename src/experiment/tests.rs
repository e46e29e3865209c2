//! Comparisons of boxes made up by hand, and what must hold of any.

use chrono::Duration;
use proptest::prelude::*;

use super::*;
use crate::bench::Name;
use crate::civil::Time;

const ASKED: Asked = Asked { factor: Factor::Treatment, boxes_differ: ASSUMED, difference: 0.2, shuffles: Shuffles::No };

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

/// Warmth is gathered at 10 °C·d a day.
fn at(days: f64) -> Reached {
    Reached { days, warmth: Some(10.0 * days), by_draw: vec![10.0 * days; 5] }
}

/// A box looked at each day up to `until`, in which so many were new on those days.
fn watched(box_name: &str, treatment: &str, seeds: u32, sprouts: &[(u32, u32)], until: u32) -> Watched {
    let new = |day: u32| sprouts.iter().filter(|(on, _)| *on == day).map(|(_, seeds)| seeds).sum();
    Watched {
        container: name(box_name),
        treatment: (!treatment.is_empty()).then(|| name(treatment)),
        lot: None,
        spot: name("shelf"),
        batch: name("trial"),
        sown: Time::UNIX_EPOCH + Duration::days(20_000),
        seeds: Seeds::Counted(seeds),
        left_out: 0,
        begun: at(0.0),
        looks: (1..=until).map(|day| Seen { at: at(f64::from(day)), sprouted: new(day), ..Seen::default() }).collect(),
        ended: true,
        mean_c: Some(20.0),
    }
}

fn close(found: Option<f64>, expected: f64, within: f64) {
    assert!(found.is_some_and(|found| (found - expected).abs() <= within), "{found:?}, expected {expected}");
}

const TREATED: [(u32, u32); 7] = [(6, 1), (7, 3), (8, 4), (9, 4), (10, 2), (11, 1), (14, 1)];
const CONTROL: [(u32, u32); 6] = [(9, 1), (11, 2), (12, 2), (13, 1), (15, 1), (18, 1)];

/// Twenty seeds each, looked at daily to day 21: Fisher .02248 and grouped log-rank χ² 12.0474, p .00051865 by scipy and lifelines'
/// formula (worked out apart from this program).
#[test]
fn two_boxes_of_twenty_seeds_are_told_by_the_numbers_of_the_textbooks() {
    let boxes = [watched("A1", "a", 20, &TREATED, 21), watched("B1", "b", 20, &CONTROL, 21)];
    let answer = compare(&boxes, Asked { shuffles: Shuffles::Yes, ..ASKED });
    let pair = &answer.pairs[0];
    close(pair.fisher_p, 0.02248, 5e-6);
    let test = pair.log_rank.unwrap();
    close(Some(test.z * test.z), 12.0474, 5e-4);
    assert!(test.z > 0.0, "a came sooner and more");
    close(Some(test.p), 0.000_518_65, 5e-8);
    close(pair.log_rank_warmth.map(|test| test.z), test.z, 1e-9);
    assert!(
        test.unit == Unit::Seeds
            && test.exact_p.is_some_and(|p| p > 0.0 && p < 0.005)
            && test.least_by_boxes.is_some_and(|p| p == 1.0),
        "{test:?}"
    );
    close(pair.fraction_difference.estimate, 0.4, 1e-12);
    // Newcombe's method 10 of 16 and 8 of 20, by hand from Wilson's (.5840, .9193) and (.2188, .6134).
    close(pair.fraction_difference.low, 0.0964, 1e-4);
    close(pair.fraction_difference.high, 0.6169, 1e-4);
    // Each seed by itself says yes; boxes that may differ say it is not shown.
    assert_eq!((pair.fraction, pair.speed), (Verdict::NotShown, Verdict::Shown));
    let groups = &answer.groups;
    close(groups[0].half_days.estimate, 8.5, 1e-9);
    close(groups[0].half_warmth.estimate, 85.0, 1e-9);
    assert_eq!(groups[1].half_days, Reckoned::default(), "never half of the sown");
    close(groups[1].fraction.low, 0.2188, 1e-4);
    close(pair.ratio_warmth.estimate, pair.ratio_days.estimate.unwrap(), 1e-3);
    assert!((0.60..0.80).contains(&pair.ratio_days.estimate.unwrap()), "{:?}", pair.ratio_days);
}

/// "14 of 20 beside 8 of 20": luck makes a gap this big 1 time in 9; the seeds needed are for the wished gap whatever was seen.
#[test]
fn what_it_takes_is_reckoned_for_the_wished_difference() {
    let boxes = |a: u32| [watched("A1", "a", 20, &[(8, a)], 30), watched("B1", "b", 20, &[(8, 22 - a)], 30)];
    let (fourteen, eleven) = (compare(&boxes(14), ASKED), compare(&boxes(11), ASKED));
    close(fourteen.pairs[0].fisher_p, 1.0 / 9.0, 0.004);
    assert_eq!(fourteen.pairs[0].fraction, Verdict::NotShown);
    assert_eq!(fourteen.pairs[0].needed, eleven.pairs[0].needed);
    let needed = fourteen.pairs[0].needed.unwrap();
    // By the two-share formula with continuity at 1 in 40 for 45 and 65 in 100; D = 1 + 19 × .05.
    close(Some(f64::from(needed.plans[0].seeds)), 1.95 * f64::from(needed.plans[0].seeds_if_alike), 2.0);
    assert!(needed.plans[1].seeds > needed.plans[0].seeds && needed.plans[0].boxes == needed.plans[0].seeds.div_ceil(20));
    let larger = compare(&boxes(14), Asked { difference: 0.4, ..ASKED }).pairs[0].needed.unwrap();
    assert!(3 * larger.plans[0].seeds < needed.plans[0].seeds);
    let smallest = fourteen.pairs[0].smallest_shown.unwrap();
    assert!((0.5..0.9).contains(&smallest), "{smallest}");
}

#[test]
fn nothing_is_concluded_from_a_group_that_is_unfinished_or_was_given_up_early() {
    let finished = || watched("A1", "a", 20, &[(7, 8), (8, 9)], 30);
    let early = Watched { ended: true, ..watched("B1", "b", 20, &[(9, 2)], 10) };
    let still = Watched { ended: false, ..watched("B1", "b", 20, &[(9, 2)], 10) };
    let nothing_yet = Watched { ended: false, ..watched("B1", "b", 20, &[], 10) };
    for (other, standing, why) in [
        (early, Standing::GivenUpEarly, Why::GivenUpEarly),
        (still, Standing::StillWatched, Why::StillWatched),
        (nothing_yet, Standing::StillWatched, Why::StillWatched),
    ] {
        let answer = compare(&[finished(), other], ASKED);
        assert_eq!(answer.groups[1].standing, standing);
        assert_eq!((answer.pairs[0].fraction, answer.pairs[0].speed), (Verdict::CannotTell(why), Verdict::CannotTell(why)));
    }
    // Watched on though hardly anything can still come: as good as finished.
    let long = Watched { ended: false, ..watched("B1", "b", 20, &[(8, 1), (9, 2), (10, 1)], 60) };
    assert_eq!(compare(&[finished(), long], ASKED).groups[1].standing, Standing::Finished);
}

#[test]
fn bad_input_is_answered_as_far_as_it_goes() {
    let some = || watched("A1", "a", 20, &[(7, 5), (8, 9)], 30);
    let one = |other: Watched| compare(&[some(), other], ASKED);
    // None came up: how many, but not how fast.
    let none = one(watched("B1", "b", 20, &[], 30));
    assert_eq!((none.pairs[0].fraction, none.pairs[0].speed), (Verdict::Shown, Verdict::CannotTell(Why::TooFewSprouts)));
    // All came up in both: nothing to be seen, and speed told.
    let all = compare(&[watched("A1", "a", 20, &[(7, 10), (8, 10)], 30), watched("B1", "b", 20, &[(7, 9), (8, 11)], 30)], ASKED);
    assert_eq!((all.pairs[0].fraction, all.pairs[0].speed), (Verdict::NotShown, Verdict::NotShown));
    assert_eq!(all.pairs[0].fisher_p, Some(1.0));
    // Nothing came up anywhere.
    let nothing = compare(&[watched("A1", "a", 20, &[], 30), watched("B1", "b", 20, &[], 30)], ASKED);
    assert_eq!(nothing.pairs[0].fraction, Verdict::NotShown);
    assert_eq!(nothing.pairs[0].log_rank, None);
    // Seeds not counted: how fast, not how many.
    let uncounted = one(Watched { seeds: Seeds::Unknown, ..watched("B1", "b", 0, &[(14, 5), (15, 9), (16, 4)], 30) });
    assert_eq!((uncounted.pairs[0].fraction, uncounted.pairs[0].speed), (Verdict::CannotTell(Why::NotCounted), Verdict::Shown));
    assert_eq!(
        (uncounted.groups[1].seeds, uncounted.groups[1].sprouted, &uncounted.groups[1].uncounted[..]),
        (None, 18, &[name("B1")][..])
    );
    // So few that not even all against none tells.
    let few = compare(&[watched("A1", "a", 3, &[(7, 3)], 30), watched("B1", "b", 3, &[], 30)], ASKED);
    assert_eq!(few.pairs[0].fraction, Verdict::CannotTell(Why::TooFewSeeds));
    // Never looked at, and one group alone.
    let unseen = one(Watched { ended: false, ..watched("B1", "b", 20, &[], 0) });
    assert_eq!(
        (unseen.groups[1].standing, unseen.pairs[0].fraction),
        (Standing::NotLooked, Verdict::CannotTell(Why::StillWatched))
    );
    let alone = compare(&[some()], ASKED);
    assert_eq!((alone.groups.len(), alone.pairs.len()), (1, 0));
    assert_eq!(compare(&[], ASKED).groups.len(), 0);
}

/// Looked at daily, or on every fifth day only: the same seeds give about the same median, and no difference is made of it.
#[test]
fn groups_looked_at_on_different_days_are_compared_between_looks() {
    let sprouts: Vec<(u32, u32)> = vec![(6, 2), (7, 4), (8, 5), (9, 4), (10, 2), (12, 1)];
    let daily = watched("A1", "a", 20, &sprouts, 30);
    let mut rare = watched("B1", "b", 20, &[], 30);
    rare.looks = (1..=6)
        .map(|week| {
            let new = sprouts.iter().filter(|(day, _)| (5 * (week - 1) + 1..=5 * week).contains(day)).map(|(_, seeds)| seeds).sum();
            Seen { at: at(f64::from(5 * week)), sprouted: new, ..Seen::default() }
        })
        .collect();
    let answer = compare(&[daily, rare], ASKED);
    let pair = &answer.pairs[0];
    assert_eq!((pair.fraction, pair.speed), (Verdict::NotShown, Verdict::NotShown));
    close(pair.ratio_days.estimate, 1.0, 0.06);
    assert!(answer.groups[1].longest_gap_days == 5.0 && pair.log_rank.unwrap().p > 0.4, "{pair:?}");
}

#[test]
fn at_different_temperatures_warmth_decides_and_what_stood_apart_is_named() {
    // Twice as warm, half as long: as much warmth.
    let cool = watched("A1", "a", 20, &[(14, 4), (16, 6), (18, 5)], 40);
    let mut warm = watched("B1", "b", 20, &[(7, 4), (8, 6), (9, 5)], 30);
    warm.looks.iter_mut().for_each(|look| {
        look.at.warmth = Some(20.0 * look.at.days);
        look.at.by_draw = vec![20.0 * look.at.days; 5];
    });
    (warm.spot, warm.mean_c) = (name("mat"), Some(30.0));
    let answer = compare(&[cool.clone(), warm.clone()], ASKED);
    let pair = &answer.pairs[0];
    assert_eq!((pair.speed_on, pair.speed), (Clock::Warmth, Verdict::NotShown));
    close(pair.ratio_days.estimate, 2.0, 0.1);
    close(pair.ratio_warmth.estimate, 1.0, 0.05);
    assert!(pair.ratio_days.low.unwrap() > 1.0, "the clock alone cries wolf");
    assert_eq!((&pair.along.factors[..], pair.along.celsius), (&[Factor::Spot][..], Some((20.0, 30.0))));
    // Bases that are unsure leave the ratio unsure, though no seed differs.
    let unsure = |one: &Watched, per_day: [f64; 4]| {
        let mut one = one.clone();
        one.looks.iter_mut().for_each(|look| look.at.by_draw = per_day.map(|rate| rate * look.at.days).to_vec());
        one.begun.by_draw = vec![0.0; 4];
        one
    };
    let told = compare(&[unsure(&cool, [5.0, 10.0, 12.0, 15.0]), unsure(&warm, [15.0, 20.0, 22.0, 25.0])], ASKED);
    let width = |pair: &PairAnswer| pair.ratio_warmth.high.unwrap() / pair.ratio_warmth.low.unwrap();
    assert!(width(&told.pairs[0]) > 1.3 * width(pair), "{} {}", width(&told.pairs[0]), width(pair));
    // Apart, and temperatures not known: nothing is said of speed.
    let blind = |mut one: Watched| {
        one.looks.iter_mut().for_each(|look| (look.at.warmth, look.at.by_draw) = (None, Vec::new()));
        Watched { mean_c: None, begun: Reached::default(), ..one }
    };
    let unknown = compare(&[blind(cool), blind(warm)], ASKED);
    assert_eq!(unknown.pairs[0].speed, Verdict::CannotTell(Why::NoTemperatures));
}

/// Four boxes each, all of one group ahead of all of the other: of the 70 ways to deal the labels out two part them as far.
#[test]
fn whole_boxes_are_shuffled_where_they_stand_side_by_side() {
    let asked = Asked { shuffles: Shuffles::Yes, ..ASKED };
    let one = |nth: u32, treatment: &str, day: u32| {
        watched(&format!("{treatment}{nth}"), treatment, 20, &[(day, 9 + nth), (day + 1, 3)], 40)
    };
    let mut boxes: Vec<Watched> = (0..4).flat_map(|nth| [one(nth, "a", 7), one(nth, "b", 12)]).collect();
    let test = |boxes: &[Watched], asked| compare(boxes, asked).pairs[0].log_rank.unwrap();
    let found = test(&boxes, asked);
    assert_eq!(found.unit, Unit::Boxes);
    close(found.exact_p, 2.0 / 70.0, 1e-12);
    // Two spots with two of each: 6 × 6 ways, two of them as far.
    boxes.iter_mut().skip(4).for_each(|one| one.spot = name("mat"));
    close(test(&boxes, asked).least_by_boxes, 2.0 / 36.0, 1e-12);
    assert_eq!(test(&boxes, asked).unit, Unit::Seeds, "too few boxes to come below 1 in 20");
    // By spot: whole boxes, wherever they stood.
    close(test(&boxes, Asked { factor: Factor::Spot, ..asked }).least_by_boxes, 2.0 / 70.0, 1e-12);
    // Each treatment at a spot of its own: no two arrangements.
    boxes.iter_mut().for_each(|one| one.spot = one.treatment.clone().unwrap());
    assert_eq!(test(&boxes, asked).least_by_boxes, None);
}

#[test]
fn a_straggler_is_counted_named_and_left_out_once_to_see_what_changes() {
    let with = watched("A1", "a", 20, &[(7, 3), (8, 5), (9, 4), (39, 1)], 60);
    let answer = compare(&[with, watched("B1", "b", 20, &[(8, 3), (9, 5), (10, 3)], 60)], ASKED);
    assert_eq!((answer.groups[0].counted_sprouts, answer.without.len()), (13, 1));
    let without = &answer.without[0];
    assert_eq!((without.group, without.odd.side, without.odd.until), (0, Side::Late, 390.0));
    assert!(without.odd.chance < 0.01 && without.verdicts.len() == 1, "{without:?}");
}

#[test]
fn seeds_found_rotten_stay_seeds_and_seeds_lost_late_do_not_shorten_the_count() {
    let mut rotten = watched("A1", "a", 20, &[(7, 5), (8, 5)], 30);
    rotten.looks[11].removed = 4;
    rotten.looks[29].lost = 2;
    let answer = compare(&[rotten, watched("B1", "b", 20, &[(7, 5), (8, 5)], 30)], ASKED);
    assert_eq!(answer.groups[0].seeds, Some(20));
    close(answer.groups[0].fraction.estimate, 0.5, 1e-12);
    close(answer.groups[0].half_days.estimate, 8.0, 1e-6);
    close(answer.pairs[0].log_rank.map(|test| test.z), 0.0, 1e-6);
}

/// The same seeds in fifty groups: none is shown, and it takes no minutes; one that stands out is found among them.
#[test]
fn of_fifty_groups_only_the_one_that_stands_out_is_shown() {
    let mut boxes: Vec<Watched> = (0..50_u32)
        .map(|nth| {
            let sprouts = [(6 + nth % 2, 2), (8, 3 + nth % 3), (9, 3)];
            watched(&format!("B{nth:02}"), &format!("t{nth:02}"), 20, &sprouts, 30)
        })
        .collect();
    let even = compare(&boxes, ASKED);
    assert_eq!((even.groups.len(), even.pairs.len()), (50, 1225));
    let shown = |answer: &Comparison| {
        answer.pairs.iter().filter(|pair| pair.fraction == Verdict::Shown).map(|pair| (pair.a, pair.b)).collect::<Vec<_>>()
    };
    assert_eq!(shown(&even), []);
    let overall = even.overall.unwrap();
    assert_eq!((overall.fraction, overall.speed), (Verdict::NotShown, Verdict::NotShown));
    for nth in 0..6 {
        boxes.push(watched(&format!("Z{nth}"), "t00", 20, &[], 30));
        boxes.push(watched(&format!("Y{nth}"), "t01", 20, &[(8, 20)], 30));
    }
    let uneven = compare(&boxes, ASKED);
    assert!(shown(&uneven).contains(&(0, 1)), "{:?}", shown(&uneven));
    assert_eq!(uneven.overall.map(|overall| overall.fraction), Some(Verdict::Shown));
}

/// Boxes of two treatments at two spots, as chance makes them.
fn any_boxes() -> impl Strategy<Value = Vec<Watched>> {
    let one = (1u32..25, prop::collection::vec((3u32..20, 0u32..5), 0..6), 20u32..40, any::<bool>(), 0u32..3);
    prop::collection::vec(one, 2..7).prop_map(|boxes| {
        let made = boxes.into_iter().enumerate().map(|(nth, (seeds, sprouts, until, ended, removed))| {
            let treatment = ["a", "b"][nth % 2];
            let mut left = seeds;
            let sprouts: Vec<(u32, u32)> = sprouts
                .into_iter()
                .map(|(day, more)| {
                    let more = more.min(left);
                    left -= more;
                    (day, more)
                })
                .collect();
            let mut one = watched(&format!("B{nth}"), treatment, seeds, &sprouts, until);
            if let Some(last) = one.looks.last_mut() {
                last.removed = removed.min(left);
            }
            one.spot = name(["shelf", "mat"][nth / 2 % 2]);
            one.ended = ended;
            one
        });
        made.collect()
    })
}

fn turned(value: Reckoned, turn: fn(f64) -> f64) -> Reckoned {
    Reckoned { estimate: value.estimate.map(turn), low: value.high.map(turn), high: value.low.map(turn) }
}

fn alike(one: Reckoned, other: Reckoned) -> bool {
    let near = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-5 * a.abs().max(1.0),
        (None, None) => true,
        _ => false,
    };
    near(one.estimate, other.estimate) && near(one.low, other.low) && near(one.high, other.high)
}

proptest! {
    #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(60), ..ProptestConfig::with_cases(60) })]

    /// Labels exchanged: every difference turns its sign, every ratio turns over, and nothing else changes.
    #[test]
    fn labels_exchanged_mirror_the_answer(boxes in any_boxes()) {
        let exchanged: Vec<Watched> = boxes
            .iter()
            .map(|one| {
                let other = if one.treatment == Some(name("a")) { "b" } else { "a" };
                Watched { treatment: Some(name(other)), ..one.clone() }
            })
            .collect();
        let (one, other) = (compare(&boxes, ASKED), compare(&exchanged, ASKED));
        let (pair, mirror) = (&one.pairs[0], &other.pairs[0]);
        prop_assert_eq!((pair.fraction, pair.speed, pair.speed_on), (mirror.fraction, mirror.speed, mirror.speed_on));
        prop_assert!(alike(pair.fraction_difference, turned(mirror.fraction_difference, |gap| -gap)));
        prop_assert!(alike(pair.fraction_judged, turned(mirror.fraction_judged, |gap| -gap)));
        prop_assert!(alike(pair.ratio_days, turned(mirror.ratio_days, |ratio| 1.0 / ratio)), "{:?} {:?}", pair.ratio_days, mirror.ratio_days);
        prop_assert!(alike(pair.ratio_warmth, turned(mirror.ratio_warmth, |ratio| 1.0 / ratio)));
        prop_assert_eq!(pair.needed, mirror.needed);
        let z = |pair: &PairAnswer| pair.log_rank.map_or(0.0, |test| test.z);
        prop_assert!((z(pair) + z(mirror)).abs() < 1e-6, "{} {}", z(pair), z(mirror));
    }

    /// The order in which boxes come makes no difference.
    #[test]
    fn the_order_of_boxes_makes_no_difference(boxes in any_boxes(), turn in 1usize..6) {
        let mut other = boxes.clone();
        other.rotate_left(turn % boxes.len());
        other.reverse();
        prop_assert_eq!(compare(&boxes, ASKED), compare(&other, ASKED));
    }
}
