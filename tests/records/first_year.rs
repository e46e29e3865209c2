//! A grower's first year through the program: a packet and nothing else, then the first looks, then a second batch.

use std::fmt::Write as _;

use chrono::{DateTime, Duration, Timelike};
use serde_json::Value;

use super::Desk;
use crate::readme::words_of;

/// Cosmos on a windowsill from a packet, without a probe; five weeks after they were done two boxes of seeds from a neighbour, with a probe.
const YEAR: &str = r#"
sow K1 --species cosmos --lot "cosmos packet" --seeds 24 --spot sill --event emergence --depth 5 --at "2025-03-01 09:00"
lot "cosmos packet" --species cosmos --packet-days 7-14 --packet-c 20 --packet-percent 80
forecast --as-of "2025-03-01 18:00"
spot sill --set 16 --sd 1.5
forecast --as-of "2025-03-01 18:30"
check K1 none --at "2025-03-07 08:00"
check K1 none --at "2025-03-11 08:00"
forecast --as-of "2025-03-11 08:30"
check K1 3 --at "2025-03-15 08:00"
check K1 6 --at "2025-03-17 08:00"
forecast --as-of "2025-03-17 08:30"
check K1 7 --at "2025-03-19 08:00"
check K1 2 --at "2025-03-22 08:00"
check K1 1 --at "2025-03-26 08:00"
check K1 none --at "2025-04-03 08:00"
close K1 --at "2025-04-03 08:10"
fit --as-of "2025-04-04 08:00"
sow K2 K3 --species cosmos --lot "neighbour's own" --seeds 20 --spot shelf --event emergence --depth 5 --at "2025-05-09 09:00"
probe place white shelf --since "2025-05-09 09:00"
import --readings may.csv
forecast --as-of "2025-05-11 09:00"
check K2 K3 none --at "2025-05-14 08:00"
check K2 2 --at "2025-05-16 08:00"
check K3 1 --at "2025-05-16 08:01"
check K2 6 --at "2025-05-18 08:00"
check K3 5 --at "2025-05-18 08:01"
check K2 5 --at "2025-05-20 08:00"
check K3 4 --at "2025-05-20 08:01"
check K2 1 --at "2025-05-24 08:00"
check K3 3 --at "2025-05-24 08:01"
check K2 K3 none --at "2025-05-29 08:00"
forecast --as-of "2025-05-29 09:00"
forecast --replay --as-of "2025-05-29 09:00"
diagnose --as-of "2025-05-19 09:00"
fit --as-of "2025-05-29 09:00"
"#;

/// Three weeks of a shelf in a room that is heated by day.
fn readings() -> String {
    let mut table = "time,probe,celsius\n".to_owned();
    let start = DateTime::parse_from_rfc3339("2025-05-09T07:00:00Z").unwrap();
    for step in 0..21 * 48 {
        let time = start + Duration::minutes(30 * step);
        let warmer_by_day = if (6..20).contains(&time.hour()) { 2.0 } else { -1.5 };
        let slow_drift = 0.25 * f64::from((step % 336) as u16) / 48.0 - 0.9;
        let _ = writeln!(table, "{},white,{:.2}", time.format("%Y-%m-%dT%H:%M:%SZ"), 18.4 + warmer_by_day + slow_drift);
    }
    table
}

/// Numbers with decimals rounded to whole ones: their last digits may differ between machines.
fn rounded(text: &str) -> String {
    let number =
        |text: &str| text.len() > 2 && text.bytes().filter(|byte| *byte == b'.').count() == 1 && text.parse::<f64>().is_ok();
    let mut out = String::new();
    let mut word = String::new();
    for letter in text.chars().chain(['\n']) {
        if letter.is_ascii_digit() || letter == '.' {
            word.push(letter);
            continue;
        }
        if number(&word) && !word.ends_with('.') {
            let _ = write!(out, "{:.0}", word.parse::<f64>().unwrap());
        } else {
            out.push_str(&word);
        }
        word.clear();
        out.push(letter);
    }
    out.pop();
    out.replace("−0 ", "0 ")
}

/// Days from the 10 % to the 90 % point of the time by which half of a box's sprouts are up, and the days to the middle, both from sowing.
fn half(desk: &Desk, container: &str, sown: &str, as_of: &str) -> (f64, f64) {
    let answer: Value = serde_json::from_str(&desk.says(&["forecast", "--json", "--as-of", as_of])).unwrap();
    let one = crate::asking::named(&answer["containers"], "container", container);
    let sown = DateTime::parse_from_rfc3339(sown).unwrap();
    let [low, middle, high] = ["p10", "p50", "p90"].map(|point| {
        let time =
            one["half"][point].as_str().unwrap_or_else(|| panic!("no {point} of {container} as of {as_of}: {}", one["half"]));
        (DateTime::parse_from_rfc3339(time).unwrap() - sown).num_minutes() as f64 / 1440.0
    });
    (high - low, middle)
}

#[test]
fn a_first_year_from_the_packet_to_the_second_batch() {
    let desk = Desk::new();
    std::fs::write(desk.path("may.csv"), readings()).unwrap();
    let mut told = String::new();
    let mut said: Vec<(String, String)> = Vec::new();
    for line in YEAR.lines().filter(|line| !line.is_empty()) {
        let words = words_of(line);
        let answer = desk.run(&words.iter().map(String::as_str).collect::<Vec<_>>());
        let out = if line.contains("--as-of") { rounded(&answer.out) } else { answer.out.clone() };
        let _ = write!(told, "$ seedclock {line}\n{out}{}", answer.err);
        if answer.code != 0 {
            let _ = writeln!(told, "(exit code {})", answer.code);
        }
        assert!(answer.code < 2, "{line}: {}", answer.err);
        said.push((line.to_owned(), answer.out.split_whitespace().collect::<Vec<_>>().join(" ")));
    }
    insta::assert_snapshot!(told);

    let of = |line: &str| &said.iter().find(|(typed, _)| typed == line).unwrap_or_else(|| panic!("{line} was typed")).1;
    let packet = "the packet says: 7–14 days at 20 °C, 80 in 100, to the seedling showing";
    assert!(of("forecast --as-of \"2025-03-01 18:00\"").contains("no temperature is known where it stands"));
    assert!(of("forecast --as-of \"2025-03-01 18:30\"").contains(packet), "all from the packet, and it says so");
    assert!(!of("forecast --as-of \"2025-03-17 08:30\"").contains("has taught anything yet"), "now the first sprouts speak too");
    let fit = of("fit --as-of \"2025-04-04 08:00\"");
    for words in ["assumed beforehand: what", packet, "not told by your sowings (assumed about", "your sowings and what we assumed"]
    {
        assert!(fit.contains(words), "{words}: {fit}");
    }
    assert!(of("forecast --replay --as-of \"2025-05-29 09:00\"").contains("mornings"));

    // From the packet to one's own looks, and to a second batch, the ranges narrow.
    let (first, second) = ("2025-03-01T08:00:00Z", "2025-05-09T07:00:00Z");
    let (packet_range, packet_middle) = half(&desk, "K1", first, "2025-03-01 18:30");
    let (looks_range, _) = half(&desk, "K1", first, "2025-03-17 08:30");
    assert!(looks_range < 0.5 * packet_range, "{looks_range} days wide after the first sprouts, {packet_range} from the packet");
    let (second_range, second_middle) = half(&desk, "K2", second, "2025-05-11 09:00");
    assert!(
        second_range / second_middle < 0.75 * packet_range / packet_middle,
        "{second_range} of {second_middle} days with a first batch to learn from, {packet_range} of {packet_middle} from the packet"
    );
}
