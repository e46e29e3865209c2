//! What was recorded wrongly: replaced by an import that says so, corrected and undone, with the old value kept.

use seedclock::bench::Name;
use seedclock::bench::rules::{Entry, Key};
use seedclock::changes::{ChangeError, Made, Wish, make, take_back};
use seedclock::civil::Time;
use seedclock::store::{Store, Why};

use super::Desk;

const CONTAINERS: &str = "container,batch,species,lot,treatment,seeds,sown,spot,from,ended\n\
                          bag,b,leek,own,,40,2026-02-01T18:00:00Z,fridge,,\n\
                          A1,b,leek,own,,20,2026-03-01T18:00:00Z,sill,bag,\n";
const CHECKS: &str = "container,time,sprouted,potted_on,note\nA1,2026-03-05T08:00:00Z,3,,\nA1,2026-03-07T08:00:00Z,4,6,\n";

fn imported() -> Desk {
    let desk = Desk::new();
    desk.write_folder(
        "in",
        &[
            ("containers.csv", CONTAINERS.as_bytes()),
            ("checks.csv", CHECKS.as_bytes()),
            ("probes.csv", b"probe,spot,since,offset_c\np1,sill,2026-02-01T08:00:00Z,\n"),
            ("spots.csv", b"spot,kind,set_c\nfridge,fridge,4\nsill,,\nmat,,\n"),
            ("moves.csv", b"container,time,spot,planned\nA1,2026-03-06T08:00:00Z,mat,\nA1,2027-03-06T08:00:00Z,sill,yes\n"),
            ("lots.csv", b"lot,species,packet_c\nown,leek,\n"),
            ("doubts.csv", b"probe,from,to,why\np1,2026-03-02T08:00:00Z,,fell out\n"),
            ("limits.csv", b"probe,highest_c,repeat_hours\np1,110.5,24\n"),
            ("bench.csv", b"key,value\nzone,Europe/Berlin\nunits,celsius\n"),
            ("readings.csv", b"time,probe,celsius\n2026-03-01T00:00:00Z,p1,18.5\n2026-03-01T00:10:00Z,p1,18.5\n"),
        ],
    );
    desk.says(&["import", "in"]);
    desk
}

fn change(desk: &Desk, file: &str, from: &str, to: &str) {
    let path = desk.path("in").join(file);
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(text.contains(from), "{file}: {from}");
    std::fs::write(path, text.replace(from, to)).unwrap();
}

fn kept(desk: &Desk) -> Vec<(String, String)> {
    let all = Store::open_read_only(&desk.bench()).unwrap().superseded().unwrap();
    all.into_iter().map(|old| (format!("{} {}", old.entry, old.why.word()), old.old)).collect()
}

#[test]
fn every_kind_of_row_can_be_replaced_and_its_old_values_stay() {
    let desk = imported();
    change(&desk, "containers.csv", "A1,b,leek,own,,20", "A1,b,leek,own,scarified,25");
    change(&desk, "checks.csv", "05T08:00:00Z,3,,", "05T08:00:00Z,5,1,counted again");
    change(&desk, "probes.csv", "2026-02-01T08:00:00Z,", "2026-02-01T08:00:00Z,-0.5");
    change(&desk, "spots.csv", "fridge,fridge,4", "fridge,fridge,5");
    change(&desk, "moves.csv", "03-06T08:00:00Z,mat,", "03-06T08:00:00Z,fridge,");
    change(&desk, "moves.csv", "sill,yes", "mat,yes");
    change(&desk, "lots.csv", "own,leek,", "own,leek,20");
    change(&desk, "doubts.csv", ",,fell out", ",2026-03-03T08:00:00Z,fell out");
    change(&desk, "limits.csv", "p1,110.5,24", "p1,,12");
    change(&desk, "bench.csv", "zone,Europe/Berlin\nunits,celsius", "zone,Europe/Dublin\nunits,fahrenheit");
    change(&desk, "readings.csv", "00:10:00Z,p1,18.5", "00:10:00Z,p1,17");
    assert_eq!(desk.run(&["import", "in"]).code, 2, "not without being told so");
    assert_eq!(
        desk.says(&["import", "--replace", "in"]),
        "imported nothing new; 12 rows were replaced, the old values are kept; 5 rows were on record already\n"
    );
    assert_eq!(
        kept(&desk),
        [
            ("setting replaced", r#"{"key":"zone","value":"Europe/Berlin"}"#),
            ("setting replaced", r#"{"key":"units","value":"celsius"}"#),
            (
                "lot replaced",
                r#"{"lot":"own","species":"leek","source":null,"collected":null,"packet_days_low":null,"packet_days_high":null,"packet_c":null,"packet_percent":null,"chill_days":null,"light":null,"note":null}"#
            ),
            (
                "spot replaced",
                r#"{"spot":"fridge","since_us":null,"kind":"fridge","set_c":4.0,"set_sd_c":0.0,"day_c":null,"night_c":null,"capacity":null,"changed_us":null,"note":null,"too_hot_c":null}"#
            ),
            (
                "placement replaced",
                r#"{"probe":"p1","since_us":1769932800000000,"spot":"sill","offset_c":null,"gain":null,"siting":"beside"}"#
            ),
            ("doubt replaced", r#"{"probe":"p1","from_us":1772438400000000,"to_us":null,"why":"fell out"}"#),
            (
                "limits replaced",
                r#"{"probe":"p1","lowest_c":null,"highest_c":110.5,"place_low_c":null,"place_high_c":null,"change_suspect_c_per_minute":null,"change_fail_c_per_minute":null,"spike_suspect_c":null,"spike_fail_c":null,"repeat_hours":24.0}"#
            ),
            (
                "container replaced",
                r#"{"container":"A1","batch":"b","species":"leek","lot":"own","treatment":null,"seeds":20,"seeds_low":null,"seeds_high":null,"event":"radicle","sown_us":1772388000000000,"spot":"sill","depth_mm":null,"from":"bag","box":null,"owner":null,"ended_us":null}"#
            ),
            (
                "check replaced",
                r#"{"container":"A1","time_us":1772697600000000,"sprouted":3,"removed":0,"lost":0,"potted_on":0,"died":0,"condition":null,"note":null}"#
            ),
            ("move replaced", r#"{"container":"A1","time_us":1772784000000000,"spot":"mat"}"#),
            ("planned move replaced", r#"{"container":"A1","time_us":1804320000000000,"spot":"sill"}"#),
            ("reading replaced", r#"{"probe":"p1","time_us":1772323800000000,"raw_c_e4":185000,"proof":0}"#),
        ]
        .map(|(entry, old)| (entry.to_owned(), old.to_owned()))
    );
    desk.says(&["export", "out"]);
    std::fs::remove_file(desk.bench()).unwrap();
    desk.says(&["import", "in"]);
    desk.says(&["export", "fresh"]);
    assert_eq!(desk.files("out"), desk.files("fresh"), "as if it had been so from the beginning");
}

#[test]
fn a_replaced_row_must_fit_what_else_is_on_record() {
    let refusals = [
        // Fewer seeds than had sprouted; sown after its first check; ended before its last.
        ("containers.csv", "leek,own,,20,", "leek,own,,6,", "checks.csv:3: 7 sprouts in container 'A1', which holds 6 seeds"),
        (
            "containers.csv",
            "own,,20,2026-03-01T18",
            "own,,20,2026-03-06T18",
            "2 things are wrong\n  containers.csv:3: container 'A1' was sown on 2026-03-06 19:00, and something is on record of it for \
             2026-03-05 09:00, before that\n  moves.csv:2: container 'A1' was sown on 2026-03-06 19:00: a move on 2026-03-06 09:00 \
             comes before that",
        ),
        (
            "checks.csv",
            "Z,4,6,",
            "Z,1,6,",
            "checks.csv:3: 6 potted on and 0 died in container 'A1', where only 4 had sprouted by then",
        ),
        (
            "containers.csv",
            "bag,b,leek,own,,40",
            "bag,b,leek,own,,19",
            "containers.csv:3: 20 seeds taken out of container 'bag' on 2026-03-01 19:00, where 19 of 19 were left",
        ),
        (
            "lots.csv",
            "own,leek",
            "own,onion",
            "2 things are wrong\n  containers.csv:3: container 'A1' holds leek, and its lot 'own' is onion\n  containers.csv:2: \
             container 'bag' holds leek, and its lot 'own' is onion",
        ),
    ];
    for (file, from, to, complaint) in refusals {
        let desk = imported();
        desk.says(&["export", "before"]);
        change(&desk, file, from, to);
        let answer = desk.run(&["import", "--replace", "in"]);
        assert_eq!((answer.code, answer.out.as_str()), (2, ""), "{to}");
        assert!(answer.err.starts_with(&format!("seedclock: {complaint}")), "{}", answer.err);
        desk.says(&["export", "after"]);
        assert_eq!(desk.files("before"), desk.files("after"));
        assert_eq!(kept(&desk), []);
    }
}

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

fn at(text: &str) -> Time {
    text.parse().unwrap()
}

fn faults(refused: Result<impl std::fmt::Debug, ChangeError>) -> Vec<String> {
    match refused {
        Err(ChangeError::Faults(faults)) => faults.iter().map(ToString::to_string).collect(),
        other => panic!("{other:?}"),
    }
}

fn undo(store: &mut Store, keys: &[Key], now: Time) -> Result<Made, ChangeError> {
    take_back(store, now, |_| Ok(keys.to_vec()))
}

#[test]
fn entries_are_corrected_and_undone_where_the_rest_of_the_story_allows_it() {
    let desk = imported();
    let mut store = Store::open(&desk.bench()).unwrap();
    let now = at("2026-11-01T00:00:00Z");
    let bench = store.bench().unwrap();
    let checks = &bench.trials[&name("A1")].checks;
    let (first, last) = (Key::Check(name("A1"), checks[0].time), Key::Check(name("A1"), checks[1].time));
    assert_eq!(
        faults(undo(&mut store, &[Key::Check(name("A1"), now), first.clone()], now)),
        [
            "there is nothing to take back: there is no check of box 'A1' on 2026-11-01 01:00",
            "6 potted on and 0 died in box 'A1', where only 4 had sprouted by then; the check on 2026-03-07 09:00 is in the way"
        ]
    );
    assert_eq!(
        faults(undo(&mut store, &[Key::Container(name("bag")), Key::Container(name("A1"))], now)),
        [
            "box 'A1' cannot be taken back: on record of it are 2 checks, 1 move, 1 planned move",
            "box 'bag' cannot be taken back: on record of it are 1 box sown out of it"
        ]
    );
    let corrected = seedclock::bench::Check { sprouted: 6, ..checks[0].clone() };
    let entry = Entry::Check(corrected, seedclock::bench::rules::Counted::SinceLast);
    assert!(!make(&mut store, now, |_| Ok(vec![Wish::to_correct(vec![entry])])).unwrap().repeated);
    assert_eq!(undo(&mut store, std::slice::from_ref(&last), now).unwrap().after.trials[&name("A1")].sprouted(), 6);
    let moves = [
        Key::Move(name("A1"), at("2026-03-06T08:00:00Z")),
        Key::Plan(name("A1"), at("2027-03-06T08:00:00Z")),
        first,
        Key::Container(name("bag")),
        Key::Container(name("A1")),
        Key::Doubt(name("p1"), at("2026-03-02T08:00:00Z")),
        Key::Limits(name("p1")),
        Key::Placement(name("p1"), at("2026-02-01T08:00:00Z")),
        Key::Lot(name("own")),
        Key::Spot(name("fridge"), None),
    ];
    let expected = undo(&mut store, &moves, now).unwrap().after;
    assert!(expected.trials.is_empty());
    assert_eq!(store.bench().unwrap(), expected, "the file holds what the rules let it hold");
    let old = store.superseded().unwrap();
    assert_eq!(old.iter().filter(|old| old.why == Why::Undone).count(), 11);
    assert_eq!((old[0].why, old[0].time), (Why::Corrected, now));
}
