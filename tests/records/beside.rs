//! Probes held against each other.

use std::fmt::Write as _;

use super::Desk;

/// Six days of readings every quarter of an hour: two probes on one sill, of which one reads 1.6 °C above the other from the third day on,
/// and one in the same room that shows 19.5 °C for ever.
fn readings() -> String {
    let mut table = String::from("time,probe,celsius\n");
    for quarter in 0..6 * 96 {
        let (day, hour, minute) = (1 + quarter / 96, quarter % 96 / 4, quarter % 4 * 15);
        let celsius = 20.0 + 3.0 * (f64::from(quarter) / 96.0 * std::f64::consts::TAU).sin();
        let above = if day > 2 { 1.6 } else { 0.1 };
        for (probe, shown) in [("left", celsius), ("right", celsius + above), ("shelf", 19.5)] {
            let _ = writeln!(table, "2026-03-{day:02}T{hour:02}:{minute:02}:00Z,{probe},{shown:.4}");
        }
    }
    table
}

#[test]
fn fault_30_a_probe_that_repeats_one_value_and_one_unlike_its_neighbour_are_told_and_the_forecast_goes_on() {
    let desk = Desk::new();
    let files = [
        ("containers.csv", "container,batch,species,lot,treatment,seeds,sown,spot\nA3,spring,leek,,,20,2026-03-01T00:00:00Z,sill\nA4,spring,leek,,,20,2026-03-01T00:00:00Z,shelf\n".to_owned()),
        ("checks.csv", "container,time,sprouted\n".to_owned()),
        ("probes.csv", "probe,spot,since\nleft,sill,2026-02-01T00:00:00Z\nright,sill,2026-02-01T00:00:00Z\nshelf,shelf,2026-02-01T00:00:00Z\n".to_owned()),
        ("bench.csv", "key,value\nzone,Europe/Berlin\n".to_owned()),
        ("readings.csv", readings()),
    ];
    let files: Vec<(&str, &[u8])> = files.iter().map(|(name, text)| (*name, text.as_bytes())).collect();
    desk.write_folder("in", &files);
    let imported = desk.run(&["import", "in"]);
    assert_eq!(imported.code, 0, "{imported:?}");
    let answer = |command: &str| -> serde_json::Value {
        serde_json::from_str(&desk.run(&[command, "--json", "--as-of", "2026-03-07T00:00:00Z"]).out).unwrap()
    };
    let diagnosis = answer("diagnose");
    let told: Vec<(String, String)> = diagnosis["probes"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|probe| {
            let name = probe["probe"].as_str().unwrap().to_owned();
            let findings = probe["findings"].as_array().unwrap().clone();
            findings.into_iter().map(move |finding| (name.clone(), finding["evidence"].as_str().unwrap().to_owned()))
        })
        .collect();
    assert_eq!(told.len(), 2, "{told:?}");
    assert_eq!(told[0].0, "left");
    assert!(
        told[0].1.starts_with("it reads 1.6 °C below right, at the same spot, since 3 Mar; neither was ever calibrated."),
        "{told:?}"
    );
    assert_eq!(told[1].0, "shelf");
    assert!(told[1].1.starts_with("from 1 Mar to 7 Mar it showed the very same value for six hours and more"), "{told:?}");
    let forecast = answer("forecast");
    for container in forecast["containers"].as_array().unwrap() {
        assert!(container["half"]["p50"].is_string(), "{forecast}");
    }
}

/// Forty days of two probes in boxes on one sill, read every half hour; on the twelfth and the thirtieth day one lay outside.
#[test]
fn days_on_which_a_probe_lay_outside_its_box_are_told_with_what_to_do() {
    let desk = Desk::new();
    let mut table = String::from("time,probe,celsius\n");
    for half in 0..40 * 48 {
        let (day, hour, minute) = (half / 48, half % 48 / 2, half % 2 * 30);
        let celsius = 20.0 + 3.0 * (f64::from(half) / 48.0 * std::f64::consts::TAU).sin();
        let usual = 0.2 + 0.1 * f64::from(day * 7 % 11 - 5) / 5.0;
        let above = if matches!(day, 12 | 30) { usual - 4.0 } else { usual };
        let date = if day < 31 { format!("2026-03-{:02}", day + 1) } else { format!("2026-04-{:02}", day - 30) };
        for (probe, shown) in [("left", celsius + above), ("right", celsius)] {
            let _ = writeln!(table, "{date}T{hour:02}:{minute:02}:00Z,{probe},{shown:.4}");
        }
    }
    let files = [
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot\nA3,spring,leek,,,20,2026-03-01T00:00:00Z,sill\n",
        ),
        ("checks.csv", "container,time,sprouted\nA3,2026-04-08T07:00:00Z,0\n"),
        ("probes.csv", "probe,spot,since,siting\nleft,sill,2026-02-01T00:00:00Z,in\nright,sill,2026-02-01T00:00:00Z,in\n"),
        ("bench.csv", "key,value\nzone,UTC\n"),
        ("readings.csv", &table),
    ];
    let files: Vec<(&str, &[u8])> = files.iter().map(|(name, text)| (*name, text.as_bytes())).collect();
    desk.write_folder("in", &files);
    assert_eq!(desk.run(&["import", "in"]).code, 0);
    let said = desk.run(&["diagnose", "--as-of", "2026-04-10T00:00:00Z"]).out.replace(['\n', '\u{a0}'], " ");
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains(
            "Probe left, sill: on 2 days it read far otherwise beside right than it usually does, last on 31 Mar: 4.1 °C lower. Had one \
             of them fallen out, or did the sun stand on it? `seedclock doubt NAME --from … --to …` keeps such days out."
        ),
        "{said}"
    );
}
