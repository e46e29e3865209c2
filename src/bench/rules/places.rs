//! Rules for spots, containers, placements and moves.

use super::{Admission, Origin, differences, text};
use crate::bench::{Container, Move, Name, Placement, Spot, Trial};
use crate::units;

impl Admission {
    pub(super) fn spots(&mut self, spots: Vec<(Origin, Spot)>) {
        for (origin, spot) in spots {
            if let Some(set) = &spot.set {
                let bounds = [units::SET_TEMPERATURE.check(set.celsius), units::SET_UNCERTAINTY.check(set.sd_c)];
                let broken: Vec<String> = bounds.into_iter().filter_map(Result::err).collect();
                if !broken.is_empty() {
                    broken.into_iter().for_each(|rule| self.fault(&origin, rule));
                    continue;
                }
            }
            match self.admitted.bench.spots.get(&spot.name) {
                Some(there) if *there == spot => self.admitted.repeated += 1,
                // Of a spot that has only been named so far nothing can be contradicted.
                Some(there) if *there != Spot::named(spot.name.clone()) || self.spot_origins.contains_key(&spot.name) => {
                    let differing = differences(&[
                        ("kind", there.kind.word().to_owned(), spot.kind.word().to_owned()),
                        ("set_c", text(there.set.map(|set| set.celsius)), text(spot.set.map(|set| set.celsius))),
                        ("set_sd_c", text(there.set.map(|set| set.sd_c)), text(spot.set.map(|set| set.sd_c))),
                        ("note", text(there.note.as_ref()), text(spot.note.as_ref())),
                    ]);
                    self.fault(&origin, format!("spot '{}' is known already, with other values: {differing}", spot.name));
                }
                _ => {
                    self.spot_origins.insert(spot.name.clone(), origin);
                    self.admitted.bench.spots.insert(spot.name.clone(), spot.clone());
                    self.admitted.spots.push(spot);
                }
            }
        }
    }

    /// Lets a spot exist from being named.
    fn name_spot(&mut self, name: &Name) {
        if !self.admitted.bench.spots.contains_key(name) {
            let spot = Spot::named(name.clone());
            self.admitted.bench.spots.insert(name.clone(), spot.clone());
            self.admitted.spots.push(spot);
            self.admitted.named_spots.insert(name.clone());
        }
    }

    pub(super) fn containers(&mut self, containers: Vec<(Origin, Container)>) {
        for (origin, container) in containers {
            if !self.container_is_sound(&origin, &container) {
                self.faulty.insert(container.name);
                continue;
            }
            if let Some(there) = self.admitted.bench.trials.get(&container.name).map(|trial| &trial.container) {
                if *there == container {
                    self.admitted.repeated += 1;
                } else {
                    let what = format!(
                        "{} '{}' is known already, with other values: {}",
                        origin.container(),
                        container.name,
                        self.container_differences(there, &container)
                    );
                    self.fault(&origin, what);
                }
            } else {
                self.name_spot(&container.spot);
                let trial = Trial { container: container.clone(), checks: Vec::new(), moves: Vec::new() };
                self.admitted.bench.trials.insert(container.name.clone(), trial);
                self.admitted.containers.push(container.clone());
            }
            self.container_origins.entry(container.name).or_insert(origin);
        }
    }

    fn container_is_sound(&mut self, origin: &Origin, container: &Container) -> bool {
        let before = self.faults.len();
        if let Some(seeds) = container.seeds
            && let Err(rule) = units::SEEDS.check(f64::from(seeds))
        {
            self.fault(origin, rule);
        }
        let of = format!("{} '{}'", origin.container(), container.name);
        self.has_come(origin, &format!("the sowing of {of}"), container.sown);
        if let Some(ended) = container.ended {
            self.has_come(origin, &format!("the end of {of}"), ended);
            if ended < container.sown {
                let what = format!("{of} ended on {}, before it was sown on {}", self.said(ended), self.said(container.sown));
                self.fault(origin, what);
            }
        }
        self.faults.len() == before
    }

    fn container_differences(&self, there: &Container, here: &Container) -> String {
        differences(&[
            ("batch", there.batch.to_string(), here.batch.to_string()),
            ("species", there.species.to_string(), here.species.to_string()),
            ("lot", text(there.lot.as_ref()), text(here.lot.as_ref())),
            ("treatment", text(there.treatment.as_ref()), text(here.treatment.as_ref())),
            ("seeds", text(there.seeds), text(here.seeds)),
            ("event", there.event.word().to_owned(), here.event.word().to_owned()),
            ("sown", self.said(there.sown), self.said(here.sown)),
            ("spot", there.spot.to_string(), here.spot.to_string()),
            ("ended", text(there.ended.map(|time| self.said(time))), text(here.ended.map(|time| self.said(time)))),
        ])
    }

    pub(super) fn placements(&mut self, placements: Vec<(Origin, Placement)>) {
        for (origin, placement) in placements {
            let before = self.faults.len();
            self.has_come(&origin, &format!("the placing of probe '{}'", placement.probe), placement.since);
            if let Some(calibration) = placement.calibration {
                for rule in [units::OFFSET.check(calibration.offset_c), units::GAIN.check(calibration.gain)] {
                    if let Err(rule) = rule {
                        self.fault(&origin, rule);
                    }
                }
            }
            if self.faults.len() > before {
                continue;
            }
            let key = (&placement.probe, placement.since);
            match self.admitted.bench.placements.binary_search_by(|there| (&there.probe, there.since).cmp(&key)) {
                Ok(at) => {
                    let there = &self.admitted.bench.placements[at];
                    if *there == placement {
                        self.admitted.repeated += 1;
                        continue;
                    }
                    let differing = differences(&[
                        ("spot", there.spot.to_string(), placement.spot.to_string()),
                        ("offset_c", text(there.calibration.map(|c| c.offset_c)), text(placement.calibration.map(|c| c.offset_c))),
                        ("gain", text(there.calibration.map(|c| c.gain)), text(placement.calibration.map(|c| c.gain))),
                        ("siting", there.siting.word().to_owned(), placement.siting.word().to_owned()),
                    ]);
                    let what = format!(
                        "probe '{}' is known already from {} on, with other values: {differing}",
                        placement.probe,
                        self.said(placement.since)
                    );
                    self.fault(&origin, what);
                }
                Err(at) => {
                    self.name_spot(&placement.spot);
                    self.admitted.bench.placements.insert(at, placement.clone());
                    self.admitted.placements.push(placement);
                }
            }
        }
    }

    pub(super) fn moves(&mut self, moves: Vec<(Origin, Move)>) {
        for (origin, moved) in moves {
            let before = self.faults.len();
            let of = format!("{} '{}'", origin.container(), moved.container);
            self.has_come(&origin, &format!("the move of {of}"), moved.time);
            if !self.admitted.bench.spots.contains_key(&moved.spot) {
                self.unknown_spot(&origin, &moved.spot);
            }
            let Some(mut trial) = self.admitted.bench.trials.remove(&moved.container) else {
                self.unknown_container(&origin, &moved.container);
                continue;
            };
            if moved.time < trial.container.sown {
                let (time, sown) = (self.said(moved.time), self.said(trial.container.sown));
                self.fault(&origin, format!("{of} was sown on {sown}: a move on {time} comes before that"));
            }
            match trial.moves.binary_search_by_key(&moved.time, |there| there.time) {
                Ok(at) if trial.moves[at] == moved => self.admitted.repeated += 1,
                Ok(at) => {
                    let there = trial.moves[at].spot.clone();
                    let time = self.said(moved.time);
                    self.fault(
                        &origin,
                        format!("{of} went to two spots at one time, {time}: '{there}' is known already, here '{}'", moved.spot),
                    );
                }
                Err(at) if self.faults.len() == before => {
                    trial.moves.insert(at, moved.clone());
                    self.admitted.moves.push(moved.clone());
                }
                Err(_) => {}
            }
            self.admitted.bench.trials.insert(moved.container, trial);
        }
    }

    fn unknown_spot(&mut self, origin: &Origin, spot: &Name) {
        let rule = match origin {
            Origin::Typed => {
                "a box can only be moved to a spot that exists; `sow --spot` and `probe place` make new ones".to_owned()
            }
            Origin::File { .. } => "neither probes.csv, spots.csv or containers.csv nor the bench names it".to_owned(),
        };
        self.fault(origin, format!("there is no spot '{spot}': {rule}"));
    }

    /// A fault about a container that is not there, unless it is not there for its own fault.
    pub(super) fn unknown_container(&mut self, origin: &Origin, container: &Name) {
        if self.faulty.contains(container) {
            return;
        }
        let what = match origin {
            Origin::Typed => format!("there is no box '{container}' on this bench"),
            Origin::File { .. } => format!("there is no container '{container}': neither containers.csv nor the bench names it"),
        };
        self.fault(origin, what);
    }
}
