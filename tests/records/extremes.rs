//! Minimum–maximum thermometers, read off by hand.

use super::Desk;

#[test]
fn what_a_minimum_maximum_thermometer_showed_stands_for_the_time_since_it_was_set_back() {
    let desk = Desk::new();
    desk.says(&["sow", "A3", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", "2026-03-01 18:00"]);
    assert_eq!(
        desk.says(&["minmax", "sill", "12", "22", "--at", "2026-03-02 18:00"]).replace('\u{a0}', " "),
        "spot sill: between 12.0 °C and 22.0 °C from 2026-03-01 18:00 to 2026-03-02 18:00; taken as 20.5 °C by day and 13.5 °C by \
         night, give or take 1.1 °C, and so on until it is read again\n"
    );
    let second = desk.says(&["minmax", "sill", "50F", "68", "--at", "2026-03-05 18:00"]).replace('\u{a0}', " ");
    assert!(second.starts_with("spot sill: between 10.0 °C and 20.0 °C from 2026-03-02 18:00 to 2026-03-05 18:00;"), "{second}");
    desk.says(&["export", "out"]);
    let spots = std::fs::read_to_string(desk.path("out").join("spots.csv")).unwrap();
    let told: Vec<(&str, &str, &str, &str)> = spots
        .lines()
        .skip(1)
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            (cells[2], cells[5], cells[6], cells[4])
        })
        .collect();
    assert_eq!(
        told,
        [
            ("2026-03-01T17:00:00Z", "20.5", "13.5", "1.1"),
            ("2026-03-02T17:00:00Z", "18.5", "11.5", "1.8"),
            ("2026-03-05T17:00:00Z", "18.5", "11.5", "1.8"),
        ],
        "{spots}"
    );
    let forecast: serde_json::Value =
        serde_json::from_str(&desk.says(&["forecast", "--json", "--as-of", "2026-03-05 18:00"])).unwrap();
    assert!(forecast["containers"][0]["half"]["p50"].is_string(), "the forecast rests on it: {forecast}");
    desk.says(&["undo"]);
    desk.says(&["export", "before"]);
    let before = std::fs::read_to_string(desk.path("before").join("spots.csv")).unwrap();
    assert!(before.contains("2026-03-02T17:00:00Z") && before.contains("20.5") && !before.contains("18.5"), "{before}");
}

#[test]
fn a_reading_that_cannot_be_is_refused_in_words() {
    let desk = Desk::new();
    desk.says(&["sow", "A3", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", "2026-03-01 18:00"]);
    assert_eq!(
        refused(&desk, &["minmax", "sill", "22", "12", "--at", "2026-03-02 18:00"]),
        "seedclock: the lowest is above the highest\n  nothing was recorded; next: write the lowest first\n"
    );
    assert_eq!(
        refused(&desk, &["minmax", "shed", "2", "12", "--at", "2026-03-02 18:00"]),
        "seedclock: nothing tells since when the thermometer at 'shed' was not set back\n  nothing was recorded; next: say it with --since\n"
    );
    desk.says(&["spot", "sill", "--set", "18", "--since", "2026-03-02 08:00"]);
    assert_eq!(
        refused(&desk, &["minmax", "sill", "2", "12", "--at", "2026-03-02 18:00"]),
        "seedclock: something else is said of spot 'sill' from 2026-03-02 08:00 on\n  nothing was recorded; next: say with --since from when \
         these hold\n"
    );
}

fn refused(desk: &Desk, arguments: &[&str]) -> String {
    let answer = desk.run(arguments);
    assert_eq!(answer.code, 2, "{}", answer.out);
    answer.err
}
