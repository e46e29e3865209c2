//! Rules for the bench's settings, spots, placements, doubts and moves.

use super::{About, Admission, BenchSetting, Carried, Entry, Key, Origin, differences, text};
use crate::bench::{Away, Doubt, GivenTemperature, Move, Name, Placement, Setting, Spot};
use crate::units;

/// Nobody is away for longer and means it.
const LONGEST_AWAY: chrono::Duration = chrono::Duration::days(366);

impl Admission {
    pub(super) fn bench_setting(&mut self, origin: Origin, setting: BenchSetting) {
        let bench = &self.admitted.bench;
        let there = match setting {
            BenchSetting::Zone(_) => Some(BenchSetting::Zone(bench.zone)),
            BenchSetting::Units(_) => bench.units.map(BenchSetting::Units),
            BenchSetting::Alarm(setting) => bench.alarms.of(setting.key()).map(BenchSetting::Alarm),
        };
        match there {
            Some(there) if there == setting => return self.is_repeated(origin, Key::Bench(setting.key())),
            Some(there) => {
                let what = format!("the bench's setting '{}' is known already", setting.key());
                let differing = differences(&[("value", there.value(), setting.value())]);
                if !self.replaces(&origin, Entry::Bench(setting), &what, &differing) {
                    return;
                }
            }
            None => self.is_new(origin, Entry::Bench(setting)),
        }
        match setting {
            BenchSetting::Zone(zone) => self.admitted.bench.zone = zone,
            BenchSetting::Units(units) => self.admitted.bench.units = Some(units),
            BenchSetting::Alarm(setting) => self.admitted.bench.alarms.say(setting),
        }
    }

    /// A time away lies ahead of its end, is no longer than a year, and meets no other.
    pub(super) fn away(&mut self, origin: Origin, away: Away) {
        let (from, until) = (self.said(away.from), self.said(away.until));
        if away.until <= away.from {
            return self.fault(&origin, format!("the time away ends on {until}, which is not after its beginning on {from}"));
        }
        if away.until - away.from > LONGEST_AWAY {
            return self.fault(&origin, format!("the time away from {from} to {until} is longer than a year"));
        }
        let key = Key::Away(away.from);
        let meets = |there: &&Away| there.from != away.from && there.from < away.until && away.from < there.until;
        if let Some(there) = self.admitted.bench.aways.iter().find(meets) {
            let (its_from, its_until) = (self.said(there.from), self.said(there.until));
            let what = format!("the time away from {from} to {until} meets the one from {its_from} to {its_until}");
            return self.fault(&origin, what);
        }
        match self.admitted.bench.aways.iter().position(|there| there.from == away.from) {
            Some(at) if self.admitted.bench.aways[at] == away => self.is_repeated(origin, key),
            Some(at) => {
                let differing = differences(&[("to", self.said(self.admitted.bench.aways[at].until), until)]);
                let what = format!("the time away from {from} on is known already");
                if self.replaces(&origin, Entry::Away(away), &what, &differing) {
                    self.admitted.bench.aways[at] = away;
                }
            }
            None => {
                self.is_new(origin, Entry::Away(away));
                let at = self.admitted.bench.aways.partition_point(|there| there.from < away.from);
                self.admitted.bench.aways.insert(at, away);
            }
        }
    }

    pub(super) fn spot(&mut self, origin: Origin, name: Name, setting: Setting) {
        if !self.setting_is_sound(&origin, &name, &setting) {
            return;
        }
        let key = Key::Spot(name.clone(), setting.since);
        let nothing = setting == Setting::NOTHING_SAID;
        let spot = self.admitted.bench.spots.get(&name);
        let there = spot.and_then(|spot| spot.settings.iter().find(|there| there.since == setting.since)).cloned();
        let known = spot.is_some();
        if !known {
            self.admitted.spots.push(name.clone());
            self.admitted.bench.spots.insert(name.clone(), Spot::named(name.clone()));
        }
        // Of a spot that has only been named nothing can be contradicted, but by another line of the same table.
        let named_here = self.origins.contains_key(&key);
        let there = there.or_else(|| (setting.since.is_none() && named_here).then_some(Setting::NOTHING_SAID));
        match there {
            Some(there) if there == setting => return self.is_repeated(origin, key),
            Some(there) => {
                let since = setting.since.map(|since| format!(" from {} on", self.said(since))).unwrap_or_default();
                let what = format!("spot '{name}' is known already{since}");
                let differing = self.setting_differences(&there, &setting);
                if !self.replaces(&origin, Entry::Spot(name.clone(), setting.clone()), &what, &differing) {
                    return;
                }
            }
            // That a spot exists is all that such a line says.
            None if nothing => {
                self.admitted.repeated += usize::from(known);
                self.origins.insert(key, origin);
                return;
            }
            None => self.is_new(origin, Entry::Spot(name.clone(), setting.clone())),
        }
        if let Some(spot) = self.admitted.bench.spots.get_mut(&name) {
            match spot.settings.binary_search_by_key(&setting.since, |there| there.since) {
                Ok(at) => spot.settings[at] = setting,
                Err(at) => spot.settings.insert(at, setting),
            }
        }
    }

    fn setting_is_sound(&mut self, origin: &Origin, spot: &Name, setting: &Setting) -> bool {
        let before = self.faults.len();
        let temperatures = match setting.given {
            None => vec![],
            Some(GivenTemperature::Set(set)) => vec![set.celsius],
            Some(GivenTemperature::DayAndNight(pair)) => vec![pair.day_c, pair.night_c],
        };
        let mut checked: Vec<_> =
            temperatures.into_iter().map(|celsius| (About::Given, units::SET_TEMPERATURE.check(celsius))).collect();
        checked.extend(setting.given.map(|given| (About::Uncertainty, units::SET_UNCERTAINTY.check(given.sd_c()))));
        checked.extend(setting.too_hot_c.map(|celsius| (About::TooHot, units::TOO_HOT.check(celsius))));
        checked.extend(setting.capacity.map(|capacity| (About::Capacity, units::CAPACITY.check(f64::from(capacity)))));
        for (about, rule) in checked.into_iter().filter_map(|(about, checked)| Some((about, checked.err()?))) {
            self.fault_about(about, origin, rule);
        }
        if let Some(since) = setting.since {
            self.has_come(origin, &format!("what is said of spot '{spot}'"), since);
        }
        if let Some(changed) = setting.changed {
            self.has_come_about(About::Changed, origin, &format!("the change of spot '{spot}'"), changed);
        }
        self.faults.len() == before
    }

    fn setting_differences(&self, there: &Setting, here: &Setting) -> String {
        let of = |setting: &Setting| {
            let (set, pair) = match setting.given {
                Some(GivenTemperature::Set(set)) => (Some(set), None),
                Some(GivenTemperature::DayAndNight(pair)) => (None, Some(pair)),
                None => (None, None),
            };
            [
                setting.kind.word().to_owned(),
                text(set.map(|set| set.celsius)),
                text(setting.given.map(GivenTemperature::sd_c)),
                text(pair.map(|pair| pair.day_c)),
                text(pair.map(|pair| pair.night_c)),
                text(setting.capacity),
                text(setting.too_hot_c),
                text(setting.changed.map(|time| self.said(time))),
                text(setting.note.as_ref()),
            ]
        };
        let columns = ["kind", "set_c", "set_sd_c", "day_c", "night_c", "capacity", "too_hot_c", "changed", "note"];
        let pairs: Vec<_> =
            columns.into_iter().zip(of(there)).zip(of(here)).map(|((column, there), here)| (column, there, here)).collect();
        differences(&pairs)
    }

    /// Lets a spot exist from being named.
    pub(super) fn name_spot(&mut self, name: &Name) {
        if !self.admitted.bench.spots.contains_key(name) {
            self.admitted.bench.spots.insert(name.clone(), Spot::named(name.clone()));
            self.admitted.spots.push(name.clone());
            self.admitted.named_spots.insert(name.clone());
        }
    }

    pub(super) fn placement(&mut self, origin: Origin, placement: Placement) {
        let before = self.faults.len();
        self.has_come(&origin, &format!("the placing of probe '{}'", placement.probe), placement.since);
        if let Some(calibration) = placement.calibration {
            for rule in [units::OFFSET.check(calibration.offset_c), units::GAIN.check(calibration.gain)] {
                if let Err(rule) = rule {
                    self.fault(&origin, rule);
                }
            }
        }
        // It exists, whatever else is wrong with the line.
        self.admitted.bench.probes.insert(placement.probe.clone());
        if self.faults.len() > before {
            return;
        }
        let key = (&placement.probe, placement.since);
        match self.admitted.bench.placements.binary_search_by(|there| (&there.probe, there.since).cmp(&key)) {
            Ok(at) => {
                let there = self.admitted.bench.placements[at].clone();
                if there == placement {
                    return self.is_repeated(origin, Key::Placement(placement.probe, placement.since));
                }
                let differing = differences(&[
                    ("spot", there.spot.to_string(), placement.spot.to_string()),
                    ("offset_c", text(there.calibration.map(|c| c.offset_c)), text(placement.calibration.map(|c| c.offset_c))),
                    ("gain", text(there.calibration.map(|c| c.gain)), text(placement.calibration.map(|c| c.gain))),
                    ("siting", there.siting.word().to_owned(), placement.siting.word().to_owned()),
                ]);
                let what = format!("probe '{}' is known already from {} on", placement.probe, self.said(placement.since));
                if self.replaces(&origin, Entry::Placement(placement.clone()), &what, &differing) {
                    self.name_spot(&placement.spot);
                    self.admitted.bench.placements[at] = placement;
                }
            }
            Err(at) => {
                self.name_spot(&placement.spot);
                self.admitted.bench.placements.insert(at, placement.clone());
                self.is_new(origin, Entry::Placement(placement));
            }
        }
    }

    pub(super) fn doubt(&mut self, origin: Origin, doubt: Doubt) {
        let before = self.faults.len();
        let of = format!("probe '{}'", doubt.probe);
        self.has_come(&origin, &format!("the doubt of {of}"), doubt.from);
        self.is_known_probe(&origin, &doubt.probe);
        if let Some(to) = doubt.to.filter(|to| *to < doubt.from) {
            let (from, to) = (self.said(doubt.from), self.said(to));
            self.fault(&origin, format!("{of} is doubted from {from} to {to}: the end comes before the beginning"));
        }
        if self.faults.len() > before {
            return;
        }
        let key = (&doubt.probe, doubt.from);
        match self.admitted.bench.doubts.binary_search_by(|there| (&there.probe, there.from).cmp(&key)) {
            Ok(at) => {
                let there = self.admitted.bench.doubts[at].clone();
                if there == doubt {
                    return self.is_repeated(origin, Key::Doubt(doubt.probe, doubt.from));
                }
                let time = |time: Option<crate::civil::Time>| text(time.map(|time| self.said(time)));
                let why = |doubt: &Doubt| text(doubt.why.as_ref());
                let differing = differences(&[("to", time(there.to), time(doubt.to)), ("why", why(&there), why(&doubt))]);
                let what = format!("{of} is doubted already from {} on", self.said(doubt.from));
                if self.replaces(&origin, Entry::Doubt(doubt.clone()), &what, &differing) {
                    self.admitted.bench.doubts[at] = doubt;
                }
            }
            Err(at) => {
                self.admitted.bench.doubts.insert(at, doubt.clone());
                self.is_new(origin, Entry::Doubt(doubt));
            }
        }
    }

    /// Whether a probe exists; a fault if it does not.
    pub(super) fn is_known_probe(&mut self, origin: &Origin, probe: &Name) -> bool {
        let known = self.admitted.bench.probes.contains(probe);
        if !known {
            let what = match origin {
                Origin::Typed => format!("there is no probe '{probe}' on this bench"),
                Origin::File { .. } => {
                    format!("there is no probe '{probe}': neither probes.csv, the readings nor the bench names it")
                }
            };
            self.fault(origin, what);
        }
        known
    }

    pub(super) fn carried(&mut self, origin: Origin, moved: Move, carried: Carried) {
        let before = self.faults.len();
        let of = format!("{} '{}'", origin.container(), moved.container);
        if carried == Carried::Really {
            self.has_come(&origin, &format!("the move of {of}"), moved.time);
        }
        if !self.admitted.bench.spots.contains_key(&moved.spot) {
            self.unknown_spot(&origin, &moved.spot);
        }
        let Some(trial) = self.admitted.bench.trials.get(&moved.container) else {
            return self.unknown_container(&origin, &moved.container);
        };
        let sown = trial.container.sown;
        let known = if carried == Carried::Really { &trial.moves } else { &trial.planned };
        let place = known.binary_search_by_key(&moved.time, |there| there.time);
        let there = place.ok().map(|at| known[at].clone());
        let entry = match carried {
            Carried::Really => Entry::Move(moved.clone()),
            Carried::AsPlanned => Entry::Plan(moved.clone()),
        };
        if moved.time < sown {
            let (time, sown) = (self.said(moved.time), self.said(sown));
            self.fault_about(About::Time, &origin, format!("{of} was sown on {sown}: a move on {time} comes before that"));
        }
        if self.faults.len() > before {
            return;
        }
        match there {
            Some(there) if there == moved => return self.is_repeated(origin, entry.key()),
            Some(there) => {
                let time = self.said(moved.time);
                let what = format!("the move of {of} on {time} is known already");
                let differing = differences(&[("spot", there.spot.to_string(), moved.spot.to_string())]);
                if !self.replaces(&origin, entry, &what, &differing) {
                    return;
                }
            }
            None => self.is_new(origin, entry),
        }
        if let Some(trial) = self.admitted.bench.trials.get_mut(&moved.container) {
            let known = if carried == Carried::Really { &mut trial.moves } else { &mut trial.planned };
            match place {
                Ok(at) => known[at] = moved,
                Err(at) => known.insert(at, moved),
            }
        }
    }

    fn unknown_spot(&mut self, origin: &Origin, spot: &Name) {
        let rule = match origin {
            Origin::Typed => {
                "a box can only be moved to a spot that exists; `sow --spot` and `probe place` make new ones".to_owned()
            }
            Origin::File { .. } => "neither probes.csv, spots.csv or containers.csv nor the bench names it".to_owned(),
        };
        self.fault_about(About::Spot, origin, format!("there is no spot '{spot}': {rule}"));
    }
}
