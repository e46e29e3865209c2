//! A week at a time of simulated faults of all kinds: what was printed is what is on record, but for what is counted as lost.
//!
//! Deterministic: a seed gives the same week each time. `fault_50_…` runs short ones; by hand, with the seeds and what came of them
//! printed: `SEEDCLOCK_WEEKS=20 cargo test --release --lib simulated_weeks -- --ignored --nocapture`, begun elsewhere with
//! `SEEDCLOCK_SEED=1000`.

mod judge;

use std::collections::BTreeSet;

use chrono::Duration;
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

use super::rig::{Rig, time};
use crate::bench::{AnchoredBy, Name, Standing, WhyDoubted};
use crate::civil::Time;
use crate::clock::{Clock, StoppedClock};
use crate::store::{Staged, StoreTrouble};

const PROBES: usize = 4;
const COMMIT_EVERY_S: i64 = 60;
/// A clock off by no more than this was not set, for all that can be told; it adds to what a clock was off by anyway.
const STEP_US: i64 = 2_500_000;
/// A clock that was set is followed after a few seconds; what comes first may lie by the time before.
const FOLLOWED_AFTER_S: i64 = 60;
/// Numbers of eras from here on are of what waited for its dates when the clock was set.
const UNDATED_ERAS: u32 = 1_000_000;
/// More lines than there is room for in memory.
const FLOOD: usize = 100_500;

/// A line that was printed whole while a logger ran.
struct Sent {
    probe: usize,
    at_us: i64,
    /// How far off the clock was.
    off_us: i64,
    /// Between two numbers alike the time that readings go by never went back.
    era: u32,
}

/// What came of a week.
#[derive(Debug, Default)]
struct Week {
    sent: usize,
    dated: usize,
    undated: usize,
    dropped: u64,
    lost_by_kill: usize,
    kills: u32,
    boots: u32,
    steps: u32,
    troubles: u32,
    worst_us: i64,
}

struct World {
    rng: ChaCha8Rng,
    rig: Rig,
    /// The true time; the computer's clock shows this plus `wall_off_us`.
    truth: Time,
    wall_off_us: i64,
    /// No battery keeps the clock: it is believed only when the network has set it.
    is_board: bool,
    synchronised: bool,
    syncs_at: Option<Time>,
    /// Until when readings may lie by the clock as it was before it was set, and how far off that was.
    before: (Time, i64),
    era: u32,
    /// Places in `sent` of what was printed in this start of the computer while its clock was not believed.
    to_be_dated: Vec<usize>,
    told: usize,
    trouble: Option<(Staged, Time)>,
    commits_at: Time,
    /// When the network is heard of again.
    touches_at: Time,
    sent: Vec<Sent>,
    /// Places in `sent` of what was lost, and counted.
    lost: BTreeSet<usize>,
    week: Week,
}

impl World {
    fn new(seed: u64) -> Self {
        let truth = time("2026-03-14 12:00");
        let rig = Rig::new(StoppedClock::new(truth));
        let mut world = Self {
            rng: ChaCha8Rng::seed_from_u64(seed),
            rig,
            truth,
            wall_off_us: 0,
            is_board: seed.is_multiple_of(2),
            synchronised: false,
            syncs_at: None,
            before: (truth, 0),
            era: 0,
            to_be_dated: Vec::new(),
            told: 0,
            trouble: None,
            commits_at: truth,
            touches_at: truth,
            sent: Vec::new(),
            lost: BTreeSet::new(),
            week: Week::default(),
        };
        world.boot();
        world
    }

    fn chance(&mut self, per_step: f64) -> bool {
        self.rng.random_bool(per_step)
    }

    /// The computer starts after a while without power, and with it the logger.
    fn boot(&mut self) {
        self.kill();
        self.week.boots += 1;
        let (shown, off) = (self.rig.clock.now(), Duration::seconds(self.rng.random_range(60..86_400)));
        self.truth += off;
        let shows = match (self.is_board, self.rng.random_bool(0.5)) {
            (true, true) => Time::UNIX_EPOCH,
            // As it was shut down, which is kept on the disk.
            (true, false) => shown,
            (false, _) => self.truth + Duration::milliseconds(self.rng.random_range(-30_000..30_000)),
        };
        self.wall_off_us = (shows - self.truth).num_microseconds().unwrap();
        self.before = (self.truth, 0);
        self.synchronised = false;
        self.era += 1;
        self.to_be_dated.clear();
        let standing = if self.is_board { Standing::Doubted(WhyDoubted::NotSetYet) } else { Standing::Plausible };
        self.rig.clock.restart(shows, standing);
        let in_s = self.rng.random_range(30..6 * 3_600);
        let often = if self.is_board { 0.7 } else { 0.3 };
        self.syncs_at = self.rng.random_bool(often).then(|| self.truth + Duration::seconds(in_s));
        self.begin();
    }

    fn begin(&mut self) {
        let known = self.rig.store().known_start(&self.rig.clock.start_id()).unwrap();
        if self.wall_off_us.abs() > STEP_US && known.is_none_or(|anchor| anchor.by != AnchoredBy::Synchronised) {
            // Killed before it could store what the network had said, and the clock set wrong since: nobody can know better.
            self.synchronised = false;
        }
        self.rig.begin();
        self.hear();
        self.commits_at = self.truth + Duration::seconds(COMMIT_EVERY_S);
    }

    /// The process is killed: what was not stored yet is lost, and known.
    fn kill(&mut self) {
        self.heal();
        let waiting = self.rig.kill();
        let places: BTreeSet<(usize, i64)> = waiting.iter().map(|(probe, raw)| (probe_number(probe), *raw)).collect();
        self.week.lost_by_kill += places.len();
        // Values go up by one with each line.
        self.lost.extend(places.into_iter().map(|(_, raw)| place_of(raw)));
    }

    fn set_clock(&mut self, off_us: i64) {
        // Set twice in a row, it may not have been followed in between.
        let still_us = if self.truth < self.before.0 { self.before.1 } else { 0 };
        let off_before_us = self.wall_off_us.abs().max(still_us);
        self.before = (self.truth + Duration::seconds(FOLLOWED_AFTER_S), off_before_us);
        self.wall_off_us = off_us;
        self.week.steps += 1;
        self.rig.clock.set(self.truth + Duration::microseconds(off_us));
    }

    /// The network sets the clock, to a hair.
    fn synchronise(&mut self) {
        let off_us = self.rng.random_range(-50_000..50_000);
        self.set_clock(off_us);
        self.hears_of_the_network();
        self.synchronised = true;
        self.syncs_at = None;
    }

    fn hears_of_the_network(&mut self) {
        let last_us = self.rig.clock.now().timestamp_micros();
        self.rig.clock.stand(Standing::Synchronised { last_us });
        self.touches_at = self.truth + Duration::seconds(self.rng.random_range(32..2_048));
    }

    /// How far off a reading made now may be.
    fn off_us(&self) -> i64 {
        let before_us = if self.truth < self.before.0 { self.before.1 } else { 0 };
        match (self.synchronised, self.is_board) {
            // What the network had set right stays right, whatever the clock shows now; on a board nothing counts before that.
            (true, false) => before_us.max(50_000),
            (true, true) => 50_000,
            (false, _) => before_us.max(self.wall_off_us.abs()),
        }
    }

    fn print_one(&mut self, probe: usize) {
        let value = self.sent.len() + 1;
        let line = format!("p{probe},{}.{:04}\n", value / 10_000, value % 10_000);
        let off_us = if self.rig.believes() {
            self.off_us()
        } else {
            self.to_be_dated.push(value - 1);
            0
        };
        self.sent.push(Sent { probe, at_us: self.truth.timestamp_micros(), off_us, era: self.era });
        let dropped = self.rig.writer().dropped();
        self.rig.print(line.as_bytes());
        if self.rig.writer().dropped() > dropped {
            self.lost.insert(value - 1);
            self.week.dropped += 1;
        }
    }

    /// More than memory has room for, as fast as a port can be.
    fn flood(&mut self) {
        for line in 0..FLOOD {
            let each = Duration::microseconds(100);
            self.truth += each;
            self.rig.clock.pass(each);
            self.print_one(line % PROBES);
        }
    }

    fn noise(&mut self) {
        match self.rng.random_range(0..6) {
            0 => {
                let garbage: Vec<u8> = (0..self.rng.random_range(1..400)).map(|_| self.rng.random_range(0x80..=0xff)).collect();
                self.rig.print(&[&garbage[..], b"\n"].concat());
            }
            1 => self.rig.print(b"AT\r\n"),
            2 => self.rig.print(&[&vec![b'7'; 70_000][..], b"\n"].concat()),
            3 => self.rig.print(b"p1,21,5\np1,0x15\np1,1e400\n\x00\x1b[2J\n"),
            4 => self.rig.print(b"rst:0x1 (POWERON),boot:0x13\r\nready\r\n"),
            // Unplugged in mid-line; and plugged in while another was printed.
            _ => {
                self.rig.print(b"p1,99.9");
                self.rig.replug();
            }
        }
    }

    fn ail(&mut self) {
        let trouble = [StoreTrouble::Full, StoreTrouble::ReadOnly, StoreTrouble::Busy][self.rng.random_range(0..3_usize)];
        let for_s = self.rng.random_range(60..4 * 3_600);
        let staged = self.rig.writer().store().stage(trouble);
        self.trouble = Some((staged, self.truth + Duration::seconds(for_s)));
        self.week.troubles += 1;
    }

    fn heal(&mut self) {
        if let Some((staged, _)) = self.trouble.take() {
            self.rig.writer().store().unstage(staged);
        }
    }

    /// What a clock did is told once it is followed, and that it is believed once what was printed before has its dates.
    fn hear(&mut self) {
        if self.rig.believes() {
            // Those are as right as the clock that they get their dates by.
            for place in &self.to_be_dated {
                let off_us = &mut self.sent[*place].off_us;
                *off_us = (*off_us).max(self.wall_off_us.abs());
            }
        }
        let told = self.rig.told();
        for words in &told[self.told..] {
            if words.contains("go by it from then on") {
                self.era += 1;
                // What waits for its dates gets them by the clock as it is now; what was dated in between stays as it is.
                for place in &self.to_be_dated {
                    self.sent[*place].era = UNDATED_ERAS + self.era;
                }
            }
            if words.contains("is right now") {
                self.to_be_dated.clear();
            }
        }
        self.told = told.len();
    }

    /// Some seconds of the week.
    fn step(&mut self) {
        let seconds = Duration::milliseconds(self.rng.random_range(500..30_000));
        self.truth += seconds;
        self.rig.pass(seconds);
        self.hear();
        if self.trouble.as_ref().is_some_and(|(_, until)| self.truth >= *until) {
            self.heal();
        }
        if self.syncs_at.is_some_and(|at| self.truth >= at) {
            self.synchronise();
        }
        if self.synchronised && self.wall_off_us.abs() <= STEP_US && self.truth >= self.touches_at {
            self.hears_of_the_network();
        }
        if self.truth >= self.commits_at {
            self.rig.commit();
            self.commits_at = self.truth + Duration::seconds(COMMIT_EVERY_S);
        }
        (0..PROBES).for_each(|probe| self.print_one(probe));
        if self.chance(0.05) {
            self.noise();
        }
        if self.chance(0.0015) {
            // Set by hand, and wrong by up to three days.
            let off_us = self.rng.random_range(-259_200_000_000..259_200_000_000);
            self.set_clock(off_us);
        }
        if self.chance(0.0015) && self.synchronised {
            self.synchronise();
        }
        if self.chance(0.001) && self.trouble.is_none() {
            self.ail();
        }
        if self.chance(0.00005) && self.trouble.is_some() {
            self.flood();
        }
        if self.chance(0.001) {
            self.end_or_kill();
        }
        if self.chance(0.0005) {
            self.boot();
        }
    }

    fn end_or_kill(&mut self) {
        self.week.kills += 1;
        if self.chance(0.3) {
            self.heal();
            self.rig.finish();
        } else {
            self.kill();
        }
        let idle = Duration::seconds(self.rng.random_range(1..600));
        self.truth += idle;
        self.rig.clock.pass(idle);
        self.begin();
    }
}

fn probe_number(probe: &Name) -> usize {
    probe.as_str().strip_prefix('p').unwrap().parse().unwrap()
}

/// Where among the lines printed the one with this value is.
fn place_of(raw: i64) -> usize {
    usize::try_from(raw).unwrap() - 1
}

fn run(seed: u64, days: i64) -> Week {
    let mut world = World::new(seed);
    let end = world.truth + Duration::days(days);
    while world.truth < end {
        world.step();
    }
    world.judge(seed)
}

#[test]
fn fault_50_in_simulated_days_of_faults_what_was_printed_is_on_record_but_for_what_is_counted() {
    let weeks: Vec<Week> = (1..=6).map(|seed| run(seed, 2)).collect();
    let some = |of: fn(&Week) -> bool| assert!(weeks.iter().any(of), "{weeks:?}");
    some(|week| week.dated > 0);
    some(|week| week.undated > 0);
    some(|week| week.lost_by_kill > 0);
    some(|week| week.steps > 0 && week.boots > 1 && week.kills > 0 && week.troubles > 0);
}

/// Kilobytes that this process holds in memory.
fn memory_kb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    status.lines().find_map(|line| line.strip_prefix("VmRSS:"))?.split_whitespace().next()?.parse().ok()
}

#[test]
#[ignore = "long; see the top of the file"]
#[expect(clippy::print_stdout, reason = "its figures are what it is run for")]
fn simulated_weeks() {
    let number = |name: &str, default| std::env::var(name).map_or(default, |text| text.parse().unwrap());
    let (first, weeks) = (number("SEEDCLOCK_SEED", 1), number("SEEDCLOCK_WEEKS", 20));
    for seed in first..first + weeks {
        let week = run(seed, 7);
        println!("seed {seed}: {week:?}, {} kB", memory_kb().unwrap_or(0));
    }
}
