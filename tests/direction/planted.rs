//! Faults planted into a small, clean crate: each must be found, and nothing else.

use super::{Source, faults};

/// A crate of a few rooms that breaks no rule.
const CLEAN: [(&str, &str); 9] = [
    (
        "src/lib.rs",
        "#![allow(dead_code)]\npub mod units; pub mod bench; pub mod clock; pub mod store; pub mod changes; pub mod logger; pub mod cli;",
    ),
    ("src/main.rs", "fn main() { seedclock::cli::main(); }"),
    ("src/units.rs", "pub struct Celsius(pub f64);"),
    ("src/bench/mod.rs", "mod name; pub use name::Name; use crate::units::Celsius; pub fn warm(t: Celsius) -> bool { t.0 > 20.0 }"),
    (
        "src/bench/name.rs",
        "pub struct Name(String); #[cfg(test)] mod tests { use super::*; fn f() -> Name { Name(String::new()) } }",
    ),
    (
        "src/clock.rs",
        "use std::time::Instant; pub trait Clock {} pub struct SystemClock; pub fn now() -> Instant { Instant::now() }",
    ),
    ("src/store/mod.rs", "use rusqlite::Connection; use crate::clock::Clock; pub struct Store(Connection); fn f(c: &dyn Clock) {}"),
    ("src/changes/mod.rs", "pub use crate::store::Store; pub fn sow(s: &Store, b: crate::bench::Name) {}"),
    (
        "src/cli/mod.rs",
        "use clap::Parser; use crate::{changes, logger}; #[derive(clap::Args)] struct A; pub fn main() { println!() }",
    ),
];

fn with(file: &str, text: &str) -> Vec<Source> {
    let mut sources: Vec<Source> = CLEAN.iter().map(|(file, text)| ((*file).to_owned(), (*text).to_owned())).collect();
    sources.push(("src/logger/mod.rs".to_owned(), "use crate::store;".to_owned()));
    sources.retain(|source| source.0 != file);
    sources.push((file.to_owned(), text.to_owned()));
    sources
}

fn found_in(file: &str, text: &str) -> Vec<String> {
    faults(&with(file, text)).into_iter().filter(|fault| fault.starts_with(file)).collect()
}

#[track_caller]
fn assert_found(file: &str, text: &str, expected: &str) {
    let found = found_in(file, text);
    assert!(found.iter().any(|fault| fault.contains(expected)), "{text}\nwas to give: {expected}\nbut gave: {found:#?}");
}

#[test]
fn a_clean_crate_has_no_fault() {
    assert_eq!(faults(&with("src/bench/other.rs", "use super::name::Name; fn f(n: Name) {}")), Vec::<String>::new());
}

#[test]
fn a_room_above_is_found_however_it_is_written() {
    let expected = "'bench' may not know 'store";
    for text in [
        "use crate::store::Store;",
        "use super::super::store::Store;",
        "use crate::{units::Celsius, store::{self, Store}};",
        "use crate::store as keep; fn f(k: keep::Store) {}",
        "fn f() { crate::store::Store::open() }",
        "fn f(store: &super::super::store::Store) {}",
        "fn f() { let _ = <crate::store::Store>::open(); }",
        "fn f() { assert!(crate::store::ready(1)); }",
        "fn f() { thing! { use crate::{units, store::Store}; } }",
        "macro_rules! m { () => { $crate::store::Store } }",
        "#[derive(crate::store::Row)] struct A;",
        "pub use crate::store::*;",
        "mod inner { use super::super::super::store::Store; }",
        "fn f() { use crate::store::Store; }",
        "fn f<T: crate::store::Keep>(t: T) -> Vec<crate::store::Store> {}",
        "impl crate::store::Keep for u8 {}",
    ] {
        assert_found("src/bench/planted.rs", text, expected);
    }
    for text in ["use super::super as root; fn f(s: root::store::Store) {}", "use super::super::*;", "use crate::*;"] {
        assert_found("src/bench/planted.rs", text, "'bench' takes in the whole crate");
    }
}

#[test]
fn what_comes_through_the_re_export_of_a_room_that_may_know_it_is_found() {
    let planted = "use crate::changes::Store;";
    assert_found("src/page/mod.rs", planted, "'page' may not know 'store::Store'");
    assert_found("src/page/mod.rs", "fn f(s: crate::changes::Store) {}", "'page' may not know 'store::Store'");
    assert_found("src/page/mod.rs", "use crate::changes::*; fn f(s: Store) {}", "'page' may not know 'store::Store'");
    assert_found(
        "src/page/mod.rs",
        "mod a { pub use crate::changes as c; } fn f(s: a::c::Store) {}",
        "may not know 'store::Store'",
    );
}

#[test]
fn work_rooms_rim_rooms_and_faces_keep_apart() {
    assert_found("src/logger/mod.rs", "use crate::changes::sow;", "'logger' may not know 'changes::sow'");
    assert_found("src/changes/mod.rs", "use crate::cli::main;", "'changes' may not know 'cli::main'");
    assert_found("src/store/mod.rs", "use crate::clock::SystemClock;", "'store' may not know 'clock::SystemClock'");
    assert_found("src/main.rs", "fn main() { seedclock::store::open(); }", "'main' may not know 'store::open'");
    assert_found("src/units.rs", "use crate::bench::Name;", "'units' may not know 'bench::Name'");
    assert_found("src/attic/mod.rs", "use std::fmt;", "'attic' is no room");
    assert_eq!(found_in("src/store/more.rs", "#[cfg(test)] mod tests { use crate::clock::StoppedClock; }"), Vec::<String>::new());
}

#[test]
fn libraries_stay_with_their_owners() {
    assert_found("src/bench/planted.rs", "use rusqlite::Row;", "'rusqlite' belongs to 'store'");
    assert_found("src/bench/planted.rs", "extern crate rusqlite as db;", "'rusqlite' belongs to 'store'");
    assert_found("src/store/mod.rs", "fn f() { ::serialport::new(\"a\", 1); }", "'serialport' belongs to 'probes'");
    assert_found("src/store/mod.rs", "#[derive(clap::Args)] struct A;", "'clap' belongs to 'cli'");
    assert_found("src/store/mod.rs", "use clap as options; #[derive(options::Args)] struct A;", "'clap' belongs to 'cli'");
    let mut sources = with("src/germination/a.rs", "use argmin::core::Executor;");
    sources.push(("src/germination/b.rs".to_owned(), "fn f() { argmin::core::run() }".to_owned()));
    assert!(faults(&sources).iter().any(|fault| fault.contains("argmin belongs into one file")));
}

#[test]
fn the_clock_is_read_in_one_file_and_the_core_reaches_nothing_outside() {
    for text in [
        "fn f() { std::time::Instant::now(); }",
        "use chrono::Utc; fn f() { Utc::now(); }",
        "use chrono::Utc as World; fn f() { World::now(); }",
        "use std::time::*; fn f() { SystemTime::now(); }",
        "fn f() { log!(\"{}\", chrono::Local::now()); }",
        "use std::time::Instant; fn f() { <Instant>::now(); }",
        "use std::time::Instant; fn f() { g(Instant::now) }",
    ] {
        assert_found("src/store/mod.rs", text, "only clock.rs asks what time it is");
    }
    for text in [
        "use std::fs;",
        "use std::{fmt, io::Write};",
        "use std as s; fn f() { s::env::var(\"A\"); }",
        "fn f() { std::thread::sleep(d); }",
        "use tokio::sync::mpsc;",
    ] {
        assert_found("src/bench/planted.rs", text, "the core reaches nothing outside");
    }
    assert_found("src/bench/planted.rs", "fn f() { println!(\"x\"); }", "the core prints nothing");
}

#[test]
fn lib_rs_holds_only_public_modules() {
    for text in ["pub mod bench; pub use bench::Name;", "mod units;", "pub mod units { }", "fn f() {}"] {
        assert_found("src/lib.rs", text, "lib.rs holds only `pub mod name;`");
    }
}
