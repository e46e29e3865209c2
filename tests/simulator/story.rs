//! Tells the story of `plan.rs`: what the seeds did, what the grower saw, what the probes said, as a bench folder.

use std::collections::BTreeMap;

use chrono::{DateTime, Duration, TimeZone, Timelike, Utc};

use super::climate::{Place, Warmth, Weather};
use super::folder::{self, Folder, Table};
use super::grower::{self, Habits, Look};
use super::plan::{
    AFTERWARDS_DAYS, BOX_SPEED_SD, LOOSE_PLUG_DAY, PLACES, PROBES, READING_NOISE_SD_C, Season, Sowing, ZONE, seasons,
};
use super::random::Stream;
use super::truth::Species;

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

/// Tells the story as a seed makes it; the demo is `plan::SEED`.
pub(crate) fn tell(seed: u64) -> Story {
    let mut tables = Tables::new();
    let mut present = Vec::new();
    for season in seasons() {
        let days = (season.last - season.first).num_days() + 1;
        let label = |what: &str, which: &str| Stream::new(seed, &format!("{}{what}{which}", &season.batch[..5]));
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
