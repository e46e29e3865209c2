//! A made-up bench as its grower keeps it: a bench folder, with what went wrong in it.

use chrono::{Duration, SubsecRound};

use super::bench::{BEFORE_DAYS, WATCHED_DAYS, beside};
use super::{World, days};
use crate::simulator::folder::{self, Folder, Table};
use crate::simulator::random::Stream;

/// Noise of a reading before it is cut to sixteenths of a degree, °C.
const NOISE_SD_C: f64 = 0.05;

pub(super) fn folder(world: &World, mut random: Stream) -> Folder {
    let mut containers = Table::new("container,batch,species,lot,treatment,seeds,sown,spot,event,ended");
    let mut checks = Table::new("container,time,sprouted,removed,lost,condition");
    let mut moves = Table::new("container,time,spot");
    let fridge = world.spots.len() - 1;
    for one in &world.boxes {
        let chilled = one.sown < one.warm_from;
        let spot = |at: usize| world.spots[at].name.as_str();
        containers.row(&[
            &one.name,
            &world.seasons[one.season].batch,
            &world.species[one.species].name,
            &one.lot,
            one.treatment,
            &one.seeds.to_string(),
            &folder::time(one.sown),
            spot(if chilled { fridge } else { one.spot }),
            "radicle",
            &one.looks.last().filter(|_| one.given_up).map(|look| folder::time(look.time)).unwrap_or_default(),
        ]);
        if chilled {
            moves.row(&[&one.name, &folder::time(one.warm_from), spot(one.spot)]);
        }
        if let Some((time, to)) = one.moved {
            moves.row(&[&one.name, &folder::time(time), spot(to)]);
        }
        for look in &one.looks {
            let [removed, lost] = [look.removed, look.lost].map(folder::count);
            checks.row(&[&one.name, &folder::time(look.time), &look.sprouted.to_string(), &removed, &lost, look.condition]);
        }
    }
    let mut spots = Table::new("spot,kind,set_c,set_sd_c,note");
    for (at, spot) in world.spots.iter().enumerate() {
        let (kind, set, sd) = if at == fridge { ("fridge", "4", "1") } else { ("indoors", "", "") };
        spots.row(&[&spot.name, kind, set, sd, ""]);
    }
    let (probes, readings) = probes(world, &mut random);
    let mut bench = Table::new("key,value");
    bench.row(&["zone", "UTC"]);
    [
        ("bench.csv", bench),
        ("checks.csv", checks),
        ("containers.csv", containers),
        ("moves.csv", moves),
        ("probes.csv", probes),
        ("readings.csv", readings),
        ("spots.csv", spots),
    ]
    .map(|(name, table)| (name.to_owned(), table.text()))
    .into()
}

fn probes(world: &World, random: &mut Stream) -> (Table, Table) {
    let mut probes = Table::new("probe,spot,since,offset_c,gain,siting");
    let mut readings = Table::new("time,probe,celsius");
    let every = Duration::minutes(if random.chance(0.5) { 30 } else { 60 });
    let spikes = if random.chance(0.3) { 0.002 } else { 0.0 };
    let last_morning = *world.mornings.last().unwrap();
    for (at, season) in world.seasons.iter().enumerate() {
        let present = at == world.present();
        let begin = season.first - Duration::days(BEFORE_DAYS);
        let end = if present { last_morning } else { season.first + Duration::days(WATCHED_DAYS) };
        // The power fails for all, or one probe for itself.
        let gap = |random: &mut Stream| {
            let from = begin + Duration::minutes((random.between(0.0, days(end - begin)) * 1440.0) as i64);
            (from, from + Duration::minutes((random.between(0.5, 4.0).exp() * 60.0) as i64))
        };
        let for_all = random.chance(0.5).then(|| gap(random));
        for (which, spot) in world.spots.iter().enumerate().take(world.spots.len() - 1).filter(|(which, _)| season.there[*which]) {
            // Another year another probe, under another name, where they are moved about.
            let moved = at > 0 && world.probes_moved();
            let probe = if moved { format!("probe {which} of {}", season.batch) } else { format!("probe {which}") };
            if at == 0 || moved || !world.seasons[at - 1].there[which] {
                probes.row(&[&probe, &spot.name, &folder::time(begin), "", "", if beside(spot) { "beside" } else { "in" }]);
            }
            let own = random.chance(0.3).then(|| gap(random));
            // A spot that is new was laid out a day or two before the first sowing there.
            let new = present && !world.seen_before(which);
            let mut time =
                if new { season.first - Duration::days(1) } else { begin } + Duration::seconds(random.between(0.0, 60.0) as i64);
            while time < end {
                let honest = season.tracks[which].at(time) + season.reads_high_c[which] + random.normal(NOISE_SD_C);
                let celsius = if random.chance(spikes) { 85.0 } else { (honest * 16.0).round() / 16.0 };
                if [for_all, own].into_iter().flatten().all(|(from, until)| time < from || time >= until) {
                    readings.row(&[&folder::time(time.trunc_subsecs(0)), &probe, &celsius.to_string()]);
                }
                time += every;
            }
        }
    }
    (probes, readings)
}
