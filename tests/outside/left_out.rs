//! Rice germinated at five temperatures, each forecast from the four others: the counts by day that a bench with these four as past
//! sowings is told for a box at the fifth, on the day that it is sown.
//!
//! Counts: `tests/data/rice-by-temperature.csv`, whose source `tests/data/README.md` names.

#![allow(dead_code, reason = "the table is printed by the example alone")]

use std::fmt::Write;

use chrono::{DateTime, Duration, SecondsFormat, Utc};

use crate::simulator::proof::asked::Asked;
use crate::simulator::proof::counts::{Levels, held, loss, quantiles};

/// Days that are forecast.
const DAYS: usize = 16;

/// One dish: °C, seeds, and by look the day and all sprouts up to then.
struct Dish {
    celsius: f64,
    seeds: u32,
    looks: Vec<(f64, u32)>,
}

/// What is said of one temperature that was left out.
pub(crate) struct LeftOut {
    pub(crate) celsius: f64,
    pub(crate) seeds: u32,
    /// Those on which somebody looked.
    pub(crate) days: Vec<Day>,
}

/// Counts by the end of one day.
pub(crate) struct Day {
    pub(crate) day: usize,
    pub(crate) said: Levels,
    pub(crate) by_calendar: Levels,
    pub(crate) seen: u32,
}

fn dishes() -> Vec<Dish> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/rice-by-temperature.csv");
    let mut dishes: Vec<Dish> = Vec::new();
    for row in csv::Reader::from_path(path).unwrap().deserialize::<(f64, f64, Option<f64>, u32)>() {
        let (celsius, _, to_day, sprouted) = row.unwrap();
        if dishes.last().is_none_or(|last| last.celsius < celsius) {
            dishes.push(Dish { celsius, seeds: 0, looks: Vec::new() });
        }
        let dish = dishes.last_mut().unwrap();
        dish.seeds += sprouted;
        if let Some(day) = to_day {
            let before = dish.looks.last().map_or(0, |look| look.1);
            dish.looks.push((day, before + sprouted));
        }
    }
    dishes
}

fn time(time: DateTime<Utc>) -> String {
    time.to_rfc3339_opts(SecondsFormat::Millis, true)
}

/// The bench: all dishes but one sown long ago and given up, that one sown today.
fn forecast(dishes: &[Dish], left_out: usize) -> Vec<Option<Levels>> {
    let past: DateTime<Utc> = "2026-01-01T00:00:00Z".parse().unwrap();
    let today = past + Duration::days(100);
    let mut containers = "container,batch,species,lot,treatment,seeds,sown,spot,event,ended\n".to_owned();
    let mut checks = "container,time,sprouted\n".to_owned();
    let mut spots = "spot,set_c\n".to_owned();
    for (at, Dish { celsius, seeds, looks }) in dishes.iter().enumerate() {
        writeln!(spots, "{celsius} C,{celsius}").unwrap();
        let when = |day: f64| past + Duration::milliseconds((day * 86_400e3).round() as i64);
        if at == left_out {
            writeln!(containers, "{celsius},now,rice,,,{seeds},{},{celsius} C,radicle,", time(today)).unwrap();
            continue;
        }
        let ended = looks.last().map_or(0.0, |look| look.0);
        writeln!(containers, "{celsius},then,rice,,,{seeds},{},{celsius} C,radicle,{}", time(past), time(when(ended))).unwrap();
        let mut before = 0;
        for (day, sprouted) in looks {
            writeln!(checks, "{celsius},{},{}", time(when(*day)), sprouted - before).unwrap();
            before = *sprouted;
        }
    }
    let folder = [
        ("bench.csv", "key,value\nzone,UTC\n".to_owned()),
        ("containers.csv", containers),
        ("checks.csv", checks),
        ("probes.csv", "probe,spot,since\n".to_owned()),
        ("spots.csv", spots),
    ];
    let folder = folder.into_iter().map(|(name, text)| (name.to_owned(), text)).collect();
    let answers = Asked::about(&folder).answers(today, DAYS);
    answers.by_date(&dishes[left_out].celsius.to_string()).unwrap().into_iter().map(|(_, levels)| levels).collect()
}

/// Each temperature forecast from the others.
pub(crate) fn left_out() -> Vec<LeftOut> {
    let dishes = dishes();
    let seen_by = |dish: &Dish, day: f64| dish.looks.iter().rev().find(|look| look.0 <= day).map_or(0, |look| look.1);
    (0..dishes.len())
        .map(|at| {
            let dish = &dishes[at];
            let said = forecast(&dishes, at);
            let looked_at = |day: usize| dish.looks.iter().any(|look| look.0 == day as f64);
            let others = || dishes.iter().enumerate().filter(move |(other, _)| *other != at).map(|(_, other)| other);
            let by_calendar = |day: usize| {
                let sprouted: u32 = others().map(|other| seen_by(other, day as f64)).sum();
                let share = f64::from(sprouted) / f64::from(others().map(|other| other.seeds).sum::<u32>());
                quantiles(0, dish.seeds, &[share])
            };
            let day = |day: usize| {
                let seen = seen_by(dish, day as f64);
                Some(Day { day, said: said[day - 1]?, by_calendar: by_calendar(day), seen })
            };
            let days = (1..=DAYS).filter(|day| looked_at(*day)).filter_map(day);
            LeftOut { celsius: dish.celsius, seeds: dish.seeds, days: days.collect() }
        })
        .collect()
}

/// Mean losses by seed of what was said and of calendar days, in percent of the seeds.
pub(crate) fn losses(of: &LeftOut) -> [f64; 2] {
    let mean = |pick: &dyn Fn(&Day) -> Levels| {
        100.0 * of.days.iter().map(|day| loss(&pick(day), day.seen, of.seeds)).sum::<f64>() / of.days.len() as f64
    };
    [mean(&|day| day.said), mean(&|day| day.by_calendar)]
}

/// Loss and coverage by temperature.
pub(crate) fn table() -> String {
    let mut table = "| left out | days looked at | loss, % of the seeds | by calendar days | 50 % ranges held | 80 % | 90 % | said (5 to 95 %) and seen, by day |\n\
                     |---|---|---|---|---|---|---|---|\n"
        .to_owned();
    let percent = |held: usize, of: usize| format!("{:.0} %", 100.0 * held as f64 / of as f64);
    let (mut all_held, mut all_days, mut all_losses) = ([0; 3], 0, [0.0; 2]);
    let all = left_out();
    for one in &all {
        let count = one.days.len();
        let losses = losses(one);
        let ranges = [0, 1, 2].map(|range| one.days.iter().filter(|day| held(&day.said, day.seen)[range]).count());
        let some = one.days.iter().filter(|day| [3, 5, 8, 12].contains(&day.day));
        let said: Vec<String> =
            some.map(|Day { day, said, seen, .. }| format!("day {day}: {}–{}, {seen}", said[0], said[6])).collect();
        let held = ranges.map(|held| percent(held, count)).join(" | ");
        writeln!(table, "| {} °C | {count} | {:.1} | {:.1} | {held} | {} |", one.celsius, losses[0], losses[1], said.join("; "))
            .unwrap();
        for (sum, held) in all_held.iter_mut().zip(ranges) {
            *sum += held;
        }
        all_days += count;
        for (sum, loss) in all_losses.iter_mut().zip(losses) {
            *sum += loss / all.len() as f64;
        }
    }
    let held = all_held.map(|held| percent(held, all_days)).join(" | ");
    writeln!(table, "| all | {all_days} | {:.1} | {:.1} | {held} | |", all_losses[0], all_losses[1]).unwrap();
    table
}

/// Of a species that nobody has told it about, from sowings at other temperatures alone: better than going by days, and its 90 %
/// ranges, days of one dish falling together, hold on most days.
#[test]
fn rice_at_each_temperature_is_forecast_from_the_others_better_than_by_days() {
    let all = left_out();
    assert_eq!(all.iter().map(|one| one.celsius).collect::<Vec<_>>(), [16.0, 22.0, 28.0, 34.0, 40.0]);
    let sum = |which: usize| all.iter().map(|one| losses(one)[which]).sum::<f64>();
    assert!(sum(0) < 0.75 * sum(1), "{}", table());
    let days = all.iter().flat_map(|one| &one.days);
    let (held, count) = days.fold((0, 0), |sum, day| (sum.0 + usize::from(held(&day.said, day.seen)[2]), sum.1 + 1));
    assert!(count > 50 && 10 * held >= 8 * count, "{}", table());
}
