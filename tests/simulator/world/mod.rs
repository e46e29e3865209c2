//! Benches of many kinds, each made up from a seed: climate, spots, species, lots, boxes, the grower's looks and the faults.
//!
//! # The truth behind a bench
//! | what | how it varies |
//! |---|---|
//! | seasons | one, two (three in five benches) or three past ones and the present one, at the same time of the year |
//! | outdoors | yearly wave, a level of its own each year (sd 0.7 °C), day anomalies (sd 2.2 °C, 0.75 from day to day) shared by all spots |
//! | species | two or three; likes cool, middling or warm; log-normal or log-logistic requirement, sd of its ln about 0.22 |
//! | lots | sd 0.15 in ln requirement, 0.8 in logit fraction; one in five present boxes has a lot never sown before |
//! | treatments | in one bench of four: sd 0.2 in ln requirement, 0.6 in logit fraction, 1 °C in the base |
//! | boxes | sd 0.06 in ln requirement, 0.3 in logit fraction; 10 to 50 seeds, 6 to 14 boxes a season |
//! | dormancy | in one bench of six a species wants four weeks in the fridge: without, far fewer sprout, and later |
//! | probes | never calibrated (sd 0.25 °C), in the box (0.15) or beside it (0.5), moved about between seasons in one bench of four |
//! | readings | every half hour or hour, to 1/16 °C; gaps of hours to days; in three benches of ten 85 °C now and then |
//! | looks | each morning, some missed; dead seeds turn mouldy and are taken out; a seed gets lost |
//! | spots | in one bench of three the present season has one that was never there before; a sill that bakes in the sun in a third |

pub(crate) mod bench;
mod files;
mod looks;
pub(crate) mod seeds;
pub(crate) mod weather;

use chrono::{DateTime, Duration, Utc};

use crate::simulator::folder::Folder;
use crate::simulator::grower::Look;
pub(crate) use bench::{BOX_SD, mouldy_by};
use seeds::Needs;
use weather::{Spot, Track, Weather};

/// Days that are forecast at the most.
pub(crate) const AHEAD_DAYS: usize = 21;

/// What kind of benches are made up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mix {
    /// All that the table says.
    Varied,
    /// What a grower has who keeps to one plant: one species of one lot, two past seasons, 20 seeds a box, spots that are known, no
    /// treatments. Weather, probes, faults, mould and boxes that differ are the same.
    Usual,
}

/// A bench whose truth is known.
pub(crate) struct World {
    pub(crate) seed: u64,
    pub(crate) species: Vec<Kind>,
    pub(crate) spots: Vec<Spot>,
    /// Seasons in order; the last is the present one.
    pub(crate) seasons: Vec<Season>,
    pub(crate) boxes: Vec<TrueBox>,
    /// When it is asked, a little after a morning's round.
    pub(crate) mornings: Vec<DateTime<Utc>>,
    /// The bench folder, up to the last of these mornings.
    pub(crate) folder: Folder,
}

/// A species of the bench.
pub(crate) struct Kind {
    pub(crate) name: String,
    pub(crate) needs: Needs,
    pub(crate) wants_chilling: bool,
    /// Some boxes had a treatment.
    pub(crate) treated: bool,
}

/// One season.
pub(crate) struct Season {
    pub(crate) batch: String,
    /// The midnight before the first sowing in the warm.
    pub(crate) first: DateTime<Utc>,
    pub(crate) weather: Weather,
    /// By spot.
    pub(crate) tracks: Vec<Track>,
    /// What each spot's probe reads above the seeds' temperature, °C.
    pub(crate) reads_high_c: Vec<f64>,
    /// Whether the spot is there at all.
    pub(crate) there: Vec<bool>,
}

/// A box with all that is true of it.
pub(crate) struct TrueBox {
    pub(crate) name: String,
    pub(crate) season: usize,
    pub(crate) species: usize,
    pub(crate) lot: String,
    pub(crate) treatment: &'static str,
    pub(crate) seeds: u32,
    pub(crate) sown: DateTime<Utc>,
    /// When it left the fridge; when it was sown where it never was in one. From then on warmth counts.
    pub(crate) warm_from: DateTime<Utc>,
    pub(crate) spot: usize,
    /// Carried to another spot, in past seasons only.
    pub(crate) moved: Option<(DateTime<Utc>, usize)>,
    /// As lot and treatment make them, without effects of the box's own.
    pub(crate) typical: Needs,
    /// As they are in this box.
    pub(crate) needs: Needs,
    pub(crate) fates: Vec<SeedFate>,
    pub(crate) looks: Vec<Look>,
    pub(crate) given_up: bool,
}

/// What becomes of one seed.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct SeedFate {
    /// °C·d that it needs; none: it never sprouts.
    pub(crate) wants: Option<f64>,
    pub(crate) sprouts: Option<DateTime<Utc>>,
    pub(crate) mould: Option<DateTime<Utc>>,
    pub(crate) lost: Option<DateTime<Utc>>,
}

impl World {
    /// The bench that belongs to a seed.
    pub(crate) fn new(seed: u64) -> Self {
        Self::of(seed, Mix::Varied)
    }

    /// The bench of a kind that belongs to a seed.
    pub(crate) fn of(seed: u64, mix: Mix) -> Self {
        bench::make(seed, mix)
    }

    /// The place of the present season.
    pub(crate) fn present(&self) -> usize {
        self.seasons.len() - 1
    }

    /// Whether a spot was there in an earlier season.
    pub(crate) fn seen_before(&self, spot: usize) -> bool {
        self.seasons[..self.present()].iter().any(|season| season.there[spot])
    }

    /// Whether probes are moved about between seasons.
    pub(crate) fn probes_moved(&self) -> bool {
        self.seasons[0].reads_high_c != self.seasons[1].reads_high_c
    }

    /// What a box's seeds have gathered between two instants, °C·d, by the true temperatures.
    pub(crate) fn gathered(&self, one: &TrueBox, from: DateTime<Utc>, until: DateTime<Utc>, rate: &dyn Fn(f64) -> f64) -> f64 {
        let tracks = &self.seasons[one.season].tracks;
        let from = from.max(one.warm_from);
        match one.moved {
            Some((moved, to)) => {
                tracks[one.spot].gained(from, until.min(moved), rate) + tracks[to].gained(from.max(moved), until, rate)
            }
            None => tracks[one.spot].gained(from, until, rate),
        }
    }
}

impl TrueBox {
    /// The looks up to a time.
    pub(crate) fn looks_by(&self, time: DateTime<Utc>) -> &[Look] {
        &self.looks[..self.looks.partition_point(|look| look.time <= time)]
    }

    /// How many will truly have sprouted by `time`, seeds lost after `now` counted as if they had stayed.
    pub(crate) fn sprouted_by(&self, time: DateTime<Utc>, now: DateTime<Utc>) -> u32 {
        let there = self.fates.iter().filter(|fate| fate.lost.is_none_or(|lost| lost > now));
        there.filter(|fate| fate.sprouts.is_some_and(|sprouts| sprouts <= time)).count() as u32
    }

    /// Days since warmth counts.
    pub(crate) fn age_days(&self, time: DateTime<Utc>) -> f64 {
        days(time - self.warm_from)
    }
}

pub(crate) fn days(time: Duration) -> f64 {
    time.num_seconds() as f64 / 86_400.0
}
