//! How the bench stands: what is there, and what needs doing now.

use std::collections::BTreeMap;

use chrono::Duration;

use super::alarms::{AlarmState, Delivery};
use super::{Care, CareTodo, ChillTodo, SourceStatus};
use crate::bench::{
    AlarmKind, Bench, ClockStatus, Doubt, Move, Name, ProbeLimits, SpotKind, Standing, Trial, UndatedStart, WhyDoubted,
};
use crate::civil::Time;

/// A box not looked at for longer than this is due: one look a day is enough, and a day may be missed.
const LOOK_DUE_HOURS: i64 = 48;
/// In a fridge little happens in a week.
const FRIDGE_LOOK_DUE_HOURS: i64 = 7 * 24;
/// A probe whose own spacing is not known, and that has been silent for longer than this, has stopped.
const SILENT_HOURS: i64 = 1;
/// Boxes that count as ended because nobody looked at them are asked about for so long after the last look.
const ASK_FOR_DAYS: i64 = 120;
/// Less room on the disk than this needs doing something about: a probe's year takes about 100 MB.
const LOW_DISK_BYTES: u64 = 500_000_000;

/// Whether a logger runs on the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LoggerState {
    /// One runs, as this process where that could be read.
    Runs(Option<u32>),
    /// None does.
    Stopped,
}

/// What only the machine can tell, and only of now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MachineState {
    /// The logger.
    pub logger: LoggerState,
    /// Room left on the bench's disk, in bytes; none where it cannot be told.
    pub free_bytes: Option<u64>,
}

/// Lines of a port that could not be read lately.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnreadLines {
    /// The port.
    pub port: String,
    /// How many.
    pub count: usize,
    /// When the last one came.
    pub last: Time,
    /// Why that one could not be read.
    pub why: String,
}

/// What stands at one spot.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotStatus {
    /// The spot.
    pub spot: Name,
    /// What kind of place it is.
    pub kind: SpotKind,
    /// How many boxes find room there.
    pub capacity: Option<u32>,
    /// The boxes present there, by name.
    pub boxes: Vec<Trial>,
}

/// One probe.
#[derive(Debug, Clone, PartialEq)]
pub struct ProbeStatus {
    /// The probe.
    pub probe: Name,
    /// Where it stands.
    pub spot: Option<Name>,
    /// Its last reading.
    pub last_reading: Option<Time>,
    /// Silent for longer than this it has stopped: three times its own spacing; none where that is not known.
    pub silent_after: Option<Duration>,
    /// Its limits, where they are not the usual ones.
    pub limits: Option<ProbeLimits>,
}

/// Something that needs doing.
#[derive(Debug, Clone, PartialEq)]
pub enum Todo {
    /// Boxes at a spot that nobody has looked at for long, with the last look, or the sowing.
    Look {
        /// The spot.
        spot: Name,
        /// The boxes, and since when nobody has looked at them.
        boxes: Vec<(Name, Time)>,
        /// Whether these are all boxes there.
        all: bool,
    },
    /// Boxes that count as ended only because nobody looked at them, with their spots and last looks.
    FindOut {
        /// The boxes.
        boxes: Vec<(Name, Name, Time)>,
    },
    /// Boxes at a spot of which no temperature is known.
    Measure {
        /// The spot.
        spot: Name,
        /// The boxes.
        boxes: Vec<Name>,
    },
    /// A probe beside boxes that has not been heard of for long.
    Hear {
        /// The probe.
        probe: Name,
        /// Where it stands.
        spot: Name,
        /// Its last reading.
        last: Option<Time>,
    },
    /// A probe beside boxes whose readings are not used now, with no end in sight.
    Mend {
        /// The doubt.
        doubt: Doubt,
        /// Where the probe stands.
        spot: Name,
    },
    /// A probe of which nobody has said where it stands.
    Place {
        /// The probe.
        probe: Name,
    },
    /// A move whose time has come.
    Carry {
        /// What was planned.
        planned: Move,
    },
    /// A box in the cold that something has to be done about.
    Chill(ChillTodo),
    /// More boxes at a spot than find room there.
    MakeRoom {
        /// The spot.
        spot: Name,
        /// The boxes there.
        boxes: usize,
        /// How many find room.
        capacity: u32,
    },
    /// A clock that is not known to be right.
    BelieveClock {
        /// Why it is not.
        why: WhyDoubted,
    },
    /// Readings of an earlier start of the computer, of which nobody knows when they were made.
    DateReadings {
        /// The start.
        start: UndatedStart,
    },
    /// A source that the logger cannot read.
    MendSource {
        /// How it stands.
        source: SourceStatus,
    },
    /// An alarm that nobody has seen yet.
    Alarm {
        /// How it stands.
        state: AlarmState,
    },
    /// Something that the bench file needs.
    Care(CareTodo),
    /// A disk that is nearly full.
    FreeDisk {
        /// Bytes left.
        free: u64,
    },
}

/// How the bench stands.
#[derive(Debug, Clone, PartialEq)]
pub struct BenchStatus {
    /// As of when.
    pub as_of: Time,
    /// The machine; none where the question is about another time.
    pub machine: Option<MachineState>,
    /// How the file is cared for; none where the question is about another time.
    pub care: Option<Care>,
    /// Spots with boxes, by name.
    pub spots: Vec<SpotStatus>,
    /// Every probe, by name.
    pub probes: Vec<ProbeStatus>,
    /// What the logger that runs reads, by name.
    pub sources: Vec<SourceStatus>,
    /// Lines that could not be read lately, by port.
    pub unread: Vec<UnreadLines>,
    /// The clock of the computer that logs.
    pub clock: ClockStatus,
    /// What the logger watches; none where none runs, or the question is about another time.
    pub alarms: Option<Box<AlarmsPresent>>,
    /// What needs doing.
    pub todo: Vec<Todo>,
}

/// The alarms of a bench that a logger watches.
#[derive(Debug, Clone, PartialEq)]
pub struct AlarmsPresent {
    /// The bench.
    pub bench: Bench,
    /// Those that are present.
    pub states: Vec<AlarmState>,
    /// The last delivery of each by each way.
    pub deliveries: Vec<Delivery>,
}

impl BenchStatus {
    /// The same with how it stands with the clock.
    #[must_use]
    pub fn with_clock(mut self, clock: ClockStatus) -> Self {
        let present = |start: &&UndatedStart| clock.start.as_ref() == Some(&start.id);
        let runs = matches!(self.machine.map(|machine| machine.logger), Some(LoggerState::Runs(_)));
        if runs && let Some(start) = clock.undated.iter().find(present) {
            // They are heard, though nothing of it has a time yet.
            self.todo.retain(|todo| !matches!(todo, Todo::Hear { probe, .. } if start.probes.contains(probe)));
        }
        if let Some(Standing::Doubted(why)) = clock.standing
            && clock.dated != Some(true)
        {
            self.todo.push(Todo::BelieveClock { why });
        }
        let past = clock.undated.iter().filter(|start| !present(start));
        self.todo.extend(past.map(|start| Todo::DateReadings { start: start.clone() }));
        self.clock = clock;
        self
    }

    /// Works out how a bench stands, which holds nothing later than `as_of`; `last_readings` are each probe's last up to then,
    /// and how long after it the probe counts as silent, where its spacing tells.
    #[must_use]
    pub fn of(
        bench: &Bench,
        as_of: Time,
        last_readings: &BTreeMap<Name, (Time, Option<Duration>)>,
        unread: Vec<UnreadLines>,
        machine: Option<MachineState>,
    ) -> Self {
        let spots = spots(bench, as_of);
        let standing = |probe: &Name| bench.placements.iter().rev().find(|placement| placement.probe == *probe);
        let probe = |probe: &Name| ProbeStatus {
            probe: probe.clone(),
            spot: standing(probe).map(|placement| placement.spot.clone()),
            last_reading: last_readings.get(probe).map(|(last, _)| *last),
            silent_after: last_readings.get(probe).and_then(|(_, after)| *after),
            limits: bench.limits.get(probe).filter(|limits| !limits.is_usual()).cloned(),
        };
        let friends = bench.friends();
        // What is a friend's is not here, and a probe of which nothing is on record yet is not known of.
        let probes: Vec<ProbeStatus> = bench
            .probes
            .iter()
            .filter(|probe| !friends.iter().any(|friend| probe.is_of(friend)))
            .map(probe)
            .filter(|probe| probe.spot.is_some() || probe.last_reading.is_some())
            .collect();
        let mut todo = Vec::new();
        for spot in &spots {
            // Nobody is there to look.
            todo.extend(look(spot, as_of).filter(|_| bench.away_at(as_of).is_none()));
            todo.extend(measure(bench, spot, &probes, as_of));
            todo.extend(make_room(spot));
        }
        for probe in &probes {
            todo.extend(hear_or_place(probe, &spots, as_of));
            todo.extend(mend(bench, probe, &spots));
        }
        todo.extend(find_out(bench, as_of));
        let present = spots.iter().flat_map(|spot| &spot.boxes);
        todo.extend(present.flat_map(|trial| carry(trial, as_of)));
        let free = machine.and_then(|machine| machine.free_bytes);
        todo.extend(free.filter(|free| *free < LOW_DISK_BYTES).map(|free| Todo::FreeDisk { free }));
        Self {
            as_of,
            machine,
            care: None,
            spots,
            probes,
            sources: Vec::new(),
            unread,
            clock: ClockStatus::default(),
            alarms: None,
            todo,
        }
    }
}

impl BenchStatus {
    /// The same with what is to be done about boxes in the cold, which comes first: it is about living seeds.
    #[must_use]
    pub fn with_chilling(mut self, todo: Vec<ChillTodo>) -> Self {
        self.todo.splice(0..0, todo.into_iter().map(Todo::Chill));
        self
    }

    /// The same with the alarms that a running logger has put on record. What else tells of a silent probe, or of boxes not looked at,
    /// is not said twice.
    #[must_use]
    pub fn with_alarms(mut self, alarms: AlarmsPresent) -> Self {
        let new = |state: &&AlarmState| state.seen.is_none() && !matches!(state.kind, AlarmKind::Silent | AlarmKind::Look);
        let todo: Vec<Todo> = alarms.states.iter().filter(new).map(|state| Todo::Alarm { state: state.clone() }).collect();
        self.todo.splice(0..0, todo);
        self.alarms = Some(Box::new(alarms));
        self
    }

    /// The same with what is known of the care for the file. A bench on which little was recorded so far can be typed in again.
    #[must_use]
    pub fn with_care(mut self, care: Care) -> Self {
        let looks = |spot: &SpotStatus| spot.boxes.iter().map(|trial| trial.container.sown).min();
        let since = self.spots.iter().filter_map(looks).min();
        let free_bytes = self.machine.and_then(|machine| machine.free_bytes);
        let todo: Vec<CareTodo> = care.todo(self.as_of, free_bytes, since);
        if todo.contains(&CareTodo::Full) {
            self.todo.retain(|one| !matches!(one, Todo::FreeDisk { .. }));
        }
        self.todo.extend(todo.into_iter().map(Todo::Care));
        self.care = Some(care);
        self
    }
}

fn spots(bench: &Bench, as_of: Time) -> Vec<SpotStatus> {
    let mut standing: BTreeMap<&Name, Vec<Trial>> = BTreeMap::new();
    for trial in bench.trials.values() {
        if trial.container.owner.is_none() && trial.ended_at(as_of).is_none() {
            standing.entry(trial.spot_at(as_of)).or_default().push(trial.clone());
        }
    }
    let spot = |(name, boxes): (&Name, Vec<Trial>)| {
        let setting = bench.spots.get(name).map(|spot| spot.setting_at(as_of));
        SpotStatus {
            spot: name.clone(),
            kind: setting.map(|setting| setting.kind).unwrap_or_default(),
            capacity: setting.and_then(|setting| setting.capacity),
            boxes,
        }
    };
    standing.into_iter().map(spot).collect()
}

fn look(spot: &SpotStatus, as_of: Time) -> Option<Todo> {
    let hours = if spot.kind == SpotKind::Fridge { FRIDGE_LOOK_DUE_HOURS } else { LOOK_DUE_HOURS };
    let due = |trial: &&Trial| as_of - trial.last_touched() > Duration::hours(hours);
    let boxes: Vec<_> = spot.boxes.iter().filter(due).map(|trial| (trial.container.name.clone(), trial.last_touched())).collect();
    let all = boxes.len() == spot.boxes.len();
    (!boxes.is_empty()).then(|| Todo::Look { spot: spot.spot.clone(), boxes, all })
}

fn find_out(bench: &Bench, as_of: Time) -> Option<Todo> {
    let forgotten = |trial: &&Trial| {
        let container = &trial.container;
        container.owner.is_none()
            && container.ended.is_none()
            && trial.left() != Some(0)
            && trial.ended_at(as_of).is_some()
            && as_of - trial.last_touched() <= Duration::days(ASK_FOR_DAYS)
    };
    let told = |trial: &Trial| (trial.container.name.clone(), trial.spot_at(as_of).clone(), trial.last_touched());
    let boxes: Vec<_> = bench.trials.values().filter(forgotten).map(told).collect();
    (!boxes.is_empty()).then_some(Todo::FindOut { boxes })
}

fn measure(bench: &Bench, spot: &SpotStatus, probes: &[ProbeStatus], as_of: Time) -> Option<Todo> {
    let given = bench.spots.get(&spot.spot).and_then(|there| there.setting_at(as_of).given);
    let probe = probes.iter().any(|probe| probe.spot.as_ref() == Some(&spot.spot));
    let boxes = || spot.boxes.iter().map(|trial| trial.container.name.clone()).collect();
    (given.is_none() && !probe).then(|| Todo::Measure { spot: spot.spot.clone(), boxes: boxes() })
}

fn make_room(spot: &SpotStatus) -> Option<Todo> {
    let (boxes, capacity) = (spot.boxes.len(), spot.capacity?);
    (boxes > capacity as usize).then(|| Todo::MakeRoom { spot: spot.spot.clone(), boxes, capacity })
}

fn hear_or_place(probe: &ProbeStatus, spots: &[SpotStatus], as_of: Time) -> Option<Todo> {
    let Some(spot) = &probe.spot else { return Some(Todo::Place { probe: probe.probe.clone() }) };
    let beside_boxes = spots.iter().any(|there| there.spot == *spot);
    let silent_after = probe.silent_after.unwrap_or(Duration::hours(SILENT_HOURS));
    let silent = probe.last_reading.is_none_or(|last| as_of - last > silent_after);
    (beside_boxes && silent).then(|| Todo::Hear { probe: probe.probe.clone(), spot: spot.clone(), last: probe.last_reading })
}

fn mend(bench: &Bench, probe: &ProbeStatus, spots: &[SpotStatus]) -> Option<Todo> {
    let spot = probe.spot.clone().filter(|spot| spots.iter().any(|there| there.spot == *spot))?;
    let doubt = bench.doubts.iter().find(|doubt| doubt.probe == probe.probe && doubt.to.is_none())?;
    Some(Todo::Mend { doubt: doubt.clone(), spot })
}

/// Moves whose time has come and that were not made since the day before.
fn carry(trial: &Trial, as_of: Time) -> Vec<Todo> {
    let made = |planned: &Move| {
        trial.moves.iter().any(|moved| moved.spot == planned.spot && moved.time >= planned.time - Duration::days(1))
            || trial.spot_at(as_of) == &planned.spot
    };
    let come = trial.planned.iter().filter(|planned| planned.time <= as_of && !made(planned));
    come.map(|planned| Todo::Carry { planned: planned.clone() }).collect()
}
