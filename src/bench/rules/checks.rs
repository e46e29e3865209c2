//! Rules for looks at a container: their order in time, and that no seed is counted twice.

use super::{Admission, Counted, Fault, Origin, differences, text};
use crate::bench::{Check, Name, Trial};
use crate::civil::Time;
use crate::units;

/// Counts added up over a container's checks.
#[derive(Debug, Clone, Copy, Default)]
struct Tally {
    sprouted: u64,
    removed: u64,
    lost: u64,
    potted_on: u64,
    died: u64,
}

impl Tally {
    fn of(checks: &[Check]) -> Self {
        let mut tally = Self::default();
        checks.iter().for_each(|check| tally.add(check));
        tally
    }

    fn add(&mut self, check: &Check) {
        self.sprouted += u64::from(check.sprouted);
        self.removed += u64::from(check.removed);
        self.lost += u64::from(check.lost);
        self.potted_on += u64::from(check.potted_on);
        self.died += u64::from(check.died);
    }

    fn seeds(self) -> u64 {
        self.sprouted + self.removed + self.lost
    }
}

impl Admission {
    /// Judges the looks at one container in the order in which they were given.
    pub(super) fn checks(&mut self, container: &Name, looks: Vec<(Origin, Check, Counted)>) {
        let Some(mut trial) = self.admitted.bench.trials.remove(container) else {
            looks.iter().for_each(|(origin, ..)| self.unknown_container(origin, container));
            return;
        };
        let mut tally = Tally::of(&trial.checks);
        let mut row_before: Option<Time> = None;
        // After the first count that does not add up the later ones would only repeat it.
        let mut adds_up = true;
        for (origin, mut check, counted) in looks {
            let faults_before = self.faults.len();
            if counted == Counted::InTotal && !self.difference_to_total(&origin, &mut check, &trial, &tally) {
                adds_up = false;
                continue;
            }
            if let Some(there) = trial.checks.iter().find(|there| there.time == check.time) {
                if *there == check {
                    self.admitted.repeated += 1;
                } else {
                    self.differs(&origin, there, &check);
                }
                row_before = Some(check.time);
                continue;
            }
            self.in_time(&origin, &check, &trial, row_before);
            row_before = row_before.max(Some(check.time));
            tally.add(&check);
            adds_up = adds_up && self.counts(&origin, &tally, &trial);
            if self.faults.len() == faults_before {
                trial.checks.push(check.clone());
                self.admitted.checks.push(check);
            }
        }
        self.admitted.bench.trials.insert(container.clone(), trial);
    }

    /// Turns a running total into the number since the check before.
    fn difference_to_total(&mut self, origin: &Origin, check: &mut Check, trial: &Trial, tally: &Tally) -> bool {
        // On record the checks before this one count; among new ones all so far.
        let newer = trial.checks.last().is_none_or(|last| last.time < check.time);
        let before = if newer {
            tally.sprouted
        } else {
            trial.checks.iter().filter(|there| there.time < check.time).map(|there| u64::from(there.sprouted)).sum()
        };
        match u64::from(check.sprouted).checked_sub(before).map(u32::try_from) {
            Some(Ok(new)) => {
                check.sprouted = new;
                true
            }
            _ => {
                let what = format!(
                    "{} sprouts in total in {} '{}', where {before} had been counted before: a total never falls",
                    check.sprouted,
                    origin.container(),
                    check.container
                );
                self.fault(origin, what);
                false
            }
        }
    }

    fn differs(&mut self, origin: &Origin, there: &Check, here: &Check) {
        let count = |what, there: u32, here: u32| (what, there.to_string(), here.to_string());
        let differing = differences(&[
            count("sprouted", there.sprouted, here.sprouted),
            count("removed", there.removed, here.removed),
            count("lost", there.lost, here.lost),
            count("potted_on", there.potted_on, here.potted_on),
            count("died", there.died, here.died),
            ("condition", text(there.condition.as_ref()), text(here.condition.as_ref())),
            ("note", text(there.note.as_ref()), text(here.note.as_ref())),
        ]);
        let what = format!(
            "the check of {} '{}' on {} is known already, with other values: {differing}",
            origin.container(),
            here.container,
            self.said(here.time)
        );
        self.fault(origin, what);
    }

    fn in_time(&mut self, origin: &Origin, check: &Check, trial: &Trial, row_before: Option<Time>) {
        let of = format!("{} '{}'", origin.container(), check.container);
        let time = self.said(check.time);
        if !self.has_come(origin, &format!("the check of {of}"), check.time) {
            return;
        }
        if check.time < trial.container.sown {
            let sown = self.said(trial.container.sown);
            self.fault(origin, format!("{of} was sown on {sown}: a check on {time} comes before that"));
        } else if let Some(ended) = trial.container.ended.filter(|ended| check.time > *ended) {
            let ended = self.said(ended);
            self.fault(origin, format!("{of} ended on {ended}: a check on {time} comes after that"));
        } else if let Some(before) = row_before.filter(|before| check.time < *before) {
            let before = self.said(before);
            self.fault(origin, format!("the check of {of} on {time} stands below the one on {before}: checks go on in time"));
        } else if let Some(last) = trial.checks.last().filter(|last| check.time < last.time) {
            let last = self.said(last.time);
            self.fault(origin, format!("the last check of {of} is on record for {last}: one on {time} comes before that"));
        }
    }

    /// Whether no more seeds and sprouts are accounted for than there are; a fault if not.
    fn counts(&mut self, origin: &Origin, tally: &Tally, trial: &Trial) -> bool {
        let container = &trial.container;
        let of = format!("{} '{}'", origin.container(), container.name);
        // Uncounted seeds are still fewer than any container holds.
        let most = container.seeds.map_or(units::SEEDS.high as u64, u64::from);
        let gone = tally.potted_on + tally.died;
        if tally.seeds() > most {
            let mut counted = vec![format!("{} sprout{}", tally.sprouted, if tally.sprouted == 1 { "" } else { "s" })];
            counted.extend((tally.removed > 0).then(|| format!("{} removed", tally.removed)));
            counted.extend((tally.lost > 0).then(|| format!("{} lost", tally.lost)));
            let sum = if counted.len() > 1 { format!(", together {},", tally.seeds()) } else { String::new() };
            let rule = match container.seeds {
                Some(1) => "which holds 1 seed".to_owned(),
                Some(seeds) => format!("which holds {seeds} seeds"),
                None => format!("and no container holds more than {most} seeds"),
            };
            let what = format!("{}{sum} in {of}, {rule}", counted.join(", "));
            self.faults.push(Fault { origin: origin.clone(), what, next: Some(self.advice_on_seeds(origin, trial)) });
        } else if gone > tally.sprouted {
            let what = format!(
                "{} potted on and {} died in {of}, where only {} had sprouted by then",
                tally.potted_on, tally.died, tally.sprouted
            );
            self.fault(origin, what);
        } else {
            return true;
        }
        false
    }

    fn advice_on_seeds(&self, origin: &Origin, trial: &Trial) -> String {
        match (origin, self.container_origins.get(&trial.container.name)) {
            (Origin::File { line: Some(line), .. }, Some(sown)) => {
                format!("correct line {line}, or the number of seeds in {sown}")
            }
            (Origin::File { line: Some(line), .. }, None) => format!("correct line {line}"),
            _ => format!("give only what is new since the last look; {} had sprouted by then", trial.sprouted()),
        }
    }
}
