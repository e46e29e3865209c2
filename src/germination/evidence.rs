//! What one container's looks say, with the warmth between them.

use crate::bench::{Event, Name, Trial};
use crate::thermal::{Rate, Stretch};

/// No garden seed shows its root tip sooner than this after wetting (common practice, no source; the quickest, such as cress, take
/// most of a day), in days.
const SOONEST_DAYS: f64 = 0.25;

/// What a seed removed unsprouted (mouldy, rotten) says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum RemovedRule {
    /// It could never have sprouted: A = 1 − π.
    #[default]
    Dead,
    /// It was seen sound and taken out at this look: A = 1 − π F(Θₖ).
    Censored,
    /// It was sound at the look before and rotted since: A = 1 − π F(Θₖ₋₁).
    Rotted,
}

/// A stretch up to a look, and what was found then.
#[derive(Debug, Clone, PartialEq)]
pub struct Segment {
    /// The warmth since the segment before.
    pub stretch: Stretch,
    /// New sprouts found at its end, all from within it.
    pub sprouted: u32,
    /// Unsprouted seeds removed at its end.
    pub removed: u32,
    /// Unsprouted seeds lost or taken at its end.
    pub lost: u32,
}

/// One container's evidence. Looks at which nothing happened, and which bound no interval that matters, are merged away.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The container.
    pub container: Name,
    /// Its lot.
    pub lot: Option<Name>,
    /// Its treatment.
    pub treatment: Option<Name>,
    /// The event watched for.
    pub event: Event,
    /// Seeds sown; none: not counted.
    pub seeds: Option<u32>,
    /// The warmth its seeds had, unsprouted, before they came into this container.
    pub before: Stretch,
    /// Stretches in order of time.
    pub segments: Vec<Segment>,
    /// Sound unsprouted seeds left at the last look; none where the seeds were not counted.
    pub left: Option<u32>,
}

impl Evidence {
    /// Puts a trial's looks and the warmth between them together: `stretches[k]` leads up to look k. Seeds taken out to go on
    /// elsewhere were last seen at the look before: there they count as lost. Their further story is told by the
    /// container they went into, whose `before` they bring along.
    #[must_use]
    pub fn new(trial: &Trial, before: Stretch, stretches: Vec<Stretch>) -> Self {
        let given = |at: usize| -> u32 {
            let (time, next) = (trial.checks[at].time, trial.checks.get(at + 1).map(|check| check.time));
            let after = trial.given.iter().filter(|given| given.time >= time && next.is_none_or(|next| given.time < next));
            after.filter_map(|given| given.seeds).sum()
        };
        let lost: Vec<u32> = trial.checks.iter().enumerate().map(|(at, check)| check.lost + given(at)).collect();
        let happened: Vec<bool> = trial.checks.iter().zip(&lost).map(|(c, lost)| c.sprouted + c.removed + lost > 0).collect();
        let last = trial.checks.len().saturating_sub(1);
        let mut segments: Vec<Segment> = Vec::new();
        let mut open: Option<Stretch> = None;
        for (at, (check, stretch)) in trial.checks.iter().zip(stretches).enumerate() {
            let stretch = open.take().map_or_else(|| stretch.clone(), |merged| merged.joined(&stretch));
            let bounds_next = happened.get(at + 1).copied().unwrap_or(false);
            if happened[at] || bounds_next || at == last {
                segments.push(Segment { stretch, sprouted: check.sprouted, removed: check.removed, lost: lost[at] });
            } else {
                open = Some(stretch);
            }
        }
        let container = &trial.container;
        Self {
            container: container.name.clone(),
            lot: container.lot.clone(),
            treatment: container.treatment.clone(),
            event: container.event,
            seeds: container.seeds,
            before,
            segments,
            left: trial.left(),
        }
    }

    /// Sprouts seen.
    #[must_use]
    pub fn sprouted(&self) -> u32 {
        self.segments.iter().map(|segment| segment.sprouted).sum()
    }

    /// Unsprouted seeds removed.
    #[must_use]
    pub fn removed(&self) -> u32 {
        self.segments.iter().map(|segment| segment.removed).sum()
    }

    /// Sprouts were found so soon after sowing that the time of sowing cannot be right: one such record would outweigh all others.
    #[must_use]
    pub fn sprouted_at_once(&self) -> bool {
        let mut days = 0.0;
        self.segments.iter().any(|segment| {
            days += segment.stretch.duration() + segment.stretch.unknown_days;
            segment.sprouted > 0 && days < SOONEST_DAYS
        })
    }

    /// Thermal time reached at the end of each segment, °C·d (days on [`Rate::Days`]), middle guesses taken.
    #[must_use]
    pub fn thermal_times(&self, rate: &Rate) -> Vec<f64> {
        let gains = self.segments.iter().map(|segment| segment.stretch.gained(rate, 0.0, 0.0));
        gains
            .scan(self.thermal_before(rate), |sum, gain| {
                *sum += gain;
                Some(*sum)
            })
            .collect()
    }

    /// Thermal time its seeds had gained before they came into this container.
    #[must_use]
    pub fn thermal_before(&self, rate: &Rate) -> f64 {
        self.before.gained(rate, 0.0, 0.0)
    }

    /// Days looked at for which no temperature is known or could be guessed.
    #[must_use]
    pub fn unknown_days(&self) -> f64 {
        self.before.unknown_days + self.segments.iter().map(|segment| segment.stretch.unknown_days).sum::<f64>()
    }

    /// Mean temperature over its time; none where nothing is known.
    #[must_use]
    pub fn mean_c(&self) -> Option<f64> {
        let profiles = || self.segments.iter().flat_map(|segment| [&segment.stretch.known, &segment.stretch.guessed]);
        let days: f64 = profiles().map(|profile| profile.duration()).sum();
        let sum: f64 = profiles().filter_map(|profile| Some(profile.mean()? * profile.duration())).sum();
        (days > 0.0).then(|| sum / days)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Check, Container};
    use crate::civil::Time;
    use crate::thermal::Profile;
    use chrono::Duration;

    #[test]
    fn looks_that_bound_nothing_are_merged_and_no_time_is_lost() {
        let name = |text: &str| Name::new(text).unwrap();
        let at = |day| Time::UNIX_EPOCH + Duration::days(day);
        let look = |day, sprouted| Check { sprouted, ..Check::none_new(name("A1"), at(day)) };
        let container = Container { seeds: Some(20), ..Container::new(name("A1"), name("b"), name("leek"), name("sill"), at(0)) };
        let checks = (1..=9).map(|day| look(day, if day == 5 { 3 } else { 0 })).collect();
        let trial = Trial { checks, ..Trial::new(container) };
        let day = || Stretch { known: Profile::new([(20.0, 1.0)]), ..Stretch::default() };
        let evidence = Evidence::new(&trial, Stretch::default(), vec![day(); 9]);
        let ends: Vec<f64> = evidence.thermal_times(&Rate::Days);
        assert_eq!(ends, [4.0, 5.0, 9.0], "the look before the sprouts, theirs, and the last");
        assert_eq!((evidence.sprouted(), evidence.left), (3, Some(17)));
    }
}
