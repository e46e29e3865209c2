//! What was worked out is kept, and makes no difference to any answer.

use chrono::Duration;
use proptest::prelude::*;
use seedclock::answers::{
    Concerning, FitWish, Keeping, Known, Present, Shelf, Tables, chill_responses, diagnose, fit_all, forecast, ledger, replay,
    to_keep,
};
use seedclock::bench::rules::{Conflict, Counted, Entry};
use seedclock::bench::{
    Calibration, Check, Container, Degrees, Doubt, Ends, GivenTemperature, Move, Name, Placement, ProbeLimits, Proof, Reading,
    SetTemperature, Setting, Siting, Stamp,
};
use seedclock::changes::{Wish, make, undo_last};
use seedclock::civil::{Time, Zone};
use seedclock::diagnosis::ProbeFinding;
use seedclock::exchange::{diagnosis_json, fit_json, forecast_json};
use seedclock::forecast::Ledger;
use seedclock::store::{BenchKind, Keepsakes, Store};

use super::Desk;

const SPOTS: [&str; 3] = ["mat", "shelf", "sill"];
const BOXES: [(&str, &str, i64, usize); 5] =
    [("P1", "last", 10, 0), ("P2", "last", 10, 1), ("P3", "last", 12, 2), ("N1", "now", 120, 0), ("N2", "now", 122, 2)];

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

fn at(hours: i64) -> Time {
    "2025-01-01T07:00:00Z".parse::<Time>().unwrap() + Duration::hours(hours)
}

/// What a probe reads: a day's wave, a wander of days, and now and then a value that its sensor uses as a code.
fn reading(probe: usize, hours: i64) -> Reading {
    let wave = (std::f64::consts::TAU * hours as f64 / 24.0).sin() + (hours as f64 / 70.0 + probe as f64).sin();
    let mut raw = (160_000.0 + 20_000.0 * probe as f64 + 20_000.0 * wave) as i64 / 625 * 625;
    match (hours + 37 * probe as i64) % 97 {
        5 => raw = 850_000,
        6 if probe == 1 => raw = 0,
        7 => raw = 650_000,
        _ => {}
    }
    Reading { time_us: at(hours).timestamp_micros() + probe as i64, raw_c_e4: Some(raw), proof: Proof::Plain }
}

/// What the sill's probe reads between the hours of a day, every ten minutes: on some days the sun stands on it for most of an hour.
fn between(hours: i64) -> Vec<Reading> {
    let (day, hour) = ((hours + 7) / 24, (hours + 7) % 24);
    let struck = hour == 10 && day * 7 % 5 < 3;
    let at_hour = reading(2, hours);
    let shown = |ten: i64| Reading {
        time_us: at_hour.time_us + ten * 600_000_000,
        raw_c_e4: at_hour.raw_c_e4.map(|raw| if struck { raw + 90_000 + 625 * (day % 7) } else { raw }),
        ..at_hour
    };
    if (6..16).contains(&hour) { (1..6).map(shown).collect() } else { Vec::new() }
}

/// A bench of two sowings, read every hour (the sill by day every ten minutes) but for the hours in which nothing came.
struct Story {
    /// Holds the file's folder.
    _desk: Desk,
    store: Store,
    hours: i64,
}

impl Story {
    fn begun(days: i64) -> Self {
        let desk = Desk::new();
        let mut store = Store::create(&desk.bench(), Zone::Europe__Berlin, BenchKind::Own).unwrap();
        let mut entries = Vec::new();
        for (at_spot, spot) in SPOTS.iter().enumerate() {
            let placed = Placement {
                probe: name(&format!("p{at_spot}")),
                spot: name(spot),
                since: at(0),
                calibration: None,
                siting: Siting::Beside,
            };
            entries.push(Entry::Placement(placed));
        }
        for (container, batch, day, spot) in BOXES {
            let sown = at(24 * day);
            let made = Container::new(name(container), name(batch), name("leek"), name(SPOTS[spot]), sown);
            entries.push(Entry::Container(Container { seeds: Some(20), ..made }));
            let looks = if batch == "last" { 30 } else { days - day };
            for look in 1..looks.min(30) {
                let sprouted = if look > 6 + 2 * spot as i64 && look < 14 { 2 } else { 0 };
                let check = Check { sprouted, ..Check::none_new(name(container), sown + Duration::days(look)) };
                entries.push(Entry::Check(check, Counted::SinceLast));
            }
        }
        make(&mut store, at(24 * days), |_| Ok(vec![Wish::to_record(entries)])).unwrap();
        let mut story = Self { _desk: desk, store, hours: 0 };
        story.goes_on(24 * days, false);
        story
    }

    fn now(&self) -> Time {
        at(self.hours)
    }

    /// Hours pass; the probes are read, or are not.
    fn goes_on(&mut self, hours: i64, silent: bool) {
        let batch: Vec<_> = (self.hours..self.hours + hours)
            // A night in spring when all stood still, and a week without the shelf's probe.
            .flat_map(|hour| (0..3).map(move |probe| (probe, hour)))
            .filter(|(probe, hour)| !(silent || (600..612).contains(hour) || *probe == 1 && (700..868).contains(hour)))
            .flat_map(|(probe, hour)| {
                let more = if probe == 2 { between(hour) } else { Vec::new() };
                std::iter::once(reading(probe, hour))
                    .chain(more)
                    .map(move |reading| (name(&format!("p{probe}")), reading, Stamp::Source))
            })
            .collect();
        self.store.append_arrivals(&batch).unwrap();
        self.hours += hours;
    }

    fn records(&mut self, wish: Wish) {
        let now = self.now();
        // What the rules refuse leaves the bench as it is.
        let _ = make(&mut self.store, now, |_| Ok(vec![wish]));
    }

    /// What is known of each box's warmth and of each spot's last days, all digits.
    fn warmth_of(&self, known: &Known) -> String {
        let mut told = String::new();
        for trial in known.bench.trials.values() {
            told += &format!("{:?}\n", known.evidence(trial));
            if trial.ended_at(known.now).is_none() {
                told += &format!("{:?}\n", known.sampled(trial, trial.last_look(), known.now, 900_000_000, 0.5));
            }
        }
        let from = (known.now - Duration::days(14)).timestamp_micros();
        for (spot, warmth) in &known.warmth {
            told += &format!("{spot} {} {:?}\n", warmth.set, warmth.record.sampled(from, 3_600_000_000, 14 * 24, -0.5));
        }
        told
    }

    /// The same is known whether it is worked out from all readings, from as few as it takes, or taken from what was kept.
    fn is_known_alike(&mut self) -> Result<(), TestCaseError> {
        let now = self.now();
        let whole = Known::as_of(&self.store, now).unwrap();
        let with = |tables| Known::at_present(&self.store, now, Concerning::All, tables, &mut |_, _| ()).unwrap();
        let (anew, kept) = (with(Tables::Ignored), with(Tables::Used));
        let expected = self.warmth_of(&whole);
        prop_assert_eq!(&self.warmth_of(&anew), &expected, "from as few readings as it takes");
        prop_assert_eq!(&self.warmth_of(&kept), &expected, "from what was kept");
        self.store.keep(&Keepsakes { stretches: Some(kept.unkept()), ..Keepsakes::default() }, now).unwrap();
        Ok(())
    }
}

/// Something that happens on the bench.
#[derive(Debug, Clone)]
enum Event {
    Hours(i64, bool),
    Look(usize, u32),
    Late(usize, i64, i64),
    Replaced(usize, i64),
    Doubted(usize, i64, i64),
    Limited(usize, Option<f64>, Option<f64>),
    Carried(usize, usize),
    Calibrated(usize, i32),
    Placed(usize, usize, i64),
    Said(usize, i64),
    Renamed(usize),
    TakenBack,
}

fn event() -> impl Strategy<Value = Event> {
    prop_oneof![
        4 => (1_i64..400, prop::bool::weighted(0.3)).prop_map(|(hours, silent)| Event::Hours(hours, silent)),
        2 => (3_usize..5, 0_u32..2).prop_map(|(container, sprouted)| Event::Look(container, sprouted)),
        2 => (0_usize..3, 1_i64..3000, 1_i64..200).prop_map(|(probe, ago, count)| Event::Late(probe, ago, count)),
        1 => (0_usize..3, 1_i64..3000).prop_map(|(probe, ago)| Event::Replaced(probe, ago)),
        2 => (0_usize..3, 1_i64..3000, 1_i64..300).prop_map(|(probe, ago, long)| Event::Doubted(probe, ago, long)),
        2 => (0_usize..3, prop::option::of(17.0_f64..130.0), prop::option::of(0.001_f64..0.05))
            .prop_map(|(probe, highest, change)| Event::Limited(probe, highest, change)),
        1 => (3_usize..5, 0_usize..3).prop_map(|(container, spot)| Event::Carried(container, spot)),
        1 => (0_usize..3, -20_i32..20).prop_map(|(probe, offset)| Event::Calibrated(probe, offset)),
        1 => (0_usize..3, 0_usize..3, 0_i64..3000).prop_map(|(probe, spot, ago)| Event::Placed(probe, spot, ago)),
        1 => (0_usize..3, 0_i64..3000).prop_map(|(spot, ago)| Event::Said(spot, ago)),
        1 => (0_usize..3).prop_map(Event::Renamed),
        2 => Just(Event::TakenBack),
    ]
}

impl Story {
    fn happens(&mut self, event: &Event) {
        let (now, hours) = (self.now(), self.hours);
        let probe_name = |probe: usize| name(&format!("p{probe}"));
        match *event {
            Event::Hours(hours, silent) => self.goes_on(hours, silent),
            Event::Look(container, sprouted) => {
                let check = Check { sprouted, ..Check::none_new(name(BOXES[container].0), now) };
                self.records(Wish::to_record(vec![Entry::Check(check, Counted::SinceLast)]));
            }
            Event::Late(probe, ago, count) => {
                let half_past = |hour| Reading { time_us: reading(probe, hour).time_us + 1_800_000_000, ..reading(probe, hour) };
                let late: Vec<Reading> = (hours - ago..hours - ago + count).filter(|hour| *hour < hours).map(half_past).collect();
                let mut change = self.store.change().unwrap();
                change.add_readings(&probe_name(probe), &late, now, |_, _| Conflict::Refused).unwrap();
                change.commit().unwrap();
            }
            Event::Replaced(probe, ago) => {
                let other = Reading { raw_c_e4: Some(123_125), ..reading(probe, hours - ago) };
                let mut change = self.store.change().unwrap();
                change.add_readings(&probe_name(probe), &[other], now, |_, _| Conflict::Replaced).unwrap();
                change.commit().unwrap();
            }
            Event::Doubted(probe, ago, long) => {
                let from = at(hours - ago);
                let doubt = Doubt { probe: probe_name(probe), from, to: Some(from + Duration::hours(long)), why: None };
                self.records(Wish::to_record(vec![Entry::Doubt(doubt)]));
            }
            Event::Limited(probe, highest, change) => {
                let mut limits = ProbeLimits::usual(probe_name(probe));
                limits.sensor.high = highest;
                limits.spike = Ends { low: change.map(|change| 10.0 * change), high: change.map(|change| 20.0 * change) };
                limits.change = Ends { low: Some(0.01), high: change.map(|change| 0.01 + change) };
                self.records(Wish::to_correct(vec![Entry::Limits(limits)]));
            }
            Event::Carried(container, spot) => {
                let moved = Move { container: name(BOXES[container].0), time: now, spot: name(SPOTS[spot]) };
                self.records(Wish::to_record(vec![Entry::Move(moved)]));
            }
            Event::Calibrated(probe, offset) => {
                let was = self.store.bench().unwrap().placements.into_iter().find(|placed| placed.probe == probe_name(probe));
                let calibration = Some(Calibration { offset_c: f64::from(offset) / 16.0, gain: 1.0 });
                let placed = was.map(|was| Entry::Placement(Placement { calibration, ..was }));
                self.records(Wish::to_correct(placed.into_iter().collect()));
            }
            Event::Placed(probe, spot, ago) => {
                let (since, siting) = (at(hours - ago), Siting::InBox);
                let placed = Placement { probe: probe_name(probe), spot: name(SPOTS[spot]), since, calibration: None, siting };
                self.records(Wish::to_record(vec![Entry::Placement(placed)]));
            }
            Event::Said(spot, ago) => {
                let given = Some(GivenTemperature::Set(SetTemperature { celsius: 17.5, sd_c: 1.0 }));
                let setting = Setting { since: Some(at(hours - ago)), given, ..Setting::NOTHING_SAID };
                self.records(Wish::to_record(vec![Entry::Spot(name(SPOTS[spot]), setting)]));
            }
            Event::Renamed(probe) => {
                // There and back, so that its lines stay its own.
                let mut change = self.store.change().unwrap();
                change.name_probe(&probe_name(probe), &name("z")).unwrap();
                change.name_probe(&name("z"), &probe_name(probe)).unwrap();
                change.commit().unwrap();
            }
            Event::TakenBack => {
                // The sowings themselves are the first command, and stay.
                if self.store.bench().unwrap().trials.values().map(|trial| trial.checks.len()).sum::<usize>() > 0 {
                    let _ = undo_last(&mut self.store, now);
                }
            }
        }
    }
}

/// Else what is kept would not be tried where it rests on days to come.
#[test]
fn the_sun_stands_on_a_probe_of_that_bench() {
    let story = Story::begun(140);
    let known = Known::as_of(&story.store, story.now()).unwrap();
    let days =
        known.tallies.iter().filter(|tally| tally.probe == name("p2")).flat_map(|tally| &tally.also).find_map(
            |found| match found {
                ProbeFinding::SunStruck { days, every_day: false, .. } => Some(*days),
                _ => None,
            },
        );
    assert!(days.is_some_and(|days| days > 30), "{days:?}");
}

/// What was read before a change is not laid down after it, though what no change has touched is.
#[test]
fn what_others_change_meanwhile_is_not_kept_as_it_was() {
    let mut story = Story::begun(140);
    let now = story.now();
    let ask = |store: &Store| Known::at_present(store, now, Concerning::All, Tables::Used, &mut |_, _| ()).unwrap();
    let kept = |store: &mut Store, known: &Known| {
        store.keep(&Keepsakes { stretches: Some(known.unkept()), ..Keepsakes::default() }, now).unwrap();
        store.stretches().unwrap().len()
    };
    let known = ask(&story.store);
    let all = known.unkept().0.len();
    story.happens(&Event::Doubted(0, 24 * 100, 48));
    assert!(all > 50);
    let left = kept(&mut story.store, &known);
    assert!(left > 0 && left < all, "only what was over before the doubt: {left} of {all}");
    let known = ask(&story.store);
    story.goes_on(1, false);
    assert_eq!(kept(&mut story.store, &known), all, "new readings are no hindrance");
    story.happens(&Event::Late(0, 24 * 100, 1));
    assert_eq!(story.store.stretches().unwrap().len(), 0, "a late reading drops what rests on its time");
    let known = ask(&story.store);
    assert_eq!(kept(&mut story.store, &known), all);
    story.happens(&Event::Limited(1, Some(20.0), None));
    assert_eq!(story.store.stretches().unwrap().len(), 0, "limits are of all time");
    assert_eq!(kept(&mut story.store, &known), 0, "nothing worked out by other limits is kept");
}

fn cases() -> u32 {
    std::env::var("SEEDCLOCK_BENCHES").ok().and_then(|count| count.parse().ok()).unwrap_or(24)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_was_kept_makes_no_difference_whatever_happens(events in prop::collection::vec(event(), 1..8)) {
        let mut story = Story::begun(140);
        story.is_known_alike()?;
        for event in &events {
            story.happens(event);
            story.is_known_alike()?;
        }
    }
}

/// All three answers, with every fit and stretch made anew and with what was kept, and what the second asking leaves to keep.
fn answers(store: &mut Store, now: Time) -> ([String; 3], [String; 3], usize) {
    let told = |tables, mut shelf: Shelf<'_>| {
        let known = Known::at_present(store, now, Concerning::All, tables, &mut |_, _| ()).unwrap();
        let fits = fit_all(&known, &FitWish::default(), &mut shelf);
        let cold = chill_responses(&known, &fits);
        let present = Present::with(&known, &mut shelf);
        let forecast = forecast(&known, &present, 30);
        let whole = Known::as_of(store, now).unwrap();
        let diagnosis = diagnose(&whole, &Present::with(&whole, &mut shelf));
        let (fresh, degrees) = (shelf.into_fresh(), Degrees::Celsius);
        let json = [
            fit_json(&fits, &cold, degrees),
            forecast_json(&forecast, &Ledger::default(), degrees),
            diagnosis_json(&diagnosis, degrees),
        ];
        (json, fresh, known)
    };
    let (anew, none, _) = told(Tables::Ignored, Shelf::none());
    assert!(none.is_empty());
    let (kept, fresh, known) = told(Tables::Used, Shelf::of(store));
    let keepsakes = Keepsakes { stretches: Some(known.unkept()), fits: &fresh, ..Keepsakes::default() };
    store.keep(&keepsakes, now).unwrap();
    (anew, kept, fresh.len())
}

#[test]
fn answers_are_the_same_with_kept_fits_until_what_they_rest_on_changes() {
    let mut story = Story::begun(140);
    let now = story.now();
    let (first, alike, made) = answers(&mut story.store, now);
    assert!(first == alike && made > 0 && first[1].contains("\"p50\": \"20"), "{}", first[1]);
    let (anew, again, made) = answers(&mut story.store, now);
    assert_eq!(anew, first, "made anew");
    assert_eq!(again, first, "taken from what was kept");
    assert_eq!(made, 0, "no fit was made again");
    story.goes_on(6, false);
    let now = story.now();
    let (anew, kept, made) = answers(&mut story.store, now);
    assert!(anew == kept);
    assert_eq!(made, 0, "readings after the last look say nothing of past sowings");
    story.happens(&Event::Doubted(0, 24 * 120, 48));
    let (anew, kept, made) = answers(&mut story.store, now);
    assert!(anew == kept && anew[0] != first[0]);
    assert!(made > 0, "other temperatures, another fit");
    story.happens(&Event::Limited(1, Some(18.5), None));
    let (limited, kept, made) = answers(&mut story.store, now);
    assert!(limited == kept && limited[0] != anew[0] && made > 0, "another fit by other limits");
    story.happens(&Event::TakenBack);
    let (again, kept, made) = answers(&mut story.store, now);
    assert!(again == kept && again == anew, "as it was");
    assert_eq!(made, 0, "from the fit that was kept before");
}

#[test]
fn forecasts_are_kept_once_a_day_and_held_against_the_looks_that_come() {
    let mut story = Story::begun(126);
    let mut kept_on = Vec::new();
    for day in 0..8 {
        for _ in 0..2 {
            let now = story.now();
            let known = Known::at_present(&story.store, now, Concerning::Present, Tables::Used, &mut |_, _| ()).unwrap();
            let mut shelf = Shelf::of(&story.store);
            let present = Present::with(&known, &mut shelf);
            let answer = forecast(&known, &present, 20);
            let forecasts = to_keep(&known, &present, &answer, now, Keeping::FirstOfDay);
            assert_eq!(forecasts.len(), 2, "of the two boxes that stand there");
            assert!(forecasts.iter().all(|one| one.fit_key.as_ref().is_some_and(|key| key.len() == 32) && one.counts.len() == 20));
            let fresh = shelf.into_fresh();
            story.store.keep(&Keepsakes { fits: &fresh, forecasts: &forecasts, ..Keepsakes::default() }, now).unwrap();
            story.goes_on(2, false);
        }
        kept_on.push(story.store.kept_forecasts(story.now()).unwrap().len());
        story.goes_on(20, false);
        for container in [3, 4] {
            story.happens(&Event::Look(container, u32::from(day > 2)));
        }
    }
    assert_eq!(kept_on, [2, 4, 6, 8, 10, 12, 14, 16], "the first of each day, for each of two boxes");
    let now = story.now();
    let known = Known::as_of(&story.store, now).unwrap();
    let kept = story.store.kept_forecasts(now).unwrap();
    let found = ledger(&known, &kept);
    // A forecast on each of eight days, and a look at the end of each: 8 + 7 + … + 1 for either box.
    assert_eq!((found.kept, found.scored, found.comparisons, found.boxes), (16, 16, 72, 2));
    assert!(found.held.len() == 3 && found.held.iter().all(|held| held.bounds.is_none()), "two boxes are too few to say");
    assert_eq!(found.last.map(|last| last.comparisons), Some(56), "all but the first of each box had one before");
    assert_eq!(found.calendar.map(|calendar| calendar.comparisons), Some(72), "three earlier sowings");
    let known_then = Known::as_of(&story.store, now - Duration::days(3)).unwrap();
    let then = ledger(&known_then, &story.store.kept_forecasts(now - Duration::days(3)).unwrap());
    assert!(then.kept < found.kept && then.comparisons < found.comparisons, "as of then, nothing later");
    // A box taken back takes its forecasts out of the reckoning, but not off the record.
    let mut progress = Vec::new();
    let replayed = replay(&story.store, now, 20, &mut |done, of| progress.push((done, of))).unwrap();
    assert_eq!(progress.last(), Some(&(replayed.mornings, replayed.mornings)));
    assert!(replayed.ledger.comparisons > 72 && !replayed.by_days_ahead.is_empty(), "{replayed:?}");
    assert_eq!(story.store.kept_forecasts(now).unwrap(), kept, "a replay keeps nothing");
}

#[test]
fn a_busy_bench_answers_and_says_that_the_forecast_was_not_kept() {
    let desk = busy_bench();
    let others = || ["fit", "diagnose"].map(|command| (desk.run(&[command, "--json"]), desk.run(&[command]).err));
    let at_leisure = others();
    let writer = rusqlite::Connection::open(desk.bench()).unwrap();
    writer.execute_batch("BEGIN IMMEDIATE").unwrap();
    let busy = desk.run(&["forecast", "--json"]);
    assert_eq!(busy.code, 0, "{busy:?}");
    assert!(busy.out.contains("\"ledger\""));
    assert_eq!(
        busy.err,
        "seedclock: note: this forecast was not kept to be judged later: bench.db is in use by another program that has not finished \
         writing; nothing was changed\n  next: try again in a moment\n"
    );
    for (busy, at_leisure) in others().iter().zip(&at_leisure) {
        assert_eq!(
            (busy.0.code, &busy.0.err, &busy.1),
            (at_leisure.0.code, &at_leisure.0.err, &at_leisure.1),
            "keeps only what it can make again"
        );
    }
    writer.execute_batch("ROLLBACK").unwrap();
    let kept = |desk: &Desk| {
        Store::open_read_only(&desk.bench()).unwrap().kept_forecasts("2200-01-01T00:00:00Z".parse().unwrap()).unwrap()
    };
    assert_eq!(kept(&desk), []);
    desk.says(&["forecast"]);
    assert_eq!(kept(&desk).len(), 1);
    desk.says(&["forecast", "--json"]);
    desk.says(&["forecast", "--as-of", &days_ago(2)]);
    assert_eq!(kept(&desk).len(), 1, "once a day, and never as of another time");
    desk.says(&["forecast", "--keep"]);
    let on_demand = kept(&desk);
    assert_eq!(on_demand.iter().map(|one| one.first_of.is_some()).collect::<Vec<_>>(), [true, false]);
    assert_eq!((on_demand[0].seeds, on_demand[0].options.as_str(), on_demand[0].counts.len()), (Some(20), "--days 60", 60));
    assert_eq!(desk.run(&["forecast", "--keep", "--as-of", "2026-01-01"]).code, 2);
}

/// As somebody who may read the file but neither write to it nor to its folder.
#[test]
fn a_bench_that_may_not_be_written_to_answers_and_is_left_as_it_is() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;
    let desk = busy_bench();
    let program = desk.path("seedclock");
    std::fs::copy(env!("CARGO_BIN_EXE_seedclock"), &program).unwrap();
    let may = |name: &str, mode| std::fs::set_permissions(desk.path(name), std::fs::Permissions::from_mode(mode)).unwrap();
    may("bench.db", 0o444);
    may("", 0o555);
    let before = desk.files("");
    let mut command = std::process::Command::new(&program);
    command.current_dir(desk.path("")).args(["--bench", "bench.db", "forecast"]);
    if std::fs::metadata(desk.path("bench.db")).unwrap().uid() == 0 {
        // Root, whom nothing is closed to.
        command.uid(65_534).gid(65_534);
    }
    let done = command.output().unwrap();
    let (out, err) = (String::from_utf8(done.stdout).unwrap(), String::from_utf8(done.stderr).unwrap());
    may("", 0o755);
    assert_eq!(done.status.code(), Some(0), "{err}");
    assert!(out.contains("A3, leek, sill: 0 of 20 up."), "{out}");
    assert_eq!(
        err,
        "seedclock: note: this forecast was not kept to be judged later: writing to bench.db did not work: attempt to write a readonly \
         database\n"
    );
    assert!(desk.files("") == before, "nothing was written beside it either");
}

fn days_ago(days: u64) -> String {
    let seconds = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap().as_secs() - 86_400 * days;
    seedclock::civil::rfc3339(Time::UNIX_EPOCH + Duration::seconds(seconds as i64))
}

/// One box sown a few days ago at a spot of a set temperature.
fn busy_bench() -> Desk {
    let desk = Desk::new();
    desk.says(&["sow", "A3", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", &days_ago(5)]);
    desk.says(&["spot", "sill", "--set", "19"]);
    desk.says(&["check", "A3", "none", "--at", &days_ago(1)]);
    desk
}
