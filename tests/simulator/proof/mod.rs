//! How good the program's forecasts are, on benches whose truth is known: what it says, what others would have said, and what came.

pub(crate) mod alarms;
pub(crate) mod asked;
pub(crate) mod counts;
pub(crate) mod findings;
pub(crate) mod plans;
pub(crate) mod tables;
pub(crate) mod tally;
pub(crate) mod yardsticks;

use std::ops::Range;

use crate::simulator::world::{Mix, World};
use asked::Asked;
use tally::{Case, EVERYBODY, Who};
use yardsticks::{Futures, Standing};

/// Days ahead that are compared.
pub(crate) const AHEAD: [usize; 4] = [3, 7, 14, 21];

/// What a bench brought.
#[derive(Default)]
pub(crate) struct Brought {
    pub(crate) cases: Vec<Case>,
    pub(crate) bases: Vec<Base>,
}

/// The interval stated for a species' base against the true one.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Base {
    pub(crate) bench: u64,
    pub(crate) past_seasons: usize,
    pub(crate) true_c: f64,
    pub(crate) stated_c: (f64, f64),
}

/// Mornings on which a bench is asked about.
pub(crate) const MORNINGS: Range<usize> = 0..3;

/// Asks everybody about a bench on some of its [`MORNINGS`].
pub(crate) fn prove(seed: u64, mix: Mix, mornings: Range<usize>) -> Brought {
    let world = World::of(seed, mix);
    let asked = Asked::about(&world.folder);
    let mut brought = Brought::default();
    for &now in &world.mornings[mornings] {
        let futures = Futures::new(&world, now);
        let answers = asked.answers(now, *AHEAD.last().unwrap());
        for standing in world.boxes.iter().filter_map(|one| Standing::of(&world, one, now)) {
            let said = answers.said(&standing);
            let mut cases = cases(&standing);
            for (at, case) in cases.iter_mut().enumerate() {
                case.say(Who::WithoutTheWeather, Some(standing.without_the_weather(&futures)[at]));
                for (who, levels) in &said {
                    case.say(*who, levels.map(|levels| levels[at]));
                }
            }
            brought.cases.extend(cases);
        }
        if world.mornings.last() == Some(&now) {
            let untreated = world.species.iter().filter(|kind| !kind.treated && !kind.wants_chilling);
            brought.bases.extend(untreated.filter_map(|kind| {
                let stated_c = answers.base_interval(&kind.name)?;
                Some(Base { bench: seed, past_seasons: world.present(), true_c: kind.needs.base_c, stated_c })
            }));
        }
    }
    brought
}

/// What oracle and calendar say of a box, and what came.
pub(crate) fn cases(standing: &Standing<'_>) -> [Case; AHEAD.len()] {
    let (oracle, calendar) = (standing.oracle(), standing.calendar());
    let Standing { world, one, now, .. } = standing;
    std::array::from_fn(|at| {
        let mut case = Case {
            bench: world.seed,
            ahead: AHEAD[at],
            seeds: one.seeds,
            age_days: standing.age_days(),
            seen_before: world.seen_before(one.spot),
            lot_known: world.boxes.iter().any(|other| other.season < one.season && other.lot == one.lot),
            another_probe: world.probes_moved() && world.seen_before(one.spot),
            past_seasons: world.present(),
            truth: one.sprouted_by(*now + chrono::Duration::days(AHEAD[at] as i64), *now),
            said: [None; EVERYBODY.len()],
        };
        case.say(Who::Oracle, Some(oracle[at]));
        case.say(Who::Calendar, calendar.map(|calendar| calendar[at]));
        case
    })
}
