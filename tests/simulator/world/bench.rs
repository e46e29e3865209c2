//! Makes a bench up from a seed.

use chrono::{DateTime, Duration, NaiveDate, TimeZone, Utc};

use super::seeds::{Differs, Likes, Needs};
use super::weather::{Climate, Place, Region, Spot, Weather};
use super::{AHEAD_DAYS, Kind, Mix, Season, TrueBox, World, files, looks};
use crate::simulator::grower;
use crate::simulator::random::Stream;

/// The present year; past seasons are one to three years before.
const PRESENT_YEAR: i32 = 2026;
/// Days simulated before the first sowing in the warm: those of chilling, and of readings.
pub(crate) const BEFORE_DAYS: i64 = 6;
/// Days from the first sowing on in which a season is watched and read.
pub(crate) const WATCHED_DAYS: i64 = 46;
/// Days of chilling that break dormancy.
pub(crate) const CHILLED_DAYS: i64 = 28;
/// What lack of chilling does.
const DORMANT: Differs = Differs { ln_requirement: 0.25, logit_fraction: -2.5, base_c: 0.0 };
const LOT_SD: Differs = Differs { ln_requirement: 0.15, logit_fraction: 0.8, base_c: 0.0 };
const TREATMENT_SD: Differs = Differs { ln_requirement: 0.2, logit_fraction: 0.6, base_c: 1.0 };
pub(crate) const BOX_SD: Differs = Differs { ln_requirement: 0.06, logit_fraction: 0.3, base_c: 0.0 };
pub(crate) const CHILLED: &str = "28 d cold moist";
const SOAKED: &str = "soaked";

fn differing(sd: Differs, random: &mut Stream) -> Differs {
    Differs {
        ln_requirement: random.normal(sd.ln_requirement),
        logit_fraction: random.normal(sd.logit_fraction),
        base_c: random.normal(sd.base_c),
    }
}

/// One of several, each as likely.
fn one_of<T: Copy>(choices: &[T], random: &mut Stream) -> T {
    choices[(random.uniform() * choices.len() as f64) as usize % choices.len()]
}

pub(super) fn make(seed: u64, mix: Mix) -> World {
    let mut random = Stream::new(seed, "bench");
    let climate = one_of(&[Climate::SpringWarming, Climate::Summer, Climate::AutumnCooling, Climate::MidWinter], &mut random);
    let region =
        Region { year_mean_c: 10.5 + random.normal(1.2), year_wave_c: 7.5 + random.normal(0.8), room_c: 19.0 + random.normal(1.0) };
    let usual = mix == Mix::Usual;
    let past = match random.uniform() {
        _ if usual => 2,
        u if u < 0.2 => 1,
        u if u < 0.8 => 2,
        _ => 3,
    };
    let spots = spots(&mut random);
    let fridge = spots.len() - 1;
    // The last but the fridge may be new.
    let new_spot = (random.chance(1.0 / 3.0) && !usual).then_some(fridge - 1);
    let seasons = seasons(seed, past, climate, region, &spots, new_spot, &mut random);
    let mut species = species(climate, &mut random);
    if usual {
        species.truncate(1);
        (species[0].wants_chilling, species[0].treated) = (false, false);
    }
    let mornings: Vec<i64> = [(3.0, 7.0), (8.0, 14.0), (15.0, 24.0)].map(|(low, high)| random.between(low, high) as i64).into();
    let mut world = World { seed, species, spots, seasons, boxes: Vec::new(), mornings: Vec::new(), folder: Default::default() };
    let first = world.seasons[past].first;
    world.mornings = mornings.iter().map(|day| first + Duration::days(*day) + Duration::minutes(8 * 60 + 35)).collect();
    let lots: Vec<Vec<(String, Differs)>> = world
        .species
        .iter()
        .map(|kind| {
            let count = 1 + (random.uniform() * if usual { 1.0 } else { 3.0 }) as usize;
            // The last is a new one, sown in the present season only.
            (0..=count).map(|lot| (format!("{} lot {}", kind.name, lot + 1), differing(LOT_SD, &mut random))).collect()
        })
        .collect();
    let soaking = differing(TREATMENT_SD, &mut random);
    for season in 0..=past {
        sow_season(&mut world, mix, season, &lots, soaking, Stream::new(seed, &format!("sow{season}")));
    }
    world.folder = files::folder(&world, Stream::new(seed, "readings"));
    world
}

fn spots(random: &mut Stream) -> Vec<Spot> {
    let spot = |name: &str, place, sun_c, swing_c, own_sd_c| Spot { name: name.to_owned(), place, sun_c, swing_c, own_sd_c };
    let mut spots = vec![
        spot("mat", Place::Mat, 0.5, 0.5, 0.3),
        spot("shelf", Place::Shelf, 1.0, random.between(0.7, 1.6), 0.4),
        spot("sill", Place::Sill, random.between(4.0, 8.0), random.between(1.5, 3.0), 0.5),
        spot("porch", Place::Porch, random.between(2.0, 5.0), random.between(2.0, 4.0), 0.6),
    ];
    if random.chance(1.0 / 3.0) {
        spots[2] = spot("hot sill", Place::HotSill, random.between(13.0, 19.0), random.between(1.5, 3.0), 0.5);
    }
    // Which one stands last, and so may be new, is left to chance; one of the four is missing in half of the benches.
    let last = (random.uniform() * 4.0) as usize % 4;
    spots.swap(last, 3);
    if random.chance(0.5) {
        spots.remove(0);
    }
    spots.push(spot("fridge", Place::Fridge, 0.0, 0.3, 0.3));
    spots
}

fn seasons(
    seed: u64,
    past: usize,
    climate: Climate,
    region: Region,
    spots: &[Spot],
    new_spot: Option<usize>,
    random: &mut Stream,
) -> Vec<Season> {
    let (month, day) = match climate {
        Climate::SpringWarming => (3, 1),
        Climate::Summer => (6, 5),
        Climate::AutumnCooling => (9, 5),
        Climate::MidWinter => (1, 8),
    };
    let mat_c = random.between(21.0, 27.0);
    let begins = random.normal(8.0) as i64;
    let probes_moved = random.chance(0.25);
    let errors = |random: &mut Stream| -> Vec<f64> {
        let siting = |spot: &Spot| if beside(spot) { 0.5 } else { 0.15 };
        spots.iter().map(|spot| random.normal(0.25) + random.normal(siting(spot))).collect()
    };
    let always_high = errors(random);
    (0..=past)
        .map(|season| {
            let mut random = Stream::new(seed, &format!("season{season}"));
            let year = PRESENT_YEAR - (past - season) as i32;
            let date = NaiveDate::from_ymd_opt(year, month, day).unwrap() + Duration::days(begins + random.normal(3.0) as i64);
            let first = Utc.from_utc_datetime(&date.and_time(chrono::NaiveTime::MIN));
            let start = first - Duration::days(BEFORE_DAYS + CHILLED_DAYS);
            let all_days = (BEFORE_DAYS + CHILLED_DAYS + WATCHED_DAYS) as usize + AHEAD_DAYS;
            let weather = Weather::new(start, all_days, region, mat_c, spots, &mut random);
            let tracks = spots.iter().enumerate().map(|(at, spot)| weather.track(at, spot, &mut random)).collect();
            let moved = errors(&mut random);
            let reads_high_c = if probes_moved { moved } else { always_high.clone() };
            let there = (0..spots.len()).map(|spot| season == past || new_spot != Some(spot)).collect();
            Season { batch: format!("season {}", season + 1), first, weather, tracks, reads_high_c, there }
        })
        .collect()
}

/// Whether a spot's probe stands beside the boxes, not in one.
pub(crate) fn beside(spot: &Spot) -> bool {
    matches!(spot.place, Place::Porch | Place::HotSill)
}

fn species(climate: Climate, random: &mut Stream) -> Vec<Kind> {
    let count = if random.chance(0.6) { 2 } else { 3 };
    let dormant = random.chance(1.0 / 6.0);
    let treated = random.chance(0.25);
    (0..count)
        .map(|at| {
            let likes = match climate {
                Climate::Summer => one_of(&[Likes::Cool, Likes::Middling, Likes::Warm, Likes::Warm], random),
                _ => one_of(&[Likes::Cool, Likes::Cool, Likes::Middling, Likes::Warm], random),
            };
            Kind {
                name: ["first kind", "second kind", "third kind"][at].to_owned(),
                needs: Needs::made_up(likes, random),
                wants_chilling: dormant && at == 0,
                treated: treated && at == 1,
            }
        })
        .collect()
}

fn sow_season(world: &mut World, mix: Mix, season: usize, lots: &[Vec<(String, Differs)>], soaking: Differs, mut random: Stream) {
    let present = season == world.present();
    let first = world.seasons[season].first;
    let count = 6 + (random.uniform() * 9.0) as usize;
    let fridge = world.spots.len() - 1;
    let last = if present { *world.mornings.last().unwrap() } else { first + Duration::days(WATCHED_DAYS) };
    let away_from = first + Duration::days(random.between(3.0, 35.0) as i64);
    let away_days = if random.chance(0.5) { 1 + (random.uniform() * 3.0) as i64 } else { 0 };
    let away: Vec<NaiveDate> = (0..away_days).map(|day| (away_from + Duration::days(day)).date_naive()).collect();
    let rounds = grower::rounds(chrono_tz::UTC, first.date_naive(), last.date_naive(), &away, &mut random);
    for at in 0..count {
        let kind = at % world.species.len();
        let there: Vec<usize> = (0..fridge).filter(|spot| world.seasons[season].there[*spot]).collect();
        let spot = one_of(&there, &mut random);
        let warm_from = first + Duration::minutes((random.between(0.0, 10.0) as i64) * 1440 + random.between(960.0, 1260.0) as i64);
        let (old_lots, new_lot) = lots[kind].split_at(lots[kind].len() - 1);
        let new = random.chance(0.2) && present && mix == Mix::Varied;
        let (lot, lot_differs) = if new { &new_lot[0] } else { &old_lots[(random.uniform() * old_lots.len() as f64) as usize] };
        let chilled = world.species[kind].wants_chilling && random.chance(0.7);
        let soaked = world.species[kind].treated && random.chance(0.5);
        let species = world.species[kind].needs;
        let mut typical = species.with(*lot_differs);
        if world.species[kind].wants_chilling && !chilled {
            typical = typical.with(DORMANT);
        }
        if soaked {
            typical = typical.with(soaking);
        }
        let needs = typical.with(differing(BOX_SD, &mut random));
        let seeds = if mix == Mix::Usual { 20 } else { one_of(&[10, 12, 15, 20, 20, 25, 30, 40, 50], &mut random) };
        let carried = random.chance(0.08) && !present;
        let moved =
            carried.then(|| (warm_from + Duration::minutes(random.between(3.0, 12.0) as i64 * 1440), one_of(&there, &mut random)));
        let lost_on = random.chance(0.12).then(|| random.between(0.0, 12.0) as usize);
        let tracks = &world.seasons[season].tracks;
        let mut stays: Vec<(DateTime<Utc>, _)> = vec![(warm_from, &tracks[spot])];
        stays.extend(moved.map(|(time, to)| (time, &tracks[to])));
        let fates = looks::fates(&needs, seeds, warm_from, &stays, &mut random);
        let mut one = TrueBox {
            name: format!("{}{}", char::from(b'A' + season as u8), at + 1),
            season,
            species: kind,
            lot: lot.clone(),
            treatment: match (chilled, soaked) {
                (true, _) => CHILLED,
                (_, true) => SOAKED,
                _ => "",
            },
            seeds,
            sown: if chilled { warm_from - Duration::days(CHILLED_DAYS) } else { warm_from },
            warm_from,
            spot,
            moved: moved.filter(|(_, to)| *to != spot),
            typical,
            needs,
            fates,
            looks: Vec::new(),
            given_up: false,
        };
        looks::look(&mut one, &rounds, lost_on, !present, &mut random);
        world.boxes.push(one);
    }
}

/// What the oracle knows of mould.
pub(crate) use looks::mouldy_by;
