//! Benches on which a diagnosis has little to go by: no spot to compare with, probes that overlap or leave gaps, a box carried about all
//! day, a fridge of which nothing is known, clocks that are put forward, back, or set wrong. What cannot be told is said in words.

use std::fmt::Write as _;

use chrono::{DateTime, Duration, Utc};
use serde_json::Value;

use crate::asking::{Asked, Files, named, number};

type Time = DateTime<Utc>;
/// The temperature of a place by time, °C.
type Course = fn(Time) -> f64;

const AS_OF: &str = "2026-03-24T10:00:00Z";

fn at(text: &str) -> Time {
    text.parse().unwrap()
}

fn stamp(time: Time) -> String {
    time.format("%Y-%m-%dT%H:%M:%SZ").to_string()
}

fn swing(time: Time, mean: f64, half: f64) -> f64 {
    let hours = time.timestamp().rem_euclid(86_400) as f64 / 3600.0;
    mean + half * ((hours - 9.0) / 24.0 * std::f64::consts::TAU).sin()
}

fn shelf(time: Time) -> f64 {
    swing(time, 22.0, 1.0)
}

fn sill(time: Time) -> f64 {
    swing(time, 14.0, 5.0)
}

/// What these seeds gain an hour: from 6 °C on, fastest at 27.
fn gained(celsius: f64) -> f64 {
    (celsius - 6.0).clamp(0.0, 21.0) / 24.0
}

/// Readings every twenty minutes.
fn readings(probe: &str, from: Time, until: Time, celsius: impl Fn(Time) -> f64) -> String {
    let mut text = String::new();
    let mut time = from;
    while time <= until {
        writeln!(text, "{},{probe},{:.4}", stamp(time), celsius(time)).unwrap();
        time += Duration::minutes(20);
    }
    text
}

/// Daily looks at 20 seeds that need about 100 °C·d, 18 of which can sprout.
fn looks(name: &str, sown: Time, days: i64, celsius: impl Fn(Time) -> f64) -> String {
    let needs: Vec<f64> =
        (0..18).map(|seed| (f64::from(seed) + 0.5) / 20.0).map(|u: f64| 100.0 * (u / (1.0 - u)).powf(0.08)).collect();
    let (mut text, mut warmth, mut before) = (String::new(), 0.0, 0);
    for day in 0..days {
        let hours = (0..24).map(|hour| sown + Duration::hours(24 * day + hour));
        warmth += hours.map(|time| gained(celsius(time))).sum::<f64>();
        let up = needs.iter().filter(|need| **need <= warmth).count();
        writeln!(text, "{name},{},{}", stamp(sown + Duration::days(day + 1)), up - before).unwrap();
        before = up;
    }
    text
}

/// A bench folder: two boxes on a shelf and two on a sill in winter, from which the plant is known, and what a story adds.
#[derive(Default)]
struct Story {
    zone: &'static str,
    boxes: String,
    looks: String,
    probes: String,
    readings: String,
    spots: String,
    moves: String,
    past: Past,
}

#[derive(Default, PartialEq)]
enum Past {
    #[default]
    Winter,
    None,
}

const SOWN: &str = "2026-03-14T08:00:00Z";

impl Story {
    fn files(&self) -> Files {
        let (from, until) = (at("2026-01-05T08:00:00Z"), at("2026-02-05T08:00:00Z"));
        let mut containers = "container,batch,species,lot,treatment,seeds,sown,spot\n".to_owned();
        let mut checks = "container,time,sprouted\n".to_owned();
        let (mut probes, mut read) = ("probe,spot,since\n".to_owned(), "time,probe,celsius\n".to_owned());
        if self.past == Past::Winter {
            for (name, spot, celsius) in
                [("P1", "shelf", shelf as Course), ("P2", "shelf", shelf), ("P3", "sill", sill), ("P4", "sill", sill)]
            {
                writeln!(containers, "{name},winter,leek,,,20,{},{spot}", stamp(from)).unwrap();
                checks += &looks(name, from, 31, celsius);
            }
            for (probe, spot, celsius) in [("w-shelf", "shelf", shelf as Course), ("w-sill", "sill", sill)] {
                writeln!(probes, "{probe},{spot},{}\n{probe},drawer,{}", stamp(from), stamp(until)).unwrap();
                read += &readings(probe, from, until, celsius);
            }
        }
        let zone = if self.zone.is_empty() { "Europe/Vienna" } else { self.zone };
        [
            ("containers.csv", containers + &self.boxes),
            ("checks.csv", checks + &self.looks),
            ("probes.csv", probes + &self.probes),
            ("readings.csv", read + &self.readings),
            ("spots.csv", format!("spot,kind\n{}", self.spots)),
            ("moves.csv", format!("container,time,spot\n{}", self.moves)),
            ("bench.csv", format!("key,value\nzone,{zone}\n")),
        ]
        .map(|(name, text)| (name.to_owned(), text))
        .into()
    }
}

fn a_box(name: &str, spot: &str) -> String {
    format!("{name},spring,leek,,,20,{SOWN},{spot}\n")
}

/// A probe at each of these spots since the sowing, and its readings until April.
fn measured(spots: &[(&str, Course)]) -> (String, String) {
    let probe = |spot: &str| format!("p-{spot}");
    let placed = spots.iter().map(|(spot, _)| format!("{},{spot},{SOWN}\n", probe(spot))).collect();
    let read = spots.iter().map(|(spot, celsius)| readings(&probe(spot), at(SOWN), at("2026-04-03T08:00:00Z"), celsius)).collect();
    (placed, read)
}

/// The diagnosis of one box and its whole text, on one line.
fn diagnosed(asked: &Asked, as_of: &str, name: &str) -> (Value, String) {
    let text = asked.says(&["diagnose", "--detail", "--as-of", as_of]).replace('\u{a0}', " ");
    let answer = asked.json(&["diagnose", "--as-of", as_of]);
    (named(&answer["containers"], "container", name).clone(), text.split_whitespace().collect::<Vec<_>>().join(" "))
}

fn findings(one: &Value) -> Vec<(&str, &str)> {
    one["findings"].as_array().unwrap().iter().map(|of| (of["kind"].as_str().unwrap(), of["evidence"].as_str().unwrap())).collect()
}

const ALONE: &str = "there is no other spot to compare with; a second place with a probe would tell what this one costs.";

#[test]
fn one_spot_or_a_single_box_has_nothing_to_be_compared_with_and_is_forecast_nevertheless() {
    let (probes, readings) = measured(&[("sill", sill)]);
    for boxes in [vec!["A1"], vec!["A1", "A2", "A3"]] {
        let story = Story {
            boxes: boxes.iter().map(|name| a_box(name, "sill")).collect(),
            looks: boxes.iter().map(|name| looks(name, at(SOWN), 9, sill)).collect(),
            probes: probes.clone(),
            readings: readings.clone(),
            past: Past::None,
            ..Story::default()
        };
        let asked = Asked::about(&story.files());
        let (one, _) = diagnosed(&asked, AS_OF, "A1");
        assert_eq!(findings(&one), [("too-early-to-tell", ALONE)]);
        // Its own warmth is told, and no spot is called the fastest.
        assert!((number(&one, "/mean_c").unwrap() - 14.0).abs() < 0.3, "{one:#}");
        assert!(one["best_spot"].is_null() && one["gain_if_moved"].as_array().unwrap().is_empty(), "{one:#}");
        let forecast = asked.json(&["forecast", "--as-of", AS_OF]);
        assert!(!named(&forecast["containers"], "container", "A1")["half"]["p50"].is_null());
    }
}

#[test]
fn a_spot_without_a_probe_for_most_of_the_time_is_named_as_what_is_missing() {
    let (probes, readings) = measured(&[("sill", sill)]);
    let story = Story {
        boxes: a_box("A1", "sill"),
        looks: looks("A1", at(SOWN), 9, sill),
        probes,
        readings,
        spots: "attic,\n".to_owned(),
        past: Past::None,
        ..Story::default()
    };
    let (one, _) = diagnosed(&Asked::about(&story.files()), AS_OF, "A1");
    let words = "no other spot was measured for most of its time, so there is none to compare with.";
    assert_eq!(findings(&one), [("too-early-to-tell", words)]);
}

/// Two probes side by side for five days, 1.4 °C apart, then none for three days, then a third.
#[test]
fn probes_that_overlap_count_by_halves_are_told_to_disagree_and_a_gap_is_said_to_be_guessed() {
    let (mut probes, mut read) = measured(&[("shelf", shelf)]);
    let (gone, back) = (at("2026-03-19T08:00:00Z"), at("2026-03-22T08:00:00Z"));
    for (probe, more) in [("p-left", 0.0), ("p-right", 1.4)] {
        writeln!(probes, "{probe},sill,{SOWN}\n{probe},drawer,{}", stamp(gone)).unwrap();
        read += &readings(probe, at(SOWN), gone, |time| sill(time) + more);
    }
    writeln!(probes, "p-third,sill,{}", stamp(back)).unwrap();
    read += &readings("p-third", back, at("2026-04-03T08:00:00Z"), sill);
    let story = Story {
        boxes: a_box("A1", "sill") + &a_box("A2", "shelf"),
        looks: looks("A1", at(SOWN), 10, sill) + &looks("A2", at(SOWN), 10, shelf),
        probes,
        readings: read,
        ..Story::default()
    };
    let asked = Asked::about(&story.files());
    let (early, text) = diagnosed(&asked, "2026-03-19T07:00:00Z", "A1");
    // Halfway between the two, and each is named to differ from the other.
    assert!((number(&early, "/mean_c").unwrap() - 14.7).abs() < 0.2, "{early:#}");
    assert!(text.contains("Probe p-left, sill: it reads 1.4 °C below p-right, at the same spot, since "), "{text}");
    assert_eq!(number(&early, "/imputed_share"), Some(0.0));
    let (late, text) = diagnosed(&asked, AS_OF, "A1");
    assert_eq!(findings(&late)[0].0, "cold-spot");
    // Three of ten days, at about the same warmth each.
    let guessed = number(&late, "/imputed_share").unwrap();
    assert!((0.2..0.4).contains(&guessed), "{guessed}");
    assert!(
        text.contains(&format!("Of the warmth of A1 {:.0} in 100 was guessed, for want of readings.", 100.0 * guessed)),
        "{text}"
    );
    let short = asked.says(&["diagnose", "--as-of", AS_OF]);
    assert!(short.contains(" in 100 was guessed, for want of readings."), "in a dozen lines too: {short}");
    // Of the box on the shelf the sill is no longer a measure.
    let (beside, _) = diagnosed(&asked, AS_OF, "A2");
    assert!(findings(&beside)[0].1.starts_with("no other spot was measured for most of its time"), "{beside:#}");
}

/// Five moves a day, from shelf to sill and back: half of its time at each.
#[test]
fn a_box_carried_five_times_a_day_is_judged_by_where_it_really_was() {
    let (probes, readings) = measured(&[("shelf", shelf), ("sill", sill)]);
    let begin = at("2026-03-14T11:00:00Z");
    let nth = |time: Time| (time - begin).num_minutes().div_euclid(288);
    let there = |time: Time| if nth(time) >= 0 && nth(time) % 2 == 0 { shelf(time) } else { sill(time) };
    let moves: String = (0..48)
        .map(|n| format!("A1,{},{}\n", stamp(begin + Duration::minutes(288 * n)), if n % 2 == 0 { "shelf" } else { "sill" }))
        .collect();
    let story = Story {
        boxes: a_box("A1", "sill") + &a_box("A2", "shelf") + &a_box("A3", "sill"),
        looks: looks("A1", at(SOWN), 9, there) + &looks("A2", at(SOWN), 9, shelf) + &looks("A3", at(SOWN), 9, sill),
        probes,
        readings,
        moves,
        ..Story::default()
    };
    let asked = Asked::about(&story.files());
    let (one, text) = diagnosed(&asked, "2026-03-23T10:00:00Z", "A1");
    assert!((number(&one, "/mean_c").unwrap() - 18.0).abs() < 0.3, "{one:#}");
    let (still, _) = diagnosed(&asked, "2026-03-23T10:00:00Z", "A3");
    let (carried, still) = (number(&one, "/delay_days/p50").unwrap(), number(&still, "/delay_days/p50").unwrap());
    // Gaining 12 a day on average against 16 on the shelf and 8 on the sill: 100 °C·d take 8.3 days against 6.3 and 12.5.
    assert!((1.4..2.8).contains(&carried) && (5.0..7.5).contains(&still), "{carried} and {still} days");
    assert!(text.contains("late mostly for its time at sill; it was carried 45 times."), "{text}");
}

#[test]
fn of_a_fridge_without_a_probe_it_is_said_what_cannot_be_told_and_what_would_tell_it() {
    let (probes, readings) = measured(&[("shelf", shelf), ("sill", sill)]);
    let story = Story {
        boxes: a_box("F1", "fridge") + &a_box("F2", "fridge") + &a_box("A2", "shelf"),
        looks: format!("F2,{},0\n", "2026-03-24T09:00:00Z") + &looks("A2", at(SOWN), 9, shelf),
        probes,
        readings,
        spots: "fridge,fridge\n".to_owned(),
        moves: "F2,2026-03-19T08:00:00Z,shelf\n".to_owned(),
        ..Story::default()
    };
    let asked = Asked::about(&story.files());
    let (cold, text) = diagnosed(&asked, AS_OF, "F1");
    let kinds: Vec<&str> = findings(&cold).into_iter().map(|finding| finding.0).collect();
    assert_eq!(kinds, ["too-early-to-tell", "chilling-unknown"]);
    assert!(
        text.contains("nothing tells the temperature at fridge, so how much of its time there counts can't be said."),
        "{text}"
    );
    assert!(text.contains("Put a probe in, beside the seeds; or say what it is set to"), "{text}");
    assert!(cold["delay_days"]["p50"].is_null() && cold["mean_c"].is_null());
    // One that was brought out is judged from then on, as if sown there.
    let (out, _) = diagnosed(&asked, AS_OF, "F2");
    assert!((number(&out, "/mean_c").unwrap() - 22.0).abs() < 0.3, "{out:#}");
    let forecast = asked.json(&["forecast", "--as-of", AS_OF]);
    assert_eq!(named(&forecast["containers"], "container", "F1")["warnings"][0]["kind"], "in-the-cold");
    let first = named(&forecast["containers"], "container", "F2")["half"]["p50"].as_str().unwrap().parse::<Time>().unwrap();
    // 100 °C·d at 16 a day from the 19th on.
    assert!((first - at("2026-03-25T12:00:00Z")).num_hours().abs() < 36, "{first}");
}

/// The same instants told in local times of a zone that puts its clocks forward (or back) in the middle of the batch, and in UTC.
#[test]
fn clocks_put_forward_or_back_in_the_middle_of_a_batch_make_no_hour_longer_or_shorter() {
    for (sown, change, as_of) in [
        ("2026-03-24T08:00:00Z", "2026-03-29T01:00:00Z", "2026-04-01T08:00:00Z"),
        ("2026-10-20T08:00:00Z", "2026-10-25T01:00:00Z", "2026-10-28T08:00:00Z"),
    ] {
        let (sown, change) = (at(sown), at(change));
        let until = at(as_of);
        let boxes: String = [("A1", "sill"), ("A2", "shelf")]
            .iter()
            .map(|(name, spot)| format!("{name},turn,leek,,,20,{},{spot}\n", stamp(sown)))
            .collect();
        let mut probes = String::new();
        let mut read = String::new();
        for (spot, celsius) in [("sill", sill as Course), ("shelf", shelf)] {
            writeln!(probes, "p-{spot},{spot},{}", stamp(sown)).unwrap();
            read += &readings(&format!("p-{spot}"), sown, until, celsius);
        }
        // Looks on both sides of the change, also within two hours of it.
        let mut times: Vec<Time> = (1..8).map(|day| sown + Duration::days(day)).collect();
        times.extend([change - Duration::minutes(90), change + Duration::minutes(90)]);
        times.sort_unstable();
        let checks = |text: &dyn Fn(Time) -> String| {
            times.iter().map(|time| format!("A1,{},0\nA2,{},0\n", text(*time), text(*time))).collect::<String>()
        };
        let story = |zone: &'static str, looks: String| Story {
            zone,
            boxes: boxes.clone(),
            looks,
            probes: probes.clone(),
            readings: read.clone(),
            ..Story::default()
        };
        let vienna: chrono_tz::Tz = "Europe/Vienna".parse().unwrap();
        let local = |time: Time| time.with_timezone(&vienna).format("%Y-%m-%dT%H:%M:%S").to_string();
        let here = Asked::about(&story("Europe/Vienna", checks(&local)).files());
        let utc = Asked::about(&story("UTC", checks(&stamp)).files());
        let [here_says, utc_says] = [&here, &utc].map(|asked| asked.json(&["diagnose", "--as-of", as_of]));
        for name in ["A1", "A2"] {
            let [one, other] = [&here_says, &utc_says].map(|answer| named(&answer["containers"], "container", name));
            for of in
                ["/mean_c", "/rate_per_day", "/hours_below_base", "/hours_above_optimum", "/delay_days/p50", "/delay_days/p90"]
            {
                assert_eq!(number(one, of), number(other, of), "{name}{of} about {change}");
            }
            // Eight times 24 hours.
            let days = number(one, "/mean_c").unwrap();
            assert!((days - if name == "A1" { 14.0 } else { 22.0 }).abs() < 0.05, "{name} {days}");
        }
        let forecast = here.json(&["forecast", "--as-of", as_of, "--days", "3"]);
        let by_date = named(&forecast["containers"], "container", "A1")["by_date"].as_array().unwrap().clone();
        let days: Vec<Time> = by_date.iter().map(|day| day["time"].as_str().unwrap().parse().unwrap()).collect();
        assert!(days.iter().zip(1..).all(|(day, n)| *day == until + Duration::days(n)), "{days:?}");
    }
}

/// A time that clocks showed twice is the first of the two, noted; one that they skipped is refused with what it should be.
#[test]
fn a_local_time_shown_twice_is_taken_for_the_first_and_one_never_shown_is_refused() {
    let story = |look: &str| Story { boxes: a_box("A1", "sill"), looks: format!("A1,{look},0\n"), ..Story::default() }.files();
    let folder = tempfile::tempdir().unwrap();
    let bring = |files: &Files, bench: &str| {
        files.iter().for_each(|(name, text)| std::fs::write(folder.path().join(name), text).unwrap());
        let done = crate::asking::program(&folder.path().join(bench)).arg("import").arg(folder.path()).output().unwrap();
        (done.status.code(), String::from_utf8(done.stderr).unwrap())
    };
    let (code, told) = bring(&story("2026-03-29T02:30:00"), "one.db");
    assert_eq!(code, Some(2));
    assert!(told.contains("2026-03-29T02:30:00") && told.contains("nothing was imported"), "{told}");
    let (code, told) = bring(&story("2025-10-26T02:30:00"), "two.db");
    assert_eq!(code, Some(2), "before its sowing: {told}");
    let sown_before =
        story("2025-10-26T02:30:00").into_iter().map(|(name, text)| (name, text.replace(SOWN, "2025-10-20T08:00:00Z"))).collect();
    let (code, told) = bring(&sown_before, "three.db");
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("2025-10-26T02:30:00") && told.contains("first"), "{told}");
}

/// Entered while the computer's clock was three hours ahead; it has been set back since.
#[test]
fn what_is_on_record_for_later_than_now_is_left_out_and_said_to_be() {
    let now: Time = std::time::SystemTime::now().into();
    let story = Story {
        boxes: format!("A1,spring,leek,,,20,{},sill\n", stamp(now - Duration::days(6))),
        looks: format!("A1,{},0\nA1,{},3\n", stamp(now - Duration::days(1)), stamp(now + Duration::hours(3))),
        probes: format!("p-sill,sill,{}\n", stamp(now - Duration::days(6))),
        readings: readings("p-sill", now - Duration::days(6), now + Duration::hours(3), |_| 19.0),
        ..Story::default()
    };
    let asked = Asked::about(&story.files());
    for command in ["forecast", "diagnose"] {
        let done = asked.run(&[command, "--json"]);
        let told = String::from_utf8(done.stderr).unwrap();
        assert_eq!(done.status.code(), Some(0), "{told}");
        assert!(
            told.starts_with("seedclock: note: 1 entry and readings are on record for later than now (the last for "),
            "{told}"
        );
        assert!(
            told.ends_with(
                "left out: was the clock ahead then, or set back since?\n  next: `seedclock status` says how it stands with the clock\n"
            ),
            "{told}"
        );
        if command == "forecast" {
            let answer: Value = serde_json::from_slice(&done.stdout).unwrap();
            assert_eq!(named(&answer["containers"], "container", "A1")["sprouted"], 0, "the three are not yet up");
        }
    }
}
