//! Rules for looks at a container: their order in time, and that no seed is counted twice.

use super::{About, Admission, Conflict, Counted, Entry, Fault, Key, Origin, differences, text};
use crate::bench::{Check, Given, Name, Trial};
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
    given: u64,
}

/// Uncounted seeds are still fewer than any container holds.
fn most_seeds(trial: &Trial) -> u64 {
    trial.container.most_seeds().map_or(units::SEEDS.high as u64, u64::from)
}

impl Tally {
    fn add(&mut self, check: &Check) {
        self.sprouted += u64::from(check.sprouted);
        self.removed += u64::from(check.removed);
        self.lost += u64::from(check.lost);
        self.potted_on += u64::from(check.potted_on);
        self.died += u64::from(check.died);
    }

    fn seeds(self) -> u64 {
        self.sprouted + self.removed + self.lost + self.given
    }
}

impl Admission {
    /// Judges the looks at one container in the order in which they were given, each by itself.
    pub(super) fn checks(&mut self, container: &Name, looks: Vec<(Origin, Check, Counted)>) {
        let Some(mut trial) = self.admitted.bench.trials.remove(container) else {
            looks.iter().for_each(|(origin, ..)| self.unknown_container(origin, container));
            return;
        };
        let mut row_before: Option<Time> = None;
        for (origin, mut check, counted) in looks {
            let faults_before = self.faults.len();
            if counted == Counted::InTotal && !self.difference_to_total(&origin, &mut check, &trial) {
                continue;
            }
            let place = trial.checks.binary_search_by_key(&check.time, |there| there.time);
            if let Ok(at) = place {
                if trial.checks[at] == check {
                    self.is_repeated(origin, Key::Check(container.clone(), check.time));
                } else if self.differs(&origin, &trial.checks[at], &check) {
                    self.touched.entry(container.clone()).or_insert(origin);
                    trial.checks[at] = check.clone();
                }
                row_before = Some(check.time);
                continue;
            }
            self.in_time(&origin, &check, &trial, row_before);
            row_before = row_before.max(Some(check.time));
            if self.faults.len() == faults_before {
                self.touched.entry(container.clone()).or_insert_with(|| origin.clone());
                self.is_new(origin, Entry::Check(check.clone(), Counted::SinceLast));
                trial.checks.insert(place.unwrap_or_else(|at| at), check);
            }
        }
        self.admitted.bench.trials.insert(container.clone(), trial);
    }

    /// Turns a running total into the number since the check before.
    fn difference_to_total(&mut self, origin: &Origin, check: &mut Check, trial: &Trial) -> bool {
        let before: u64 = trial.checks.iter().filter(|there| there.time < check.time).map(|there| u64::from(there.sprouted)).sum();
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
                self.fault_about(About::Counts, origin, what);
                false
            }
        }
    }

    /// Whether a look takes the place of the one on record.
    fn differs(&mut self, origin: &Origin, there: &Check, here: &Check) -> bool {
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
        let what = format!("the check of {} '{}' on {} is known already", origin.container(), here.container, self.said(here.time));
        self.replaces(origin, Entry::Check(here.clone(), Counted::SinceLast), &what, &differing)
    }

    fn in_time(&mut self, origin: &Origin, check: &Check, trial: &Trial, row_before: Option<Time>) {
        let of = format!("{} '{}'", origin.container(), check.container);
        let time = self.said(check.time);
        if !self.has_come(origin, &format!("the check of {of}"), check.time) {
            return;
        }
        if check.time < trial.container.sown {
            let sown = self.said(trial.container.sown);
            self.fault_about(About::Time, origin, format!("{of} was sown on {sown}: a check on {time} comes before that"));
        } else if let Some(ended) = trial.container.ended.filter(|ended| check.time > *ended) {
            let ended = self.said(ended);
            let what = format!("{of} ended on {ended}: a check on {time} comes after that");
            let next = matches!(origin, Origin::Typed)
                .then(|| format!("`seedclock reopen {}`, then check it", check.container.as_typed()));
            self.faults.push(Fault { next, ..Fault::new(origin, what).about(About::Time) });
        } else if let Some(before) = row_before.filter(|before| check.time < *before) {
            let before = self.said(before);
            self.fault(origin, format!("the check of {of} on {time} stands below the one on {before}: checks go on in time"));
        } else if let Some(last) = trial.checks.last().filter(|last| check.time < last.time)
            && self.conflict == Conflict::Refused
        {
            let last = self.said(last.time);
            let what = format!("the last check of {of} is on record for {last}: one on {time} comes before that");
            self.fault_about(About::Time, origin, what);
        }
    }

    /// Goes through the whole story of each container that something changed for.
    pub(super) fn stories(&mut self) {
        for (container, origin) in std::mem::take(&mut self.touched) {
            if let Some(trial) = self.admitted.bench.trials.remove(&container) {
                self.edges(&origin, &trial);
                self.story(&origin, &trial);
                self.admitted.bench.trials.insert(container, trial);
            }
        }
    }

    /// Holds what is on record against a sowing and an end that are new.
    fn edges(&mut self, origin: &Origin, trial: &Trial) {
        let container = &trial.container;
        if !self.origins.contains_key(&Key::Container(container.name.clone())) {
            return;
        }
        let of = format!("{} '{}'", origin.container(), container.name);
        // Looks that were refused are not among them.
        let first = trial.checks.first().map(|check| check.time);
        let last = trial.checks.last().map(|check| check.time);
        let first_move = trial.moves.first().map(|moved| moved.time);
        if let Some(first) = first.into_iter().chain(first_move).min().filter(|first| *first < container.sown) {
            let (sown, first) = (self.said(container.sown), self.said(first));
            let what = format!("{of} was sown on {sown}, and something is on record of it for {first}, before that");
            self.fault_about(About::Time, origin, what);
        }
        if let Some((ended, last)) = container.ended.zip(last).filter(|(ended, last)| last > ended) {
            let (ended, last) = (self.said(ended), self.said(last));
            self.fault_about(About::End, origin, format!("{of} ended on {ended}, and a check is on record for {last}, after that"));
        }
    }

    /// Adds up what was found and taken in order of time; the first count that does not add up is a fault, and the later ones
    /// would only repeat it.
    fn story(&mut self, touched: &Origin, trial: &Trial) {
        let name = &trial.container.name;
        let mut tally = Tally::default();
        let mut blamed = touched.clone();
        let mut given = trial.given.iter().peekable();
        let (looks, after) = (trial.checks.iter().map(Some), std::iter::once(None));
        for check in looks.chain(after) {
            while let Some(taken) = given.next_if(|taken| check.is_none_or(|check| taken.time < check.time)) {
                let origin = self.origins.get(&Key::Container(taken.to.clone())).unwrap_or(&blamed).clone();
                if !self.taken(&origin, taken, &mut tally, trial) {
                    return;
                }
            }
            let Some(check) = check else { return };
            if let Some(origin) = self.origins.get(&Key::Check(name.clone(), check.time)) {
                blamed = origin.clone();
            }
            tally.add(check);
            let on_record = !self.origins.contains_key(&Key::Check(name.clone(), check.time));
            if !self.counts(&blamed, &tally, trial, on_record.then_some(check.time)) {
                return;
            }
        }
    }

    /// Whether no more seeds are taken out than were left.
    fn taken(&mut self, origin: &Origin, taken: &Given, tally: &mut Tally, trial: &Trial) -> bool {
        let most = most_seeds(trial);
        let (seeds, left) = (u64::from(taken.seeds.unwrap_or(0)), most.saturating_sub(tally.seeds()));
        tally.given += seeds;
        if seeds > left {
            let mut what = format!(
                "{seeds} seeds taken out of {} '{}' on {}, where {left} of {most} were left",
                origin.container(),
                trial.container.name,
                self.said(taken.time)
            );
            if !self.origins.contains_key(&Key::Container(taken.to.clone())) {
                what += &format!("; {} '{}', sown out of it, is in the way", origin.container(), taken.to);
            }
            self.fault_about(About::Seeds, origin, what);
        }
        seeds <= left
    }

    /// Whether no more seeds and sprouts are accounted for than there are; a fault if not. `in_the_way`: the look at which it is
    /// asked, where that is on record and an earlier change is judged by it.
    fn counts(&mut self, origin: &Origin, tally: &Tally, trial: &Trial, in_the_way: Option<Time>) -> bool {
        let container = &trial.container;
        let of = format!("{} '{}'", origin.container(), container.name);
        let most = most_seeds(trial);
        let gone = tally.potted_on + tally.died;
        if tally.seeds() > most {
            let mut counted = vec![format!("{} sprout{}", tally.sprouted, if tally.sprouted == 1 { "" } else { "s" })];
            counted.extend((tally.removed > 0).then(|| format!("{} removed", tally.removed)));
            counted.extend((tally.lost > 0).then(|| format!("{} lost", tally.lost)));
            counted.extend((tally.given > 0).then(|| format!("{} taken out", tally.given)));
            let sum = if counted.len() > 1 { format!(", together {},", tally.seeds()) } else { String::new() };
            let rule = match container.most_seeds() {
                Some(1) => "which holds 1 seed".to_owned(),
                Some(seeds) => format!("which holds {seeds} seeds"),
                None => format!("and no container holds more than {most} seeds"),
            };
            let what = format!("{}{sum} in {of}, {rule}", counted.join(", "));
            let (what, next) = self.in_the_way(origin, trial, what, in_the_way);
            let next = next.or_else(|| Some(self.advice_on_seeds(origin, trial)));
            self.faults.push(Fault { next, ..Fault::new(origin, what).about(About::Counts) });
        } else if gone > tally.sprouted {
            let what = format!(
                "{} potted on and {} died in {of}, where only {} had sprouted by then",
                tally.potted_on, tally.died, tally.sprouted
            );
            let (what, next) = self.in_the_way(origin, trial, what, in_the_way);
            self.faults.push(Fault { next, ..Fault::new(origin, what).about(About::Counts) });
        } else {
            return true;
        }
        false
    }

    /// Names the look on record that a change cannot stand beside, and what to do about it.
    fn in_the_way(&self, origin: &Origin, trial: &Trial, what: String, look: Option<Time>) -> (String, Option<String>) {
        let Some(look) = look else { return (what, None) };
        let (name, time) = (&trial.container.name, self.said(look));
        let next =
            matches!(origin, Origin::Typed).then(|| format!("`seedclock correct check {} --at \"{time}\"` first", name.as_typed()));
        (format!("{what}; the check on {time} is in the way"), next)
    }

    fn advice_on_seeds(&self, origin: &Origin, trial: &Trial) -> String {
        match (origin, self.origins.get(&Key::Container(trial.container.name.clone()))) {
            (Origin::File { line: Some(line), .. }, Some(sown)) => {
                format!("correct line {line}, or the number of seeds in {sown}")
            }
            (Origin::File { line: Some(line), .. }, None) => format!("correct line {line}"),
            _ => {
                // What had been counted before the look that is refused.
                let on_record = |check: &&Check| !self.origins.contains_key(&Key::Check(check.container.clone(), check.time));
                let before: u32 = trial.checks.iter().filter(on_record).map(|check| check.sprouted).sum();
                format!("give only what is new since the last look; {before} had sprouted by then")
            }
        }
    }
}
