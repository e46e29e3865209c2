//! A bench written out, taken in and written out again is the same to the byte, and gives the same answers.

use proptest::prelude::*;

use super::Desk;

/// A folder as a test makes one up: file names with their text.
pub(super) type Files = Vec<(&'static str, String)>;

fn comes_back(files: &Files) {
    let desk = Desk::new();
    let bytes: Vec<(&str, &[u8])> = files.iter().map(|(name, text)| (*name, text.as_bytes())).collect();
    desk.write_folder("in", &bytes);
    desk.says(&["import", "in"]);
    desk.says(&["export", "first"]);
    let ask = || desk.run(&["forecast", "--days", "7", "--json", "--as-of", "2026-03-20T08:00:00Z"]);
    let answer = ask();
    std::fs::remove_file(desk.bench()).unwrap();
    desk.says(&["import", "first"]);
    desk.says(&["export", "second"]);
    assert_eq!(desk.files("first"), desk.files("second"));
    assert_eq!(answer, ask(), "the answers are the same to the last digit");
    assert!(desk.says(&["import", "in"]).starts_with("imported nothing new; "), "what was exported is what was imported");
}

#[test]
fn names_that_look_like_formulas_and_odd_times_come_back() {
    comes_back(&vec![
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot,event,ended\n\
             \"'=1+1\",b,\"leek, early\",'@home,'-,,2026-03-01T18:00:00.000001Z,Fensterbank süd,emergence,\n\
             '''quoted,b,leek,,,20,2026-03-01 18:00,sill,radicle,2026-04-01 18:00\n"
                .to_owned(),
        ),
        (
            "checks.csv",
            "container,time,sprouted,condition,note\n'''quoted,2026-03-05 08:00:00.5,3,dry,\"a \"\"note\"\"\nof two lines\"\n"
                .to_owned(),
        ),
        ("probes.csv", "probe,spot,since,offset_c\n'+p,sill,2026-02-01 08:00,\n'+p,sill,2026-02-02 08:00,0\n".to_owned()),
        ("spots.csv", "spot,kind,set_c,set_sd_c,note\ncellar,fridge,4.25,0.1,'=no formula\n".to_owned()),
        ("moves.csv", "container,time,spot\n'''quoted,2026-03-04 08:00,cellar\n".to_owned()),
        (
            "readings.csv",
            "time,probe,celsius\n2026-03-01T00:00:00.123456Z,'+p,-0.0625\n2026-03-01T00:00:00.123457Z,'+p,85\n".to_owned(),
        ),
    ]);
}

/// The demo's bench, and what is forecast from it: the same to the last digit.
#[test]
fn the_demo_bench_and_its_answers_come_back() {
    let desk = Desk::new();
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data");
    let ask = || desk.says(&["forecast", "--json", "--as-of", "2026-04-01T08:00:00Z"]);
    desk.says(&["import", demo]);
    desk.says(&["export", "first"]);
    let answer = ask();
    std::fs::remove_file(desk.bench()).unwrap();
    desk.says(&["import", "first"]);
    desk.says(&["export", "second"]);
    assert!(desk.files("first") == desk.files("second"), "the two exports differ");
    assert!(answer.contains("\"p50\"") && answer == ask(), "the answers differ");
}

/// Names with all that could trip a table: quotes, commas, formulas, apostrophes, letters beyond ASCII.
fn name() -> impl Strategy<Value = String> {
    "[a-zé'=+@,\"-][a-z0-9 é'=,\"]{0,6}[a-zé'\"]"
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

/// A made-up box: its name, its seeds where they are counted, what happens to them, its looks, and a die for the rest.
type MadeUp = (String, Option<u32>, u8, Vec<u32>, u16);

fn boxes() -> impl Strategy<Value = Vec<MadeUp>> {
    let looks = prop::collection::vec(0_u32..4, 0..6);
    prop::collection::vec((name(), prop::option::of(1_u32..60), 0_u8..3, looks, any::<u16>()), 0..5)
}

pub(super) fn folder() -> impl Strategy<Value = Files> {
    let spots = prop::collection::btree_set(name(), 1..4);
    let readings = prop::collection::btree_map((0_i64..40_000_000, 0_usize..3), -1_300_000_i64..449_999, 0..30);
    (spots, boxes(), readings, name(), any::<u16>()).prop_map(|(spots, boxes, readings, species, die)| {
        // Numbered, since a defused name and the plain one are the same name.
        let spots: Vec<String> = spots.iter().enumerate().map(|(at, spot)| quoted(&format!("{spot}{at}"))).collect();
        let species = quoted(&species);
        let [containers, checks, moves] = story(&spots, &boxes, &species);
        let mut rows = "time,probe,celsius\n".to_owned();
        let mut fahrenheit = "time,probe,fahrenheit\n".to_owned();
        for ((second, probe), raw) in &readings {
            let time = chrono::DateTime::from_timestamp(1_700_000_000 + second, 0).unwrap().format("%Y-%m-%dT%H:%M:%SZ");
            rows += &format!("{time},p{probe},{}\n", *raw as f64 / 10_000.0);
            fahrenheit += &format!("{time},f{probe},{}\n", *raw as f64 / 10_000.0);
        }
        let probes = format!("probe,spot,since,offset_c,gain\np0,{},2023-11-01T00:00:00Z,-0.25,1.01\n", spots[0]);
        let units = ["", "units,celsius\n", "units,fahrenheit\n"][usize::from(die % 3)];
        vec![
            ("containers.csv", containers),
            ("checks.csv", checks),
            ("probes.csv", probes),
            ("spots.csv", settings(&spots, &species)),
            ("moves.csv", moves),
            ("lots.csv", lots(&species, die)),
            (
                "doubts.csv",
                format!("probe,from,to,why\np0,2024-01-01T00:00:00Z,2024-01-02T06:00:00Z,{species}\np0,2024-02-01T00:00:00Z,,\n"),
            ),
            ("limits.csv", limits(die)),
            ("away.csv", "from,to\n2026-03-28 00:00,2026-04-02T08:00:00Z\n2026-06-01T00:00:00Z,2026-06-03T00:00:00Z\n".to_owned()),
            (
                "bench.csv",
                format!(
                    "key,value\nzone,Europe/Dublin\n{units}too-hot,3{}.5C\nquiet-hours,21:30-06:00\nno-alarm,\"overdue,look\"\n",
                    die % 9
                ),
            ),
            ("readings.csv", rows),
            ("readings-odd.csv", fahrenheit),
        ]
    })
}

/// Containers, checks and moves: a bag that some boxes came out of, and a lid that was on another box before.
fn story(spots: &[String], boxes: &[MadeUp], species: &str) -> [String; 3] {
    let spot = |at: usize| &spots[at % spots.len()];
    let mut containers = format!(
        "container,batch,species,lot,treatment,seeds,sown,spot,seeds_low,seeds_high,event,depth_mm,from,box,owner,ended\n\
         bag,b,{species},,,500,2026-02-01T06:00:00Z,{},,,,,,,,\n\
         before,b,{species},,,9,2026-01-01T06:00:00Z,{},,,,,,lid,,2026-01-20T06:00:00Z\n",
        spot(0),
        spot(1)
    );
    let mut checks = "container,time,sprouted,removed,lost,potted_on\n".to_owned();
    let mut moves = "container,time,spot,planned\n".to_owned();
    for (at, (name, seeds, kind, looks, die)) in boxes.iter().enumerate() {
        let name = quoted(&format!("{name}{at}"));
        let told = |bit: u16, text: &str| if die >> bit & 1 == 1 { text.to_owned() } else { String::new() };
        let (low, high) = match seeds {
            Some(seeds) => (told(0, &(seeds / 2).max(1).to_string()), told(1, &(seeds * 2).to_string())),
            None => (told(0, "1"), told(1, "900")),
        };
        let cells = [
            told(2, "\"lot, early\""),
            told(3, species),
            seeds.map(|seeds| seeds.to_string()).unwrap_or_default(),
            format!("2026-03-0{}T06:00:00Z", at + 1),
            spot(at).clone(),
            low,
            high,
            told(4, "emergence"),
            told(5, &format!("{at}.5")),
            if seeds.is_some() { told(6, "bag") } else { String::new() },
            if at == 0 { told(7, "lid") } else { String::new() },
            told(8, "Ann, from the allotment"),
            told(9, "2026-05-01T06:00:00Z"),
        ];
        let cells: Vec<String> = cells.map(|cell| if cell.starts_with("Ann") { quoted(&cell) } else { cell }).to_vec();
        containers += &format!("{name},b{at},{species},{}\n", cells.join(","));
        let mut left = seeds.unwrap_or(900);
        for (day, count) in looks.iter().enumerate() {
            let count = (*count).min(left);
            left -= count;
            let counts = match kind {
                0 => format!("{count},0,0,{count}"),
                1 => format!("0,{count},0,0"),
                _ => format!("0,0,{count},0"),
            };
            checks += &format!("{name},2026-03-1{day}T07:00:0{day}Z,{counts}\n");
        }
        moves += &format!("{name},2026-03-12T09:00:00.{at:03}Z,{},\n", spot(at + 1));
        moves += &told(10, &format!("{name},2027-03-12T09:00:00Z,{},yes\n", spot(at + 2)));
    }
    [containers, checks, moves]
}

fn settings(spots: &[String], note: &str) -> String {
    let mut kinds = "spot,kind,since,set_c,set_sd_c,day_c,night_c,capacity,changed,note,too_hot_c\n".to_owned();
    for (at, spot) in spots.iter().enumerate() {
        kinds += &format!("{spot},outdoors,,-{at}.5,1.5,,,,,{note},2{at}.5\n");
        kinds += &format!("{spot},,2026-01-0{}T12:00:00Z,,0.25,1{at},{at}.125,{},2026-01-02T00:00:00Z,,\n", at + 1, at + 1);
        kinds += &format!("{spot},fridge,2026-02-01 12:00,,,,,,,,\n");
    }
    kinds
}

/// Limits of the placed probe: none, some, or all.
fn limits(die: u16) -> String {
    let values = ["-70.0625", "130.3", "-9.1", "41.7", "1.3", "12.1", "0.7", "11.3", "7.5"];
    let told = values.iter().enumerate().map(|(at, value)| if die >> at & 1 == 1 { format!(",{value}") } else { ",".to_owned() });
    format!(
        "probe,lowest_c,highest_c,place_low_c,place_high_c,change_suspect_c_per_minute,change_fail_c_per_minute,\
         spike_suspect_c,spike_fail_c,repeat_hours\np0{}\n",
        told.collect::<String>()
    )
}

fn lots(species: &str, die: u16) -> String {
    let told = |bit: u16, text: &str| if die >> bit & 1 == 1 { text.to_owned() } else { String::new() };
    let columns = "lot,species,source,collected,packet_days_low,packet_days_high,packet_c,packet_percent,chill_days,light,note\n";
    format!(
        "{columns}\"lot, early\",{species},{},{},{},{},{},{},{},{},{}\n",
        told(2, "'=the lane"),
        told(3, "autumn 2024"),
        told(4, "6.5"),
        told(5, "10"),
        told(6, "21"),
        told(7, "85"),
        told(8, "0"),
        told(9, "needs light"),
        told(10, species)
    )
}

/// How many benches are made up: 48, or as many as SEEDCLOCK_BENCHES says (1000 take some minutes).
fn benches() -> u32 {
    std::env::var("SEEDCLOCK_BENCHES").ok().and_then(|number| number.parse().ok()).unwrap_or(48)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: benches(), rng_seed: proptest::test_runner::RngSeed::Fixed(7), failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn any_bench_comes_back(files in folder()) {
        comes_back(&files);
    }
}
