//! Pieces of time in the cold, and what is counted of them.

use chrono::Duration;

use crate::bench::{Name, SpotKind};
use crate::civil::{Time, time_from_micros};
use crate::thermal::Step;
use crate::units::{MICROS_PER_DAY, MICROS_PER_HOUR};

/// Moist time from here on counts, °C: fridges for chilling are to be kept at 1 to 5 °C (nurseries' code sheets).
pub const CHILLS_FROM_C: f64 = 1.0;
/// Moist time up to here counts, °C: a fridge's shelves and door differ by some degrees, and the chilling hours of fruit growing
/// are counted up to 45 °F, 7.2 °C (Weinberger 1950, Proc. Am. Soc. Hort. Sci. 56:122–128; from memory).
pub const CHILLS_TO_C: f64 = 7.0;
/// Below this it freezes, °C.
pub(super) const FREEZES_BELOW_C: f64 = 0.0;
/// A probe never calibrated may be off by so much, °C (data sheet of a common digital probe: ±0.5 °C from −10 to +85 °C).
const UNCALIBRATED_C: f64 = 0.5;
/// One that was calibrated may be off by two of its standard uncertainties, °C.
const CALIBRATED_C: f64 = 0.2;
/// What lasts shorter than this is a door held open or a compressor's run, not frost or warmth in damp seeds.
const LEAST_US: i64 = MICROS_PER_HOUR;
/// Spells no further apart than this are one.
const JOINED_US: i64 = MICROS_PER_HOUR;
/// How a spot does lately is told by so many days.
const LATELY_DAYS: i64 = 7;
/// Of them so many hours must be known.
const LATELY_KNOWN_US: f64 = 12.0 * MICROS_PER_HOUR as f64;

/// By whose word the temperatures of a stay are known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ToldBy {
    /// Probes; where they were silent, guesses.
    Probes {
        /// At least one of them was never calibrated.
        uncalibrated: bool,
    },
    /// What the grower gave for the spot.
    Given,
    /// Nobody.
    Nobody,
}

/// A stay of the seeds at one spot, with how warm it was there.
#[derive(Debug, Clone, PartialEq)]
pub struct Stood<'a> {
    /// Where.
    pub spot: &'a Name,
    /// What kind of place it was then.
    pub kind: SpotKind,
    /// From when.
    pub from: Time,
    /// Until when.
    pub until: Time,
    /// What is on record or guessed of it, clipped to the stay, in any order; steps either cover the same time or are apart.
    pub steps: Vec<Step>,
    /// By whose word.
    pub told: ToldBy,
    /// How unsure given temperatures are, standard deviation in °C; 0 for probes.
    pub given_sd_c: f64,
}

impl Stood<'_> {
    pub(super) fn is_cold(&self) -> bool {
        self.kind != SpotKind::Indoors
    }

    /// How far a temperature may be off before anything is said of it, °C.
    pub(super) fn may_be_off_c(&self) -> f64 {
        match self.told {
            ToldBy::Probes { uncalibrated: true } => UNCALIBRATED_C,
            ToldBy::Probes { uncalibrated: false } => CALIBRATED_C,
            ToldBy::Given => 2.0 * self.given_sd_c,
            ToldBy::Nobody => 0.0,
        }
    }

    pub(super) fn length_us(&self) -> i64 {
        (self.until - self.from).num_microseconds().unwrap_or(0).max(0)
    }
}

/// Something that lasted.
#[derive(Debug, Clone, PartialEq)]
pub struct Spell {
    /// Where.
    pub spot: Name,
    /// From when.
    pub from: Time,
    /// Until when.
    pub until: Time,
    /// How long of it, in hours.
    pub hours: f64,
    /// The coldest of a frost, the warmest of a warm spell, the mean out of the cold, °C; none where that is not known.
    pub celsius: Option<f64>,
}

/// Days of moist cold counted.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ChillDays {
    /// Days between 1 and 7 °C as they stand on record, guesses at their middle.
    pub days: f64,
    /// Days that count though probes, guesses and given temperatures be off by what they may be, and dry times be none.
    pub at_least: f64,
    /// Days that may count.
    pub at_most: f64,
    /// Of `days`, how many were guessed.
    pub guessed: f64,
    /// Days at cold spots of which nothing is known: in none of the others.
    pub unknown: f64,
    /// Days at cold spots in all.
    pub elapsed: f64,
}

/// A piece of time at one (mean) temperature.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece {
    pub(super) from_us: i64,
    until_us: i64,
    pub(super) celsius: f64,
    /// Shares of this time that count: as it stands, surely, possibly, and by guesses.
    counts: f64,
    surely: f64,
    possibly: f64,
    guessed: f64,
    /// Any of it is a guess.
    pub(super) is_guess: bool,
}

impl Piece {
    pub(super) fn length_us(&self) -> f64 {
        (self.until_us - self.from_us) as f64
    }
}

/// A step cut at the edges that lie within it.
fn cut(step: &Step, edges: &[i64]) -> Vec<Step> {
    let within = edges.iter().copied().filter(|edge| *edge > step.from_us && *edge < step.until_us);
    let mut ends: Vec<i64> = within.chain([step.from_us, step.until_us]).collect();
    ends.sort_unstable();
    ends.windows(2).filter(|ends| ends[0] < ends[1]).map(|ends| Step { from_us: ends[0], until_us: ends[1], ..*step }).collect()
}

/// A cold stay's steps in order of time, those of several probes made one by their shares.
pub(super) fn pieces(stay: &Stood<'_>, dry: &[(Time, Time)], dry_treatment: bool) -> Vec<Piece> {
    let off_c = stay.may_be_off_c();
    let mut edges: Vec<i64> = dry.iter().flat_map(|(from, until)| [from.timestamp_micros(), until.timestamp_micros()]).collect();
    edges.sort_unstable();
    let mut steps: Vec<Step> = stay.steps.iter().flat_map(|step| cut(step, &edges)).collect();
    steps.sort_by(|a, b| (a.from_us, a.until_us).cmp(&(b.from_us, b.until_us)).then(a.celsius.total_cmp(&b.celsius)));
    let mut pieces: Vec<Piece> = Vec::new();
    let mut shares = 0.0;
    for step in steps {
        let (below, above) = step.guess.map_or((off_c, off_c), |guess| (guess.below_c.max(off_c), guess.above_c.max(off_c)));
        let (low, high) = (step.celsius - below, step.celsius + above);
        let share = |counts: bool| if counts && !dry_treatment { step.share } else { 0.0 };
        let counts = share((CHILLS_FROM_C..=CHILLS_TO_C).contains(&step.celsius));
        let maybe_dry =
            dry.iter().any(|(from, until)| step.from_us < until.timestamp_micros() && step.until_us > from.timestamp_micros());
        let new = Piece {
            from_us: step.from_us,
            until_us: step.until_us,
            celsius: step.celsius,
            counts,
            surely: share(low >= CHILLS_FROM_C && high <= CHILLS_TO_C && !maybe_dry),
            possibly: share(high >= CHILLS_FROM_C && low <= CHILLS_TO_C),
            guessed: if step.guess.is_some() { counts } else { 0.0 },
            is_guess: step.guess.is_some(),
        };
        match pieces.last_mut() {
            Some(last) if (last.from_us, last.until_us) == (step.from_us, step.until_us) => {
                last.celsius = (last.celsius * shares + step.celsius * step.share) / (shares + step.share);
                shares += step.share;
                last.counts += new.counts;
                last.surely += new.surely;
                last.possibly += new.possibly;
                last.guessed += new.guessed;
                last.is_guess |= new.is_guess;
            }
            _ => {
                shares = step.share;
                pieces.push(new);
            }
        }
    }
    pieces
}

pub(super) fn sum(pieces: &[(usize, Piece)], stood: &[Stood<'_>]) -> ChillDays {
    let days = |of: fn(&Piece) -> f64| pieces.iter().map(|(_, piece)| of(piece) * piece.length_us()).sum::<f64>() / MICROS_PER_DAY;
    let elapsed = stood.iter().filter(|stay| stay.is_cold()).map(|stay| stay.length_us() as f64).sum::<f64>() / MICROS_PER_DAY;
    let known = days(|_| 1.0);
    let unknown = elapsed - known;
    ChillDays {
        days: days(|piece| piece.counts),
        at_least: days(|piece| piece.surely),
        at_most: days(|piece| piece.possibly),
        guessed: days(|piece| piece.guessed),
        // Rounding of sums of microsecond steps stays far below a second.
        unknown: if unknown > 1e-5 { unknown } else { 0.0 },
        elapsed,
    }
}

/// Share of the last days at the present spot that counted.
pub(super) fn pace(pieces: &[(usize, Piece)], stay: &Stood<'_>, now: Time) -> Option<f64> {
    let from_us = (now - Duration::days(LATELY_DAYS)).max(stay.from).timestamp_micros();
    let lately = pieces.iter().filter(|(_, piece)| piece.until_us > from_us);
    let (mut known, mut counted) = (0.0, 0.0);
    for (_, piece) in lately {
        let length = (piece.until_us - piece.from_us.max(from_us)) as f64;
        known += length;
        counted += length * piece.counts;
    }
    // Of a stay that has only begun, all that there is of it.
    let enough = LATELY_KNOWN_US.min(0.5 * stay.length_us() as f64);
    (known > 0.0 && known >= enough).then(|| counted / known)
}

/// When `wanted` microseconds had been counted; where none are wanted, at once.
pub(super) fn reached(pieces: &[(usize, Piece)], wanted: f64, since: Option<Time>) -> Option<Time> {
    if wanted <= 0.0 {
        return since;
    }
    let mut sum = 0.0;
    for (_, piece) in pieces {
        let more = piece.counts * piece.length_us();
        if sum + more >= wanted && more > 0.0 {
            return time_from_micros(piece.from_us + ((wanted - sum) / piece.counts) as i64);
        }
        sum += more;
    }
    None
}

/// Times of an hour or more for which something holds, by readings or given temperatures, never by guesses.
pub(super) fn spells(
    pieces: &[(usize, Piece)],
    stood: &[Stood<'_>],
    holds: &dyn Fn(&Stood<'_>, &Piece) -> bool,
    colder: bool,
) -> Vec<Spell> {
    struct Run {
        stay: usize,
        from_us: i64,
        until_us: i64,
        long_us: i64,
        celsius: f64,
    }
    let mut runs: Vec<Run> = Vec::new();
    for (at, piece) in pieces.iter().filter(|(at, piece)| !piece.is_guess && holds(&stood[*at], piece)) {
        let long_us = piece.until_us - piece.from_us;
        match runs.last_mut() {
            Some(run) if stood[run.stay].spot == stood[*at].spot && piece.from_us - run.until_us <= JOINED_US => {
                run.until_us = piece.until_us;
                run.long_us += long_us;
                run.celsius = if colder { run.celsius.min(piece.celsius) } else { run.celsius.max(piece.celsius) };
            }
            _ => runs.push(Run { stay: *at, from_us: piece.from_us, until_us: piece.until_us, long_us, celsius: piece.celsius }),
        }
    }
    let spell = |run: Run| {
        Some(Spell {
            spot: stood[run.stay].spot.clone(),
            from: time_from_micros(run.from_us)?,
            until: time_from_micros(run.until_us)?,
            hours: run.long_us as f64 / MICROS_PER_HOUR as f64,
            celsius: Some(run.celsius),
        })
    };
    runs.into_iter().filter(|run| run.long_us >= LEAST_US).filter_map(spell).collect()
}

/// Stays out of the cold between the first and the last in it; those that follow each other are one.
pub(super) fn outside(stood: &[Stood<'_>], first: Option<usize>, last: Option<usize>) -> Vec<Spell> {
    let (Some(first), Some(last)) = (first, last) else { return Vec::new() };
    let mut spells: Vec<Spell> = Vec::new();
    let mut run: Vec<&Stood<'_>> = Vec::new();
    for stay in &stood[first..=last] {
        if !stay.is_cold() {
            run.push(stay);
        } else if let (Some(begin), Some(end)) = (run.first(), run.last()) {
            let steps = run.iter().flat_map(|stay| &stay.steps);
            let (sum, weight) = steps.fold((0.0, 0.0), |(sum, weight), step| {
                let more = (step.until_us - step.from_us) as f64 * step.share;
                (sum + step.celsius * more, weight + more)
            });
            spells.push(Spell {
                spot: begin.spot.clone(),
                from: begin.from,
                until: end.until,
                hours: run.iter().map(|stay| stay.length_us()).sum::<i64>() as f64 / MICROS_PER_HOUR as f64,
                celsius: (weight > 0.0).then(|| sum / weight),
            });
            run.clear();
        }
    }
    spells
}
