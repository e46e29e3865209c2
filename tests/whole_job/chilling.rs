//! A winter's moist chilling through the built program: two bags of gentians in a fridge, one frozen, one in a door too warm; what is
//! told of them, what of boxes that were brought in too early, and what three lengths teach.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use chrono::{DateTime, Duration, Utc};
use serde_json::Value;

use super::written_shapes::written;
use crate::asking::{Asked, Files, named, number};

fn at(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

/// Readings every half hour.
fn readings(probe: &str, from: &str, until: &str, celsius: impl Fn(DateTime<Utc>) -> f64) -> String {
    let mut text = String::new();
    let mut time = at(from);
    while time <= at(until) {
        writeln!(text, "{},{probe},{:.4}", time.format("%Y-%m-%dT%H:%M:%SZ"), celsius(time)).unwrap();
        time += Duration::minutes(30);
    }
    text
}

fn folder(tables: &[(&str, String)]) -> Files {
    let heads = [
        ("containers.csv", "container,batch,species,lot,treatment,seeds,sown,spot"),
        ("checks.csv", "container,time,sprouted"),
        ("probes.csv", "probe,spot,since"),
        ("bench.csv", "key,value\nzone,Europe/Vienna"),
    ];
    let mut files: Files = heads.iter().map(|(name, head)| ((*name).to_owned(), format!("{head}\n"))).collect();
    files.extend(tables.iter().map(|(name, text)| ((*name).to_owned(), text.clone())));
    files
}

/// Two bags of gentians, wetted on 4 January, in fridge and door; the shelf froze for three hours on 2 March and the door stood
/// open for two days before the 3rd; clocks went forward on 29 March. A third bag lies in a cellar fridge of which nothing is known.
fn winter() -> Files {
    let (from, until) = ("2026-01-04T08:00:00Z", "2026-03-31T08:00:00Z");
    let shelf = readings("p-shelf", from, until, |time| {
        let froze = time >= at("2026-03-02T01:00:00Z") && time < at("2026-03-02T04:00:00Z");
        if froze { -1.5 } else { 3.5 }
    });
    let door = readings("p-door", from, until, |time| {
        let open = time >= at("2026-03-01T08:00:00Z") && time < at("2026-03-03T08:00:00Z");
        if open { 11.0 } else { 5.0 }
    });
    folder(&[
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot\n\
             F1,winter,gentian,alp,,40,2026-01-04T08:00:00Z,fridge\n\
             F2,winter,gentian,alp,,40,2026-01-04T08:00:00Z,door\n\
             F3,winter,gentian,alp,C(30),40,2026-01-04T08:00:00Z,cellar\n"
                .to_owned(),
        ),
        (
            "checks.csv",
            "container,time,sprouted\nF1,2026-02-27T08:00:00Z,0\nF2,2026-02-27T08:00:00Z,2\nF3,2026-02-27T08:00:00Z,0\n".to_owned(),
        ),
        ("lots.csv", "lot,species,chill_days\nalp,gentian,60\n".to_owned()),
        ("spots.csv", "spot,kind\nfridge,fridge\ndoor,fridge\ncellar,fridge\n".to_owned()),
        ("probes.csv", format!("probe,spot,since\np-shelf,fridge,{from}\np-door,door,{from}\n")),
        ("readings.csv", format!("time,probe,celsius\n{shelf}{door}")),
    ])
}

fn todo(asked: &Asked, as_of: &str) -> Vec<(String, String, String)> {
    let done = asked.run(&["status", "--json", "--as-of", as_of]);
    let answer: Value = serde_json::from_slice(&done.stdout).unwrap();
    let text = |one: &Value, key: &str| one[key].as_str().unwrap().to_owned();
    answer["todo"].as_array().unwrap().iter().map(|one| (text(one, "kind"), text(one, "message"), text(one, "next"))).collect()
}

fn findings(asked: &Asked, as_of: &str, container: &str) -> Vec<(String, String, Option<String>)> {
    let done = asked.run(&["diagnose", "--json", "--as-of", as_of]);
    let answer: Value = serde_json::from_slice(&done.stdout).unwrap();
    let one = named(&answer["containers"], "container", container);
    let text = |one: &Value, key: &str| one[key].as_str().map(str::to_owned);
    let said = |one: &Value| (text(one, "kind").unwrap(), text(one, "evidence").unwrap(), text(one, "advice"));
    one["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(said)
        .filter(|(kind, ..)| kind.contains("chilling") || kind.contains("cold"))
        .collect()
}

#[test]
fn status_says_what_froze_what_was_too_warm_what_sprouted_and_when_to_take_a_bag_out() {
    let asked = Asked::about(&winter());
    let told = todo(&asked, "2026-03-03T10:00:00Z");
    let said: Vec<String> = told.iter().map(|(kind, message, next)| format!("{kind}: {message}\n  next: {next}")).collect();
    assert_eq!(
        said.join("\n") + "\n",
        concat!(
            "froze: 'fridge' froze F1 for 3 hours on 2 Mar.\n",
            "  next: set it a little warmer, and keep damp seed away from the wall that ices up; never the freezer\n",
            "take-out-of-cold: Take F1 out of 'fridge' on Thursday, 5 Mar (60 days done).\n",
            "  next: `seedclock move F1 SPOT`, or `seedclock sow BOX --from F1` with some of its seeds\n",
            "sprouts-in-cold: 2 have sprouted in the cold in F2, at 'door': take them out now.\n",
            "  next: pot them on, then `seedclock check F2 none --potted-on N`; or `seedclock move F2 SPOT`\n",
            "too-warm-to-chill: 'door' was too warm for F2: 48 hours of the last week count for nothing.\n",
            "  next: set it colder, or find a colder shelf; `seedclock diagnose` says how warm it was\n",
            "take-out-of-cold: Take F2 out of 'door' on Sunday, 8 Mar (60 days done).\n",
            "  next: `seedclock move F2 SPOT`, or `seedclock sow BOX --from F2` with some of its seeds\n",
            "measure: Nothing tells the temperature at 'cellar', where F3 stands.\n",
            "  next: `seedclock probe place PROBE cellar`, or `seedclock spot cellar --set DEGREES` if you know it\n",
        )
    );
}

#[test]
fn diagnose_tells_of_each_bag() {
    let asked = Asked::about(&winter());
    let mut text = String::new();
    for bag in ["F1", "F2", "F3"] {
        for (kind, evidence, advice) in findings(&asked, "2026-03-03T10:00:00Z", bag) {
            writeln!(text, "{bag} {kind}: {evidence}\n  {}", advice.unwrap_or_default()).unwrap();
        }
    }
    assert_eq!(
        text.replace('\u{a0}', " "),
        concat!(
            "F1 chilling-frozen: it froze for 3 hours on 2 Mar (down to −1.5 °C). Frozen hours count for nothing, and frost can kill damp seed.\n",
            "  Set it a little warmer and keep the seeds away from the wall that ices up; try a few in the warm to see that they live.\n",
            "F1 chilling-on-course: in fridge since 4 Jan: 58 of 60 days of moist cold (1 to 7 °C); done on Thu 5 Mar if fridge stays as it is.\n",
            "  Look once a week for sprouts and mould, and keep it damp.\n",
            "F2 sprouts-in-cold: 2 have sprouted in the cold.\n",
            "  Take them out now and grow them on: seedlings soon rot in the cold. The rest may stay.\n",
            "F2 chilling-warm: door was over 7 °C, where time counts for nothing, for 48 hours from 1 Mar to 3 Mar (up to 11.0 °C).\n",
            "  Set it colder, or find a colder shelf.\n",
            "F2 chilling-on-course: in door since 4 Jan: 56 of 60 days of moist cold (1 to 7 °C); done on Sun 8 Mar if door stays as it is.\n",
            "  Look once a week for sprouts and mould, and keep it damp.\n",
            "F3 chilling-unknown: in cellar since 4 Jan: nothing tells the temperature at cellar, so how much of its time there counts can't be said.\n",
            "  Put a probe in, beside the seeds; or say what it is set to: `seedclock spot SPOT --set DEGREES`.\n",
        )
    );
}

#[test]
fn the_days_of_a_clock_change_are_as_long_as_they_were() {
    let asked = Asked::about(&winter());
    let answer = asked.run(&["diagnose", "--json", "--as-of", "2026-03-30T08:00:00Z"]);
    let answer: Value = serde_json::from_slice(&answer.stdout).unwrap();
    let bag = named(&answer["containers"], "container", "F1");
    // 85 days since 4 January but for three hours of frost; readings stand for the time halfway to their neighbours.
    let days = number(bag, "/chilling/days").unwrap();
    assert!((days - (85.0 - 3.0 / 24.0)).abs() < 0.03, "{days}");
    assert_eq!(bag["chilling"]["done"], "2026-03-05T11:00:00Z");
}

#[test]
fn the_fields_are_those_that_are_written_down() {
    let (asked, shapes) = (Asked::about(&winter()), written());
    let mut seen = BTreeSet::new();
    for (command, as_of) in [("diagnose", "2026-03-03T10:00:00Z"), ("status", "2026-03-03T10:00:00Z")] {
        let answer = asked.run(&[command, "--json", "--as-of", as_of]);
        shapes[command].holds(&serde_json::from_slice(&answer.stdout).unwrap(), command, &mut seen);
    }
    let learnt = Asked::about(&three_lengths()).json(&["fit", "--as-of", "2026-06-30T08:00:00Z"]);
    shapes["fit"].holds(&learnt, "fit", &mut seen);
    for told in [
        "diagnose.containers[].chilling.days",
        "diagnose.containers[].chilling.coldest_c",
        "diagnose.containers[].chilling.done",
        "fit.fits[].chilling.lengths[].fraction.low",
        "fit.fits[].chilling.lengths[].requirement.high",
        "fit.fits[].chilling.enough_days.estimate",
    ] {
        assert!(seen.contains(told), "{told} is never told");
    }
}

/// A box of 30 seeds of each length in each of two boxes, brought out of its bag to a shelf at 20 °C on the day: the longer the cold, the more
/// and the sooner.
pub(super) fn three_lengths() -> Files {
    let mut containers = "container,batch,species,lot,treatment,seeds,sown,spot,from\n".to_owned();
    let mut checks = "container,time,sprouted\n".to_owned();
    let wetted = at("2026-01-01T08:00:00Z");
    let stamp = |time: DateTime<Utc>| time.format("%Y-%m-%dT%H:%M:%SZ").to_string();
    for (bag, days, counts) in [("none", 0, [3u32, 4]), ("month", 30, [14, 16]), ("two", 60, [24, 23]), ("three", 90, [26, 27])] {
        if days > 0 {
            writeln!(containers, "{bag},cold,gentian,alp,,60,{},fridge,", stamp(wetted)).unwrap();
        }
        for (number, sprouts) in counts.iter().enumerate() {
            let (name, out) = (format!("{bag} {number}"), wetted + Duration::days(days));
            let from = if days > 0 { bag } else { "" };
            writeln!(containers, "{name},cold,gentian,alp,,30,{},shelf,{from}", stamp(out)).unwrap();
            // Later the shorter the cold; three quarters within four days, the rest in the week after.
            let first = 14 - days / 15;
            let parts = [sprouts / 4, sprouts / 2, sprouts - sprouts / 4 - sprouts / 2, 0, 0];
            for (part, days) in parts.iter().zip([first, first + 2, first + 5, first + 12, first + 26]) {
                writeln!(checks, "{name},{},{part}", stamp(out + Duration::days(days))).unwrap();
            }
        }
    }
    // One more bag, in the cold for 41 days by the end of June.
    writeln!(containers, "bag,next,gentian,alp,,60,2026-05-20T08:00:00Z,fridge,").unwrap();
    folder(&[
        ("containers.csv", containers),
        ("checks.csv", checks),
        ("spots.csv", "spot,kind,set_c\nfridge,fridge,4\nshelf,,20\n".to_owned()),
    ])
}

#[test]
pub(super) fn three_lengths_or_more_teach_what_longer_cold_does() {
    let asked = Asked::about(&three_lengths());
    let answer = asked.json(&["fit", "--as-of", "2026-06-30T08:00:00Z"]);
    let cold = &answer["fits"][0]["chilling"];
    let lengths: Vec<(f64, u64, u64)> = cold["lengths"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| {
            ((1e6 * one["days"].as_f64().unwrap()).round() / 1e6, one["seeds"].as_u64().unwrap(), one["sprouted"].as_u64().unwrap())
        })
        .collect();
    assert_eq!(lengths, [(0.0, 60, 7), (30.0, 60, 30), (60.0, 60, 47), (90.0, 60, 53)]);
    assert_eq!((&cold["fraction"], &cold["speed"], &cold["one_curve"]), (&"helps".into(), &"helps".into(), &true.into()));
    let text = asked.says(&["fit", "--as-of", "2026-06-30T08:00:00Z"]);
    let told = text.split_once("\n\n").unwrap().1;
    assert_eq!(
        told,
        concat!(
            "gentian, by days of moist cold (8 boxes, lots and years taken together):\n",
            "  0 days    7 of 60 seeds sprouted in 2 boxes; 6 to 21 in 100 can\n",
            "  30 days   30 of 60 seeds sprouted in 2 boxes; 40 to 61 in 100 can\n",
            "  60 days   47 of 60 seeds sprouted in 2 boxes; 70 to 83 in 100 can\n",
            "  90 days   53 of 60 seeds sprouted in 2 boxes; 81 to 93 in 100 can\n",
            "  Longer cold makes more sprout: from 0 to 90 days, 64 to 84 in 100 more. Nine tenths of that\n",
            "  are had by about 73 days (58 to 79). They need 37 to 49 in 100 less warmth.\n",
        )
    );
    let (kind, evidence, _) = findings(&asked, "2026-06-30T08:00:00Z", "bag").remove(0);
    assert_eq!(kind, "chilling-on-course");
    assert!(
        evidence.contains("41 days of moist cold") && evidence.contains(" nothing says how long it is to be chilled."),
        "{evidence}"
    );
    assert!(evidence.contains(" In your own sowings longer cold made more sprout: "), "{evidence}");
    assert!(evidence.ends_with(" in 100 more. Holding pays."), "{evidence}");
    let days = asked.json(&["fit", "--clock", "days", "--as-of", "2026-06-30T08:00:00Z"]);
    let none = &days["fits"][0]["chilling"];
    assert!(none["fraction"].is_null() && none["lengths"].as_array().unwrap().is_empty());
}

/// A box brought into the warm after 26 of 60 days; another that never was in the cold, and one chilled by its label.
pub(super) fn brought_in_early() -> Files {
    folder(&[
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot,from\n\
             bag,spring,gentian,alp,,60,2026-01-04T08:00:00Z,fridge,\n\
             early,spring,gentian,alp,,20,2026-01-30T08:00:00Z,shelf,bag\n\
             never,spring,gentian,alp,,20,2026-01-30T08:00:00Z,shelf,\n\
             label,spring,gentian,alp,60 d cold moist,20,2026-01-30T08:00:00Z,shelf,\n\
             wanting none,spring,lettuce,garden,,20,2026-01-30T08:00:00Z,fridge,\n\
             dry,spring,gentian,alp,dry cold,20,2026-01-04T08:00:00Z,fridge,\n"
                .to_owned(),
        ),
        ("checks.csv", "container,time,sprouted\nearly,2026-02-20T08:00:00Z,0\nnever,2026-02-20T08:00:00Z,1\n".to_owned()),
        ("lots.csv", "lot,species,chill_days\nalp,gentian,60\ngarden,lettuce,0\n".to_owned()),
        ("spots.csv", "spot,kind,set_c\nfridge,fridge,4\nshelf,,20\n".to_owned()),
    ])
}

#[test]
fn boxes_chilled_too_short_are_told_and_those_of_which_it_is_said_are_taken_at_their_word() {
    let asked = Asked::about(&brought_in_early());
    let mut text = String::new();
    for container in ["bag", "early", "never", "label", "wanting none", "dry"] {
        for (kind, evidence, advice) in findings(&asked, "2026-02-24T08:00:00Z", container) {
            writeln!(text, "{container} {kind}: {evidence}\n  {}", advice.unwrap_or_default()).unwrap();
        }
    }
    assert_eq!(
        text.replace('\u{a0}', " "),
        concat!(
            "bag chilling-on-course: in fridge since 4 Jan: 51 of 60 days of moist cold (1 to 7 °C); done on Thu 5 Mar if fridge stays as it is. Counted by the calendar, at the temperature given for the spot.\n",
            "  Look once a week for sprouts and mould, and keep it damp.\n",
            "early chilling-short: half-chilled, perhaps: this lot is said to want 60 days of moist cold, and 26 days (1 to 7 °C) counted, out since 30 Jan.\n",
            "  If it does not sprout, put it back into moist cold for 34 days more: what it had is not lost.\n",
            "never chilling-short: half-chilled, perhaps: this lot is said to want 60 days of moist cold, and none is on record.\n",
            "  Some have sprouted: leave it in the warm, and see how many more come.\n",
            "wanting none chilling-done: in fridge since 30 Jan: these seeds are said to want no chilling; 25 days (1 to 7 °C) so far.\n",
            "  Take it out when you can go on with it. If it is too early in the year, it may stay: days that are named for a plant are the least that it wants. Look once a week for sprouts and mould.\n",
            "dry chilling-short: its treatment says dry: cold without moisture is no chilling, and none is counted.\n",
            "  Wet them; their days count from then (sow them anew, from this box, on the day).\n",
        )
    );
    let full = asked.run(&["diagnose", "--cautions", "--as-of", "2026-02-24T08:00:00Z"]);
    let full = String::from_utf8(full.stdout).unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        full.contains("never put damp seed into the freezer") && full.contains("nothing there that is treated or poisonous"),
        "{full}"
    );
}

/// A bag carried out for an hour five times a day, whose record begins a month late, with two probes part of the time and a hole.
#[test]
fn a_bag_carried_in_and_out_with_a_patchy_record_is_counted_as_far_as_can_be_said() {
    let mut moves = "container,time,spot\n".to_owned();
    for day in 0..10 {
        for hour in [7, 10, 13, 16, 19] {
            let out = at("2026-02-10T00:00:00Z") + Duration::days(day) + Duration::hours(hour);
            let stamp = |time: DateTime<Utc>| time.format("%Y-%m-%dT%H:%M:%SZ").to_string();
            writeln!(moves, "B,{},sill\nB,{},fridge", stamp(out), stamp(out + Duration::hours(1))).unwrap();
        }
    }
    let one = readings("p1", "2026-02-05T08:00:00Z", "2026-02-20T08:00:00Z", |_| 4.0);
    let two = readings("p2", "2026-02-12T08:00:00Z", "2026-02-14T08:00:00Z", |_| 9.0);
    let files = folder(&[
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot\nB,b,gentian,,30 d cold,40,2026-01-05T08:00:00Z,fridge\n"
                .to_owned(),
        ),
        ("spots.csv", "spot,kind\nfridge,fridge\nsill,\n".to_owned()),
        ("moves.csv", moves),
        ("probes.csv", "probe,spot,since\np1,fridge,2026-01-01T08:00:00Z\np2,fridge,2026-01-01T08:00:00Z\n".to_owned()),
        ("readings.csv", format!("time,probe,celsius\n{one}{two}")),
    ]);
    let asked = Asked::about(&files);
    let answer = asked.run(&["diagnose", "--json", "--as-of", "2026-02-25T08:00:00Z"]);
    let answer: Value = serde_json::from_slice(&answer.stdout).unwrap();
    let cold = &named(&answer["containers"], "container", "B")["chilling"];
    let of = |key: &str| cold[key].as_f64().unwrap();
    assert_eq!((of("out_hours"), of("plan_days")), (50.0, 30.0));
    assert!((of("elapsed") - (51.0 - 50.0 / 24.0)).abs() < 1e-6, "{cold}");
    // A week before and after the record is guessed from its own days; of the 24 days before that nothing is known.
    assert!((of("unknown") - 24.0).abs() < 1.5 && of("guessed") > 10.0, "{cold}");
    // The half of two days at which one of two probes read 9 °C does not count.
    assert!((of("elapsed") - of("unknown") - of("days") - 38.0 / 48.0).abs() < 0.1, "{cold}");
    let told = findings(&asked, "2026-02-25T08:00:00Z", "B");
    assert_eq!(told.iter().map(|(kind, ..)| kind.as_str()).collect::<Vec<_>>(), ["chilling-unknown"], "{told:?}");
    assert!(told[0].1.contains("the record begins only on"), "{}", told[0].1);
    assert!(told[0].1.contains("Out of the cold 50 times"), "{}", told[0].1);
}
