//! Looks after alarms: judges what is watched, tells, hands letters out, and puts on record how it stands.

use std::collections::{BTreeMap, BTreeSet};

use chrono::Duration;

use super::Notice;
use super::post::{About, Letter, Post};
use crate::bench::{AlarmKind, Bench, Name, Reading, Stamp};
use crate::civil::{Time, time_from_micros};
use crate::diagnosis::alarms::{AlarmState, Delivery, Event, Heard, Watched, due_by, heat_known, judge, last_happened, tell};
use crate::exchange::{fit_of, letter_json};
use crate::germination::Question;
use crate::quality::{Thresholds, flags, stale_after_us};
use crate::store::{Store, StoreError};
use crate::units::MICROS_PER_HOUR;
use crate::wording::{AlarmWords, alarm_line, alarm_words};

/// So far back readings are read before those that are judged: what is known of probes that speak seldom, and of spikes.
const BEFORE_US: i64 = MICROS_PER_HOUR;
/// Readings of a probe that are gone through at a look: those of the last minutes where lines come in floods.
const MOST_READINGS: usize = 2_000;
/// A probe's own spacing is that of so many readings, its last.
const SPACING_OF: usize = 12;
/// How often fits and forecasts that were kept are looked at anew, in minutes.
const KEPT_MINUTES: i64 = 10;
/// Without other news, by so much worse it is put on record anew, °C.
const WORSE_C: f64 = 0.5;

/// What was learnt from what others kept on the bench.
struct Learnt {
    when: Time,
    heat: BTreeMap<Name, f64>,
    due: BTreeMap<Name, Time>,
}

/// Looks after alarms.
pub(super) struct Watchman {
    post: Post,
    /// What the bench goes by in letters.
    bench_name: String,
    states: Option<Vec<AlarmState>>,
    on_record: Vec<AlarmState>,
    deliveries: Vec<Delivery>,
    /// Those that are not on record as they are.
    unwritten: Vec<Delivery>,
    listening_since: Option<Time>,
    learnt: Option<Learnt>,
    /// Which alarms are on their way, by which ways.
    carried: BTreeSet<(AlarmKind, Name, String)>,
}

/// Readings that wait to be stored, as the writer has them.
pub(super) type Waiting = [(Name, Reading, Stamp)];

impl Watchman {
    pub(super) fn new(post: Post, store: &Store) -> Self {
        Self {
            post,
            bench_name: store.path().display().to_string(),
            states: None,
            on_record: Vec::new(),
            deliveries: Vec::new(),
            unwritten: Vec::new(),
            listening_since: None,
            learnt: None,
            carried: BTreeSet::new(),
        }
    }

    /// Where carriers put down how letters went.
    pub(super) fn tray(&self) -> std::sync::Arc<super::post::Tray> {
        self.post.tray()
    }

    /// Whether letters are on their way.
    pub(super) fn waits_for_carriers(&self) -> bool {
        !self.carried.is_empty()
    }

    /// Judges everything as of `now`, by the clock that readings go by; gives what there is to tell, and whether it could be put on
    /// record. What could not be read is judged another time; what could not be put on record is told nevertheless, since seeds cannot
    /// wait for a disk.
    pub(super) fn look(&mut self, store: &mut Store, waiting: &Waiting, now: Time) -> (Vec<Notice>, Result<(), StoreError>) {
        self.take_up(now);
        match self.read(store, waiting, now) {
            Err(error) => (Vec::new(), Err(error)),
            Ok((bench, states)) => self.go_on(store, &bench, states, now),
        }
    }

    /// The bench, and how everything stands on it.
    fn read(&mut self, store: &Store, waiting: &Waiting, now: Time) -> Result<(Bench, Vec<AlarmState>), StoreError> {
        let listening_since = *self.listening_since.get_or_insert(now);
        let bench = store.bench()?.as_of(now);
        let on_record = store.alarms()?;
        if self.states.is_none() {
            self.deliveries = store.deliveries()?;
            self.on_record.clone_from(&on_record);
            self.states = Some(on_record.clone());
        }
        let states = self.states.iter().flatten().cloned();
        let earlier: Vec<AlarmState> = states.map(|state| with_what_was_seen(state, &on_record)).collect();
        let heard = heard(store, &bench, waiting, &earlier, now)?;
        let is_old = |learnt: &Learnt| now < learnt.when || now - learnt.when >= Duration::minutes(KEPT_MINUTES);
        let learnt = match self.learnt.take().filter(|learnt| !is_old(learnt)) {
            Some(learnt) => learnt,
            None => learn(store, &bench, now)?,
        };
        let (heat, due) = (&learnt.heat, &learnt.due);
        let states = judge(&Watched { bench: &bench, now, listening_since, heard: &heard, heat, due }, &earlier);
        self.learnt = Some(learnt);
        Ok((bench, states))
    }

    fn go_on(
        &mut self,
        store: &mut Store,
        bench: &Bench,
        mut states: Vec<AlarmState>,
        now: Time,
    ) -> (Vec<Notice>, Result<(), StoreError>) {
        let told = tell(&mut states, &bench.alarms, bench.zone, now);
        for (state, event) in &told {
            let ways: Vec<String> = self.post.ways.iter().map(|(way, _)| way.clone()).collect();
            for way in ways {
                self.note(Delivery::due(Some(state.kind), state.subject.clone(), way, *event, now));
            }
        }
        let kept = if self.unwritten.is_empty() && !is_news(&self.on_record, &states) {
            Ok(())
        } else {
            store.keep_alarms(&states, &self.unwritten)
        };
        if kept.is_ok() {
            self.unwritten.clear();
            self.on_record.clone_from(&states);
        }
        let watched = |one: &Delivery| states.iter().any(|state| one.kind == Some(state.kind) && one.subject == state.subject);
        self.deliveries.retain(watched);
        self.states = Some(states);
        self.hand_out(bench, now);
        let notice = |(state, event): (AlarmState, Event)| {
            let words = alarm_line(&alarm_words(&state, event, bench, now));
            Notice::Alarm { words, event }
        };
        (told.into_iter().map(notice).collect(), kept)
    }

    /// Takes note of a delivery in the place of the one before, to be put on record.
    fn note(&mut self, delivery: Delivery) {
        for list in [&mut self.deliveries, &mut self.unwritten] {
            list.retain(|other| !is_same(other, &delivery));
            list.push(delivery.clone());
        }
    }

    /// Takes up what carriers put down since the last time.
    fn take_up(&mut self, now: Time) {
        for carried in self.post.tray.take() {
            for about in carried.about {
                self.carried.remove(&(about.kind, about.subject.clone(), carried.way.clone()));
                let is_it = |one: &&Delivery| {
                    (one.kind, &one.subject, &one.way, one.event) == (Some(about.kind), &about.subject, &carried.way, about.event)
                };
                let mut states = self.states.iter().flatten();
                let is_the_same =
                    states.any(|state| (state.kind, &state.subject, state.since) == (about.kind, &about.subject, about.since));
                // Where it has begun anew since, what was carried is not what is to be told.
                if let Some(mut delivery) = self.deliveries.iter().find(is_it).filter(|_| is_the_same).cloned() {
                    delivery.tried(carried.outcome.clone(), now);
                    self.note(delivery);
                }
            }
        }
    }

    /// Hands out what is due to be delivered, one letter by each way.
    fn hand_out(&mut self, bench: &Bench, now: Time) {
        let Some(states) = &self.states else { return };
        for (way, letters) in &self.post.ways {
            let due =
                self.deliveries.iter().filter(|delivery| delivery.way == *way && delivery.next.is_some_and(|next| next <= now));
            let due = due.filter_map(|delivery| Some((delivery.kind?, &delivery.subject, delivery.event)));
            let due = due.filter(|(kind, subject, _)| !self.carried.contains(&(*kind, (*subject).clone(), way.clone())));
            let alarms: Vec<(AlarmState, Event)> = due
                .filter_map(|(kind, subject, event)| {
                    let state = states.iter().find(|state| state.kind == kind && state.subject == *subject)?;
                    Some((state.clone(), event))
                })
                .collect();
            if alarms.is_empty() {
                continue;
            }
            let letter = letter(&self.bench_name, bench, &alarms, now);
            let about = letter.about.clone();
            // A carrier that is busy for long finds them later.
            if letters.try_send(letter).is_ok() {
                self.carried.extend(about.into_iter().map(|about| (about.kind, about.subject, way.clone())));
            }
        }
    }

    /// Puts on record what carriers have put down meanwhile, before the logger ends.
    ///
    /// # Errors
    /// [`StoreError`]; these letters go out again then.
    pub(super) fn end(&mut self, store: &mut Store, now: Time) -> Result<(), StoreError> {
        self.take_up(now);
        let Some(states) = self.states.as_ref().filter(|_| !self.unwritten.is_empty()) else { return Ok(()) };
        store.keep_alarms(states, &self.unwritten)?;
        self.unwritten.clear();
        Ok(())
    }
}

fn is_same(one: &Delivery, other: &Delivery) -> bool {
    (one.kind, &one.subject, &one.way) == (other.kind, &other.subject, &other.way)
}

/// Somebody may have said of an alarm that it was seen.
fn with_what_was_seen(mut state: AlarmState, on_record: &[AlarmState]) -> AlarmState {
    let known =
        on_record.iter().find(|known| (known.kind, &known.subject, known.since) == (state.kind, &state.subject, state.since));
    state.seen = state.seen.or(known.and_then(|known| known.seen));
    state
}

/// Whether anything is to be put on record: not for each look, which would wear a memory card.
fn is_news(before: &[AlarmState], states: &[AlarmState]) -> bool {
    let of = |state: &AlarmState| (state.since, state.ended, state.told, state.told_end, state.seen);
    let nothing = (None, None, None, None, None);
    let worse = |state: &AlarmState, known: &AlarmState| {
        let apart = state.worst_c.zip(known.worst_c).is_some_and(|(worst, known)| (worst - known).abs() >= WORSE_C);
        state.is_present() && apart
    };
    let changed = |state: &AlarmState| match before.iter().find(|known| known.kind == state.kind && known.subject == state.subject)
    {
        Some(known) => of(known) != of(state) || worse(state, known),
        None => of(state) != nothing,
    };
    states.iter().any(changed)
}

/// What was heard of each placed probe of late, on the disk and waiting for it.
fn heard(
    store: &Store,
    bench: &Bench,
    waiting: &Waiting,
    earlier: &[AlarmState],
    now: Time,
) -> Result<BTreeMap<Name, Heard>, StoreError> {
    let mut fresh: BTreeMap<&Name, Vec<Reading>> = BTreeMap::new();
    for (probe, reading, stamp) in waiting {
        if *stamp != Stamp::Undated {
            fresh.entry(probe).or_default().push(*reading);
        }
    }
    let mut all = BTreeMap::new();
    for placement in &bench.placements {
        // The last placing of a probe is the one that stands.
        let looked =
            earlier.iter().filter(|state| state.kind.is_urgent() && state.subject == placement.spot).map(|state| state.looked);
        let from =
            looked.min().map_or(i64::MIN, |looked| looked.timestamp_micros()).max(now.timestamp_micros() - 6 * MICROS_PER_HOUR);
        let mut readings = store.last_readings(&placement.probe, from - BEFORE_US, MOST_READINGS)?;
        readings.extend(fresh.get(&placement.probe).into_iter().flatten().filter(|reading| reading.time_us >= from - BEFORE_US));
        readings.sort_by_key(|reading| reading.time_us);
        let mut times = store.last_times(&placement.probe, now, SPACING_OF)?;
        times.extend(
            readings
                .iter()
                .map(|reading| reading.time_us)
                .filter(|time| times.last().is_none_or(|last| time > last))
                .collect::<Vec<_>>(),
        );
        let spacing = times.len().saturating_sub(SPACING_OF);
        let doubted = |time: Time| {
            let of_it = bench.doubts.iter().filter(|doubt| doubt.probe == placement.probe);
            of_it.into_iter().any(|doubt| doubt.from <= time && doubt.to.is_none_or(|to| time < to))
        };
        let sound = readings.iter().zip(flags(&readings, &Thresholds::default()));
        let points = sound.filter_map(|(reading, flag)| {
            let time = time_from_micros(reading.time_us).filter(|time| *time >= placement.since && !doubted(*time))?;
            flag.usable().then_some((time, placement.true_celsius(reading.raw_c()?)))
        });
        let heard = Heard {
            points: points.collect(),
            last: times.last().and_then(|last| time_from_micros(*last)),
            silent_after: stale_after_us(times.get(spacing..).unwrap_or_default()).map(Duration::microseconds),
        };
        all.insert(placement.probe.clone(), heard);
    }
    Ok(all)
}

/// Reads what others kept: what each species' sowings say of heat, and by when each box was to sprout.
fn learn(store: &Store, bench: &Bench, now: Time) -> Result<Learnt, StoreError> {
    let mut heat = BTreeMap::new();
    for (species, event, bytes) in store.kept_fits()? {
        // The newest that tells; of one made by another program nothing can be read.
        if !heat.contains_key(&species)
            && let Some(limit_c) = fit_of(&bytes, &species, event, Question::default()).as_ref().and_then(heat_known)
        {
            heat.insert(species, limit_c);
        }
    }
    let mut due = BTreeMap::new();
    for trial in bench.trials.values().filter(|trial| trial.container.owner.is_none() && trial.ended_at(now).is_none()) {
        let name = &trial.container.name;
        let forecast = store.first_forecast(name, last_happened(bench, trial, now), trial.sprouted())?;
        due.extend(forecast.as_ref().and_then(due_by).map(|by| (name.clone(), by)));
    }
    Ok(Learnt { when: now, heat, due })
}

/// A letter about alarms.
#[must_use]
pub fn letter(bench_name: &str, bench: &Bench, alarms: &[(AlarmState, Event)], now: Time) -> Letter {
    let words: Vec<AlarmWords> = alarms.iter().map(|(state, event)| alarm_words(state, *event, bench, now)).collect();
    let title = match &words[..] {
        [] => "a test".to_owned(),
        [one] => one.message.clone(),
        [first, others @ ..] => format!("{} (and {} more)", first.message, others.len()),
    };
    let lines: Vec<String> = words.iter().map(alarm_line).collect();
    let text = match &lines[..] {
        [] => "This is a test: alarms reach you this way.".to_owned(),
        lines => lines.join("\n\n"),
    };
    let about = alarms.iter().map(|(state, event)| About {
        kind: state.kind,
        subject: state.subject.clone(),
        since: state.since,
        event: *event,
    });
    Letter { about: about.collect(), title, text, json: letter_json(bench_name, bench, alarms, now), written: now }
}
