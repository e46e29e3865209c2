//! Rules for taking back what is on record.

use super::{Admission, Key, Origin};
use crate::bench::{Move, Name};
use crate::civil::Time;

impl Admission {
    /// Takes entries off the bench; each that cannot be is a fault. Whether the rest of the story holds is asked later.
    pub(super) fn take_back_all(&mut self, keys: &[Key]) {
        // A container last, so that it can go together with what is on record of it.
        let (containers, others): (Vec<&Key>, Vec<&Key>) = keys.iter().partition(|key| matches!(key, Key::Container(_)));
        for key in others {
            if !self.take_back(key) {
                let what = format!("there is nothing to take back: {}", self.said_key(key));
                self.fault(&Origin::Typed, what);
            }
        }
        let mut names: Vec<&Name> = containers
            .into_iter()
            .filter_map(|key| match key {
                Key::Container(name) => Some(name),
                _ => None,
            })
            .collect();
        // Those that were taken out of another one before it.
        names.sort_by_key(|name| self.admitted.bench.trials.get(*name).map(|trial| std::cmp::Reverse(trial.container.sown)));
        names.into_iter().for_each(|name| self.take_container_back(name));
    }

    fn take_back(&mut self, key: &Key) -> bool {
        let bench = &mut self.admitted.bench;
        match key {
            // A bench always has its zone; a container is another matter.
            Key::Bench("units") => bench.units.take().is_some(),
            Key::Bench(key) => bench.alarms.unsay(key),
            Key::Container(_) => false,
            Key::Away(from) => {
                let at = bench.aways.iter().position(|there| there.from == *from);
                at.map(|at| bench.aways.remove(at)).is_some()
            }
            Key::Lot(lot) => bench.lots.remove(lot).is_some(),
            Key::Spot(spot, since) => bench.spots.get_mut(spot).is_some_and(|spot| {
                let at = spot.settings.iter().position(|setting| setting.since == *since);
                at.map(|at| spot.settings.remove(at)).is_some()
            }),
            Key::Placement(probe, since) => {
                let at = bench.placements.iter().position(|there| there.probe == *probe && there.since == *since);
                at.map(|at| bench.placements.remove(at)).is_some()
            }
            Key::Doubt(probe, from) => {
                let at = bench.doubts.iter().position(|there| there.probe == *probe && there.from == *from);
                at.map(|at| bench.doubts.remove(at)).is_some()
            }
            Key::Limits(probe) => bench.limits.remove(probe).is_some(),
            Key::Check(container, time) => {
                self.touched.insert(container.clone(), Origin::Typed);
                bench.trials.get_mut(container).is_some_and(|trial| {
                    let at = trial.checks.iter().position(|check| check.time == *time);
                    at.map(|at| trial.checks.remove(at)).is_some()
                })
            }
            Key::Move(container, time) => {
                bench.trials.get_mut(container).is_some_and(|trial| take_move_back(&mut trial.moves, *time))
            }
            Key::Plan(container, time) => {
                bench.trials.get_mut(container).is_some_and(|trial| take_move_back(&mut trial.planned, *time))
            }
        }
    }

    fn take_container_back(&mut self, name: &Name) {
        let Some(trial) = self.admitted.bench.trials.get(name) else {
            return self.unknown_container(&Origin::Typed, name);
        };
        let count = |count: usize, one: &str, many: &str| format!("{count} {}", if count == 1 { one } else { many });
        let hangs_on_it: Vec<String> = [
            count(trial.checks.len(), "check", "checks"),
            count(trial.moves.len(), "move", "moves"),
            count(trial.planned.len(), "planned move", "planned moves"),
            count(trial.given.len(), "box sown out of it", "boxes sown out of it"),
        ]
        .into_iter()
        .filter(|said| !said.starts_with("0 "))
        .collect();
        if hangs_on_it.is_empty() {
            self.admitted.bench.trials.remove(name);
            self.admitted.bench.link();
        } else {
            let what = format!("box '{name}' cannot be taken back: on record of it are {}", hangs_on_it.join(", "));
            self.fault(&Origin::Typed, what);
        }
    }

    fn said_key(&self, key: &Key) -> String {
        match key {
            Key::Bench(setting @ ("zone" | "units")) => format!("a bench always has its {setting}"),
            Key::Bench(setting) => format!("nothing is said of {setting}"),
            Key::Away(from) => format!("no time away begins on {}", self.said(*from)),
            Key::Lot(lot) => format!("no lot '{lot}' is on record"),
            Key::Spot(spot, None) => format!("nothing is said of spot '{spot}' for all time"),
            Key::Spot(spot, Some(since)) => format!("nothing is said of spot '{spot}' from {} on", self.said(*since)),
            Key::Placement(probe, since) => format!("probe '{probe}' was not placed on {}", self.said(*since)),
            Key::Doubt(probe, from) => format!("probe '{probe}' is not doubted from {} on", self.said(*from)),
            Key::Limits(probe) => format!("probe '{probe}' has no limits of its own"),
            Key::Container(container) => format!("there is no box '{container}'"),
            Key::Check(container, time) => format!("there is no check of box '{container}' on {}", self.said(*time)),
            Key::Move(container, time) => format!("there is no move of box '{container}' on {}", self.said(*time)),
            Key::Plan(container, time) => format!("no move of box '{container}' is planned for {}", self.said(*time)),
        }
    }
}

fn take_move_back(moves: &mut Vec<Move>, time: Time) -> bool {
    let at = moves.iter().position(|moved| moved.time == time);
    at.map(|at| moves.remove(at)).is_some()
}
