//! Boxes as they were watched: what a comparison takes of each.

use crate::bench::Name;
use crate::civil::Time;

/// What times are counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clock {
    /// Days since the wetting, or since leaving the cold.
    Days,
    /// Warmth gathered, °C·d, at the middle of what is known of the seeds.
    Warmth,
}

/// How far a box had come at an instant.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reached {
    /// Days.
    pub days: f64,
    /// Warmth gathered, °C·d; none where temperatures are not known.
    pub warmth: Option<f64>,
    /// The same for each of some equally likely answers to how fast warmth is gathered at a temperature.
    pub by_draw: Vec<f64>,
}

/// A look that tells something.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Seen {
    /// When.
    pub at: Reached,
    /// New sprouts, all from since the look before.
    pub sprouted: u32,
    /// Unsprouted seeds removed mouldy or rotten: they count as seeds that could not have sprouted.
    pub removed: u32,
    /// Unsprouted seeds that left the box otherwise: lost, or put into another.
    pub lost: u32,
}

/// Seeds of a box, those left out that were put into other boxes or were lost while others still sprouted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seeds {
    /// As many.
    Counted(u32),
    /// About as many: the middle of what was said.
    Roughly(u32),
    /// Not counted.
    Unknown,
}

/// One box.
#[derive(Debug, Clone, PartialEq)]
pub struct Watched {
    /// The box.
    pub container: Name,
    /// Its treatment; none: untreated.
    pub treatment: Option<Name>,
    /// Its lot; none: not said.
    pub lot: Option<Name>,
    /// The spot where it stood longest while days counted.
    pub spot: Name,
    /// Its batch.
    pub batch: Name,
    /// When it was sown.
    pub sown: Time,
    /// Its seeds.
    pub seeds: Seeds,
    /// Seeds left out of that number: lost while others still sprouted.
    pub left_out: u32,
    /// How far it had come when its seeds were put into it: nought unless they came out of another box.
    pub begun: Reached,
    /// The looks, in order.
    pub looks: Vec<Seen>,
    /// Whether it has ended.
    pub ended: bool,
    /// Mean temperature while it was watched, °C; none where not known.
    pub mean_c: Option<f64>,
}

/// Seeds of a box or a group on one clock.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tally {
    /// (after, until, seeds): sprouted within.
    pub sprouted: Vec<(f64, f64, f64)>,
    /// (at, seeds): not sprouted by then, and no more is known.
    pub open: Vec<(f64, f64)>,
    /// Seeds that could never have sprouted.
    pub dead: f64,
    /// (last look, sprouts) of boxes whose seeds were not counted: they tell when, not how many.
    pub uncounted: Vec<(f64, f64)>,
    /// The last look.
    pub last: f64,
}

impl Reached {
    fn on(&self, clock: Clock) -> Option<f64> {
        match clock {
            Clock::Days => Some(self.days),
            Clock::Warmth => self.warmth,
        }
    }
}

impl Seeds {
    /// The number to reckon with; none where there is none.
    #[must_use]
    pub fn number(self) -> Option<u32> {
        match self {
            Self::Counted(seeds) | Self::Roughly(seeds) => Some(seeds),
            Self::Unknown => None,
        }
    }
}

impl Watched {
    /// Sprouts seen.
    #[must_use]
    pub fn sprouted(&self) -> u32 {
        self.looks.iter().map(|look| look.sprouted).sum()
    }

    /// The last look; where it began, if nobody looked.
    #[must_use]
    pub fn last(&self) -> &Reached {
        self.looks.last().map_or(&self.begun, |look| &look.at)
    }

    /// Day of the last look at which a sprout was new; none where none was.
    #[must_use]
    pub fn last_sprout_days(&self) -> Option<f64> {
        self.looks.iter().rev().find(|look| look.sprouted > 0).map(|look| look.at.days)
    }

    /// Its seeds on a clock. None where that cannot be told: no temperatures, or sprouts where no warmth was gathered.
    #[must_use]
    pub fn tally(&self, clock: Clock) -> Option<Tally> {
        let mut tally = Tally::default();
        let mut edges = vec![self.begun.on(clock)?];
        let mut left = self.seeds.number();
        for look in &self.looks {
            let until = look.at.on(clock)?;
            if look.sprouted > 0 {
                // Seen later, though nothing was gathered between: it came in the last stretch in which something was.
                let after = edges.iter().rev().copied().find(|edge| *edge < until)?;
                tally.sprouted.push((after, until, f64::from(look.sprouted)));
            }
            let gone = look.lost.min(left.map_or(0, |left| left.saturating_sub(look.sprouted + look.removed)));
            if gone > 0 && until > 0.0 {
                tally.open.push((until, f64::from(gone)));
            }
            left = left.map(|left| left.saturating_sub(look.sprouted + look.removed + gone));
            tally.dead += f64::from(if left.is_some() { look.removed } else { 0 });
            edges.push(until);
        }
        tally.last = edges.last().copied().unwrap_or(0.0);
        match left {
            Some(left) if left > 0 && tally.last > 0.0 => tally.open.push((tally.last, f64::from(left))),
            None if self.sprouted() > 0 => tally.uncounted.push((tally.last, f64::from(self.sprouted()))),
            _ => {}
        }
        Some(tally)
    }

    /// Warmth gathered by a day, by the draw `draw`, in straight lines between looks; none before the first and where not known.
    #[must_use]
    pub fn warmth_by(&self, days: f64, draw: usize) -> Option<f64> {
        let mut before = (self.begun.days, self.begun.by_draw.get(draw).copied()?);
        for look in &self.looks {
            let here = (look.at.days, look.at.by_draw.get(draw).copied()?);
            if days <= here.0 {
                let share = if here.0 > before.0 { (days - before.0) / (here.0 - before.0) } else { 1.0 };
                return Some(before.1 + share * (here.1 - before.1)).filter(|warmth| *warmth > 0.0);
            }
            before = here;
        }
        // Beyond the last look as fast as on the average until then.
        (before.0 > 0.0 && before.1 > 0.0).then(|| before.1 * days / before.0)
    }
}

impl Tally {
    /// Several boxes' seeds together.
    pub fn of<'a>(boxes: impl IntoIterator<Item = &'a Watched>, clock: Clock) -> Option<Self> {
        let mut all = Self::default();
        for one in boxes {
            let one = one.tally(clock)?;
            all.sprouted.extend(one.sprouted);
            all.open.extend(one.open);
            all.dead += one.dead;
            all.uncounted.extend(one.uncounted);
            all.last = all.last.max(one.last);
        }
        Some(all)
    }

    /// Sprouts in it.
    #[must_use]
    pub fn sprouts(&self) -> f64 {
        self.sprouted.iter().map(|(_, _, seeds)| seeds).sum()
    }

    /// The same with one sprout less: one out of the given window.
    #[must_use]
    pub fn without(&self, window: usize) -> Self {
        let mut less = self.clone();
        if let Some(entry) = less.sprouted.get_mut(window) {
            entry.2 -= 1.0;
        }
        less.sprouted.retain(|(_, _, seeds)| *seeds > 0.0);
        less
    }
}
