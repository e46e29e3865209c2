//! What the measurements of `tests/simulator/calibration.rs` rest on: the made-up benches, the oracle, the sums. The measurements
//! themselves take minutes and are made by hand; a few benches here show that the program is well ahead of plain days.

use std::collections::BTreeSet;

use chrono::{Datelike, Duration};

use crate::simulator::proof::counts::{binomial, held, loss, quantiles};
use crate::simulator::proof::tally::{Case, Who, mean_loss, ratio};
use crate::simulator::proof::yardsticks::Standing;
use crate::simulator::proof::{AHEAD, prove};
use crate::simulator::world::seeds::Family;
use crate::simulator::world::{Mix, World};

/// scipy.stats.binom.ppf([.05, .1, .25, .5, .75, .9, .95], n, p) and binom.pmf (scipy 1.17.1); of the mixture by the mean of
/// binom.cdf(k, 30, p) over p = .1, .4, .8.
#[test]
fn quantiles_of_counts_are_scipys() {
    for (n, p, expected) in [
        (10, 0.37, [1, 2, 3, 4, 5, 6, 6]),
        (20, 0.02, [0, 0, 0, 0, 1, 1, 2]),
        (50, 0.93, [43, 44, 45, 47, 48, 49, 49]),
        (25, 0.5, [8, 9, 11, 12, 14, 16, 17]),
        (1, 0.2, [0, 0, 0, 0, 0, 1, 1]),
    ] {
        assert_eq!(quantiles(0, n, &[p]), expected, "n = {n}, p = {p}");
        assert_eq!(quantiles(3, n, &[p]), expected.map(|count| count + 3), "after 3 that were seen");
    }
    assert_eq!(quantiles(0, 30, &[0.1, 0.4, 0.8]), [1, 2, 4, 12, 23, 25, 26]);
    assert!((binomial(20, 0.37)[7] - 0.181_239_550_087_757_22).abs() < 1e-14);
    assert!((binomial(50, 0.93)[50] - 0.026_555_068_601_372_89).abs() < 1e-14);
    assert_eq!((quantiles(2, 5, &[0.0]), quantiles(2, 5, &[1.0])), ([2; 7], [7; 7]), "sure of none, sure of all");
}

/// By hand: all levels at 10, 12 came of 20: 2 · 2 · mean of the levels (which is ½) ÷ 20 = 0.1; 8 came: the same.
#[test]
fn the_loss_is_what_it_is_by_hand() {
    assert!((loss(&[10; 7], 12, 20) - 0.1).abs() < 1e-15 && (loss(&[10; 7], 8, 20) - 0.1).abs() < 1e-15);
    assert_eq!(loss(&[7; 7], 7, 20), 0.0);
    // Only the 5 % point lies apart, 4 below what came: 2 · .05 · 4 ÷ 7 ÷ 10.
    assert!((loss(&[1, 5, 5, 5, 5, 5, 5], 5, 10) - 0.4 / 70.0).abs() < 1e-15);
    assert_eq!(held(&[1, 2, 3, 4, 5, 6, 7], 2), [false, true, true]);
}

/// By hand: without the first bench 3/1, without the second 1/1; half the square of what they are apart from their mean 2 is 1.
#[test]
fn a_ratio_comes_with_the_error_of_leaving_benches_out() {
    let found = ratio([(1, 0.25, 0.5), (1, 0.75, 0.5), (2, 3.0, 1.0)].into_iter()).unwrap();
    assert!((found.ratio - 2.0).abs() < 1e-15 && (found.error - 1.0).abs() < 1e-15, "{found:?}");
}

/// Given the truth that the oracle knows, boxes are independent of each other: one forecast a box tells how often its ranges hold, and
/// how many sprout, to within binomial error (4 standard errors).
#[test]
fn the_oracles_ranges_hold_as_often_as_they_say() {
    let (mut boxes, mut due, mut variance) = (0, [0.0; 4], [0.0; 4]);
    let mut came = [0.0; 4];
    for world in (1..=60).map(World::new) {
        let now = world.mornings[1];
        let later = now + Duration::days(AHEAD[1] as i64);
        for standing in world.boxes.iter().filter_map(|one| Standing::of(&world, one, now)) {
            let (levels, chance) = (standing.oracle()[1], standing.oracle_chances()[1]);
            let truth = standing.one.sprouted_by(later, now);
            let chances = binomial(standing.left, chance);
            let within: f64 = (0..).zip(&chances).filter(|(more, _)| held(&levels, standing.seen + more)[2]).map(|(_, p)| p).sum();
            let eighty: f64 = (0..).zip(&chances).filter(|(more, _)| held(&levels, standing.seen + more)[1]).map(|(_, p)| p).sum();
            let half: f64 = (0..).zip(&chances).filter(|(more, _)| held(&levels, standing.seen + more)[0]).map(|(_, p)| p).sum();
            for (at, p) in [half, eighty, within].into_iter().enumerate() {
                due[at] += p;
                variance[at] += p * (1.0 - p);
                came[at] += f64::from(u8::from(held(&levels, truth)[at]));
            }
            due[3] += f64::from(standing.left) * chance;
            variance[3] += f64::from(standing.left) * chance * (1.0 - chance);
            came[3] += f64::from(truth - standing.seen);
            boxes += 1;
        }
    }
    assert!(boxes > 300, "{boxes} boxes");
    for (at, what) in ["50 % ranges held", "80 % ranges held", "90 % ranges held", "sprouts"].iter().enumerate() {
        let (came, due, error) = (came[at], due[at], variance[at].sqrt());
        assert!(error > 1.0 && (came - due).abs() < 4.0 * error, "{what}: {came}, due {due:.1} ± {error:.1}, {boxes} boxes");
    }
}

#[test]
fn a_seed_makes_its_bench_and_no_other() {
    let (one, again, other) = (World::new(7), World::new(7), World::new(8));
    assert_eq!(one.folder, again.folder);
    assert_ne!(one.folder["checks.csv"], other.folder["checks.csv"]);
}

/// The seeds' stories are summed half hour by half hour, the oracle's warmth from one instant to another: a seed sprouts when the
/// second has come to what it wants by the first, to within the second that a time is cut to.
#[test]
fn seeds_sprout_when_they_have_what_they_want() {
    let mut sprouts = 0;
    for world in (1..=5).map(World::new) {
        for one in &world.boxes {
            for (time, wants) in one.fates.iter().filter_map(|fate| Some((fate.sprouts?, fate.wants?))) {
                let gathered = world.gathered(one, one.warm_from, time, &|celsius| one.needs.rate(celsius));
                assert!((gathered - wants).abs() < 1e-3, "{} of bench {}: {gathered} °C·d, wants {wants}", one.name, world.seed);
                sprouts += 1;
            }
        }
    }
    assert!(sprouts > 1000, "{sprouts} sprouts");
}

#[test]
fn everything_that_goes_wrong_on_benches_does_so_on_some() {
    let worlds: Vec<World> = (1..=40).map(World::new).collect();
    let some = |what: &str, happens: &dyn Fn(&World) -> bool| {
        let count = worlds.iter().filter(|world| happens(world)).count();
        assert!((1..40).contains(&count), "{what}: on {count} of 40 benches");
    };
    some("a spot that is new", &|world| (0..world.spots.len()).any(|spot| !world.seen_before(spot)));
    some("85 °C", &|world| world.folder["readings.csv"].lines().any(|line| line.ends_with(",85")));
    some("chilling", &|world| world.boxes.iter().any(|one| one.sown < one.warm_from));
    some("a treatment", &|world| world.boxes.iter().any(|one| one.treatment == "soaked"));
    some("a lost seed", &|world| world.boxes.iter().any(|one| one.looks.iter().any(|look| look.lost > 0)));
    some("half-hourly readings", &|world| world.folder["readings.csv"].len() > 1_000_000);
    some("a baking sill", &|world| world.spots.iter().any(|spot| spot.name == "hot sill"));
    for seasons in 1..=3 {
        some("past seasons", &|world| world.present() == seasons);
    }
    for family in [Family::LogNormal, Family::LogLogistic] {
        some("a family", &|world| world.species.iter().all(|kind| kind.needs.family == family));
    }
    let months: BTreeSet<u32> = worlds.iter().map(|world| world.seasons[0].first.month()).collect();
    assert!(months.len() >= 4, "{months:?}");
    let looks = || worlds.iter().flat_map(|world| world.boxes.iter().map(|one| &one.looks));
    assert!(looks().flatten().any(|look| look.removed > 0), "nothing mouldy");
    let missed =
        looks().flat_map(|looks| looks.windows(2)).filter(|pair| pair[1].time - pair[0].time > Duration::hours(36)).count();
    assert!(missed > 100, "{missed} mornings missed");
}

/// Days that past sowings took are what one goes by without the program: it must lose clearly less, and say something of every box.
#[test]
fn the_program_is_well_ahead_of_calendar_days() {
    let cases: Vec<Case> = (1..=3).flat_map(|seed| prove(seed, Mix::Varied, 1..2).cases).collect();
    assert!(cases.len() > 40 && cases.iter().all(|case| case.said_by(Who::Program).is_some()), "{} forecasts", cases.len());
    let [program, calendar, oracle] =
        [Who::Program, Who::Calendar, Who::Oracle].map(|who| mean_loss(cases.iter(), who).unwrap().ratio);
    assert!(program < 0.8 * calendar, "program {program:.4}, calendar {calendar:.4}, oracle {oracle:.4}");
}
