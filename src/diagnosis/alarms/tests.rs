use std::collections::BTreeMap;

use chrono::Duration;
use proptest::prelude::*;

use super::level::{Harm, go_on};
use super::*;
use crate::bench::{AlarmSetting, Away, Bench, Check, Container, Placement, Quiet, Setting, Siting, Spot, SpotKind, Trial};
use crate::civil::read_time;
use crate::units::MICROS_PER_SECOND;

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

fn at(minutes: i64) -> Time {
    read_time("2026-03-20 12:00", Zone::UTC).unwrap().time + Duration::minutes(minutes)
}

/// A mat with a box of lettuce (too hot from 27.8 °C on) and a probe, a fridge with a bag, and a bed outdoors.
fn bench() -> Bench {
    let mut bench = Bench::empty(Zone::UTC);
    for (spot, kind) in [("mat", SpotKind::Indoors), ("fridge", SpotKind::Fridge), ("bed", SpotKind::Outdoors)] {
        let setting = Setting { kind, ..Setting::NOTHING_SAID };
        bench.spots.insert(name(spot), Spot { name: name(spot), settings: vec![setting] });
        bench.placements.push(Placement {
            probe: name(&format!("p-{spot}")),
            spot: name(spot),
            since: at(-10_000),
            calibration: None,
            siting: Siting::Beside,
        });
        let boxed = format!("C-{spot}");
        let container = Container::new(name(&boxed), name("b"), name("lettuce"), name(spot), at(-1_000));
        bench.trials.insert(name(&boxed), Trial::new(container));
    }
    bench.placements.sort_by(|one, other| one.probe.cmp(&other.probe));
    bench
}

/// A watch over the bench that can be stopped and begun again.
struct Watch {
    bench: Bench,
    heard: BTreeMap<Name, Heard>,
    due: BTreeMap<Name, Time>,
    since: Time,
    states: Vec<AlarmState>,
    told: Vec<(AlarmKind, Event)>,
}

impl Watch {
    fn new(bench: Bench) -> Self {
        Self { bench, heard: BTreeMap::new(), due: BTreeMap::new(), since: at(0), states: Vec::new(), told: Vec::new() }
    }

    fn hear(&mut self, probe: &str, time: Time, celsius: f64) {
        let heard = self.heard.entry(name(probe)).or_default();
        heard.points.push((time, celsius));
        heard.last = Some(time);
        heard.silent_after = Some(Duration::minutes(5));
    }

    fn look(&mut self, now: Time) {
        let heat = BTreeMap::new();
        let watched =
            Watched { bench: &self.bench, now, listening_since: self.since, heard: &self.heard, heat: &heat, due: &self.due };
        self.states = judge(&watched, &self.states);
        let told = tell(&mut self.states, &self.bench.alarms, self.bench.zone, now);
        self.told.extend(told.into_iter().map(|(state, event)| (state.kind, event)));
    }

    fn count(&self, kind: AlarmKind, event: Event) -> usize {
        self.told.iter().filter(|told| **told == (kind, event)).count()
    }

    fn state(&self, kind: AlarmKind, subject: &str) -> Option<&AlarmState> {
        self.states.iter().find(|state| state.kind == kind && state.subject == name(subject))
    }
}

#[test]
fn heat_is_told_once_it_has_lasted_and_its_end_once_it_is_well_below_the_limit() {
    let mut watch = Watch::new(bench());
    for minute in 0..200 {
        // Lettuce bears 27.8 °C.
        let celsius = if (10..100).contains(&minute) { 29.0 } else { 24.0 };
        watch.hear("p-mat", at(minute), celsius);
        watch.look(at(minute));
        assert_eq!(watch.count(AlarmKind::TooHot, Event::Begun), usize::from(minute >= 40), "minute {minute}");
        assert_eq!(watch.count(AlarmKind::TooHot, Event::Ended), usize::from(minute >= 130), "minute {minute}");
    }
    let state = watch.state(AlarmKind::TooHot, "mat").unwrap();
    assert_eq!((state.since, state.ended, state.worst_c, state.limit_c), (Some(at(10)), Some(at(100)), Some(29.0), Some(27.8)));
}

#[test]
fn what_is_over_before_the_time_is_up_is_no_alarm_and_neither_is_a_warm_day_outdoors_frost() {
    let mut watch = Watch::new(bench());
    for minute in 0..300 {
        watch.hear("p-mat", at(minute), if minute % 40 < 25 { 29.0 } else { 24.0 });
        watch.hear("p-bed", at(minute), -8.0);
        watch.hear("p-fridge", at(minute), 3.0);
        watch.look(at(minute));
    }
    assert_eq!(watch.told, []);
    assert!(watch.states.iter().all(|state| state.kind != AlarmKind::Freezing || state.subject == name("fridge")));
    for minute in 300..400 {
        watch.hear("p-bed", at(minute), -8.0);
        watch.hear("p-mat", at(minute), -2.0);
        watch.hear("p-fridge", at(minute), -0.5);
        watch.look(at(minute));
    }
    assert_eq!(watch.told, [(AlarmKind::Freezing, Event::Begun)], "in the chilling spot alone");
    assert_eq!(watch.state(AlarmKind::Freezing, "fridge").unwrap().worst_c, Some(-0.5));
}

#[test]
fn the_limit_is_the_growers_own_for_the_spot_else_the_sowings_else_published_else_the_setting() {
    let mut bench = bench();
    let trial = bench.trials[&name("C-mat")].clone();
    let none = BTreeMap::new();
    let limit = |bench: &Bench, known: &BTreeMap<Name, f64>, trial: &Trial| heat_limit(bench, known, &name("mat"), trial, at(0));
    assert_eq!(limit(&bench, &none, &trial).celsius, 27.8);
    assert!(matches!(limit(&bench, &none, &trial).whence, Whence::Published(_)));
    let known = BTreeMap::from([(name("lettuce"), 30.5)]);
    assert_eq!(limit(&bench, &known, &trial), HeatLimit { celsius: 30.5, whence: Whence::Sowings });
    let mut other = trial.clone();
    other.container.species = name("foxglove");
    assert_eq!(limit(&bench, &known, &other), HeatLimit { celsius: 35.0, whence: Whence::Setting });
    bench.alarms.say(AlarmSetting::TooHot(31.0));
    assert_eq!(limit(&bench, &known, &other), HeatLimit { celsius: 31.0, whence: Whence::Setting });
    bench.spots.get_mut(&name("mat")).unwrap().settings[0].too_hot_c = Some(26.0);
    assert_eq!(limit(&bench, &known, &trial), HeatLimit { celsius: 26.0, whence: Whence::Spot });
}

#[test]
fn a_spot_is_as_hot_as_its_hottest_probe_and_one_that_fell_silent_counts_no_more() {
    let mut bench = bench();
    let second = Placement { probe: name("p-mat-2"), ..bench.placements[2].clone() };
    assert_eq!(second.spot, name("mat"));
    bench.placements.push(second);
    let mut watch = Watch::new(bench);
    for minute in 0..300 {
        watch.hear("p-mat", at(minute), 22.0);
        if minute < 100 {
            watch.hear("p-mat-2", at(minute), 29.5);
        }
        watch.look(at(minute));
    }
    let heat: Vec<Event> = watch.told.iter().filter(|told| told.0 == AlarmKind::TooHot).map(|told| told.1).collect();
    assert_eq!(heat, [Event::Begun, Event::Ended]);
    // The last of the second, held for half an hour, then half an hour of cool.
    assert_eq!(watch.state(AlarmKind::TooHot, "mat").unwrap().ended, Some(at(130)));
    assert_eq!(watch.count(AlarmKind::Silent, Event::Begun), 1);
}

#[test]
fn a_probe_is_silent_after_three_of_its_spacings_but_not_before_somebody_has_listened_so_long() {
    let mut watch = Watch::new(bench());
    for minute in -10..0 {
        watch.hear("p-mat", at(minute - 2_000), 22.0);
    }
    // The logger begins after a day and more: the probe may speak any moment.
    for minute in 0..20 {
        watch.look(at(minute));
        assert_eq!(watch.count(AlarmKind::Silent, Event::Begun), usize::from(minute > 5), "minute {minute}");
    }
    // A loose plug: heard now and then is not yet back.
    for minute in 20..100 {
        if minute % 9 == 0 || minute >= 60 {
            watch.hear("p-mat", at(minute), 22.0);
        }
        watch.look(at(minute));
    }
    assert_eq!(watch.told, [(AlarmKind::Silent, Event::Begun), (AlarmKind::Silent, Event::Ended)]);
    // Never silent for more than three spacings since then.
    assert_eq!(watch.state(AlarmKind::Silent, "p-mat").unwrap().ended, Some(at(54)));
}

#[test]
fn a_box_is_overdue_once_a_look_or_a_day_has_gone_by_after_its_sprout_was_due() {
    let mut watch = Watch::new(bench());
    watch.bench.alarms.say(AlarmSetting::LookEvery(None));
    watch.due.insert(name("C-mat"), at(60));
    watch.due.insert(name("C-bed"), at(60));
    watch.look(at(70));
    assert_eq!(watch.told, []);
    watch.bench.trials.get_mut(&name("C-mat")).unwrap().checks.push(Check::none_new(name("C-mat"), at(80)));
    watch.look(at(90));
    assert_eq!(watch.told, [(AlarmKind::Overdue, Event::Begun)], "looked at, and none");
    watch.look(at(60 + 24 * 60));
    assert_eq!(watch.count(AlarmKind::Overdue, Event::Begun), 2, "nobody looked at the other for a day");
    // A sprout makes another forecast count.
    watch.due.remove(&name("C-mat"));
    watch.look(at(60 + 24 * 60 + 1));
    assert!(!watch.state(AlarmKind::Overdue, "C-mat").unwrap().is_present());
    assert_eq!(watch.told.len(), 2, "whoever found a sprout need not be told so");
}

#[test]
fn by_when_a_sprout_is_due_is_told_by_the_5_percent_quantile_of_its_count() {
    let kept = |counts: Vec<u32>, sprouted| crate::forecast::KeptForecast {
        container: name("C-mat"),
        as_of: at(0),
        made: at(0),
        first_of: None,
        program: String::new(),
        fit_key: None,
        options: String::new(),
        seeds: Some(20),
        sprouted,
        counts: counts.into_iter().map(|low| [low, 19, 20, 20, 20, 20, 20]).collect(),
    };
    assert_eq!(due_by(&kept(vec![0, 0, 1, 4], 0)), Some(at(3 * 24 * 60)));
    assert_eq!(due_by(&kept(vec![2, 2, 2, 4], 2)), Some(at(4 * 24 * 60)));
    assert_eq!(due_by(&kept(vec![2, 2, 2, 2], 2)), None, "never so sure");
    let mut bench = bench();
    let trial = bench.trials[&name("C-mat")].clone();
    assert_eq!(last_happened(&bench, &trial, at(0)), at(-1_000));
    bench.spots.get_mut(&name("mat")).unwrap().settings[0].changed = Some(at(-300));
    assert_eq!(last_happened(&bench, &trial, at(0)), at(-300));
}

#[test]
fn reminders_to_look_wait_while_nobody_is_there_and_heat_does_not() {
    let day = 24 * 60;
    let mut watch = Watch::new(bench());
    watch.bench.aways.push(Away { from: at(day), until: at(6 * day) });
    watch.due.insert(name("C-mat"), at(2 * day));
    for hour in 0..9 * 24 {
        let now = at(hour * 60);
        watch.hear("p-mat", now, if hour > 100 { 30.0 } else { 20.0 });
        watch.heard.get_mut(&name("p-mat")).unwrap().silent_after = Some(Duration::hours(3));
        watch.look(now);
        let reminders = watch.count(AlarmKind::Look, Event::Begun);
        // Boxes were sown 1000 minutes before: due after three days, and that is while nobody is there. Told by day.
        assert_eq!(reminders, usize::from(hour >= 7 * 24), "hour {hour}");
        assert_eq!(watch.count(AlarmKind::Overdue, Event::Begun), usize::from(hour >= 6 * 24), "hour {hour}");
    }
    assert_eq!(watch.count(AlarmKind::TooHot, Event::Begun), 1);
    // The one in the fridge has a week.
    assert_eq!(not_looked_at(&watch.bench, at(3 * day)).len(), 0);
    assert_eq!(not_looked_at(&watch.bench, at(7 * day)).len(), 3);
}

/// Central European clocks go forward on 29 March 2026 at 02:00 and back on 25 October at 03:00 (IANA tz database).
#[test]
fn quiet_hours_go_by_the_clock_on_the_wall_also_where_it_is_changed() {
    for (begun, quiet_until) in [
        ("2026-03-28 23:30", "2026-03-29T05:00:00Z"),
        ("2026-10-24 23:30", "2026-10-25T06:00:00Z"),
        ("2026-07-01 23:30", "2026-07-02T05:00:00Z"),
    ] {
        let zone = Zone::Europe__Berlin;
        let (begun, until): (Time, Time) = (read_time(begun, zone).unwrap().time, quiet_until.parse().unwrap());
        let mut rules = AlarmRules::default();
        rules.say(AlarmSetting::UrgentWaits(true));
        let mut states = [AlarmKind::Silent, AlarmKind::TooHot].map(|kind| {
            let mut state = AlarmState::new(kind, name("x"), begun);
            state.begin(begun);
            state
        });
        let mut now = begun;
        while now < until {
            assert_eq!(tell(&mut states, &rules, zone, now), [], "{now}");
            now += Duration::minutes(10);
        }
        // The heat was over in the night; seeds may have suffered all the same. The probe speaks again: no news.
        states.iter_mut().for_each(|state| state.end(until - Duration::hours(1)));
        let told: Vec<_> = tell(&mut states, &rules, zone, now).into_iter().map(|(state, event)| (state.kind, event)).collect();
        assert_eq!(told, [(AlarmKind::TooHot, Event::Ended)], "{until}");
        assert_eq!(tell(&mut states, &rules, zone, now + Duration::hours(1)), []);
    }
    assert!(
        Quiet { from: chrono::NaiveTime::MIN, until: chrono::NaiveTime::from_hms_opt(6, 0, 0).unwrap() }
            .holds(chrono::NaiveTime::MIN)
    );
}

#[test]
fn what_is_watched_no_more_ends() {
    let mut watch = Watch::new(bench());
    for minute in 0..60 {
        watch.hear("p-mat", at(minute), 29.0);
        watch.look(at(minute));
    }
    assert!(watch.state(AlarmKind::TooHot, "mat").unwrap().is_present());
    watch.bench.trials.get_mut(&name("C-mat")).unwrap().container.ended = Some(at(60));
    watch.look(at(61));
    assert!(!watch.state(AlarmKind::TooHot, "mat").unwrap().is_present(), "no seeds stand there any more");
    watch.bench.alarms.say(AlarmSetting::Unwanted(0b1_1111));
    watch.look(at(62));
    assert!(watch.states.iter().all(|state| !state.is_present()));
}

/// A temperature that goes up and down about the limit, by steps of a few minutes.
fn about_the_limit() -> impl Strategy<Value = Vec<(i64, f64)>> {
    prop::collection::vec((1_i64..10, -0.9_f64..0.9), 20..200).prop_map(|steps| {
        let mut minute = 0;
        steps
            .into_iter()
            .map(|(step, off)| {
                minute += step;
                (minute, 27.8 + off)
            })
            .collect()
    })
}

/// A temperature of any course, with gaps.
fn any_course() -> impl Strategy<Value = Vec<(i64, f64)>> {
    prop::collection::vec((prop_oneof![8 => 1_i64..10, 1 => 10_i64..90], 20.0_f64..32.0, 1_usize..30), 1..30).prop_map(|steps| {
        let mut minute = 0;
        let runs = steps.into_iter().flat_map(|(step, celsius, times)| std::iter::repeat_n((step, celsius), times));
        runs.map(|(step, celsius)| {
            minute += step;
            (minute, celsius)
        })
        .collect()
    })
}

fn points(course: &[(i64, f64)]) -> Vec<(Time, f64)> {
    course.iter().map(|(minute, celsius)| (at(*minute), *celsius)).collect()
}

fn judged(course: &[(Time, f64)], mut state: AlarmState) -> AlarmState {
    let (after, gap) = (Duration::minutes(30), Duration::minutes(30));
    go_on(&mut state, course, Harm::Above, 27.8, after, gap);
    state
}

proptest! {
    #[test]
    fn a_value_that_goes_up_and_down_about_the_limit_makes_one_alarm_at_the_most(course in about_the_limit()) {
        let mut watch = Watch::new(bench());
        let mut first_over = None;
        for (minute, celsius) in &course {
            first_over = first_over.or((*celsius > 27.8).then_some(*minute));
            watch.hear("p-mat", at(*minute), *celsius);
            watch.look(at(*minute));
        }
        let told = watch.count(AlarmKind::TooHot, Event::Begun);
        prop_assert!(told <= 1 && watch.count(AlarmKind::TooHot, Event::Ended) == 0, "{told}");
        let lasted = first_over.is_some_and(|first| course.iter().any(|(minute, celsius)| *celsius > 27.8 && minute - first >= 30));
        prop_assert_eq!(told, usize::from(lasted));
    }

    #[test]
    fn how_often_it_is_looked_at_makes_no_difference(course in any_course(), cuts in prop::collection::vec(any::<prop::sample::Index>(), 0..8)) {
        let course = points(&course);
        let begin = AlarmState::new(AlarmKind::TooHot, name("mat"), at(0));
        let at_once = judged(&course, begin.clone());
        let mut cuts: Vec<usize> = cuts.into_iter().map(|cut| cut.index(course.len() + 1)).collect();
        cuts.extend([0, course.len()]);
        cuts.sort_unstable();
        let in_pieces = cuts.windows(2).fold(begin, |state, piece| judged(&course[piece[0]..piece[1]], state));
        prop_assert_eq!(at_once, in_pieces);
    }

    /// States are put on record only where there is news, so a new start may go through readings again that were judged before.
    #[test]
    fn a_stop_at_any_moment_neither_repeats_nor_loses_an_alarm(course in any_course(), stops in prop::collection::vec(any::<prop::sample::Index>(), 0..6)) {
        let mut without = Watch::new(bench());
        let mut with = Watch::new(bench());
        let stops: Vec<usize> = stops.iter().map(|stop| stop.index(course.len())).collect();
        let mut on_record = Vec::new();
        for (at_reading, (minute, celsius)) in course.iter().enumerate() {
            if stops.contains(&at_reading) {
                with.states.clone_from(&on_record);
            }
            for watch in [&mut without, &mut with] {
                watch.hear("p-mat", at(*minute), *celsius);
                let before = watch.told.len();
                watch.look(at(*minute));
                if watch.told.len() > before {
                    on_record.clone_from(&watch.states);
                }
            }
        }
        let heat = |watch: &Watch| watch.told.iter().filter(|told| told.0 == AlarmKind::TooHot).copied().collect::<Vec<_>>();
        prop_assert_eq!(heat(&without), heat(&with));
        let last = course.last().map_or(0, |(minute, _)| *minute);
        prop_assert!(last * 60 * MICROS_PER_SECOND < i64::MAX);
    }
}
