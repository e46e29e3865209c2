//! Probes doubted before places are blamed, through the program: in the sun, out of their boxes, unlike each other, half a degree off.

use std::fmt::Write as _;

use serde_json::Value;

use super::Desk;

const MINUTES: i64 = 1440;

/// "2026-03-05T09:35:00Z", some minutes after the beginning of March.
fn time(minute: i64) -> String {
    let (day, hour) = (minute / MINUTES, minute / 60 % 24);
    let (month, day) = if day < 31 { (3, day + 1) } else { (4, day - 30) };
    format!("2026-{month:02}-{day:02}T{hour:02}:{:02}:00Z", minute % 60)
}

/// A small steady noise that differs from probe to probe, °C.
fn noise(minute: i64, probe: i64) -> f64 {
    0.03 * ((minute * 7919 + probe * 104_729) % 101 - 50) as f64 / 50.0
}

/// Probes by name, with what each reads at a minute.
type Reads<'a> = (&'a str, &'a dyn Fn(i64) -> f64);

fn readings(days: i64, every: usize, probes: &[Reads<'_>]) -> String {
    let mut table = String::from("time,probe,celsius\n");
    for minute in (0..days * MINUTES).step_by(every) {
        for (probe, celsius) in probes {
            let _ = writeln!(table, "{},{probe},{:.4}", time(minute), celsius(minute));
        }
    }
    table
}

fn bench(files: &[(&str, &str)]) -> Desk {
    let desk = Desk::new();
    let files: Vec<(&str, &[u8])> = files.iter().map(|(name, text)| (*name, text.as_bytes())).collect();
    desk.write_folder("in", &files);
    let imported = desk.run(&["import", "in"]);
    assert_eq!(imported.code, 0, "{imported:?}");
    desk
}

fn diagnosed(desk: &Desk, as_of: &str) -> Value {
    serde_json::from_str(&desk.run(&["diagnose", "--json", "--as-of", as_of]).out).unwrap()
}

/// (probe, what is said of it).
fn told(diagnosis: &Value) -> Vec<(String, String)> {
    let probes = diagnosis["probes"].as_array().unwrap().iter();
    probes
        .flat_map(|probe| {
            let name = probe["probe"].as_str().unwrap().to_owned();
            let findings = probe["findings"].as_array().unwrap().clone();
            findings.into_iter().map(move |finding| (name.clone(), finding["evidence"].as_str().unwrap().to_owned()))
        })
        .collect()
}

fn room(minute: i64) -> f64 {
    19.0 + 1.5 * ((minute - 600) as f64 / MINUTES as f64 * std::f64::consts::TAU).sin()
}

/// Up by 12 °C from 9:00 UTC for an hour on three days of five, as a probe of four minutes follows.
fn in_the_sun(minute: i64) -> f64 {
    let (day, of_day) = (minute / MINUTES, (minute % MINUTES) as f64 - 540.0);
    let height = if day * 7 % 5 < 3 { 12.0 + (day % 3) as f64 } else { 0.0 };
    if of_day < 0.0 {
        0.0
    } else if of_day <= 60.0 {
        height * (1.0 - (-of_day / 4.0).exp())
    } else {
        height * (-(of_day - 60.0) / 4.0).exp()
    }
}

const BOXES: &str = "container,batch,species,lot,treatment,seeds,sown,spot\n\
                     A1,spring,leek,,,20,2026-03-02T00:00:00Z,sill\nA2,spring,leek,,,20,2026-03-02T00:00:00Z,shelf\n\
                     A3,spring,leek,,,20,2026-03-02T00:00:00Z,cellar\n";

#[test]
fn a_probe_in_the_sun_is_told_left_out_and_can_be_said_to_be_right_and_none_in_a_fridge_is() {
    let (lit, dull) = (|minute| room(minute) + in_the_sun(minute), |minute| room(minute) - 0.5);
    let cold = |minute| 4.0 + in_the_sun(minute);
    let table = readings(30, 5, &[("lit", &lit), ("dull", &dull), ("cold", &cold)]);
    let desk = bench(&[
        ("containers.csv", BOXES),
        ("checks.csv", "container,time,sprouted\nA1,2026-03-25T07:00:00Z,0\nA2,2026-03-25T07:00:00Z,0\n"),
        (
            "probes.csv",
            "probe,spot,since\nlit,sill,2026-03-01T00:00:00Z\ndull,shelf,2026-03-01T00:00:00Z\ncold,cellar,2026-03-01T00:00:00Z\n",
        ),
        ("spots.csv", "spot,kind\ncellar,fridge\n"),
        ("bench.csv", "key,value\nzone,Europe/Berlin\n"),
        ("readings.csv", &table),
    ]);
    let as_of = "2026-03-28T00:00:00Z";
    let diagnosis = diagnosed(&desk, as_of);
    assert_eq!(
        told(&diagnosis),
        [(
            "lit".to_owned(),
            "on 17 days from 1 Mar to 27 Mar it shot up by about 13 °C around 11:00 and fell faster than a damp box can: does the sun reach \
             the probe itself? Those readings are left out; shade it, or put it in a dummy box of the same damp paper. If it is truly as \
             warm there for seeds: `seedclock probe limits NAME --spike 26..26`."
                .to_owned()
        )]
    );
    let mean = |diagnosis: &Value| diagnosis["containers"][0]["mean_c"].as_f64().unwrap();
    let left_out = mean(&diagnosis);
    let shade = (MINUTES..27 * MINUTES).step_by(5).map(room).sum::<f64>() / (26 * MINUTES / 5) as f64;
    assert!((left_out - shade).abs() < 0.05, "{left_out} °C, in the shade {shade} °C");
    assert_eq!(desk.run(&["probe", "limits", "lit", "--spike", "26..26"]).code, 0);
    let believed = diagnosed(&desk, as_of);
    assert_eq!(told(&believed), []);
    assert!(mean(&believed) > left_out + 0.2, "{} °C", mean(&believed));
}

/// Heating that comes and goes about every hour, never twice alike.
fn heated(minute: i64) -> f64 {
    let day = (minute / MINUTES) as f64;
    room(minute) + 0.5 * ((minute as f64 + 9.0 * day) / (50.0 + day % 7.0) * std::f64::consts::TAU).sin()
}

/// What a box of a time constant of 45 minutes makes of that: amplitude and lag of the heating alone.
fn boxed(minute: i64) -> f64 {
    room(minute) + 0.17 * (heated(minute - 11) - room(minute - 11))
}

#[test]
fn a_probe_out_of_its_box_is_told_with_the_day_and_one_said_to_be_elsewhere_is_not() {
    let fallen = |minute| if minute < 18 * MINUTES { boxed(minute) } else { heated(minute) } + noise(minute, 1);
    let still = |minute| boxed(minute) + noise(minute, 2);
    let air = |minute| heated(minute) + 0.4 + noise(minute, 3);
    let table = readings(27, 5, &[("fallen", &fallen), ("still", &still), ("air", &air)]);
    let files = |spots: &'static str| {
        bench(&[
            ("containers.csv", BOXES),
            ("checks.csv", "container,time,sprouted\nA1,2026-03-25T07:00:00Z,0\nA2,2026-03-25T07:00:00Z,0\n"),
            (
                "probes.csv",
                "probe,spot,since,siting\nfallen,sill,2026-03-01T00:00:00Z,in\nstill,cellar,2026-03-01T00:00:00Z,in\nair,shelf,2026-03-01T00:00:00Z,room\n",
            ),
            ("spots.csv", spots),
            ("bench.csv", "key,value\nzone,UTC\n"),
            ("readings.csv", &table),
        ])
    };
    let told_of = |desk: &Desk| told(&diagnosed(desk, "2026-03-28T00:00:00Z"));
    let said = told_of(&files("spot\nsill\n"));
    assert_eq!(said.len(), 1, "{said:?}");
    assert_eq!(said[0].0, "fallen");
    assert!(
        said[0].1.starts_with("since 18 Mar it moves as the room does (by air), ")
            || said[0].1.starts_with("since 19 Mar it moves as the room does (by air), "),
        "{said:?}"
    );
    assert!(said[0].1.contains("has it fallen out of its box? Put it back, and keep those days out by"), "{said:?}");
    let changed = files("spot,changed\nsill,2026-03-19T00:00:00Z\n");
    assert_eq!(told_of(&changed), [], "said to be changed");
}

#[test]
fn probes_in_one_rooms_air_that_differ_night_after_night_are_told_with_how_to_try_them() {
    let (one, two) = (|minute| heated(minute) + noise(minute, 1), |minute| heated(minute) + 3.4 + noise(minute, 2));
    let mat = |minute| heated(minute) + 6.0 + noise(minute, 3);
    let table = readings(12, 10, &[("one", &one), ("two", &two), ("mat", &mat)]);
    let desk = bench(&[
        ("containers.csv", BOXES),
        ("checks.csv", "container,time,sprouted\nA1,2026-03-12T07:00:00Z,0\n"),
        (
            "probes.csv",
            "probe,spot,since,offset_c,siting\none,sill,2026-03-01T00:00:00Z,,room\ntwo,shelf,2026-03-01T00:00:00Z,0,room\nmat,cellar,2026-03-01T00:00:00Z,,in\n",
        ),
        ("bench.csv", "key,value\nzone,Europe/Berlin\n"),
        ("readings.csv", &table),
    ]);
    assert_eq!(
        told(&diagnosed(&desk, "2026-03-13T00:00:00Z")),
        [(
            "one".to_owned(),
            "it reads 3.4 °C below two, night after night, both said to read their room's air, since 1 Mar; one of the two was never calibrated. If that is one room, try both \
             in ice slush: `seedclock probe calibrate NAME --ice`."
                .to_owned()
        )]
    );
}

/// Boxes of last year on a mat at 22 °C and in a hall at 16 °C, where half of the seeds sprouted after 80 °C·d above 10 °C, and one
/// now on a shelf at 14 °C and on a sill so much cooler.
fn cooler_sill(cooler_c: f64, offset: &str, spells: bool) -> Value {
    let (mut boxes, mut checks) =
        (String::from("container,batch,species,lot,treatment,seeds,sown,spot\n"), String::from("container,time,sprouted\n"));
    for (spot, rate) in [("mat", 12.0), ("hall", 6.0)] {
        for number in 1..=5 {
            let _ = writeln!(boxes, "{spot}{number},last,leek,,,40,2025-03-01T08:00:00Z,{spot}");
            let mut up = 0;
            for day in 1..=25 {
                let share = 1.0 / (1.0 + (-((f64::from(day) * rate / 80.0).ln() / 0.1)).exp());
                let all = (36.0 * share).round() as i64;
                let date = format!("2025-03-{:02}T08:00:00Z", day + 1);
                let _ = writeln!(checks, "{spot}{number},{date},{}", all - up);
                up = all;
            }
        }
    }
    for spot in ["shelf", "sill"] {
        let _ = writeln!(boxes, "now-{spot},now,leek,,,40,2026-03-02T00:00:00Z,{spot}");
        let _ = writeln!(checks, "now-{spot},2026-03-14T07:00:00Z,0");
    }
    // A spell of frost without which the sill is as warm as the shelf.
    let suspect = move |minute: i64| {
        if spells && (3..13).contains(&(minute / MINUTES)) && minute % 1440 < 1000 { -18.0 } else { 14.0 - cooler_c }
    };
    let mut table = readings(14, 30, &[("warm", &|_| 14.0), ("cool", &suspect)]);
    for hour in 0..26 * 24 {
        let date = format!("2025-03-{:02}T{:02}:00:00Z", hour / 24 + 1, hour % 24);
        let _ = write!(table, "{date},warm,22\n{date},cool,16\n");
    }
    let probes = format!(
        "probe,spot,since,offset_c,siting\nwarm,mat,2025-02-25T00:00:00Z,{offset},in\ncool,hall,2025-02-25T00:00:00Z,{offset},in\n\
         warm,shelf,2026-02-25T00:00:00Z,{offset},in\ncool,sill,2026-02-25T00:00:00Z,{offset},in\n"
    );
    let desk = bench(&[
        ("containers.csv", &boxes),
        ("checks.csv", &checks),
        ("probes.csv", &probes),
        ("bench.csv", "key,value\nzone,UTC\n"),
        ("readings.csv", &table),
    ]);
    let diagnosis = diagnosed(&desk, "2026-03-14T12:00:00Z");
    let boxes = diagnosis["containers"].as_array().unwrap().clone();
    let sill = boxes.into_iter().find(|one| one["container"] == "now-sill").unwrap();
    sill["findings"][0].clone()
}

#[test]
fn a_spot_little_cooler_by_a_probe_never_calibrated_is_not_blamed() {
    let kind = |cooler_c, offset| cooler_sill(cooler_c, offset, false)["kind"].clone();
    assert_eq!(kind(0.4, ""), "too-early-to-tell");
    assert_eq!(kind(0.8, "0"), "cold-spot", "calibrated");
    assert_eq!(kind(3.0, ""), "cold-spot", "far cooler");
    let hangs = cooler_sill(0.8, "", false);
    assert_eq!(hangs["kind"], "too-early-to-tell", "{hangs}");
    assert_eq!(
        hangs["evidence"],
        "it looks late, but that would be gone if probe warm at shelf, never calibrated, read half a degree wrong: no verdict on the spot yet.",
    );
    assert_eq!(hangs["advice"], "Ice slush settles it: `seedclock probe calibrate warm --ice`.");
}

#[test]
fn a_spot_is_not_blamed_for_readings_that_are_in_doubt() {
    let found = cooler_sill(0.0, "0", true);
    assert_eq!(found["kind"], "too-early-to-tell", "{found}");
    assert_eq!(
        found["evidence"],
        "it looks late, but that would be gone without readings of probe cool at sill that are in doubt: no verdict on the spot yet."
    );
    assert_eq!(found["advice"], "See to cool first.");
}
