//! The demo's story: one grower, a back room and a porch, two past seasons and the present one.
//!
//! # The truth behind it
//! Plausible figures near those that handbook days imply (Harrington & Minges 1954, *Vegetable Seed Germination*, California
//! Agricultural Extension, as reproduced in Knott's Handbook for Vegetable Growers, 1997: base temperatures by regression are
//! tomato 7.5, pepper 10.5, lettuce 0.9 and onion, for want of leek, 0.9 °C), made up beyond that:
//!
//! | species | base °C | optimum °C | ceiling °C | half requirement °C·d | spread of ln | germinable |
//! |---|---|---|---|---|---|---|
//! | tomato | 8.5 | 27.0 | 36.5 | 85 | 0.12 | 0.90 |
//! | sweet pepper | 10.5 | 28.0 | 38.0 | 125 | 0.14 | 0.84 |
//! | lettuce | 2.0 | 22.5 | 33.0 | 55 | 0.14 | 0.93 |
//! | leek | 2.0 | 21.0 | 34.0 | 112 | 0.15 | 0.86 |
//!
//! Boxes differ in speed by sd 0.04 of ln; the swapped tomatoes need 3 % more and are a little less sound than the saved ones.
//! The event is the root tip, seen through the lid on damp paper.

use std::collections::BTreeMap;

use chrono::{DateTime, Duration, NaiveDate, TimeZone, Timelike, Utc};
use chrono_tz::Tz;

use super::climate::{Household, Place, Warmth, Weather};
use super::folder::{self, Folder, Table};
use super::grower::{self, Habits, Look};
use super::random::Stream;
use super::truth::Species;

const SEED: u64 = 20_260_405;
/// Standard deviation of ln requirement between boxes.
pub(crate) const BOX_SPEED_SD: f64 = 0.04;
const ZONE: Tz = Tz::Europe__Dublin;
/// Days simulated after a season's last reading, so that what happens later is known.
const AFTERWARDS_DAYS: i64 = 60;

pub(crate) const TOMATO: Species = species("tomato", [8.5, 27.0, 36.5], 85.0, 0.12, 0.90);
pub(crate) const PEPPER: Species = species("sweet pepper", [10.5, 28.0, 38.0], 125.0, 0.14, 0.84);
pub(crate) const LETTUCE: Species = species("lettuce", [2.0, 22.5, 33.0], 55.0, 0.14, 0.93);
pub(crate) const LEEK: Species = species("leek", [2.0, 21.0, 34.0], 112.0, 0.15, 0.86);

const fn species(name: &'static str, [base_c, optimum_c, ceiling_c]: [f64; 3], half: f64, spread: f64, germinable: f64) -> Species {
    Species { name, base_c, optimum_c, ceiling_c, half_requirement: half, spread, germinable }
}

/// The places of the story with the spot's name and note.
const PLACES: [(Place, &str, &str); 4] = [
    (Place::Mat, "heat mat", "thermostat probe in the mix; socket on the RCD"),
    (Place::Shelf, "shelf", "back room over the desk"),
    (Place::Sill, "porch sill", "no heating; sun from late morning"),
    (Place::BoilerTop, "boiler top", "board over the boiler cupboard"),
];

struct Lot {
    species: &'static Species,
    name: &'static str,
    treatment: &'static str,
    slowness: f64,
    soundness: f64,
}

const SAVED: Lot = Lot { species: &TOMATO, name: "own saved", treatment: "", slowness: 0.0, soundness: 0.1 };
const SWAPPED: Lot = Lot { species: &TOMATO, name: "seed swap", treatment: "", slowness: 0.03, soundness: -0.2 };
const PEPPERS: Lot = Lot { species: &PEPPER, name: "long red", treatment: "soaked overnight", slowness: 0.0, soundness: 0.0 };
const LETTUCES: Lot = Lot { species: &LETTUCE, name: "butterhead", treatment: "", slowness: 0.0, soundness: 0.0 };
const LEEKS: Lot = Lot { species: &LEEK, name: "winter giant", treatment: "", slowness: 0.0, soundness: 0.0 };

/// A box to be sown: name, lot, seeds, day of the season, spot.
struct Sowing(&'static str, &'static Lot, u32, i64, Place);

struct Season {
    batch: &'static str,
    first: NaiveDate,
    last: NaiveDate,
    house: Household,
    present: bool,
    sowings: &'static [Sowing],
    /// Boxes carried elsewhere: name, day, hour, where to.
    moves: &'static [(&'static str, i64, u32, Place)],
    /// Days of the season on which nobody was there.
    away: &'static [i64],
    /// A box that loses a seed, and one in which a sprout dies, with the look at or from which that happens.
    lost: (&'static str, usize),
    died: (&'static str, usize),
    /// Probes that give nothing for hours: probe, day, from hour, hours.
    silent: &'static [(&'static str, i64, i64, i64)],
    /// Which probe stands where, in the order of the places.
    probes: [&'static str; 4],
}

use Place::{BoilerTop, Mat, Shelf, Sill};

const FIRST_SOWINGS: [Sowing; 16] = [
    Sowing("A1", &SAVED, 25, 2, Mat),
    Sowing("A2", &SAVED, 25, 2, Shelf),
    Sowing("A3", &SAVED, 25, 2, Sill),
    Sowing("A4", &SAVED, 25, 2, BoilerTop),
    Sowing("A5", &PEPPERS, 24, 2, Mat),
    Sowing("A6", &PEPPERS, 24, 2, Shelf),
    Sowing("A7", &PEPPERS, 24, 2, BoilerTop),
    Sowing("A8", &PEPPERS, 20, 2, Sill),
    Sowing("A9", &LETTUCES, 30, 4, Mat),
    Sowing("A10", &LETTUCES, 30, 4, Shelf),
    Sowing("A11", &LETTUCES, 30, 4, Sill),
    Sowing("A12", &LETTUCES, 30, 4, BoilerTop),
    Sowing("A13", &LEEKS, 30, 5, Shelf),
    Sowing("A14", &LEEKS, 30, 5, Sill),
    Sowing("A15", &LEEKS, 30, 5, Mat),
    Sowing("A16", &LEEKS, 30, 5, BoilerTop),
];

const SECOND_SOWINGS: [Sowing; 16] = [
    Sowing("B1", &SAVED, 25, 3, Mat),
    Sowing("B2", &SAVED, 25, 3, BoilerTop),
    Sowing("B3", &SAVED, 25, 3, Sill),
    Sowing("B4", &SWAPPED, 20, 3, Mat),
    Sowing("B5", &SWAPPED, 20, 3, Shelf),
    Sowing("B6", &PEPPERS, 24, 4, Mat),
    Sowing("B7", &PEPPERS, 24, 4, Shelf),
    Sowing("B8", &PEPPERS, 24, 4, BoilerTop),
    Sowing("B9", &LETTUCES, 25, 12, Shelf),
    Sowing("B10", &LETTUCES, 25, 12, Sill),
    Sowing("B11", &LETTUCES, 25, 12, BoilerTop),
    Sowing("B12", &LETTUCES, 25, 12, Mat),
    Sowing("B13", &LEEKS, 30, 6, Shelf),
    Sowing("B14", &LEEKS, 30, 6, Sill),
    Sowing("B15", &LEEKS, 30, 6, Mat),
    Sowing("B16", &LEEKS, 30, 6, BoilerTop),
];

const PRESENT_SOWINGS: [Sowing; 9] = [
    Sowing("C1", &SAVED, 25, 15, Mat),
    Sowing("C2", &SAVED, 25, 13, Shelf),
    Sowing("C3", &SAVED, 25, 10, Sill),
    Sowing("C4", &SWAPPED, 20, 14, BoilerTop),
    Sowing("C5", &PEPPERS, 24, 12, Mat),
    Sowing("C6", &PEPPERS, 24, 7, Shelf),
    Sowing("C7", &LETTUCES, 30, 13, BoilerTop),
    Sowing("C8", &LEEKS, 30, 15, Shelf),
    Sowing("C9", &LEEKS, 30, 13, Sill),
];

fn seasons() -> [Season; 3] {
    let date = |year, month, day| NaiveDate::from_ymd_opt(year, month, day).unwrap();
    [
        Season {
            batch: "two seasons ago",
            first: date(2024, 2, 26),
            last: date(2024, 4, 22),
            house: Household { mat_set_c: 26.5, boiler_lift_c: 12.5 },
            present: false,
            sowings: &FIRST_SOWINGS,
            moves: &[("A8", 30, 19, Shelf)],
            away: &[20, 21, 22],
            lost: ("", 0),
            died: ("A2", 9),
            silent: &[("red", 24, 2, 7), ("yellow", 24, 2, 7), ("blue", 24, 2, 7), ("green", 24, 2, 7)],
            probes: ["red", "yellow", "blue", "green"],
        },
        Season {
            batch: "last season",
            first: date(2025, 2, 25),
            last: date(2025, 5, 7),
            house: Household { mat_set_c: 24.0, boiler_lift_c: 11.0 },
            present: false,
            sowings: &SECOND_SOWINGS,
            moves: &[("B16", 16, 8, Shelf)],
            away: &[18, 19],
            lost: ("B5", 7),
            died: ("", 0),
            silent: &[("yellow", 31, 22, 9)],
            probes: ["red", "green", "blue", "yellow"],
        },
        Season {
            batch: "this season",
            first: date(2026, 2, 28),
            last: date(2026, 3, 22),
            house: Household { mat_set_c: 24.5, boiler_lift_c: 12.0 },
            present: true,
            sowings: &PRESENT_SOWINGS,
            moves: &[("C8", 18, 19, Mat)],
            away: &[14],
            lost: ("", 0),
            died: ("", 0),
            silent: &[("blue", 13, 1, 3), ("yellow", 19, 10, 2)],
            probes: ["red", "green", "blue", "yellow"],
        },
    ]
}

/// Probes named by the tape on their leads: °C that each reads too high, and what the grower knows of it.
const PROBES: [(&str, f64, &str, &str); 4] =
    [("red", -0.19, "0.2", "in"), ("yellow", 0.12, "", "beside"), ("blue", 0.31, "-0.3", "beside"), ("green", -0.1, "", "beside")];
/// Noise of a reading before it is cut to sixteenths of a degree.
const READING_NOISE_SD_C: f64 = 0.05;
/// The day of last season on which the blue probe's plug was loose.
const LOOSE_PLUG_DAY: i64 = 13;

/// The whole story.
pub(crate) struct Story {
    /// The bench folder.
    pub(crate) folder: Folder,
    /// What is true of each box of the present batch.
    pub(crate) present: Vec<PresentBox>,
}

/// The truth of a present box.
pub(crate) struct PresentBox {
    pub(crate) container: &'static str,
    pub(crate) species: &'static Species,
    pub(crate) sown: DateTime<Utc>,
    pub(crate) seen: u32,
    /// When half of its germinable seeds would be up where it stands and stood, without an effect of its own.
    pub(crate) half_here: Option<DateTime<Utc>>,
    /// The same had it stood all the time at each spot.
    pub(crate) half_at: Vec<(&'static str, Option<DateTime<Utc>>)>,
}

/// Tells the story.
pub(crate) fn tell() -> Story {
    let mut tables = Tables::new();
    let mut present = Vec::new();
    for season in seasons() {
        let days = (season.last - season.first).num_days() + 1;
        let label = |what: &str, which: &str| Stream::new(SEED, &format!("{}{what}{which}", &season.batch[..5]));
        let weather = Weather::new(ZONE, season.first, (days + AFTERWARDS_DAYS) as usize, label("weather", ""));
        let warmths = PLACES.map(|(place, name, _)| weather.warmth(place, season.house, label("air", name)));
        let away: Vec<_> = season.away.iter().map(|day| season.first + Duration::days(*day)).collect();
        let rounds = grower::rounds(ZONE, season.first, season.last, &away, &mut label("rounds", ""));
        for sowing in season.sowings {
            let truth = sow(&season, sowing, &warmths, &rounds, &mut tables, &mut label("box", sowing.0));
            present.extend(season.present.then_some(truth));
        }
        tables.place_probes(&season);
        tables.read(&season, &warmths, &mut label("noise", ""));
    }
    Story { folder: tables.folder(), present }
}

/// An instant of a season by day and local hour.
fn at(season: &Season, day: i64, hour: u32, minute: u32) -> DateTime<Utc> {
    let local = (season.first + Duration::days(day)).and_hms_opt(hour, minute, 0).unwrap();
    ZONE.from_local_datetime(&local).unwrap().with_timezone(&Utc)
}

fn place_index(place: Place) -> usize {
    PLACES.iter().position(|(there, ..)| *there == place).unwrap()
}

fn sow(
    season: &Season,
    Sowing(name, lot, count, day, place): &Sowing,
    warmths: &[Warmth; 4],
    rounds: &[DateTime<Utc>],
    tables: &mut Tables,
    random: &mut Stream,
) -> PresentBox {
    let place = place_index(*place);
    let sown = at(season, *day, 18, 10) + Duration::minutes(random.between(0.0, 50.0) as i64);
    let mut stays = vec![(sown, &warmths[place])];
    for (_, day, hour, to) in season.moves.iter().filter(|moved| moved.0 == *name) {
        let (time, to) = (at(season, *day, *hour, 20), place_index(*to));
        stays.push((time, &warmths[to]));
        tables.moves.row(&[name, &folder::time(time), PLACES[to].1]);
    }
    let slowness = lot.slowness + random.normal(BOX_SPEED_SD);
    let seeds = lot.species.seeds(*count, slowness, lot.soundness, random);
    let end = at(season, (season.last - season.first).num_days() + AFTERWARDS_DAYS - 1, 0, 0);
    let fate = grower::fate(lot.species, &seeds, &stays, end, random);
    let habits = Habits {
        gives_up: !season.present,
        loses_one_at: (season.lost.0 == *name).then_some(season.lost.1),
        one_dies_from: (season.died.0 == *name).then_some(season.died.1),
    };
    let looks = grower::looks(&fate, sown, rounds, habits, random);
    let ended = looks.last().filter(|_| !season.present).map(|look| folder::time(look.time)).unwrap_or_default();
    let (species, sown_at, spot) = (lot.species.name, folder::time(sown), PLACES[place].1);
    tables.containers.row(&[
        name,
        season.batch,
        species,
        lot.name,
        lot.treatment,
        &count.to_string(),
        &sown_at,
        spot,
        "radicle",
        &ended,
    ]);
    for look in &looks {
        tables.check(name, look);
    }
    PresentBox {
        container: name,
        species: lot.species,
        sown,
        seen: looks.iter().map(|look| look.sprouted).sum(),
        half_here: half(lot.species, &stays, end),
        half_at: PLACES.iter().zip(warmths).map(|(place, warmth)| (place.1, half(lot.species, &[(sown, warmth)], end))).collect(),
    }
}

/// When half of the germinable seeds of a species are up.
fn half(species: &Species, stays: &[(DateTime<Utc>, &Warmth)], until: DateTime<Utc>) -> Option<DateTime<Utc>> {
    // The seed in the middle; what the stream says of mould is of no account here.
    grower::fate(species, &[Some(species.half_requirement)], stays, until, &mut Stream::new(0, "")).sprouts[0]
}

struct Tables {
    containers: Table,
    checks: Table,
    moves: Table,
    probes: Table,
    readings: BTreeMap<&'static str, Table>,
}

impl Tables {
    fn new() -> Self {
        Self {
            containers: Table::new("container,batch,species,lot,treatment,seeds,sown,spot,event,ended"),
            checks: Table::new("container,time,sprouted,removed,lost,potted_on,died,condition,note"),
            moves: Table::new("container,time,spot"),
            probes: Table::new("probe,spot,since,offset_c,gain,siting"),
            readings: BTreeMap::new(),
        }
    }

    fn check(&mut self, container: &str, look: &Look) {
        let time = folder::time(look.time);
        let [removed, lost, potted_on, died] = [look.removed, look.lost, look.potted_on, look.died].map(folder::count);
        let sprouted = look.sprouted.to_string();
        self.checks.row(&[container, &time, &sprouted, &removed, &lost, &potted_on, &died, look.condition, look.note]);
    }

    fn place_probes(&mut self, season: &Season) {
        for (place, probe) in season.probes.iter().enumerate() {
            let (_, _, offset, siting) = PROBES.iter().find(|known| known.0 == *probe).unwrap();
            let gain = if offset.is_empty() { "" } else { "1" };
            self.probes.row(&[probe, PLACES[place].1, &folder::time(at(season, 0, 0, 0)), offset, gain, siting]);
        }
    }

    fn read(&mut self, season: &Season, warmths: &[Warmth; 4], random: &mut Stream) {
        let start = at(season, 0, 0, 0);
        let end = ZONE.from_local_datetime(&(season.last + Duration::days(1)).and_time(chrono::NaiveTime::MIN)).unwrap();
        let end = end.with_timezone(&Utc);
        let table = self.readings.entry(season.batch).or_insert_with(|| Table::new("time,probe,celsius"));
        let mut time = start;
        while time < end {
            for (place, probe) in season.probes.iter().enumerate() {
                let error = PROBES.iter().find(|known| known.0 == *probe).unwrap().1 + random.normal(READING_NOISE_SD_C);
                let honest = ((warmths[place].at(time) + error) * 16.0).round() / 16.0;
                let reading = loose_plug(season, probe, time, honest, random);
                if !silent(season, probe, time) {
                    table.row(&[&folder::time(time), probe, &reading.to_string()]);
                }
            }
            // The last two weeks of the present season are logged more often.
            time += Duration::minutes(if season.present && end - time <= Duration::days(14) { 10 } else { 30 });
        }
    }

    fn folder(self) -> Folder {
        let mut spots = Table::new("spot,kind,set_c,set_sd_c,note");
        for (_, name, note) in PLACES {
            spots.row(&[name, "indoors", "", "", note]);
        }
        let mut bench = Table::new("key,value");
        bench.row(&["zone", ZONE.name()]);
        let mut folder: Folder = [
            ("bench.csv", bench),
            ("checks.csv", self.checks),
            ("containers.csv", self.containers),
            ("moves.csv", self.moves),
            ("probes.csv", self.probes),
            ("spots.csv", spots),
        ]
        .map(|(name, table)| (name.to_owned(), table.text()))
        .into();
        for (batch, table) in self.readings {
            folder.insert(format!("readings-{}.csv", batch.replace(' ', "-")), table.text());
        }
        folder
    }
}

fn silent(season: &Season, probe: &str, time: DateTime<Utc>) -> bool {
    season.silent.iter().any(|(which, day, hour, hours)| {
        let from = at(season, *day, *hour as u32, 0);
        *which == probe && time >= from && time < from + Duration::hours(*hours)
    })
}

/// A plug worked loose: now the power-on value, now the code for no answer, now nonsense in between.
fn loose_plug(season: &Season, probe: &str, time: DateTime<Utc>, honest: f64, random: &mut Stream) -> f64 {
    let local = time.with_timezone(&ZONE);
    let that_day = season.batch == "last season" && local.date_naive() == season.first + Duration::days(LOOSE_PLUG_DAY);
    if !that_day || probe != "blue" {
        return honest;
    }
    match (local.hour(), random.uniform()) {
        (3..=6, _) => -127.0,
        (7, _) => 85.0,
        (9..=14, u) if u < 0.4 => -127.0,
        (9..=14, u) if u < 0.5 => 85.0,
        (9..=14, _) | (15..=17, _) => ((honest + random.normal(14.0)) * 16.0).round() / 16.0,
        _ => honest,
    }
}
