//! Benches that tell little, or tell it badly: each gets an answer that says what can and cannot be told, no absurd number, and exit code 1
//! where the answer is "not enough".

use std::fmt::Write as _;

use serde_json::Value;

use crate::asking::{Asked, Files};

const AS_OF: &str = "2026-03-20T09:00:00Z";
/// No date lies further from now.
const HORIZON_DAYS: i64 = 240;

/// What `fit`, `forecast` and `diagnose` answered.
struct Answered {
    codes: [i32; 3],
    /// Everything said, on one line each.
    texts: [String; 3],
    json: [Value; 3],
}

/// A bench's folder: boxes, looks, spots, readings as rows.
fn bench(containers: &str, checks: &str, spots: &str, probes: &str, readings: &str) -> Files {
    [
        ("containers.csv", format!("container,batch,species,lot,treatment,seeds,sown,spot\n{containers}")),
        ("checks.csv", format!("container,time,sprouted\n{checks}")),
        ("spots.csv", format!("spot,set_c,set_sd_c\n{spots}")),
        ("probes.csv", format!("probe,spot,since\n{probes}")),
        ("readings.csv", format!("time,probe,celsius\n{readings}")),
        ("bench.csv", "key,value\nzone,Europe/Dublin\n".to_owned()),
    ]
    .map(|(name, text)| (name.to_owned(), text))
    .into()
}

/// Boxes of one species sown on 1 March.
fn sown(boxes: &[(&str, &str, &str, &str)]) -> String {
    boxes
        .iter()
        .map(|(name, species, seeds, spot)| format!("{name},spring,{species},,,{seeds},2026-03-01T08:00:00Z,{spot}\n"))
        .collect()
}

/// Looks by day from sowing.
fn looks(container: &str, looks: &[(u32, u32)]) -> String {
    looks.iter().map(|(day, sprouted)| format!("{container},2026-03-{:02}T08:00:00Z,{sprouted}\n", 1 + day)).collect()
}

/// Asks all three in words and as JSON, and holds every number against what it may be at all.
fn ask(files: &Files) -> Answered {
    let asked = Asked::about(files);
    let answers = ["fit", "forecast", "diagnose"].map(|command| {
        let plain = asked.run(&[command, "--as-of", AS_OF]);
        let json = asked.run(&[command, "--as-of", AS_OF, "--json"]);
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
        assert_eq!(plain.status.code(), json.status.code(), "{command}: the same in words and as JSON");
        assert_eq!(plain.stderr, json.stderr);
        let complaint = text(&plain.stderr);
        assert_eq!(
            plain.status.code() == Some(1),
            complaint.contains("\n  next: "),
            "{command}: 1 says why, 0 says nothing: {complaint}"
        );
        let words = text(&plain.stdout) + &complaint;
        for absurd in ["NaN", "inf ", "-inf", "panicked", "None", "Some("] {
            assert!(!words.contains(absurd), "{command} said {absurd}: {words}");
        }
        let value: Value = serde_json::from_str(&text(&json.stdout)).unwrap_or_else(|error| panic!("{command}: {error}: {words}"));
        (plain.status.code().unwrap(), words.split_whitespace().collect::<Vec<_>>().join(" "), value)
    });
    let [fit, forecast, diagnosis] = answers;
    fit_is_sane(&fit.2);
    forecast_is_sane(&forecast.2);
    diagnosis_is_sane(&diagnosis.2);
    Answered {
        codes: [fit.0, forecast.0, diagnosis.0],
        texts: [fit.1, forecast.1, diagnosis.1],
        json: [fit.2, forecast.2, diagnosis.2],
    }
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().unwrap_or_else(|| panic!("no list: {value:#}"))
}

/// A number, where there is one, lies between bounds.
fn within(of: &Value, pointer: &str, low: f64, high: f64) {
    let found = of.pointer(pointer).unwrap_or_else(|| panic!("no {pointer} in {of:#}"));
    let sound = found.is_null() || found.as_f64().is_some_and(|number| (low..=high).contains(&number));
    assert!(sound, "{pointer} is {found}, not within {low} to {high}: {of:#}");
}

fn fit_is_sane(fit: &Value) {
    for one in list(&fit["fits"]) {
        let of = |parameter: &str, low: f64, high: f64| {
            for end in ["low", "estimate", "high"] {
                within(one, &format!("/parameters/{parameter}/{end}"), low, high);
            }
            let [low, middle, high] = ["low", "estimate", "high"].map(|end| one["parameters"][parameter][end].as_f64());
            assert!(low <= middle && middle <= high || middle.is_none(), "{parameter} in order: {one:#}");
        };
        of("base_c", -10.0, 25.0);
        of("optimum_c", 5.0, 45.0);
        of("ceiling_c", 10.0, 80.0);
        of("half_requirement", 0.1, 5_000.0);
        of("spread_ln", 0.0, 3.0);
        of("container_speed_sd", 0.0, 2.0);
        of("container_fraction_sd", 0.0, 5.0);
        for row in list(&one["germinable"]) {
            within(row, "/estimate", 0.0, 1.0);
        }
        assert!(one["prior_source"].is_string(), "what was assumed is named");
    }
}

fn forecast_is_sane(forecast: &Value) {
    let time = |value: &Value| value.as_str().map(|text| chrono::DateTime::parse_from_rfc3339(text).unwrap());
    let as_of = time(&forecast["as_of"]).unwrap();
    for one in list(&forecast["containers"]) {
        for event in ["first", "half", "last"] {
            let points = ["p10", "p50", "p90"].map(|point| time(&one[event][point]));
            for point in points.iter().flatten() {
                let sown = chrono::DateTime::parse_from_rfc3339("2026-03-01T08:00:00Z").unwrap();
                assert!(*point >= sown && *point <= as_of + chrono::Duration::days(HORIZON_DAYS), "{event} of {one:#}");
            }
            let told: Vec<_> = points.iter().map_while(|point| *point).collect();
            assert!(told.is_sorted() && told.len() == points.iter().flatten().count(), "in order, null is later: {one:#}");
            within(one, &format!("/{event}/chance"), 0.0, 1.0);
        }
        let most = one["seeds"].as_f64().unwrap_or(100_000.0);
        let mut before: Vec<f64> = vec![0.0; 7];
        for day in list(&one["by_date"]) {
            let levels = ["0.05", "0.1", "0.25", "0.5", "0.75", "0.9", "0.95"].map(|level| day["quantiles"][level].as_f64());
            let told: Vec<f64> = levels.into_iter().flatten().collect();
            assert!(told.is_sorted() && told.iter().all(|count| (0.0..=most).contains(count)), "{day}");
            assert!(told.iter().zip(&before).all(|(now, before)| now >= before), "counts never fall: {day}");
            before = if told.is_empty() { before } else { told };
        }
        within(one, "/more_to_come/expected", 0.0, most);
        within(one, "/more_to_come/chance_any", 0.0, 1.0);
        within(one, "/imputed_share", 0.0, 1.0);
    }
}

fn diagnosis_is_sane(diagnosis: &Value) {
    for one in list(&diagnosis["containers"]) {
        for point in ["p10", "p50", "p90"] {
            within(one, &format!("/delay_days/{point}"), -366.0, 366.0);
            within(one, &format!("/slower_than_explained/{point}"), 0.05, 20.0);
        }
        within(one, "/mean_c", -20.0, 60.0);
        within(one, "/rate_per_day", 0.0, 60.0);
        for finding in list(&one["findings"]) {
            within(finding, "/chance", 0.0, 1.0);
        }
    }
}

fn warnings<'a>(of: &'a Value, kind: &str) -> Vec<&'a Value> {
    list(&of["warnings"]).iter().filter(|warning| warning["kind"] == kind).collect()
}

const SPOTS: &str = "shelf,20,0.5\nmat,25,0.5\nsill,14,0.5\n";
const COURSE: [(u32, u32); 7] = [(4, 0), (6, 2), (7, 5), (8, 5), (10, 3), (13, 1), (18, 0)];

#[test]
fn no_look_at_all() {
    // Nothing published of foxgloves, and no packet: there is nothing to fit.
    let files = bench(&sown(&[("A1", "foxglove", "20", "shelf")]), "", SPOTS, "", "");
    let told = ask(&files);
    assert_eq!(told.codes, [1, 0, 0]);
    assert!(told.texts[0].contains("no box on this bench has been looked at yet"), "{}", told.texts[0]);
    assert!(
        told.texts[1].contains("no sowing of foxglove has taught anything yet, so this rests on what holds of seeds in general")
    );
    assert!(list(&told.json[0]["fits"]).is_empty());
}

#[test]
fn one_look() {
    for (sprouted, learnt) in [(0, false), (3, true)] {
        let files = bench(&sown(&[("A1", "foxglove", "20", "shelf")]), &looks("A1", &[(9, sprouted)]), SPOTS, "", "");
        let told = ask(&files);
        assert_eq!(told.codes, [i32::from(!learnt), 0, 0], "{}", told.texts[0]);
        let fit = &told.json[0]["fits"][0];
        assert_eq!((fit["prior"].as_str(), fit["prior_source"].as_str()), (Some("general"), Some("seeds in general")));
        assert_eq!(warnings(fit, "nothing-learnt").is_empty(), learnt);
        assert_eq!(fit["parameters"]["base_c"]["informed_by"], "prior", "one look tells no base");
        assert!(told.texts[0].contains("not told by your sowings (assumed about 27 °C)"), "{}", told.texts[0]);
    }
}

#[test]
fn all_up_at_the_first_look() {
    let files = bench(
        &sown(&[("A1", "foxglove", "20", "shelf"), ("A2", "foxglove", "20", "sill")]),
        &looks("A1", &[(12, 20)]),
        SPOTS,
        "",
        "",
    );
    let told = ask(&files);
    assert_eq!(told.codes, [0, 0, 0]);
    let fit = &told.json[0]["fits"][0];
    assert_ne!(fit["parameters"]["spread_ln"]["informed_by"], "trials", "how far apart they come was not seen");
    assert_eq!(fit["parameters"]["base_c"]["informed_by"], "prior");
    // Within hours of sowing it is no lesson at all.
    let at_once = bench(&sown(&[("A1", "foxglove", "20", "shelf")]), "A1,2026-03-01T09:00:00Z,20\n", SPOTS, "", "");
    let told = ask(&at_once);
    assert_eq!(told.codes[0], 1);
    assert!(told.texts[0].contains("A1 had sprouts within hours of sowing"), "{}", told.texts[0]);
}

#[test]
fn none_ever() {
    let none: Vec<(u32, u32)> = (1..19).map(|day| (day, 0)).collect();
    let files = bench(
        &sown(&[("A1", "foxglove", "20", "shelf"), ("A2", "foxglove", "20", "mat")]),
        &(looks("A1", &none) + &looks("A2", &none)),
        SPOTS,
        "",
        "",
    );
    let told = ask(&files);
    assert_eq!(told.codes, [1, 0, 0]);
    assert_eq!(warnings(&told.json[0]["fits"][0], "nothing-learnt").len(), 1);
    assert!(
        told.texts[0].contains("no sowing of foxglove has sprouted yet: that it takes longer than that is all they say"),
        "{}",
        told.texts[0]
    );
    assert!(told.texts[1].contains("no sowing of foxglove has taught anything yet"));
}

#[test]
fn a_box_without_temperatures() {
    let files = bench(&sown(&[("A1", "foxglove", "20", "attic")]), &looks("A1", &COURSE), "attic,,\n", "", "");
    let told = ask(&files);
    assert_eq!(told.codes, [1, 1, 1]);
    assert!(
        told.texts[0].contains("left out, for want of temperatures where they stood: A1. next: place a probe there"),
        "{}",
        told.texts[0]
    );
    assert!(told.texts[1].contains("No dates can be given.") && told.texts[1].contains("no temperature is known where it stands"));
    let one = &told.json[1]["containers"][0];
    // What was seen is still told.
    assert_eq!(one["sprouted"], 16);
    assert!(told.json[2]["containers"][0]["delay_days"]["p50"].is_null() && told.json[2]["containers"][0]["best_spot"].is_null());
    // Days alone need no temperature.
    let days = Asked::about(&files).json(&["fit", "--clock", "days", "--as-of", AS_OF]);
    let half = days["fits"][0]["parameters"]["half_requirement"]["estimate"].as_f64().unwrap();
    assert!((6.0..9.0).contains(&half), "{half} days");
}

/// The same warmth, and one box up within days, the other after a fortnight.
#[test]
fn sowings_that_contradict_each_other() {
    let boxes = sown(&[("A1", "foxglove", "20", "shelf"), ("A2", "foxglove", "20", "shelf")]);
    let checks = looks("A1", &[(2, 0), (3, 9), (4, 9), (5, 0), (18, 0)]) + &looks("A2", &[(15, 0), (16, 1), (17, 8), (18, 8)]);
    let told = ask(&bench(&boxes, &checks, SPOTS, "", ""));
    assert_eq!(told.codes, [0, 0, 0]);
    let alike = looks("A1", &[(2, 0), (3, 9), (4, 9), (5, 0), (18, 0)]) + &looks("A2", &[(2, 0), (3, 8), (4, 9), (5, 1), (18, 0)]);
    let agreed = ask(&bench(&boxes, &alike, SPOTS, "", ""));
    let width = |told: &Answered| {
        let half = &told.json[0]["fits"][0]["parameters"]["half_requirement"];
        (half["high"].as_f64().unwrap() / half["low"].as_f64().unwrap()).ln()
    };
    assert!(width(&told) > 1.2 * width(&agreed), "unsure where they disagree: {} against {}", width(&told), width(&agreed));
    let differ = |told: &Answered| told.json[0]["fits"][0]["parameters"]["container_speed_sd"]["estimate"].as_f64().unwrap();
    let disagree = |told: &Answered| warnings(&told.json[0]["fits"][0], "boxes-disagree").len();
    assert_eq!((disagree(&told), disagree(&agreed)), (1, 0));
    assert!(told.texts[0].contains("boxes of foxglove differ far more than boxes do"), "{}", told.texts[0]);
    assert!(differ(&told) > 2.0 * differ(&agreed), "boxes differ: {} against {}", differ(&told), differ(&agreed));
}

#[test]
fn a_temperature_record_of_one_hour() {
    let mut readings = String::new();
    for minute in (0..60).step_by(5) {
        let _ = writeln!(readings, "2026-03-10T12:{minute:02}:00Z,p1,19.5");
    }
    let files = bench(
        &sown(&[("A1", "foxglove", "20", "bench")]),
        &looks("A1", &COURSE),
        "bench,,\n",
        "p1,bench,2026-03-01T08:00:00Z\n",
        &readings,
    );
    let told = ask(&files);
    assert!(
        told.texts[0].contains("left out, for want of temperatures") || told.texts[0].contains("were guessed"),
        "{}",
        told.texts[0]
    );
    assert_eq!(told.codes, [1, 1, 1], "{:#?}", told.texts);
    assert!(told.texts[1].contains("the probe there has given no usable reading for some or all of its time"), "{}", told.texts[1]);
}

#[test]
fn every_box_at_one_temperature() {
    let boxes = sown(&[("A1", "foxglove", "20", "shelf"), ("A2", "foxglove", "20", "shelf"), ("A3", "foxglove", "20", "shelf")]);
    let checks = ["A1", "A2", "A3"].map(|name| looks(name, &COURSE)).concat();
    let told = ask(&bench(&boxes, &checks, "shelf,20,0\n", "", ""));
    assert_eq!(told.codes, [0, 0, 0]);
    let fit = &told.json[0]["fits"][0];
    assert_eq!(warnings(fit, "one-temperature").len(), 1);
    assert_eq!(warnings(fit, "never-above-optimum").len(), 1);
    assert_eq!(fit["parameters"]["base_c"]["informed_by"], "prior");
    assert!(told.texts[0].contains("fastest at not told by your sowings (assumed about 27 °C)"), "{}", told.texts[0]);
    // A rate that rises for ever could not be told from one that falls again.
    let asked = Asked::about(&bench(&boxes, &checks, "shelf,20,0\n", "", ""));
    let threshold = asked.json(&["fit", "--rate", "threshold", "--as-of", AS_OF]);
    assert_eq!(warnings(&threshold["fits"][0], "shapes-alike").len(), 1, "{threshold:#}");
    assert!(asked.says(&["fit", "--rate", "threshold", "--as-of", AS_OF]).contains("--rate tent"));
    let warm = Asked::about(&bench(&boxes, &checks, "shelf,30,0\n", "", ""));
    assert!(
        warnings(&warm.json(&["fit", "--rate", "threshold", "--as-of", AS_OF])["fits"][0], "shapes-alike").is_empty(),
        "at 30 °C it matters"
    );
}

#[test]
fn seeds_that_nobody_counted() {
    let boxes = sown(&[("A1", "foxglove", "", "shelf"), ("A2", "foxglove", "", "mat")]);
    let told = ask(&bench(&boxes, &(looks("A1", &COURSE) + &looks("A2", &[(3, 0), (5, 6)])), SPOTS, "", ""));
    assert_eq!(told.codes, [0, 1, 0], "{:#?}", told.texts);
    for one in list(&told.json[1]["containers"]) {
        assert_eq!(warnings(one, "seeds-not-counted").len(), 1);
        assert!(one["seeds"].is_null() && one["more_to_come"]["expected"].is_null());
    }
    assert!(told.texts[1].contains("its seeds were not counted, so how many are still to come cannot be said"));
    assert!(told.texts[0].contains("22 sprouted in 2 boxes, of seeds that were not counted in 2 of them"), "{}", told.texts[0]);
}
