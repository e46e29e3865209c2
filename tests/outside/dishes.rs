//! Looks at dishes kept each at one temperature, as a bench folder.

use std::fmt::Write;

use chrono::{DateTime, Duration, SecondsFormat, Utc};

use super::counts::rows;
use crate::asking::Files;

/// One dish: looks as (day, sprouted, removed).
pub(super) struct Dish {
    pub(super) name: String,
    pub(super) species: String,
    pub(super) celsius: f64,
    pub(super) seeds: u32,
    pub(super) looks: Vec<(f64, u32, u32)>,
}

/// The moment `days` after all were sown.
fn day(days: f64) -> String {
    let sown: DateTime<Utc> = "2026-01-01T00:00:00Z".parse().unwrap();
    (sown + Duration::milliseconds((days * 86_400e3).round() as i64)).to_rfc3339_opts(SecondsFormat::Millis, true)
}

/// The dishes of a file of looks; one without a temperature stands at 20 °C, which days alone take no account of.
pub(super) fn of(file: &str) -> Vec<Dish> {
    let mut dishes: Vec<Dish> = Vec::new();
    for row in rows(file) {
        let look = (row["day"].parse().unwrap(), row["sprouted"].parse().unwrap(), row["removed"].parse().unwrap());
        match dishes.last_mut() {
            Some(last) if last.name == row["container"] => last.looks.push(look),
            _ => dishes.push(Dish {
                name: row["container"].clone(),
                species: "test".to_owned(),
                celsius: row["temp_c"].parse().unwrap_or(20.0),
                seeds: row["seeds"].parse().unwrap(),
                looks: vec![look],
            }),
        }
    }
    dishes
}

/// The bench folder of dishes: each temperature a spot that is set to it, no probe.
pub(super) fn folder(dishes: &[Dish]) -> Files {
    let mut containers = "container,batch,species,lot,treatment,seeds,sown,spot,event,ended\n".to_owned();
    let mut checks = "container,time,sprouted,removed\n".to_owned();
    let mut spots: Vec<String> = Vec::new();
    for Dish { name, species, celsius, seeds, looks } in dishes {
        let ended = looks.last().map_or(0.0, |look| look.0);
        writeln!(containers, "{name},dishes,{species},,,{seeds},{},{celsius} C,radicle,{}", day(0.0), day(ended)).unwrap();
        for (at, sprouted, removed) in looks {
            writeln!(checks, "{name},{},{sprouted},{removed}", day(*at)).unwrap();
        }
        spots.push(format!("{celsius} C,{celsius}\n"));
    }
    spots.sort();
    spots.dedup();
    let files = [
        ("bench.csv", "key,value\nzone,UTC\n".to_owned()),
        ("containers.csv", containers),
        ("checks.csv", checks),
        ("probes.csv", "probe,spot,since\n".to_owned()),
        ("spots.csv", format!("spot,set_c\n{}", spots.concat())),
    ];
    files.into_iter().map(|(name, text)| (name.to_owned(), text)).collect()
}
