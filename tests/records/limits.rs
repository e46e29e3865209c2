//! A probe's own limits, through the built program.

use super::Desk;

/// Twelve days of a box in a hot bed at 18 °C, read once an hour; on two of them compost heated its probe to 70 °C. A bed's heart reaches
/// 60 to 70 °C in its first weeks (common practice, no source).
fn hot_bed(desk: &Desk, limits: Option<&str>) {
    let mut readings = "time,probe,celsius\n".to_owned();
    for hour in 0..24 * 12 {
        let (day, hour_of_day) = (1 + hour / 24, hour % 24);
        let celsius = if (5..7).contains(&day) { 70.0 } else { 18.0 + f64::from(hour % 3) / 16.0 };
        readings += &format!("2026-03-{day:02}T{hour_of_day:02}:00:00Z,bed,{celsius}\n");
    }
    bed(desk, &readings, limits);
}

fn bed(desk: &Desk, readings: &str, limits: Option<&str>) {
    let mut files: Vec<(&str, &[u8])> = vec![
        (
            "containers.csv",
            b"container,batch,species,lot,treatment,seeds,sown,spot\nM1,spring,melon,,,20,2026-03-01T08:00:00Z,frame\n",
        ),
        ("checks.csv", b"container,time,sprouted\nM1,2026-03-09T08:00:00Z,0\n"),
        ("probes.csv", b"probe,spot,since\nbed,frame,2026-03-01T00:00:00Z\n"),
        ("readings.csv", readings.as_bytes()),
    ];
    files.extend(limits.map(|limits| ("limits.csv", limits.as_bytes())));
    desk.write_folder("in", &files);
    desk.says(&["import", "in"]);
}

const AS_OF: [&str; 3] = ["--json", "--as-of", "2026-03-12T08:00:00Z"];

fn ask(desk: &Desk, command: &str) -> String {
    desk.says(&[&[command][..], &AS_OF].concat())
}

fn number(json: &str, pointer: &str) -> f64 {
    serde_json::from_str::<serde_json::Value>(json).unwrap().pointer(pointer).unwrap().as_f64().unwrap()
}

#[test]
fn a_forecast_goes_by_the_limits_of_its_probe_until_they_are_taken_back() {
    let desk = Desk::new();
    hot_bed(&desk, None);
    let (forecast, diagnosis) = (ask(&desk, "forecast"), ask(&desk, "diagnose"));
    assert!(number(&diagnosis, "/containers/0/mean_c") > 27.0, "suspect, and used: {diagnosis}");
    assert!(diagnosis.contains("doubtful-probe"), "above what a place for seeds usually is: {diagnosis}");
    assert_eq!(
        desk.says(&["probe", "limits", "bed", "--sensor", "..60"]),
        "probe bed: sensor usual to 60 °C; so all its readings are judged, those on record too\n"
    );
    let (cut, without) = (ask(&desk, "forecast"), ask(&desk, "diagnose"));
    assert_ne!(cut, forecast, "the hours beyond what the sensor measures are guessed");
    assert!(number(&without, "/containers/0/mean_c") < 18.5, "{without}");
    assert!(number(&cut, "/containers/0/imputed_share") > 0.15, "{cut}");
    assert_eq!(
        desk.says(&["probe", "limits", "bed", "--sensor", "-50..150", "--place", "32F..167F"]),
        "probe bed: sensor -50 to 150 °C, place 0 to 75 °C; so all its readings are judged, those on record too\n"
            .replace("; so", "; corrected: sensor -50 to 150 °C (before: usual to 60 °C), place 0 to 75 °C (before: none); so")
    );
    assert_eq!(ask(&desk, "forecast"), forecast, "used again, to the last digit");
    assert!(!ask(&desk, "diagnose").contains("doubtful-probe"), "a place that may be so warm is nothing to doubt");
    assert_eq!(
        desk.says(&["probe", "limits", "bed", "--undo"]),
        "taken back: the change of the limits of probe bed: again sensor usual to 60 °C, place none\n"
    );
    assert_eq!(ask(&desk, "forecast"), cut);
    assert_eq!(desk.says(&["undo"]), "taken back: the limits of probe bed (sensor usual to 60 °C)\n");
    assert_eq!((ask(&desk, "forecast"), ask(&desk, "diagnose")), (forecast, diagnosis));
    let answer = desk.run(&["undo", "limits", "bed"]);
    let complaint = "seedclock: there is nothing to take back: probe 'bed' has no limits of its own\n  nothing was taken back\n";
    assert_eq!((answer.code, answer.err.as_str()), (2, complaint));
}

#[test]
fn a_place_that_changes_quickly_is_not_doubted_once_that_is_said() {
    let desk = Desk::new();
    let mut readings = "time,probe,celsius\n".to_owned();
    for minute in 0..3 * 24 * 60 {
        // The frame is opened every ten minutes, and its probe shows the air within a minute.
        let (day, hour, celsius) = (8 + minute / 1440, minute / 60 % 24, if minute / 10 % 2 == 0 { 17.5 } else { 32.5 });
        readings += &format!("2026-03-{day:02}T{hour:02}:{:02}:00Z,bed,{celsius}\n", minute % 60);
    }
    bed(&desk, &readings, None);
    let before = ask(&desk, "diagnose");
    assert!(before.contains(" failed, 0 doubtful"), "15 °C a minute is more than a place usually does: {before}");
    desk.says(&["probe", "limits", "bed", "--change", "36F..54F"]);
    let after = ask(&desk, "diagnose");
    assert!(!after.contains("doubtful-probe"), "20 and 30 °C a minute are said to be usual there: {after}");
}

#[test]
fn limits_are_shown_corrected_one_by_one_and_laid_aside() {
    let desk = Desk::new();
    hot_bed(&desk, None);
    desk.says(&["set", "units", "fahrenheit"]);
    let shown = |desk: &Desk| desk.says(&["probe", "limits", "bed"]).replace('\u{a0}', " ");
    assert!(shown(&desk).contains("  place: 14.0 to 140.0 °F, suspect outside (usual)\n"), "{}", shown(&desk));
    desk.says(&["probe", "limits", "bed", "--place", "32..167", "--spike", "9..18", "--repeat", "24"]);
    desk.says(&["probe", "limits", "bed", "--spike", "usual"]);
    let said = shown(&desk);
    for line in [
        "place: 32.0 to 167.0 °F, suspect outside (its own)",
        "spike beside both neighbours: suspect beyond 3.6 °F, failed beyond 9.0 °F; beyond 9.0 °F and 18.0 °F where they are more than 2 minutes away (usual)",
        "repeating one value: suspect after 24 hours in which another probe moved (its own)",
    ] {
        assert!(said.contains(line), "{line}: {said}");
    }
    let status = || desk.run(&["status", "--json", "--as-of", "2026-03-12T08:00:00Z"]).out;
    assert_eq!(
        (number(&status(), "/probes/0/limits/place_high_c"), number(&status(), "/probes/0/limits/repeat_hours")),
        (75.0, 24.0)
    );
    assert!(status().contains("\"spike_fail_c\": null"), "{}", status());
    assert!(desk.run(&["status", "--as-of", "2026-03-12T08:00:00Z"]).out.contains("; limits of its own\n"));
    let again = desk.says(&["probe", "limits", "bed", "--repeat", "24"]);
    assert!(again.ends_with(" (on record already)\n"), "{again}");
    assert!(desk.says(&["probe", "limits", "bed", "--none"]).starts_with("probe bed: the usual limits hold; corrected: "));
    assert!(status().contains("\"place_high_c\": null"), "{}", status());
    assert!(desk.says(&["undo"]).contains("again place 0 to 75 °C, repeat 24 hours"));
    assert_eq!(number(&status(), "/probes/0/limits/place_high_c"), 75.0);
    desk.says(&["probe", "name", "bed", "hot bed"]);
    assert!(desk.says(&["probe", "limits", "hot bed"]).contains("its own"), "they stay the probe's under another name");
}

#[test]
fn limits_that_cannot_be_meant_are_refused_with_value_and_rule() {
    let desk = Desk::new();
    hot_bed(&desk, None);
    for (arguments, complaint) in [
        (
            &["--sensor", "-300..50"][..],
            "probe 'bed': -300 °C is out of range: what a sensor can measure lies from -273.15 to 1000 °C\n  nothing was recorded\n",
        ),
        (
            &["--place", "70.."],
            "probe 'bed': what a place can be lies from 70 to 60 (the usual) °C: its lower end lies below its upper one\n  nothing was recorded\n",
        ),
        (
            &["--change", "20..15"],
            "probe 'bed': a change is suspect beyond 20 and fails beyond 15 °C a minute: it is suspect before it fails\n  nothing was recorded\n",
        ),
    ] {
        let answer = desk.run(&[&["probe", "limits", "bed"][..], arguments].concat());
        assert_eq!((answer.code, answer.err), (2, format!("seedclock: {complaint}")));
    }
    let unknown = desk.run(&["probe", "limits", "nobody", "--place", "..70"]);
    assert_eq!(
        (unknown.code, unknown.err.as_str()),
        (2, "seedclock: there is no probe 'nobody' on this bench\n  nothing was recorded\n")
    );
    assert_eq!(desk.run(&["probe", "limits", "nobody"]).code, 2);
    assert_eq!(desk.run(&["probe", "limits", "bed", "--place", "warm"]).code, 2);
    assert!(
        desk.says(&["export", "out"]).contains("doubts.csv, bench.csv"),
        "nothing of it is on record, and so no table of it is written"
    );
}

#[test]
fn limits_come_in_and_go_out_with_a_folder() {
    let desk = Desk::new();
    hot_bed(&desk, Some("probe,highest_c,place_high_c\nbed,150.5,75\n"));
    assert!(desk.says(&["import", "in"]).starts_with("imported nothing new; "));
    desk.says(&["export", "out"]);
    let written = std::fs::read_to_string(desk.path("out/limits.csv")).unwrap();
    assert_eq!(
        written,
        "probe,lowest_c,highest_c,place_low_c,place_high_c,change_suspect_c_per_minute,change_fail_c_per_minute,spike_suspect_c,spike_fail_c,repeat_hours\n\
         bed,,150.5,,75,,,,,\n"
    );
    std::fs::write(desk.path("in/limits.csv"), "probe,highest_c,place_high_c\nbed,140,75\n").unwrap();
    let answer = desk.run(&["import", "in"]);
    let complaint = "seedclock: limits.csv:2: the limits of probe 'bed' are known already, with other values: highest_c 150.5, here 140\n  \
                     nothing was imported; next: correct line 2\n";
    assert_eq!((answer.code, answer.err.as_str()), (2, complaint));
    assert!(
        desk.says(&["import", "--replace", "in"]).starts_with("imported nothing new; 1 row was replaced, the old values are kept;")
    );
    assert!(desk.says(&["probe", "limits", "bed"]).contains("140.0"));
    assert!(
        desk.says(&["undo", "limits", "bed"])
            .starts_with("taken back: the limits of probe bed (sensor usual to 140 °C, place usual to 75 °C)")
    );
    desk.says(&["export", "out"]);
    assert!(!desk.path("out/limits.csv").exists(), "an earlier export's is not left to be read back");
}

/// Readings that are mostly above 45 °C are taken for Fahrenheit, but of a probe whose place may be so warm.
#[test]
fn a_place_said_to_be_hot_is_believed_to_be() {
    let desk = Desk::new();
    hot_bed(&desk, None);
    let hot = "time,probe,celsius\n2026-03-20T08:00:00Z,bed,66\n2026-03-20T09:00:00Z,bed,67\n";
    std::fs::write(desk.path("in/readings.csv"), hot).unwrap();
    let answer = desk.run(&["import", "in"]);
    assert!(answer.code == 2 && answer.err.contains("2 of 2 readings lie above 45 °C"), "{answer:?}");
    std::fs::write(desk.path("in/limits.csv"), "probe,place_high_c\nbed,75\n").unwrap();
    assert!(desk.says(&["import", "in"]).starts_with("imported 1 probe's limits, 2 readings; "));
}
