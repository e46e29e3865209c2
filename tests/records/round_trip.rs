//! A bench written out, taken in and written out again is the same to the byte.

use proptest::prelude::*;

use super::Desk;

/// A folder as a test makes one up: file names with their text.
type Files = Vec<(&'static str, String)>;

fn comes_back(files: &Files) {
    let desk = Desk::new();
    let bytes: Vec<(&str, &[u8])> = files.iter().map(|(name, text)| (*name, text.as_bytes())).collect();
    desk.write_folder("in", &bytes);
    desk.says(&["import", "in"]);
    desk.says(&["export", "first"]);
    std::fs::remove_file(desk.bench()).unwrap();
    desk.says(&["import", "first"]);
    desk.says(&["export", "second"]);
    assert_eq!(desk.files("first"), desk.files("second"));
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

/// Names with all that could trip a table: quotes, commas, formulas, apostrophes, letters beyond ASCII.
fn name() -> impl Strategy<Value = String> {
    "[a-zé'=+@,\"-][a-z0-9 é'=,\"]{0,6}[a-zé'\"]"
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

fn folder() -> impl Strategy<Value = Files> {
    let spots = prop::collection::btree_set(name(), 1..4);
    let boxes =
        prop::collection::btree_map(name(), (prop::option::of(1_u32..60), 0_u8..3, prop::collection::vec(0_u32..4, 0..6)), 0..5);
    let readings = prop::collection::btree_map((0_i64..40_000_000, 0_usize..3), -1_300_000_i64..1_300_000, 0..30);
    (spots, boxes, readings, name()).prop_map(|(spots, boxes, readings, species)| {
        // Numbered, since a defused name and the plain one are the same name.
        let spots: Vec<String> = spots.iter().enumerate().map(|(at, spot)| quoted(&format!("{spot}{at}"))).collect();
        let spot = |at: usize| &spots[at % spots.len()];
        let mut containers = "container,batch,species,lot,treatment,seeds,sown,spot\n".to_owned();
        let mut checks = "container,time,sprouted,removed,lost,potted_on\n".to_owned();
        let mut moves = "container,time,spot\n".to_owned();
        for (at, (name, (seeds, kind, looks))) in boxes.iter().enumerate() {
            let (name, species) = (quoted(&format!("{name}{at}")), quoted(&species));
            let number = seeds.map(|seeds| seeds.to_string()).unwrap_or_default();
            containers += &format!("{name},b{at},{species},,{species},{number},2026-03-0{}T06:00:00Z,{}\n", at + 1, spot(at));
            let mut left = seeds.unwrap_or(1_000);
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
            moves += &format!("{name},2026-03-12T09:00:00.{at:03}Z,{}\n", spot(at + 1));
        }
        let mut rows = "time,probe,celsius\n".to_owned();
        for ((second, probe), raw) in &readings {
            let time = chrono::DateTime::from_timestamp(1_700_000_000 + second, 0).unwrap();
            rows += &format!("{},p{probe},{}\n", time.format("%Y-%m-%dT%H:%M:%SZ"), *raw as f64 / 10_000.0);
        }
        let probes = format!("probe,spot,since,offset_c,gain\np0,{},2023-11-01T00:00:00Z,-0.25,1.01\n", spot(0));
        let mut kinds = "spot,kind,set_c,set_sd_c,note\n".to_owned();
        for (at, spot) in spots.iter().enumerate() {
            kinds += &format!("{spot},outdoors,-{at}.5,1.5,{}\n", quoted(&species));
        }
        vec![
            ("containers.csv", containers),
            ("checks.csv", checks),
            ("probes.csv", probes),
            ("spots.csv", kinds),
            ("moves.csv", moves),
            ("readings.csv", rows),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, rng_seed: proptest::test_runner::RngSeed::Fixed(7), failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn any_bench_comes_back(files in folder()) {
        comes_back(&files);
    }
}
