//! A spot's temperature record: steps of known or guessed temperature, without holes where anything can be said.

use super::{Profile, Stretch};
use crate::units::{MICROS_PER_DAY, MICROS_PER_HOUR};

const DAY_US: i64 = 24 * MICROS_PER_HOUR;
/// A longer silence says nothing of how often a probe reads.
const LONGEST_SPACING_US: i64 = 2 * DAY_US;

/// How far readings are trusted to speak for the time around them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bridge {
    /// Readings this close are always joined.
    pub always_us: i64,
    /// Readings up to twice the probe's usual spacing are joined too, but never over more than this. The usual spacing is the
    /// middle one of a day (UTC) and the day before it, silences of over two days left out: so it is settled when its day is over,
    /// whatever the probe does later, and needs no readings from long before.
    pub never_over_us: i64,
}

impl Default for Bridge {
    /// Two hours; or twice the usual spacing, up to six hours.
    fn default() -> Self {
        Self { always_us: 2 * MICROS_PER_HOUR, never_over_us: 6 * MICROS_PER_HOUR }
    }
}

/// One probe's usable, calibrated readings while it stood at a spot.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ProbeSeries {
    /// (microseconds since 1970, °C), ascending.
    pub points: Vec<(i64, f64)>,
    /// When the probe came to stand here.
    pub from_us: i64,
    /// When it left, or the end of what is asked for.
    pub until_us: i64,
}

/// Bounds of a guessed temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Guess {
    /// The truth may lie this far below, °C.
    pub below_c: f64,
    /// And this far above.
    pub above_c: f64,
}

/// A stretch of one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// From when, microseconds since 1970.
    pub from_us: i64,
    /// Until when.
    pub until_us: i64,
    /// °C.
    pub celsius: f64,
    /// Its share of this time: 1, or 1/n where n probes stood at the spot together.
    pub share: f64,
    /// Bounds, where the temperature was guessed.
    pub guess: Option<Guess>,
}

/// A spot's temperatures over time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SpotRecord {
    /// Ordered by time. Steps of probes standing together cover the same time, each with its share.
    steps: Vec<Step>,
}

impl SpotRecord {
    /// A spot of which nothing is known.
    #[must_use]
    pub const fn nothing() -> Self {
        Self { steps: Vec::new() }
    }

    /// A spot whose temperature is set: the same at all times.
    #[must_use]
    pub fn set(celsius: f64) -> Self {
        // A century either way of 1970..2200 is more than any record holds and far from overflow.
        let ages = 400 * 365 * 24 * MICROS_PER_HOUR;
        Self { steps: vec![Step { from_us: -ages, until_us: ages, celsius, share: 1.0, guess: None }] }
    }

    /// The record of the probes that stood at a spot: each reading stands for the time halfway to its neighbours, as far as the
    /// bridge reaches; probes together count by equal shares.
    #[must_use]
    pub fn measured(probes: &[ProbeSeries], bridge: Bridge) -> Self {
        let each: Vec<Vec<Step>> = probes.iter().map(|probe| own_steps(probe, bridge)).filter(|steps| !steps.is_empty()).collect();
        let mut in_time: Vec<&Vec<Step>> = each.iter().collect();
        in_time.sort_by_key(|steps| steps[0].from_us);
        let apart = in_time.windows(2).all(|pair| pair[0].last().is_some_and(|last| last.until_us <= pair[1][0].from_us));
        // Steps of one time keep the order of the probes, whichever of them began first: sums then do not depend, to the last
        // digit, on how far back the readings reach.
        Self { steps: if apart { in_time.into_iter().flatten().copied().collect() } else { together(&each) } }
    }

    /// All steps, in order of time.
    #[must_use]
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Nothing is known at any time.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.steps.is_empty()
    }

    /// The steps that touch `from_us..until_us`, clipped to it.
    pub fn within(&self, from_us: i64, until_us: i64) -> impl Iterator<Item = Step> {
        let start = self.steps.partition_point(|step| step.until_us <= from_us);
        self.steps[start..].iter().take_while(move |step| step.from_us < until_us).map(move |step| Step {
            from_us: step.from_us.max(from_us),
            until_us: step.until_us.min(until_us),
            ..*step
        })
    }

    /// The stretch `from_us..until_us` as profiles.
    #[must_use]
    pub fn stretch(&self, from_us: i64, until_us: i64) -> Stretch {
        let days = |step: &Step| (step.until_us - step.from_us) as f64 / MICROS_PER_DAY * step.share;
        let mut guessed_days = 0.0;
        let (mut below, mut above) = (0.0, 0.0);
        let mut covered = 0.0;
        for step in self.within(from_us, until_us) {
            covered += days(&step);
            if let Some(guess) = step.guess {
                guessed_days += days(&step);
                below += guess.below_c * days(&step);
                above += guess.above_c * days(&step);
            }
        }
        let per_guess = if guessed_days > 0.0 { 1.0 / guessed_days } else { 0.0 };
        let pairs = |guessed: bool| {
            self.within(from_us, until_us)
                .filter(move |step| step.guess.is_some() == guessed)
                .map(move |step| (step.celsius, days(&step)))
        };
        let asked = (until_us - from_us).max(0) as f64 / MICROS_PER_DAY;
        let unknown = asked - covered;
        Stretch {
            known: Profile::new(pairs(false)),
            guessed: Profile::new(pairs(true)),
            guess_below_c: below * per_guess,
            guess_above_c: above * per_guess,
            // Rounding of sums of microsecond steps stays far below a second.
            unknown_days: if unknown > 1e-5 { unknown } else { 0.0 },
        }
    }

    /// The mean temperature over each `every_us` from `from_us` on, `count` of them; none where less than half of one is covered.
    /// `guess` in −1..1 places guessed hours between their bounds.
    #[must_use]
    pub fn sampled(&self, from_us: i64, every_us: i64, count: usize, guess: f64) -> Vec<Option<f64>> {
        let mut sums = vec![(0.0, 0.0); count];
        let end = from_us + every_us * count as i64;
        for step in self.within(from_us, end) {
            let celsius = step
                .guess
                .map_or(step.celsius, |bounds| step.celsius + guess * if guess < 0.0 { bounds.below_c } else { bounds.above_c });
            let mut at = step.from_us;
            while at < step.until_us {
                let slot = ((at - from_us) / every_us) as usize;
                let until = step.until_us.min(from_us + every_us * (slot as i64 + 1));
                let weight = (until - at) as f64 * step.share;
                sums[slot].0 += celsius * weight;
                sums[slot].1 += weight;
                at = until;
            }
        }
        sums.into_iter().map(|(sum, weight)| (weight * 2.0 >= every_us as f64).then(|| sum / weight)).collect()
    }

    /// The parts of `from_us..until_us` that no step covers.
    #[must_use]
    pub fn holes(&self, from_us: i64, until_us: i64) -> Vec<(i64, i64)> {
        let mut holes = Vec::new();
        let mut reached = from_us;
        for step in self.within(from_us, until_us) {
            if step.from_us > reached {
                holes.push((reached, step.from_us));
            }
            reached = reached.max(step.until_us);
        }
        if reached < until_us {
            holes.push((reached, until_us));
        }
        holes
    }

    /// Where the last step before `time_us`, at which there is none, ends, and where the next begins.
    #[must_use]
    pub fn hole_around(&self, time_us: i64) -> (Option<i64>, Option<i64>) {
        // Probes standing together end their steps at the same edges, so the ends are in order too.
        let next = self.steps.partition_point(|step| step.until_us <= time_us);
        let before = next.checked_sub(1).map(|at| self.steps[at].until_us);
        (before, self.steps.get(next).map(|step| step.from_us))
    }

    /// This record with more steps put into its holes.
    #[must_use]
    pub fn with(mut self, more: Vec<Step>) -> Self {
        if !more.is_empty() {
            self.steps.extend(more);
            self.steps.sort_by_key(|step| (step.from_us, step.until_us));
        }
        self
    }
}

fn own_steps(probe: &ProbeSeries, bridge: Bridge) -> Vec<Step> {
    let points = &probe.points;
    let reaches = reaches(points, bridge);
    let mut steps = Vec::with_capacity(points.len());
    for (at, &(time, celsius)) in points.iter().enumerate() {
        let reach = reaches[at];
        let before = at.checked_sub(1).map_or(reach, |earlier| (time - points[earlier].0).min(reach)) / 2;
        let after = points.get(at + 1).map_or(reach, |later| (later.0 - time).min(reach));
        // The half that integer division leaves out goes to the step before, so that steps meet.
        let (from_us, until_us) = ((time - before).max(probe.from_us), (time + after - after / 2).min(probe.until_us));
        if from_us < until_us {
            steps.push(Step { from_us, until_us, celsius, share: 1.0, guess: None });
        }
    }
    steps
}

/// How far each reading is joined to its neighbours.
fn reaches(points: &[(i64, f64)], bridge: Bridge) -> Vec<i64> {
    let mut reaches = Vec::with_capacity(points.len());
    // Spacings of the last day with readings.
    let mut own: Vec<i64> = Vec::new();
    let mut last_day = i64::MIN;
    for (at, &(time, _)) in points.iter().enumerate() {
        let day = time.div_euclid(DAY_US);
        if day == last_day {
            continue;
        }
        let before = if day - 1 == last_day { std::mem::take(&mut own) } else { Vec::new() };
        own.clear();
        let end = at + points[at..].partition_point(|point| point.0.div_euclid(DAY_US) == day);
        let spacings = (at..end).filter_map(|later| Some(points[later].0 - points[later.checked_sub(1)?].0));
        own.extend(spacings.filter(|spacing| *spacing <= LONGEST_SPACING_US));
        let mut both: Vec<i64> = before.into_iter().chain(own.iter().copied()).collect();
        let middle = both.len() / 2;
        let usual = if both.is_empty() { 0 } else { *both.select_nth_unstable(middle).1 };
        reaches.resize(end, bridge.always_us.max((2 * usual).min(bridge.never_over_us)));
        last_day = day;
    }
    reaches
}

/// Steps of several probes, cut so that those which overlap cover the same time with equal shares.
fn together(each: &[Vec<Step>]) -> Vec<Step> {
    let mut edges: Vec<i64> = each.iter().flatten().flat_map(|step| [step.from_us, step.until_us]).collect();
    edges.sort_unstable();
    edges.dedup();
    let mut next = vec![0; each.len()];
    let mut steps = Vec::new();
    for edge in edges.windows(2) {
        let (from_us, until_us) = (edge[0], edge[1]);
        let first = steps.len();
        for (probe, at) in each.iter().zip(&mut next) {
            while probe.get(*at).is_some_and(|step| step.until_us <= from_us) {
                *at += 1;
            }
            if let Some(step) = probe.get(*at).filter(|step| step.from_us <= from_us) {
                steps.push(Step { from_us, until_us, ..*step });
            }
        }
        let share = 1.0 / (steps.len() - first).max(1) as f64;
        for step in &mut steps[first..] {
            step.share = share;
        }
    }
    steps
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: i64 = MICROS_PER_HOUR;

    fn series(points: &[(i64, f64)]) -> ProbeSeries {
        let points: Vec<_> = points.iter().map(|(hour, celsius)| (hour * HOUR, *celsius)).collect();
        ProbeSeries { points, from_us: -1000 * HOUR, until_us: 1000 * HOUR }
    }

    #[test]
    fn a_reading_stands_for_the_time_halfway_to_its_neighbours_as_far_as_the_bridge_reaches() {
        let record = SpotRecord::measured(&[series(&[(0, 20.0), (1, 21.0), (2, 22.0), (9, 23.0)])], Bridge::default());
        let spans: Vec<_> = record.steps().iter().map(|s| (s.from_us * 2 / HOUR, s.until_us * 2 / HOUR)).collect();
        assert_eq!(spans, [(-2, 1), (1, 3), (3, 6), (16, 20)], "in half hours: 2 h bridge, one hour either side of a hole");
        assert_eq!(record.holes(0, 10 * HOUR), [(3 * HOUR, 8 * HOUR)]);
        let stretch = record.stretch(0, 10 * HOUR);
        assert!((stretch.unknown_days - 5.0 / 24.0).abs() < 1e-12);
        assert!((stretch.known.duration() - 5.0 / 24.0).abs() < 1e-12);
    }

    #[test]
    fn a_probe_that_reads_seldom_bridges_twice_its_spacing_up_to_six_hours() {
        let every = |hours: i64| SpotRecord::measured(&[series(&[(0, 20.0), (hours, 20.0), (2 * hours, 20.0)])], Bridge::default());
        assert!(every(3).holes(0, 6 * HOUR).is_empty());
        assert!(every(6).holes(0, 12 * HOUR).is_empty());
        assert_eq!(every(8).holes(0, 16 * HOUR), [(3 * HOUR, 5 * HOUR), (11 * HOUR, 13 * HOUR)]);
    }

    #[test]
    fn probes_together_count_by_equal_shares_and_alone_in_full() {
        let record =
            SpotRecord::measured(&[series(&[(0, 10.0), (1, 10.0), (2, 10.0)]), series(&[(2, 20.0), (3, 20.0)])], Bridge::default());
        let stretch = record.stretch(0, 3 * HOUR);
        assert!(stretch.unknown_days == 0.0 && (stretch.known.duration() - 0.125).abs() < 1e-12);
        // Alone at 10 for one hour, both for two hours: (10 + 15 + 15) / 3.
        assert!((stretch.known.mean().unwrap() - 40.0 / 3.0).abs() < 1e-9);
        assert_eq!(
            record.sampled(0, HOUR, 3, 0.0).iter().map(|v| v.map(f64::round)).collect::<Vec<_>>(),
            [Some(10.0), Some(15.0), Some(15.0)]
        );
    }

    #[test]
    fn a_set_spot_is_the_same_at_all_times() {
        let record = SpotRecord::set(18.0);
        assert_eq!(record.stretch(0, 24 * HOUR).known.mean(), Some(18.0));
        assert!(record.holes(0, 24 * HOUR).is_empty());
    }
}
