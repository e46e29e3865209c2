//! Tables of looks under `tests/data` as evidence.

use std::collections::BTreeMap;
use std::path::PathBuf;

use seedclock::bench::{Check, Container, Name, Trial};
use seedclock::civil::Time;
use seedclock::germination::{Evidence, Passage};
use seedclock::thermal::{Profile, Stretch};

pub(super) fn data(file: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(file)
}

pub(super) fn rows(file: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_path(data(file)).unwrap();
    reader.deserialize().map(|row| row.unwrap()).collect()
}

pub(super) fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

/// A container kept at one temperature: looks as (day, sprouted, removed).
pub(super) fn constant(container: &str, celsius: f64, seeds: u32, looks: &[(f64, u32, u32)]) -> Evidence {
    let at = |days: f64| Time::UNIX_EPOCH + chrono::Duration::microseconds((days * 86_400e6) as i64);
    let look = |(day, sprouted, removed): &(f64, u32, u32)| Check {
        sprouted: *sprouted,
        removed: *removed,
        ..Check::none_new(name(container), at(*day))
    };
    let sown = Container::new(name(container), name("trials"), name("test"), name("cabinet"), at(0.0));
    let trial = Trial { checks: looks.iter().map(look).collect(), ..Trial::new(Container { seeds: Some(seeds), ..sown }) };
    let days = std::iter::once(0.0).chain(looks.iter().map(|look| look.0)).zip(looks.iter().map(|look| look.0));
    let passages = days.map(|(from, until)| {
        let stretch = Stretch { known: Profile::new([(celsius, until - from)]), ..Stretch::default() };
        vec![Passage::given(name("cabinet"), stretch)]
    });
    Evidence::new(&trial, Vec::new(), passages.collect())
}

/// A file of daily looks: one piece of evidence a container. A container without a temperature is taken to be at 0 °C, for fits
/// on days alone.
pub(super) fn looked_at(file: &str) -> Vec<Evidence> {
    type Looks = Vec<(f64, u32, u32)>;
    let mut containers: Vec<(String, f64, u32, Looks)> = Vec::new();
    for row in rows(file) {
        let look = (row["day"].parse().unwrap(), row["sprouted"].parse().unwrap(), row["removed"].parse().unwrap());
        match containers.last_mut() {
            Some(last) if last.0 == row["container"] => last.3.push(look),
            _ => {
                let celsius = row["temp_c"].parse().unwrap_or(0.0);
                containers.push((row["container"].clone(), celsius, row["seeds"].parse().unwrap(), vec![look]));
            }
        }
    }
    containers.iter().map(|(container, celsius, seeds, looks)| constant(container, *celsius, *seeds, looks)).collect()
}
