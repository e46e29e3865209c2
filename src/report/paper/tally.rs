//! A sheet with a row a box and a column a day, to be filled in by hand beside the boxes.

use askama::Template;
use chrono::{Duration, NaiveDate, NaiveTime};

use super::{File, PAPER_STYLE};
use crate::bench::{Bench, Name, Trial};
use crate::charts::{Code, Paper, QUIET_MODULES, code};
use crate::civil::{Time, local_date, reckon};
use crate::wording::{day, stand_words};

/// How many days a sheet may have.
pub const DAYS: [usize; 2] = [7, 14];

/// A sheet as it is wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tally {
    /// Its first day.
    pub from: NaiveDate,
    /// How many days, one of [`DAYS`].
    pub days: usize,
    /// The paper.
    pub paper: Paper,
    /// Where the page is reached.
    pub address: String,
}

/// The boxes that are looked at from a day on for some days, spot by spot: sown before the last of them, not ended before the first. They stand
/// where they stood at the end of the first, as on a sheet that was printed then.
#[must_use]
pub fn by_spot(bench: &Bench, from: NaiveDate, days: usize, now: Time) -> Vec<(&Name, Vec<&Trial>)> {
    let begins = midnight(bench, from);
    let evening = midnight(bench, from + Duration::days(1));
    let last = midnight(bench, from + Duration::days(days as i64 - 1));
    let there = |trial: &&Trial| {
        let container = &trial.container;
        let ended = trial.ended_at(begins.min(now)).filter(|ended| *ended < begins);
        container.owner.is_none() && container.sown < last && ended.is_none()
    };
    let boxes: Vec<&Trial> = bench.trials.values().filter(there).collect();
    let spots = bench.spots.keys().map(|spot| {
        let here = boxes.iter().copied().filter(|trial| trial.spot_at(evening) == spot);
        (spot, here.collect::<Vec<_>>())
    });
    spots.filter(|(_, here)| !here.is_empty()).collect()
}

/// When a day begins in the bench's zone, or an hour later where midnight is left out.
fn midnight(bench: &Bench, day: NaiveDate) -> Time {
    let local = day.and_time(NaiveTime::MIN);
    let reckoned = reckon(local, bench.zone, "").or_else(|_| reckon(local + Duration::hours(1), bench.zone, ""));
    reckoned.map(|reckoned| reckoned.time).unwrap_or_else(|_| local.and_utc())
}

/// Whether a box could be looked at on a day: sown before that day, and not ended before. On the day of sowing nobody looks for sprouts, and
/// a round in the morning would come before it.
#[must_use]
pub fn looked_at(trial: &Trial, day: NaiveDate, zone: crate::civil::Zone) -> bool {
    let container = &trial.container;
    local_date(container.sown, zone) < day && container.ended.is_none_or(|ended| day <= local_date(ended, zone))
}

struct Row {
    name: String,
    species: String,
    stand: String,
    /// Which days it can be looked at.
    open: Vec<bool>,
}

struct Link {
    modules: usize,
    quiet: usize,
    code: Code,
}

#[derive(Template)]
#[template(path = "paper/tally.html", config = "src/report/askama.toml")]
struct Sheet {
    paper: &'static str,
    days: usize,
    span: String,
    heads: Vec<(String, String)>,
    spots: Vec<(String, Vec<Row>)>,
    link: Option<Link>,
    address: String,
}

/// The sheet as a part of a page.
///
/// # Errors
/// The template cannot be filled in, which no contents can bring about.
pub fn tally_part(bench: &Bench, spots: &[(&Name, Vec<&Trial>)], tally: &Tally) -> Result<String, askama::Error> {
    let days: Vec<NaiveDate> = tally.from.iter_days().take(tally.days).collect();
    let row = |trial: &&Trial| Row {
        name: trial.container.name.to_string(),
        species: trial.container.species.to_string(),
        stand: stand_words(trial),
        open: days.iter().map(|day| looked_at(trial, *day, bench.zone)).collect(),
    };
    let address = format!("{}/grid?from={}&days={}", tally.address, tally.from, tally.days);
    let last = days.last().copied().unwrap_or(tally.from);
    Sheet {
        paper: tally.paper.word(),
        days: tally.days,
        span: format!("{} to {}", long_day(tally.from), long_day(last)),
        heads: days.iter().map(|date| (date.format("%a").to_string(), day(*date))).collect(),
        spots: spots.iter().map(|(spot, here)| (spot.to_string(), here.iter().map(row).collect())).collect(),
        link: code(&address).map(|code| Link { modules: code.modules + 2 * QUIET_MODULES, quiet: QUIET_MODULES, code }),
        address,
    }
    .render()
}

fn long_day(date: NaiveDate) -> String {
    date.format("%a %-d %b %Y").to_string()
}

/// The sheet as a file of its own.
///
/// # Errors
/// The template cannot be filled in, which no contents can bring about.
pub fn tally_html(bench: &Bench, spots: &[(&Name, Vec<&Trial>)], tally: &Tally) -> Result<String, askama::Error> {
    File { title: "Tally sheet", style: PAPER_STYLE, part: &tally_part(bench, spots, tally)? }.render()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Container, Move, Spot};
    use crate::civil::Zone;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    fn at(day: i64, hour: i64) -> Time {
        Time::UNIX_EPOCH + Duration::days(20_000 + day) + Duration::hours(hour)
    }

    /// Days count from 4 October 2024.
    fn bench() -> Bench {
        let mut bench = Bench::empty(Zone::Europe__Berlin);
        for spot in ["mat", "sill"] {
            bench.spots.insert(name(spot), Spot::named(name(spot)));
        }
        for (one, spot, sown, ended) in [
            ("A1", "sill", 0, None),
            ("A2", "mat", 0, None),
            ("A3", "sill", 0, Some(4)),
            ("A4", "mat", 9, None),
            ("A5", "mat", 30, None),
        ] {
            let container = Container::new(name(one), name("b"), name("leek"), name(spot), at(sown, 8));
            let container = Container { seeds: Some(20), ended: ended.map(|day| at(day, 8)), ..container };
            bench.trials.insert(name(one), Trial::new(container));
        }
        let moved = Move { container: name("A1"), time: at(6, 8), spot: name("mat") };
        bench.trials.get_mut(&name("A1")).unwrap().moves.push(moved);
        bench
    }

    fn told(bench: &Bench, day: i64) -> Vec<(String, Vec<String>)> {
        let from = local_date(at(day, 8), bench.zone);
        let names = |here: Vec<&Trial>| here.into_iter().map(|trial| trial.container.name.to_string()).collect();
        by_spot(bench, from, 7, at(12, 8)).into_iter().map(|(spot, here)| (spot.to_string(), names(here))).collect()
    }

    #[test]
    fn boxes_stand_where_they_stood_when_the_sheet_was_hung_up() {
        let bench = bench();
        let spots = |mat: &[&str], sill: &[&str]| {
            let of =
                |spot: &str, names: &[&str]| (spot.to_owned(), names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>());
            [of("mat", mat), of("sill", sill)].into_iter().filter(|(_, names)| !names.is_empty()).collect::<Vec<_>>()
        };
        assert_eq!(told(&bench, 3), spots(&["A2"], &["A1", "A3"]));
        assert_eq!(told(&bench, 5), spots(&["A2", "A4"], &["A1"]));
        assert_eq!(told(&bench, 6), spots(&["A1", "A2", "A4"], &[]));
    }

    #[test]
    fn a_sheet_says_what_its_columns_mean_and_leads_back_to_the_grid_of_its_days() {
        let bench = bench();
        let from = NaiveDate::from_ymd_opt(2024, 10, 7).unwrap();
        let tally = Tally { from, days: 7, paper: Paper::A4, address: "http://bench.lan:7333".to_owned() };
        let html = tally_html(&bench, &by_spot(&bench, from, 7, at(4, 0)), &tally).unwrap();
        assert!(html.contains("Mon 7 Oct 2024 to Sun 13 Oct 2024"), "{html}");
        assert!(html.contains("http://bench.lan:7333/grid?from=2024-10-07&#38;days=7") && html.contains("nothing new"), "{html}");
        // Each row has a cell a day: A3 ended on the second.
        assert_eq!((html.matches("<td class=\"tick\"").count(), html.matches("<td class=\"shut\"").count()), (7 + 7 + 2, 5));
        assert!(!html.contains("<script") && !html.contains("src=") && !html.contains("<link"));
    }
}
