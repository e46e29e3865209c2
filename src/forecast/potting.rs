//! How sprouts are potted on, by one's own records: after how long, and how many of them.

use crate::bench::Trial;
use crate::civil::Time;
use crate::stats::{Dice, quantile_of};
use crate::units::MICROS_PER_DAY;

/// So many sprouts of a species must have been potted on for its own habit to be known.
const ENOUGH: usize = 5;

/// When and how many sprouts are potted on.
#[derive(Debug, Clone, PartialEq)]
pub struct PottingOn {
    /// Days from sprouting to potting on, one for each sprout that was, ascending.
    lags: Vec<f64>,
    /// Share of the sprouts that live to be potted on.
    share: f64,
}

/// What is on record of the sprouts of some boxes.
#[derive(Debug, Default)]
struct Fates {
    lags: Vec<f64>,
    died: u32,
}

impl PottingOn {
    /// From the records of a species' boxes where five of its sprouts were potted on, else from those of all boxes; none where none
    /// ever was. Each look pots on those that have been up longest; those that died count as not potted on.
    #[must_use]
    pub fn learnt<'a>(own: impl Iterator<Item = &'a Trial>, all: impl Iterator<Item = &'a Trial>) -> Option<Self> {
        let own = Fates::of(own);
        let fates = if own.lags.len() >= ENOUGH { own } else { Fates::of(all) };
        let potted = fates.lags.len() as f64;
        let mut lags = fates.lags;
        lags.sort_unstable_by(f64::total_cmp);
        (!lags.is_empty()).then(|| Self { lags, share: potted / (potted + f64::from(fates.died)) })
    }

    /// Days from sprouting to potting on, the middle of those on record.
    #[must_use]
    pub fn usual_days(&self) -> f64 {
        quantile_of(&self.lags, 0.5)
    }

    /// Days until a sprout is potted on that has been up for `age` days; none for one that dies before.
    pub(super) fn draw(&self, age: f64, dice: &mut Dice) -> Option<f64> {
        // Below 1 it lives, and where below says which of the lags it takes.
        let pick = dice.uniform() / self.share;
        if pick >= 1.0 {
            return None;
        }
        let later = if age > 0.0 { &self.lags[self.lags.partition_point(|lag| *lag <= age)..] } else { &self.lags[..] };
        // One that waits longer than any did before is due.
        Some(later.get((pick * later.len() as f64) as usize).map_or(0.0, |lag| lag - age))
    }
}

impl Fates {
    fn of<'a>(trials: impl Iterator<Item = &'a Trial>) -> Self {
        let mut fates = Self::default();
        for trial in trials {
            let mut up: Vec<Time> = Vec::new();
            let mut gone = 0;
            for (at, check) in trial.checks.iter().enumerate() {
                let before = at.checked_sub(1).map_or(trial.container.sown, |at| trial.checks[at].time);
                // A sprout found came up in the middle since the look before, as far as one can tell.
                let came_up = before + (check.time - before) / 2;
                up.extend((0..check.sprouted).map(|_| came_up));
                fates.died += check.died;
                for _ in 0..check.potted_on {
                    fates.lags.extend(up.get(gone).map(|up| days(*up, check.time)));
                    gone += 1;
                }
                gone += check.died as usize;
            }
        }
        fates
    }
}

/// The ages in days of a box's sprouts that wait to be potted on.
pub(super) fn waiting(trial: &Trial, now: Time) -> Vec<f64> {
    let gone: u32 = trial.checks.iter().map(|check| check.potted_on + check.died).sum();
    let up = trial.checks.iter().flat_map(|check| (0..check.sprouted).map(|_| days(check.time, now)));
    up.skip(gone as usize).collect()
}

fn days(from: Time, until: Time) -> f64 {
    (until - from).num_microseconds().unwrap_or(0) as f64 / MICROS_PER_DAY
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Check, Container, Name};
    use chrono::Duration;

    fn at(day: i64) -> Time {
        Time::UNIX_EPOCH + Duration::days(day)
    }

    fn trial(looks: &[(i64, u32, u32, u32)]) -> Trial {
        let name = |text: &str| Name::new(text).unwrap();
        let container = Container { seeds: Some(20), ..Container::new(name("A1"), name("b"), name("leek"), name("sill"), at(0)) };
        let look = |(day, sprouted, potted_on, died): &(i64, u32, u32, u32)| Check {
            sprouted: *sprouted,
            potted_on: *potted_on,
            died: *died,
            ..Check::none_new(name("A1"), at(*day))
        };
        Trial { checks: looks.iter().map(look).collect(), ..Trial::new(container) }
    }

    /// Up in the middle of days 4–6 and 6–8, so on days 5 and 7; potted on on days 10 and 14, the oldest first.
    #[test]
    fn the_lag_is_from_the_middle_between_looks_and_the_oldest_go_first() {
        let trial = trial(&[(4, 0, 0, 0), (6, 3, 0, 0), (8, 3, 0, 0), (10, 0, 2, 0), (12, 0, 0, 1), (14, 0, 3, 0)]);
        let potting = PottingOn::learnt([&trial].into_iter(), [].into_iter()).unwrap();
        assert_eq!(potting.lags, [5.0, 5.0, 7.0, 7.0, 7.0], "two of the first three on day 10, then one died");
        assert_eq!((potting.share, potting.usual_days()), (5.0 / 6.0, 7.0));
        assert_eq!(waiting(&trial, at(15)), [0.0; 0]);
        let mut dice = Dice::new(1);
        let drawn: Vec<Option<f64>> = (0..6000).map(|_| potting.draw(0.0, &mut dice)).collect();
        let of = |days: Option<f64>| drawn.iter().filter(|drawn| **drawn == days).count() as f64 / 6000.0;
        for (days, share) in [(None, 1.0 / 6.0), (Some(5.0), 2.0 / 6.0), (Some(7.0), 0.5)] {
            assert!((of(days) - share).abs() < 0.03, "{days:?}: {} of the time", of(days));
        }
        assert!((0..99).filter_map(|_| potting.draw(6.0, &mut dice)).all(|days| days == 1.0), "one that is 6 days old");
        assert!((0..99).filter_map(|_| potting.draw(9.0, &mut dice)).all(|days| days == 0.0), "one that is overdue");
    }

    #[test]
    fn a_species_without_records_takes_the_benchs_and_no_records_are_none() {
        let (few, many) = (trial(&[(4, 9, 0, 0), (6, 0, 4, 0)]), trial(&[(4, 9, 0, 0), (8, 0, 9, 0)]));
        let learnt = |own: &Trial| PottingOn::learnt([own].into_iter(), [&few, &many].into_iter()).unwrap().lags.len();
        assert_eq!((learnt(&few), learnt(&many)), (13, 9));
        let none = trial(&[(4, 9, 0, 2)]);
        assert_eq!(PottingOn::learnt([&none].into_iter(), [&none].into_iter()), None);
        assert_eq!(waiting(&none, at(6)), [2.0; 7]);
    }
}
