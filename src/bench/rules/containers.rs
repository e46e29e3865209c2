//! Rules for containers: their numbers, the ones their seeds came out of, their lots and lids.

use super::{About, Admission, Entry, Key, Origin, differences, text};
use crate::bench::{Container, Lot, Name, Trial};
use crate::units;

impl Admission {
    pub(super) fn lot(&mut self, origin: Origin, lot: Lot) {
        if !self.lot_is_sound(&origin, &lot) {
            return;
        }
        let there = self.admitted.bench.lots.get(&lot.name).cloned();
        match there {
            Some(there) if there == lot => return self.is_repeated(origin, Key::Lot(lot.name)),
            Some(there) => {
                let number = |what, there: Option<f64>, here: Option<f64>| (what, text(there), text(here));
                let words = |what, there: &Option<String>, here: &Option<String>| (what, text(there.as_ref()), text(here.as_ref()));
                let differing = differences(&[
                    ("species", there.species.to_string(), lot.species.to_string()),
                    words("source", &there.source, &lot.source),
                    words("collected", &there.collected, &lot.collected),
                    number("packet_days_low", there.packet_days_low, lot.packet_days_low),
                    number("packet_days_high", there.packet_days_high, lot.packet_days_high),
                    number("packet_c", there.packet_c, lot.packet_c),
                    number("packet_percent", there.packet_percent, lot.packet_percent),
                    number("chill_days", there.chill_days, lot.chill_days),
                    words("light", &there.light, &lot.light),
                    words("note", &there.note, &lot.note),
                ]);
                let what = format!("lot '{}' is known already", lot.name);
                if !self.replaces(&origin, Entry::Lot(lot.clone()), &what, &differing) {
                    return;
                }
            }
            None => self.is_new(origin, Entry::Lot(lot.clone())),
        }
        self.admitted.bench.lots.insert(lot.name.clone(), lot);
    }

    fn lot_is_sound(&mut self, origin: &Origin, lot: &Lot) -> bool {
        let before = self.faults.len();
        let bounded = [
            (About::PacketDays, lot.packet_days_low, units::PACKET_DAYS),
            (About::PacketDays, lot.packet_days_high, units::PACKET_DAYS),
            (About::PacketTemperature, lot.packet_c, units::SET_TEMPERATURE),
            (About::PacketPercent, lot.packet_percent, units::PERCENT),
            (About::ChillDays, lot.chill_days, units::CHILL_DAYS),
        ];
        for (about, value, bounds) in bounded {
            if let Some(Err(rule)) = value.map(|value| bounds.check(value)) {
                self.fault_about(about, origin, rule);
            }
        }
        if let Some((low, high)) = lot.packet_days_low.zip(lot.packet_days_high).filter(|(low, high)| low > high) {
            let what = format!("the packet's days of lot '{}' run from {low} to {high}: the lower comes first", lot.name);
            self.fault_about(About::PacketDays, origin, what);
        }
        self.faults.len() == before
    }

    pub(super) fn containers(&mut self, containers: Vec<(Origin, Container)>) {
        let mut changed = Vec::new();
        for (origin, container) in containers {
            let key = Key::Container(container.name.clone());
            if !self.container_is_sound(&origin, &container) {
                self.faulty.insert(container.name);
                self.origins.entry(key).or_insert(origin);
                continue;
            }
            let there = self.admitted.bench.trials.get(&container.name).map(|trial| trial.container.clone());
            match there {
                Some(there) if there == container => {
                    self.is_repeated(origin, key);
                    continue;
                }
                Some(there) => {
                    let differing = self.container_differences(&there, &container);
                    let what = format!("{} '{}' is known already", origin.container(), container.name);
                    if !self.replaces(&origin, Entry::Container(container.clone()), &what, &differing) {
                        self.origins.entry(key).or_insert(origin);
                        continue;
                    }
                    self.touched.insert(container.name.clone(), origin.clone());
                    // The one that its seeds are said to have come out of until now has them again.
                    if let Some(from) = there.from {
                        self.touched.entry(from).or_insert_with(|| origin.clone());
                    }
                }
                None => self.is_new(origin.clone(), Entry::Container(container.clone())),
            }
            self.name_spot(&container.spot);
            if let Some(from) = &container.from {
                self.touched.entry(from.clone()).or_insert_with(|| origin.clone());
            }
            changed.push(container.name.clone());
            let trials = &mut self.admitted.bench.trials;
            match trials.get_mut(&container.name) {
                Some(trial) => trial.container = container,
                None => {
                    trials.insert(container.name.clone(), Trial::new(container));
                }
            }
        }
        if !changed.is_empty() {
            self.admitted.bench.link();
        }
        self.sources(&changed);
        self.lots_of_containers();
    }

    fn container_is_sound(&mut self, origin: &Origin, container: &Container) -> bool {
        let before = self.faults.len();
        let Container { seeds, seeds_low, seeds_high, .. } = container;
        for count in [seeds, seeds_low, seeds_high].into_iter().flatten() {
            if let Err(rule) = units::SEEDS.check(f64::from(*count)) {
                self.fault_about(About::Seeds, origin, rule);
            }
        }
        let of = format!("{} '{}'", origin.container(), container.name);
        let counted: Vec<u32> = [seeds_low, seeds, seeds_high].into_iter().flatten().copied().collect();
        if !counted.is_sorted() {
            let said = [("seeds_low", seeds_low), ("seeds", seeds), ("seeds_high", seeds_high)];
            let said: Vec<String> = said.iter().filter_map(|(what, count)| count.map(|count| format!("{what} {count}"))).collect();
            self.fault_about(About::Seeds, origin, format!("{of} is said to have {}: these never fall", said.join(", ")));
        }
        if let Some(Err(rule)) = container.depth_mm.map(|depth| units::DEPTH.check(depth)) {
            self.fault_about(About::Depth, origin, rule);
        }
        self.has_come(origin, &format!("the sowing of {of}"), container.sown);
        if let Some(ended) = container.ended {
            self.has_come_about(About::End, origin, &format!("the end of {of}"), ended);
            if ended < container.sown {
                let what = format!("{of} ended on {}, before it was sown on {}", self.said(ended), self.said(container.sown));
                self.fault_about(About::End, origin, what);
            }
        }
        self.faults.len() == before
    }

    fn container_differences(&self, there: &Container, here: &Container) -> String {
        let name = |what, there: &Option<Name>, here: &Option<Name>| (what, text(there.as_ref()), text(here.as_ref()));
        differences(&[
            ("batch", there.batch.to_string(), here.batch.to_string()),
            ("species", there.species.to_string(), here.species.to_string()),
            name("lot", &there.lot, &here.lot),
            name("treatment", &there.treatment, &here.treatment),
            ("seeds", text(there.seeds), text(here.seeds)),
            ("seeds_low", text(there.seeds_low), text(here.seeds_low)),
            ("seeds_high", text(there.seeds_high), text(here.seeds_high)),
            ("event", there.event.word().to_owned(), here.event.word().to_owned()),
            ("sown", self.said(there.sown), self.said(here.sown)),
            ("spot", there.spot.to_string(), here.spot.to_string()),
            ("depth_mm", text(there.depth_mm), text(here.depth_mm)),
            name("from", &there.from, &here.from),
            name("box", &there.lid, &here.lid),
            name("owner", &there.owner, &here.owner),
            ("ended", text(there.ended.map(|time| self.said(time))), text(here.ended.map(|time| self.said(time)))),
        ])
    }

    /// Holds the containers of this round, and those that came out of them, against the ones that their seeds came out of.
    fn sources(&mut self, changed: &[Name]) {
        let children = self.admitted.bench.trials.values().map(|trial| &trial.container);
        let children = children.filter(|container| {
            container.from.is_some()
                && (changed.contains(&container.name) || container.from.as_ref().is_some_and(|from| changed.contains(from)))
        });
        for container in children.cloned().collect::<Vec<_>>() {
            let Some(from) = &container.from else { continue };
            // Of a replaced source the row that replaced it is to blame.
            let origin = self.origin_of(&container.name).or_else(|| self.origin_of(from));
            let origin = origin.unwrap_or(Origin::Typed);
            self.source(&origin, &container, from);
        }
    }

    fn origin_of(&self, container: &Name) -> Option<Origin> {
        self.origins.get(&Key::Container(container.clone())).cloned()
    }

    fn source(&mut self, origin: &Origin, container: &Container, from: &Name) {
        let word = origin.container();
        let Some(source) = self.admitted.bench.trials.get(from).map(|trial| trial.container.clone()) else {
            return self.unknown_container(origin, from);
        };
        let taken = format!("{word} '{}' was taken out of '{from}' on {}", container.name, self.said(container.sown));
        if container.sown <= source.sown {
            let sown = self.said(source.sown);
            self.fault_about(About::Time, origin, format!("{taken}: that must come after '{from}' was sown, on {sown}"));
        }
        if let Some(ended) = source.ended.filter(|ended| *ended < container.sown) {
            let ended = self.said(ended);
            self.fault_about(About::Time, origin, format!("{taken}: '{from}' had ended on {ended}"));
        }
        if container.species != source.species {
            let what = format!(
                "{word} '{}' holds {}, and '{from}', which its seeds came out of, {}",
                container.name, container.species, source.species
            );
            self.fault_about(About::Species, origin, what);
        }
        if source.seeds.is_some() && container.seeds.is_none() {
            let what = format!(
                "the seeds of {word} '{}' are not counted, and those of '{from}', which they came out of, are: say how many \
                 were taken",
                container.name
            );
            self.fault_about(About::Seeds, origin, what);
        }
    }

    /// A lot is of one species.
    fn lots_of_containers(&mut self) {
        let mut wrong = Vec::new();
        for container in self.admitted.bench.trials.values().map(|trial| &trial.container) {
            let Some(lot) = container.lot.as_ref().and_then(|lot| self.admitted.bench.lots.get(lot)) else { continue };
            let origin = self.origin_of(&container.name).or_else(|| self.origins.get(&Key::Lot(lot.name.clone())).cloned());
            let Some(origin) = origin.filter(|_| lot.species != container.species) else { continue };
            let of = origin.container();
            let what =
                format!("{of} '{}' holds {}, and its lot '{}' is {}", container.name, container.species, lot.name, lot.species);
            wrong.push((origin, what));
        }
        wrong.into_iter().for_each(|(origin, what)| self.fault_about(About::Lot, &origin, what));
    }

    /// A lid lies on one container at a time.
    pub(super) fn lids(&mut self) {
        let mut under: std::collections::BTreeMap<&Name, Vec<&Trial>> = std::collections::BTreeMap::new();
        for trial in self.admitted.bench.trials.values() {
            if let Some(lid) = &trial.container.lid {
                under.entry(lid).or_default().push(trial);
            }
        }
        let mut wrong = Vec::new();
        for (lid, mut trials) in under {
            trials.sort_by_key(|trial| trial.container.sown);
            for pair in trials.windows(2) {
                let (earlier, later) = (&pair[0].container, &pair[1].container);
                let ended = pair[0].ended_at(later.sown);
                let origin = self.origin_of(&later.name).or_else(|| self.origin_of(&earlier.name));
                if let Some(origin) = origin.filter(|_| ended.is_none_or(|ended| ended > later.sown)) {
                    let end = match ended {
                        Some(ended) => format!("until {}", self.said(ended)),
                        None => "without an end".to_owned(),
                    };
                    let what = format!(
                        "box '{lid}' cannot hold '{}' from {} on: it holds '{}' {end}",
                        later.name,
                        self.said(later.sown),
                        earlier.name
                    );
                    wrong.push((origin, what));
                }
            }
        }
        wrong.into_iter().for_each(|(origin, what)| self.fault_about(About::Lid, &origin, what));
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
