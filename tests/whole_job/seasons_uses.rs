//! What answers make of all that a season brings: seeds out of a chilling bag, doubted readings, changed spots, temperatures that
//! were given, packets, plans.

use crate::asking::{Asked, Files, named, number};

const LOOKS: [(u32, u32); 8] = [(3, 0), (4, 1), (5, 4), (6, 6), (7, 3), (8, 2), (10, 1), (14, 0)];

/// A folder from its tables; what is not given is empty.
fn folder(tables: &[(&str, String)]) -> Files {
    let heads = [
        ("containers.csv", "container,batch,species,lot,treatment,seeds,sown,spot"),
        ("checks.csv", "container,time,sprouted"),
        ("probes.csv", "probe,spot,since"),
        ("bench.csv", "key,value\nzone,Europe/Dublin"),
    ];
    let mut files: Files = heads.iter().map(|(name, head)| ((*name).to_owned(), format!("{head}\n"))).collect();
    files.extend(tables.iter().map(|(name, text)| ((*name).to_owned(), text.clone())));
    files
}

/// Looks at a box, days counted from 1 March.
fn looks(container: &str, looks: &[(u32, u32)]) -> String {
    looks.iter().map(|(day, sprouted)| format!("{container},2026-03-{:02}T08:00:00Z,{sprouted}\n", 1 + day)).collect()
}

const SPOTS: &str = "spot,kind,set_c\nfridge,fridge,4\nshelf,,20\nmat,,25\n";

/// Two boxes of violas on shelf and mat from 1 March on, sown then or taken out of a bag that lay in the fridge since January; `in_bag`
/// are looks at the bag.
fn violas(out_of_a_bag: bool, in_bag: &str) -> Files {
    let head = "container,batch,species,lot,treatment,seeds,sown,spot,from\n";
    let (bag, from) = if out_of_a_bag { ("bag,spring,viola,,,60,2026-01-02T08:00:00Z,fridge,\n", "bag") } else { ("", "") };
    let boxes = ["shelf", "mat"].map(|spot| format!("{spot} box,spring,viola,,,20,2026-03-01T08:00:00Z,{spot},{from}\n")).concat();
    folder(&[
        ("containers.csv", format!("{head}{bag}{boxes}")),
        ("checks.csv", format!("container,time,sprouted\n{in_bag}{}{}", looks("shelf box", &LOOKS), looks("mat box", &LOOKS))),
        ("spots.csv", SPOTS.to_owned()),
    ])
}

#[test]
fn days_in_the_cold_count_for_nothing_unless_the_species_sprouts_there() {
    let fit = |files: &Files| Asked::about(files).json(&["fit", "--as-of", "2026-03-20T08:00:00Z"]);
    let (sown, chilled) = (fit(&violas(false, "")), fit(&violas(true, "bag,2026-02-10T08:00:00Z,0\n")));
    for parameter in ["base_c", "optimum_c", "half_requirement", "spread_ln"] {
        let of = |fit: &serde_json::Value| number(fit, &format!("/fits/0/parameters/{parameter}/estimate")).unwrap();
        assert!((of(&chilled) - of(&sown)).abs() < 1e-6 * of(&sown), "{parameter}: {} against {}", of(&chilled), of(&sown));
    }
    assert_eq!(number(&chilled, "/fits/0/valid_c/low"), Some(20.0));
    let in_cold = fit(&violas(true, "bag,2026-02-10T08:00:00Z,2\n"));
    assert_eq!(number(&in_cold, "/fits/0/valid_c/low"), Some(4.0), "two sprouts in the fridge: its warmth counts");
    let base = number(&in_cold, "/fits/0/parameters/base_c/high").unwrap();
    assert!(base < 4.0, "a seed that sprouted at 4 °C starts below: {base}");
}

#[test]
fn a_bag_in_the_cold_is_given_no_dates_until_it_is_taken_out() {
    let asked = Asked::about(&violas(true, ""));
    let forecast = asked.json(&["forecast", "--as-of", "2026-02-20T08:00:00Z"]);
    let bag = named(&forecast["containers"], "container", "bag");
    assert!(bag["first"]["p50"].is_null() && bag["warnings"][0]["kind"] == "in-the-cold", "{bag}");
    let diagnosis = asked.json(&["diagnose", "--as-of", "2026-02-20T08:00:00Z"]);
    let bag = named(&diagnosis["containers"], "container", "bag");
    assert_eq!(
        bag["findings"][0]["evidence"],
        "in the cold, where it gains nothing yet: its days count from the day it is taken out."
    );
}

/// A box beside a probe that reads 20 °C, but 40 °C from 5 to 7 March, when it lay in the sun.
fn sun_struck(doubts: &str) -> Files {
    let mut readings = "time,probe,celsius\n".to_owned();
    for hour in 0..24 * 12 {
        let (day, hour_of_day) = (1 + hour / 24, hour % 24);
        let celsius = if (5..7).contains(&day) { 40.0 } else { 20.0 + f64::from(hour % 3) / 16.0 };
        readings += &format!("2026-03-{day:02}T{hour_of_day:02}:00:00Z,blue,{celsius}\n");
    }
    folder(&[
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot\nA1,spring,viola,,,20,2026-03-01T08:00:00Z,sill\n".to_owned(),
        ),
        ("checks.csv", format!("container,time,sprouted\n{}", looks("A1", &[(9, 0)]))),
        ("probes.csv", "probe,spot,since\nblue,sill,2026-03-01T00:00:00Z\n".to_owned()),
        ("readings.csv", readings),
        ("doubts.csv", format!("probe,from,to,why\n{doubts}")),
    ])
}

#[test]
fn doubted_readings_are_a_gap_that_is_guessed_and_said() {
    let asked = |doubts: &str| {
        let asked = Asked::about(&sun_struck(doubts));
        let at = ["--as-of", "2026-03-12T08:00:00Z"];
        let (forecast, diagnosis) = (asked.json(&["forecast", at[0], at[1]]), asked.json(&["diagnose", at[0], at[1]]));
        (number(&forecast, "/containers/0/imputed_share").unwrap(), number(&diagnosis, "/containers/0/mean_c").unwrap())
    };
    let (guessed, mean) = asked("");
    assert!(guessed < 0.01 && mean > 23.0, "{guessed}, {mean}");
    let (guessed, mean) = asked("blue,2026-03-05T00:00:00Z,2026-03-07T00:00:00Z,lay in the sun\n");
    assert!(guessed > 0.15 && guessed < 0.3, "two days of nine: {guessed}");
    assert!((mean - 20.0).abs() < 0.3, "{mean}");
}

/// Past sowings of maca that needed 60 °C·d above 5 °C, and a box, last looked at then, at a sill whose probe is not heard for three
/// days.
fn logger_down(is_down: bool, last_look: &str) -> Files {
    let (mut readings, mut checks) = ("time,probe,celsius\n".to_owned(), String::new());
    let begun = chrono::DateTime::parse_from_rfc3339("2026-02-19T00:00:00Z").unwrap();
    for hour in (0..24 * 10 + 118).filter(|hour| !(is_down && (24 * 10 + 36..24 * 10 + 108).contains(hour))) {
        // Warm days and cold ones, so that nobody can know what the missing ones were like, which were as the others are on average.
        let weather = [4.0, -4.0, 5.0, -5.0, 3.0, -3.0, 4.0, -4.0, 2.0, -2.0, 0.0, 0.0, 0.0, 0.0, 0.0][hour as usize / 24];
        let celsius = 13.0 + weather + 2.0 * (f64::from(hour % 24) / 24.0 * std::f64::consts::TAU).sin();
        let time = begun + chrono::Duration::hours(i64::from(hour));
        readings += &format!("{},blue,{celsius:.4}\n", time.to_rfc3339());
    }
    for (name, sprouted) in [("M1", [0, 0, 0, 1, 5, 12, 11, 5, 1, 0]), ("M2", [0, 1, 11, 17, 5, 1, 0, 0, 0, 0])] {
        for (day, sprouted) in (2..).zip(sprouted) {
            checks += &format!("{name},2026-01-{day:02}T08:00:00Z,{sprouted}\n");
        }
    }
    let past = |name, spot| format!("{name},past,maca,,,40,2026-01-01T08:00:00Z,{spot},2026-01-11T08:00:00Z\n");
    let head = "container,batch,species,lot,treatment,seeds,sown,spot,ended\n";
    let present = "A1,present,maca,,,40,2026-03-01T08:00:00Z,sill,\n";
    folder(&[
        ("containers.csv", format!("{head}{}{}{present}", past("M1", "cool cabinet"), past("M2", "warm cabinet"))),
        ("checks.csv", format!("container,time,sprouted\n{checks}A1,{last_look},0\n")),
        ("probes.csv", "probe,spot,since\nblue,sill,2026-02-19T00:00:00Z\n".to_owned()),
        ("spots.csv", "spot,set_c\ncool cabinet,15\nwarm cabinet,22\nsill,\n".to_owned()),
        ("readings.csv", readings),
    ])
}

#[test]
fn fault_42_three_days_without_the_logger_are_a_gap_and_the_forecast_says_so_and_is_less_sure() {
    let asked = |is_down: bool, last_look: &str| {
        let asked = Asked::about(&logger_down(is_down, last_look));
        let forecast = asked.json(&["forecast", "--as-of", "2026-03-05T22:00:00Z", "--assume", "sill=13"]);
        let box_at_the_sill = named(&forecast["containers"], "container", "A1");
        let day = |quantile: &str| days_from_sowing(&box_at_the_sill["half"][quantile], "2026-03-01T08:00:00Z");
        let warned = box_at_the_sill["warnings"].as_array().unwrap().iter().any(|one| one["kind"] == "guessed-hours");
        (number(box_at_the_sill, "/imputed_share").unwrap(), day("p90") - day("p10"), warned)
    };
    let after = "2026-03-05T20:00:00Z";
    let ((whole, _, unwarned), (gap, _, warned)) = (asked(false, after), asked(true, after));
    assert!(whole < 0.01 && !unwarned, "{whole}");
    // From the last reading before to the first after are 73 of the 108 hours to the look.
    assert!((0.64..0.68).contains(&gap) && warned, "{gap}");
    // Where nobody has looked since, that nothing has sprouted yet tells nothing of the warmth in the gap.
    let before = "2026-03-02T11:00:00Z";
    let ((_, sure, _), (_, less_sure, _)) = (asked(false, before), asked(true, before));
    assert!(less_sure > sure * 1.1, "{less_sure:.2} days with the gap, {sure:.2} without");
}

/// A tray that was cold until a mat was laid under it on 13 March.
fn mat_laid(changed: &str) -> Files {
    let mut readings = "time,probe,celsius\n".to_owned();
    for hour in 0..24 * 14 {
        let (day, hour_of_day) = (1 + hour / 24, hour % 24);
        readings += &format!("2026-03-{day:02}T{hour_of_day:02}:00:00Z,blue,{}\n", if day < 13 { 12.0 } else { 24.0 });
    }
    folder(&[
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot\nA1,spring,tomato,,,20,2026-03-13T08:00:00Z,tray\n".to_owned(),
        ),
        ("probes.csv", "probe,spot,since\nblue,tray,2026-03-01T00:00:00Z\n".to_owned()),
        ("spots.csv", format!("spot,changed\ntray,{changed}\n")),
        ("readings.csv", readings),
    ])
}

#[test]
fn a_changed_spot_forgets_what_it_was() {
    let half = |files: &Files, path: &[&str]| {
        let forecast = Asked::about(files).json(&[&["forecast"][..], path].concat());
        days_from_sowing(&forecast["containers"][0]["half"]["p50"], "2026-03-13T08:00:00Z")
    };
    let at = ["--as-of", "2026-03-14T23:00:00Z"];
    let (forgotten, remembered) = (half(&mat_laid("2026-03-13T00:00:00Z"), &at), half(&mat_laid(""), &at));
    // Tomatoes take about 8 d at 20 °C (the handbook's own figure), less at 24 °C.
    assert!(forgotten < 10.0, "{forgotten}");
    // Today's warmth holds on for a while whatever was before, but not for good.
    assert!(remembered > forgotten + 1.5, "{remembered} with the cold days remembered, {forgotten} without");
}

fn days_from_sowing(time: &serde_json::Value, sown: &str) -> f64 {
    let read = |text: &str| chrono::DateTime::parse_from_rfc3339(text).unwrap();
    (read(time.as_str().unwrap_or_else(|| panic!("no date: {time}"))) - read(sown)).num_minutes() as f64 / 1440.0
}

#[test]
fn a_spot_may_be_remembered_by_day_and_night() {
    let files = folder(&[
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot\nA1,spring,tomato,,,20,2026-03-01T08:00:00Z,sill\n".to_owned(),
        ),
        ("checks.csv", format!("container,time,sprouted\n{}", looks("A1", &[(9, 0)]))),
        ("spots.csv", "spot,day_c,night_c,set_sd_c\nsill,22,10,1\nshelf,,,\n".to_owned()),
    ]);
    let asked = Asked::about(&files);
    let diagnosis = asked.json(&["diagnose", "--as-of", "2026-03-11T08:00:00Z"]);
    let mean = number(&diagnosis, "/containers/0/mean_c").unwrap();
    assert!((mean - 16.0).abs() < 1e-9, "ten whole days: {mean}");
    let forecast = asked.json(&["forecast", "--as-of", "2026-03-11T08:00:00Z"]);
    assert!(!forecast["containers"][0]["half"]["p50"].is_null(), "given temperatures are enough for dates");
}

/// "10–14 days at 21 °C" on the packet, a box at 21 °C: half of the sprouts within those days, as likely as the packet's own range.
#[test]
fn a_packet_alone_gives_the_first_years_dates() {
    let with_packet = |at: f64| {
        let files = folder(&[
            (
                "containers.csv",
                "container,batch,species,lot,treatment,seeds,sown,spot\nA1,spring,viola,shop,,20,2026-03-01T08:00:00Z,shelf\n"
                    .to_owned(),
            ),
            ("checks.csv", format!("container,time,sprouted\n{}", looks("A1", &[(1, 0)]))),
            (
                "lots.csv",
                "lot,species,packet_days_low,packet_days_high,packet_c,packet_percent\nshop,viola,10,14,21,80\n".to_owned(),
            ),
            ("spots.csv", format!("spot,set_c\nshelf,{at}\n")),
        ]);
        let asked = Asked::about(&files);
        let as_of = ["--as-of", "2026-03-02T09:00:00Z"];
        assert_eq!(asked.json(&["fit", as_of[0], as_of[1]])["fits"][0]["prior"], "packet");
        let forecast = asked.json(&["forecast", as_of[0], as_of[1]]);
        let half = &forecast["containers"][0]["half"];
        ["p10", "p50", "p90"].map(|point| days_from_sowing(&half[point], "2026-03-01T08:00:00Z"))
    };
    let [early, middle, late] = with_packet(21.0);
    assert!((10.0..14.0).contains(&middle), "{middle}");
    assert!(early > 6.0 && late < 22.0, "{early} to {late}");
    assert!(with_packet(15.0)[1] > middle + 3.0, "cooler than the packet says takes longer");
}

#[test]
fn forecasts_follow_a_planned_move() {
    let half = |planned: &str| {
        let files = folder(&[
            (
                "containers.csv",
                "container,batch,species,lot,treatment,seeds,sown,spot\nA1,spring,tomato,,,20,2026-03-01T08:00:00Z,porch\n"
                    .to_owned(),
            ),
            ("moves.csv", format!("container,time,spot,planned\n{planned}")),
            ("spots.csv", "spot,set_c\nporch,12\nmat,25\n".to_owned()),
        ]);
        let forecast = Asked::about(&files).json(&["forecast", "--as-of", "2026-03-03T09:00:00Z"]);
        days_from_sowing(&forecast["containers"][0]["half"]["p50"], "2026-03-01T08:00:00Z")
    };
    let (stays, moves) = (half(""), half("A1,2026-03-08T09:00:00Z,mat,yes\n"));
    assert!(moves < stays - 4.0 && moves > 7.0, "{moves} days with the move on day 7, {stays} without");
}

#[test]
fn temperatures_to_come_can_be_assumed_and_an_unsure_assumption_widens_the_range() {
    let files = folder(&[
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot\nA1,spring,tomato,,,20,2026-03-01T08:00:00Z,porch\n".to_owned(),
        ),
        ("spots.csv", "spot,set_c\nporch,14\nmat,25\n".to_owned()),
    ]);
    let asked = Asked::about(&files);
    let half = |assumed: &[&str]| {
        let forecast = asked.json(&[&["forecast", "--as-of", "2026-03-03T09:00:00Z"], assumed].concat());
        let half = &forecast["containers"][0]["half"];
        ["p10", "p50", "p90"].map(|point| days_from_sowing(&half[point], "2026-03-01T08:00:00Z"))
    };
    let (stays, as_mat) = (half(&[]), half(&["--assume", "porch=mat"]));
    assert!(as_mat[1] < stays[1] - 2.0, "{as_mat:?} as at the mat, {stays:?} as it is");
    let (sure, unsure) = (half(&["--assume", "porch=77F"]), half(&["--assume", "porch=25±4"]));
    assert_eq!(sure, as_mat, "77 °F are the mat's 25 °C");
    assert!(unsure[2] - unsure[0] > sure[2] - sure[0] + 0.2, "{unsure:?} against {sure:?}");
    for (wrong, told) in [
        ("porch=warm", "'warm' is neither a temperature (21, 21C, 70F, 21±2) nor a spot of this bench; it has mat, porch"),
        ("shed=20", "there is no spot 'shed' on this bench; it has mat, porch"),
        ("porch=95", "95 °C is out of range: a set temperature lies from -20 to 60 °C"),
    ] {
        let done = asked.run(&["forecast", "--assume", wrong]);
        let said = String::from_utf8(done.stderr).unwrap();
        assert_eq!((done.status.code(), said), (Some(2), format!("seedclock: --assume '{wrong}': {told}\n")));
    }
}

/// Tiny seed sown by the pinch, between 30 and 50: dates can be given, and the count is said to be rough.
#[test]
fn seeds_counted_roughly_are_enough_for_dates() {
    let files = folder(&[
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot,seeds_low,seeds_high\n\
             A1,spring,lettuce,,,,2026-03-01T08:00:00Z,shelf,30,50\n"
                .to_owned(),
        ),
        ("spots.csv", SPOTS.to_owned()),
    ]);
    let forecast = Asked::about(&files).json(&["forecast", "--as-of", "2026-03-02T09:00:00Z"]);
    let one = &forecast["containers"][0];
    assert!(one["seeds"].is_null() && !one["half"]["p50"].is_null(), "{one}");
    assert!(one["by_date"][59]["quantiles"]["0.95"].as_u64().unwrap() <= 40, "no more than the middle of the range");
    assert_eq!(one["warnings"][0]["kind"], "seeds-counted-roughly");
}

/// Two of twenty up, then carried to a cellar where tomatoes stand still: half of those that can sprout is not reached, however
/// few will.
#[test]
fn seeds_that_will_not_sprout_where_they_stand_still_count_among_half() {
    let files = folder(&[
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot\nA1,spring,tomato,,,20,2026-03-01T08:00:00Z,mat\n".to_owned(),
        ),
        ("checks.csv", format!("container,time,sprouted\n{}", looks("A1", &[(5, 2)]))),
        ("moves.csv", "container,time,spot\nA1,2026-03-06T09:00:00Z,cellar\n".to_owned()),
        ("spots.csv", "spot,set_c\nmat,25\ncellar,-5\n".to_owned()),
    ]);
    let forecast = Asked::about(&files).json(&["forecast", "--as-of", "2026-03-07T09:00:00Z"]);
    let one = &forecast["containers"][0];
    assert_eq!(one["first"]["p50"], "2026-03-06T08:00:00Z", "that one was seen");
    // Half was reached only if no more than four of the twenty can sprout, which two so early make unlikely, not impossible.
    assert!(one["half"]["p50"].is_null() && number(one, "/half/chance").unwrap() < 0.5, "{}", one["half"]);
}
