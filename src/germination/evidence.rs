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

/// Whose word on a temperature is taken: what it is off by is shared by all that rests on it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// What is given for a spot without a probe.
    Given(Name),
    /// What probes read, wherever they stand; a calibration makes another probe of one.
    Read(Vec<(Name, Calibrated)>),
}

/// Whether a probe's calibration is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Calibrated {
    /// It is.
    Yes,
    /// It is not.
    No,
}

/// A stretch of a container's life at one spot.
#[derive(Debug, Clone, PartialEq)]
pub struct Passage {
    /// Where.
    pub spot: Name,
    /// By whose word.
    pub level: Level,
    /// The warmth there.
    pub stretch: Stretch,
}

/// The time up to a look, and what was found then.
#[derive(Debug, Clone, PartialEq)]
pub struct Segment {
    /// The warmth since the segment before, spot by spot.
    pub passages: Vec<Passage>,
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
    pub before: Vec<Passage>,
    /// Segments in order of time.
    pub segments: Vec<Segment>,
    /// Sound unsprouted seeds left at the last look; none where the seeds were not counted.
    pub left: Option<u32>,
}

impl Evidence {
    /// Puts a trial's looks and the warmth between them together: `passages[k]` lead up to look k. Seeds taken out to go on
    /// elsewhere were last seen at the look before: there they count as lost. Their further story is told by the
    /// container they went into, whose `before` they bring along.
    #[must_use]
    pub fn new(trial: &Trial, before: Vec<Passage>, passages: Vec<Vec<Passage>>) -> Self {
        let given = |at: usize| -> u32 {
            let (time, next) = (trial.checks[at].time, trial.checks.get(at + 1).map(|check| check.time));
            let after = trial.given.iter().filter(|given| given.time >= time && next.is_none_or(|next| given.time < next));
            after.filter_map(|given| given.seeds).sum()
        };
        let lost: Vec<u32> = trial.checks.iter().enumerate().map(|(at, check)| check.lost + given(at)).collect();
        let happened: Vec<bool> = trial.checks.iter().zip(&lost).map(|(c, lost)| c.sprouted + c.removed + lost > 0).collect();
        let last = trial.checks.len().saturating_sub(1);
        let mut segments: Vec<Segment> = Vec::new();
        let mut open: Vec<Passage> = Vec::new();
        for (at, (check, passages)) in trial.checks.iter().zip(passages).enumerate() {
            let passages = merged(open.drain(..).chain(passages));
            let bounds_next = happened.get(at + 1).copied().unwrap_or(false);
            if happened[at] || bounds_next || at == last {
                segments.push(Segment { passages, sprouted: check.sprouted, removed: check.removed, lost: lost[at] });
            } else {
                open = passages;
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
            days += segment.stretches().map(|stretch| stretch.duration() + stretch.unknown_days).sum::<f64>();
            segment.sprouted > 0 && days < SOONEST_DAYS
        })
    }

    /// Thermal time reached at the end of each segment, °C·d (days on [`Rate::Days`]), middle guesses taken.
    #[must_use]
    pub fn thermal_times(&self, rate: &Rate) -> Vec<f64> {
        let gains = self.segments.iter().map(|segment| gained(&segment.passages, rate));
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
        gained(&self.before, rate)
    }

    /// All its passages from the wetting on.
    pub fn passages(&self) -> impl Iterator<Item = &Passage> {
        self.before.iter().chain(self.segments.iter().flat_map(|segment| &segment.passages))
    }

    /// All its stretches from the wetting on.
    pub fn stretches(&self) -> impl Iterator<Item = &Stretch> {
        self.passages().map(|passage| &passage.stretch)
    }

    /// Days looked at for which no temperature is known or could be guessed.
    #[must_use]
    pub fn unknown_days(&self) -> f64 {
        self.stretches().map(|stretch| stretch.unknown_days).sum()
    }

    /// Mean temperature over its time; none where nothing is known.
    #[must_use]
    pub fn mean_c(&self) -> Option<f64> {
        let profiles = || self.segments.iter().flat_map(Segment::stretches).flat_map(|stretch| [&stretch.known, &stretch.guessed]);
        let days: f64 = profiles().map(|profile| profile.duration()).sum();
        let sum: f64 = profiles().filter_map(|profile| Some(profile.mean()? * profile.duration())).sum();
        (days > 0.0).then(|| sum / days)
    }
}

impl Segment {
    /// Its stretches, spot by spot.
    pub fn stretches(&self) -> impl Iterator<Item = &Stretch> {
        self.passages.iter().map(|passage| &passage.stretch)
    }
}

impl Passage {
    /// A stretch at a spot whose temperature is given.
    #[must_use]
    pub fn given(spot: Name, stretch: Stretch) -> Self {
        Self { level: Level::Given(spot.clone()), spot, stretch }
    }
}

/// Passages one after the other, those at one spot by one word taken together.
pub(super) fn merged(passages: impl IntoIterator<Item = Passage>) -> Vec<Passage> {
    let mut merged: Vec<Passage> = Vec::new();
    for passage in passages {
        match merged.iter_mut().find(|before| before.spot == passage.spot && before.level == passage.level) {
            Some(before) => before.stretch = before.stretch.joined(&passage.stretch),
            None => merged.push(passage),
        }
    }
    merged
}

fn gained(passages: &[Passage], rate: &Rate) -> f64 {
    passages.iter().map(|passage| passage.stretch.gained(rate, 0.0, 0.0)).sum()
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
        let day = || vec![Passage::given(name("sill"), Stretch { known: Profile::new([(20.0, 1.0)]), ..Stretch::default() })];
        let evidence = Evidence::new(&trial, Vec::new(), vec![day(); 9]);
        let ends: Vec<f64> = evidence.thermal_times(&Rate::Days);
        assert_eq!(ends, [4.0, 5.0, 9.0], "the look before the sprouts, theirs, and the last");
        assert_eq!((evidence.sprouted(), evidence.left), (3, Some(17)));
    }
}
