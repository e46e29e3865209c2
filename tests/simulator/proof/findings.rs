//! What the diagnosis says of boxes, against what is true of them: the true needs at the true temperatures.

use chrono::{DateTime, Duration, Timelike, Utc};
use seedclock::answers::{Known, Present, diagnose};
use seedclock::bench::Name;
use seedclock::diagnosis::{BoxDelay, Kind};
use seedclock::stats::Spread;

use super::asked::Asked;
use super::tally::{Ratio, ratio};
use crate::simulator::folder::Folder;
use crate::simulator::world::weather::{STEPS_PER_DAY, Track};
use crate::simulator::world::{Mix, TrueBox, World, days};

/// A delay shorter than this, in days, or than this share of the time at the fastest spot, is none: as the program's statement has it.
const LEAST_DAYS: f64 = 1.0;
const LEAST_SHARE: f64 = 0.1;
/// A lot is slow in whose seeds the requirement is so much higher, in ln.
const SLOW_LOT: f64 = 0.2;
/// What the sun does to a probe that it strikes on a clear morning: so many °C at the height of it, from 9 h on for so many hours.
const STRUCK_C: f64 = 12.0;
const STRUCK_FROM_HOUR: f64 = 9.0;
const STRUCK_HOURS: f64 = 2.0;
const CLEAR: f64 = 0.6;

const CAUSES: usize = 4;

/// A box on a morning.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Found {
    bench: u64,
    /// What was said of its spot, if anything.
    said: Option<(Kind, f64)>,
    slower_said: bool,
    own_sowings: usize,
    /// Whether a delay of the least size is true against the spot that was named; none where it lies beyond what was made up.
    late: Option<bool>,
    /// Whether the stated ranges (8 in 10) hold the truth: of the delay, and of each cause's days where both are told.
    delay_held: Option<bool>,
    causes_held: [Option<bool>; CAUSES],
    /// It stands at the spot that is truly fastest for it.
    at_best: bool,
    /// Days behind the truly fastest spot so far, and how many of a hundred of what it will lose are lost to heat.
    cost_days: f64,
    hot_share: f64,
    /// How slow its lot is, in ln.
    lot_ln: f64,
    /// The sun struck the probe at its spot.
    struck: bool,
    /// Trials or a published source tell its species' optimum.
    optimum_known: bool,
}

/// Asks about a bench on its last two mornings. `struck`: the sun strikes one of its probes.
pub(crate) fn find(seed: u64, mix: Mix, struck: bool) -> Vec<Found> {
    let mut world = World::of(seed, mix);
    let struck = if struck { strike(&mut world) } else { None };
    let asked = Asked::about(&world.folder);
    world.mornings[1..].iter().flat_map(|now| found(&world, &asked, *now, struck)).collect()
}

fn found(world: &World, asked: &Asked, now: DateTime<Utc>, struck: Option<usize>) -> Vec<Found> {
    let known = asked.known(now);
    let present = Present::new(&known);
    let fits = present.needs();
    let diagnosis = diagnose(&known, &present);
    let boxes = world.boxes.iter().filter(|one| one.season == world.present() && one.warm_from < now);
    boxes
        .filter_map(|one| {
            let name = Name::new(&one.name).unwrap();
            let told = diagnosis.boxes.iter().find(|told| told.trial.container.name == name && !told.ended)?;
            let delay = told.delay.as_ref()?;
            let spots = Spots::of(world, one);
            let named = delay.best_spot.as_ref().and_then(|best| world.spots.iter().position(|spot| spot.name == best.as_str()));
            let named = named.and_then(|at| spots.days.iter().find(|(spot, _)| *spot == at)).map(|(spot, day)| (*spot, *day));
            let (best, _) = spots.best();
            let delayed = named.and_then(|(_, there)| apart(spots.own, there, spots.reach));
            let late = named.zip(delayed).and_then(|((_, there), delayed)| delayed.at_least(LEAST_DAYS.max(LEAST_SHARE * there?)));
            let lost = named.and_then(|(at, there)| lost(world, one, at, spots.own?, there?));
            let fit = fits.iter().find(|fit| fit.species.as_str() == world.species[one.species].name)?;
            let said = told.findings.iter().find_map(|finding| {
                let is_of_spot = matches!(finding.kind, Kind::ColdSpot | Kind::ColdNights | Kind::HotSpot | Kind::HotHours);
                finding.chance.filter(|_| is_of_spot).map(|chance| (finding.kind, chance))
            });
            let (cost_days, hot_share) = cost(world, one, best, now);
            let species = &world.species[one.species].needs;
            Some(Found {
                bench: world.seed,
                said,
                slower_said: told.findings.iter().any(|finding| finding.kind == Kind::SlowBeyondTemperature),
                own_sowings: fit
                    .trials
                    .iter()
                    .filter(|other| other.container != name && other.fraction.is_some_and(|f| f > 0.0))
                    .count(),
                late,
                delay_held: delayed.and_then(|delayed| delayed.within(&delay.delay_days)),
                causes_held: lost.map_or([None; CAUSES], |lost| held(&lost, delay)),
                at_best: best == one.spot,
                cost_days,
                hot_share,
                lot_ln: one.typical.ln_half - species.ln_half,
                struck: struck == Some(one.spot),
                optimum_known: !fit.warnings.iter().any(|warning| format!("{warning:?}").contains("Optimum")),
            })
        })
        .collect()
}

/// Days from leaving the cold to half of the sprouts that are typical of its lot: as it stands, and at each spot that is there.
struct Spots {
    own: Option<f64>,
    days: Vec<(usize, Option<f64>)>,
    /// As many days were made up.
    reach: f64,
}

impl Spots {
    fn of(world: &World, one: &TrueBox) -> Self {
        let season = &world.seasons[one.season];
        let half = one.typical.ln_half.exp();
        let until = |spot: usize| half_day(&season.tracks[spot], one, half);
        let fridge = world.spots.len() - 1;
        let there = (0..fridge).filter(|spot| season.there[*spot]);
        let track = &season.tracks[one.spot];
        let end = track.start + Duration::minutes(track.celsius.len() as i64 * 1440 / STEPS_PER_DAY as i64);
        Self { own: until(one.spot), days: there.map(|spot| (spot, until(spot))).collect(), reach: days(end - one.warm_from) }
    }

    fn best(&self) -> (usize, Option<f64>) {
        let day = |of: &(usize, Option<f64>)| of.1.unwrap_or(f64::INFINITY);
        *self.days.iter().min_by(|a, b| day(a).total_cmp(&day(b))).unwrap()
    }
}

/// Days from leaving the cold until so many °C·d are gathered on a track.
fn half_day(track: &Track, one: &TrueBox, half: f64) -> Option<f64> {
    let (mut sum, first) = (0.0, track.step(one.warm_from));
    for (nth, celsius) in track.celsius[first..].iter().enumerate() {
        let gain = one.typical.rate(*celsius) / STEPS_PER_DAY as f64;
        if sum + gain >= half {
            return Some((nth as f64 + (half - sum) / gain) / STEPS_PER_DAY as f64);
        }
        sum += gain;
    }
    None
}

/// A difference of dates of which one may lie beyond what was made up.
#[derive(Clone, Copy)]
enum Delayed {
    By(f64),
    ByMoreThan(f64),
}

fn apart(own: Option<f64>, there: Option<f64>, reach: f64) -> Option<Delayed> {
    match (own, there) {
        (Some(own), Some(there)) => Some(Delayed::By(own - there)),
        (None, Some(there)) => Some(Delayed::ByMoreThan(reach - there)),
        _ => None,
    }
}

impl Delayed {
    fn at_least(self, least: f64) -> Option<bool> {
        match self {
            Self::By(days) => Some(days >= least),
            Self::ByMoreThan(days) => (days >= least).then_some(true),
        }
    }

    fn within(self, stated: &Spread) -> Option<bool> {
        match self {
            Self::By(days) => Some(holds(stated, days)),
            Self::ByMoreThan(_) => None,
        }
    }
}

fn holds(stated: &Spread, days: f64) -> bool {
    stated.p10.unwrap_or(f64::INFINITY) <= days && days <= stated.p90.unwrap_or(f64::INFINITY)
}

/// The true days lost by cause (above the optimum, below the base, night, day) against a spot: Shapley's shares by all orders in which the
/// causes can be taken away, written down a second time on purpose.
fn lost(world: &World, one: &TrueBox, best: usize, own: f64, there: f64) -> Option<[f64; CAUSES]> {
    let tracks = &world.seasons[one.season].tracks;
    let first = tracks[one.spot].step(one.warm_from);
    let steps = ((own.max(there) + 2.0) * STEPS_PER_DAY as f64) as usize;
    let half = one.typical.ln_half.exp();
    let pieces: Vec<(usize, f64, f64)> = (first..(first + steps).min(tracks[one.spot].celsius.len()))
        .map(|step| {
            let (mine, its) = (tracks[one.spot].celsius[step], tracks[best].celsius[step]);
            let hour = (tracks[best].start + Duration::minutes(step as i64 * 30)).hour();
            let cause = match mine {
                c if c > one.typical.optimum_c => 0,
                c if c < one.typical.base_c => 1,
                _ if (8..20).contains(&hour) => 3,
                _ => 2,
            };
            (cause, one.typical.rate(mine), one.typical.rate(its))
        })
        .collect();
    let date = |mended: &[usize]| {
        let mut sum = 0.0;
        for (nth, (cause, mine, its)) in pieces.iter().enumerate() {
            let gain = if mended.contains(cause) { its } else { mine } / STEPS_PER_DAY as f64;
            if sum + gain >= half {
                return Some((nth as f64 + (half - sum) / gain) / STEPS_PER_DAY as f64);
            }
            sum += gain;
        }
        None
    };
    let (mut shares, mut orders) = ([0.0; CAUSES], 0.0);
    for order in (0..CAUSES)
        .flat_map(|a| (0..CAUSES).flat_map(move |b| (0..CAUSES).map(move |c| [a, b, c, 6_usize.wrapping_sub(a + b + c)])))
    {
        let mut sorted = order;
        sorted.sort_unstable();
        if sorted != [0, 1, 2, 3] {
            continue;
        }
        orders += 1.0;
        let mut before = date(&[])?;
        for taken in 1..=CAUSES {
            let after = date(&order[..taken])?;
            shares[order[taken - 1]] += before - after;
            before = after;
        }
    }
    Some(shares.map(|share| share / orders))
}

/// Whether what is stated of each cause holds the truth; where neither has anything of it, nothing is judged.
fn held(lost: &[f64; CAUSES], delay: &BoxDelay) -> [Option<bool>; CAUSES] {
    let stated = [&delay.lost.above_optimum, &delay.lost.below_base, &delay.lost.nights, &delay.lost.days];
    std::array::from_fn(|cause| {
        let matters = lost[cause].abs() >= 0.25 || stated[cause].p90.unwrap_or(f64::INFINITY) >= 0.25;
        matters.then(|| holds(stated[cause], lost[cause]))
    })
}

/// Days by which the fastest spot would be ahead of where a box is now, and the share of what it lost that it lost above its optimum.
fn cost(world: &World, one: &TrueBox, best: usize, now: DateTime<Utc>) -> (f64, f64) {
    let tracks = &world.seasons[one.season].tracks;
    let gathered = world.gathered(one, one.warm_from, now, &|celsius| one.typical.rate(celsius));
    let there = half_day(&tracks[best], one, gathered).unwrap_or(0.0);
    let (mut lost, mut hot) = (0.0, 0.0);
    for step in tracks[best].step(one.warm_from)..tracks[best].step(now) {
        let (mine, its) = (tracks[one.spot].celsius[step], tracks[best].celsius[step]);
        let less = (one.typical.rate(its) - one.typical.rate(mine)).max(0.0);
        lost += less;
        hot += if mine > one.typical.optimum_c { less } else { 0.0 };
    }
    (one.age_days(now) - there, if lost > 0.0 { hot / lost } else { 0.0 })
}

/// Has the sun strike the probe at a spot where boxes stand, on each clear morning of the present season; which spot.
fn strike(world: &mut World) -> Option<usize> {
    let present = world.present();
    let struck = world.boxes.iter().filter(|one| one.season == present).map(|one| one.spot).min()?;
    let season = &world.seasons[present];
    let (probe, batch) = (format!("probe {struck}"), &season.batch);
    let probe = if world.probes_moved() { format!("{probe} of {batch}") } else { probe };
    let from = season.first - Duration::days(super::super::world::bench::BEFORE_DAYS);
    let readings = &world.folder["readings.csv"];
    let lines = readings.lines().map(|line| {
        let mut cells = line.splitn(3, ',');
        let (Some(time), Some(of), Some(celsius)) = (cells.next(), cells.next(), cells.next()) else { return line.to_owned() };
        let Ok(at) = time.parse::<DateTime<Utc>>() else { return line.to_owned() };
        let hour = f64::from(at.num_seconds_from_midnight()) / 3600.0;
        let part = (hour - STRUCK_FROM_HOUR) / STRUCK_HOURS;
        let is_struck = of == probe && at >= from && (0.0..1.0).contains(&part) && season.weather.clear(at) > CLEAR;
        match celsius.parse::<f64>() {
            Ok(celsius) if is_struck => {
                let sun = STRUCK_C * (std::f64::consts::PI * part).sin();
                format!("{time},{of},{}", ((celsius + sun) * 16.0).round() / 16.0)
            }
            _ => line.to_owned(),
        }
    });
    let text: Folder = [("readings.csv".to_owned(), lines.collect::<Vec<_>>().join("\n") + "\n")].into();
    world.folder.extend(text);
    Some(struck)
}

/// A share over boxes, with the error of leaving benches out.
fn share<'a>(found: impl Iterator<Item = &'a Found>, what: impl Fn(&Found) -> Option<bool>) -> (usize, Option<Ratio>) {
    let parts: Vec<(u64, f64, f64)> =
        found.filter_map(|one| Some((one.bench, 100.0 * f64::from(u8::from(what(one)?)), 1.0))).collect();
    (parts.len(), ratio(parts.into_iter()))
}

/// What each row of the table counts.
type Row = (&'static str, Box<dyn Fn(&Found) -> Option<bool>>);

/// The table's rows: of which boxes, and what of them.
pub(crate) fn rows() -> Vec<Row> {
    fn row(name: &'static str, what: impl Fn(&Found) -> Option<bool> + 'static) -> Row {
        (name, Box::new(what))
    }
    let is_cold = |one: &Found| one.said.is_some_and(|(kind, _)| matches!(kind, Kind::ColdSpot | Kind::ColdNights));
    let is_hot = |one: &Found| one.said.is_some_and(|(kind, _)| matches!(kind, Kind::HotSpot | Kind::HotHours));
    let between =
        |low: f64, high: f64| move |one: &Found| one.said.filter(|(_, chance)| *chance >= low && *chance < high).and(one.late);
    vec![
        row("true, of slow spots said with .80–.90", between(0.80, 0.90)),
        row("… with .90–.95", between(0.90, 0.95)),
        row("… with .95 and over", between(0.95, f64::INFINITY)),
        row("ranges of the delay (8 in 10) that hold it", |one| one.delay_held),
        row("… of days lost above the optimum", |one| one.causes_held[0]),
        row("… below the base", |one| one.causes_held[1]),
        row("… to cooler nights", |one| one.causes_held[2]),
        row("… to cooler days", |one| one.causes_held[3]),
        row("spot blamed, of boxes at the truly fastest", |one| (one.at_best && !one.struck).then_some(one.said.is_some())),
        row("cold spots found once they cost over 3 days", move |one| {
            (one.cost_days > 3.0 && one.hot_share < 0.5).then(|| is_cold(one))
        }),
        row("hot spots found, likewise, optimum known", move |one| {
            (one.cost_days > 3.0 && one.hot_share > 0.5 && one.optimum_known).then(|| is_hot(one))
        }),
        row("hot said where the optimum is not known", move |one| (!one.optimum_known).then(|| is_hot(one))),
        row("place blamed for a slow lot at the fastest spot", |one| {
            (one.at_best && one.lot_ln > SLOW_LOT && !one.struck).then_some(one.said.is_some())
        }),
        row("slow lots told as slower than warmth explains", |one| {
            (one.lot_ln > SLOW_LOT && one.own_sowings >= 2).then_some(one.slower_said)
        }),
        row("the same of lots that are not slow", |one| (one.lot_ln < 0.1 && one.own_sowings >= 2).then_some(one.slower_said)),
        row("hot said of a spot whose probe the sun strikes", move |one| (one.struck && one.hot_share < 0.5).then(|| is_hot(one))),
        row("cold or hot said there without need", |one| (one.struck && one.late == Some(false)).then_some(one.said.is_some())),
    ]
}

/// The table, row by row.
pub(crate) fn table(found: &[Found]) -> String {
    let mut text = "| | % ± standard error | boxes |\n|---|---|---|\n".to_owned();
    for (name, what) in rows() {
        let (count, share) = share(found.iter(), what);
        let share = share.map_or_else(|| "–".to_owned(), |share| format!("{:.1} ± {:.1}", share.ratio, share.error));
        text += &format!("| {name} | {share} | {count} |\n");
    }
    text
}

impl Asked {
    pub(super) fn known(&self, now: DateTime<Utc>) -> Known {
        Known::as_of(self.store(), now).unwrap()
    }
}
