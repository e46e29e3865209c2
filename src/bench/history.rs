//! What seeds went through before they came into their container.

use std::collections::BTreeMap;

use super::{Bench, Chilling, Container, Given, Name, Spot, SpotKind, Stay, Trial};
use crate::civil::Time;

impl Bench {
    /// Works out anew what containers owe to other rows: what each gave to others, which is on record only with those that took it,
    /// and whether it is being chilled, which its spot says.
    pub fn link(&mut self) {
        let mut given: Vec<(Name, Given)> = Vec::new();
        for Container { name, from, sown, seeds, .. } in self.trials.values().map(|trial| &trial.container) {
            given.extend(from.clone().map(|from| (from, Given { time: *sown, seeds: *seeds, to: name.clone() })));
        }
        for trial in self.trials.values_mut() {
            trial.given.clear();
        }
        for (from, given) in given {
            if let Some(source) = self.trials.get_mut(&from) {
                source.given.push(given);
            }
        }
        for trial in self.trials.values_mut() {
            trial.given.sort_by(|a, b| (a.time, &a.to).cmp(&(b.time, &b.to)));
            trial.chilling = chilling(&self.spots, trial);
        }
    }

    /// The container that a trial's seeds came out of, where they did.
    #[must_use]
    pub fn source(&self, trial: &Trial) -> Option<&Trial> {
        let source = self.trials.get(trial.container.from.as_ref()?)?;
        // The rules see to it, and so no circle goes on for ever, whatever a damaged file holds.
        (source.container.sown < trial.container.sown).then_some(source)
    }

    /// The trial itself, the one its seeds came out of, the one those came out of …
    pub fn sources<'a>(&'a self, trial: &'a Trial) -> impl Iterator<Item = &'a Trial> {
        std::iter::successors(Some(trial), |later| self.source(later))
    }

    /// When a trial's seeds were wetted: at its sowing, or at that of the first container they were in.
    #[must_use]
    pub fn wetted(&self, trial: &Trial) -> Time {
        self.sources(trial).last().unwrap_or(trial).container.sown
    }

    /// Where a trial's seeds were from `from` until `until`, in order, without empty stays: before its sowing where the
    /// containers stood that they came out of. Nothing from before they were wetted.
    #[must_use]
    pub fn stays<'a>(&'a self, trial: &'a Trial, from: Time, until: Time) -> Vec<Stay<'a>> {
        let mut until = until;
        let mut stays = Vec::new();
        for part in self.sources(trial) {
            let begin = part.container.sown.max(from);
            stays.push(part.stays(begin, until.max(begin)));
            until = until.min(part.container.sown);
        }
        stays.into_iter().rev().flatten().collect()
    }

    /// Where a trial's seeds were from their wetting until `until`.
    #[must_use]
    pub fn history<'a>(&'a self, trial: &'a Trial, until: Time) -> Vec<Stay<'a>> {
        self.stays(trial, self.wetted(trial), until)
    }
}

/// Whether a container is being chilled, by the kinds of the spots where it stood.
fn chilling(spots: &BTreeMap<Name, Spot>, trial: &Trial) -> Chilling {
    let cold = |spot: &Name, time: Time| spots.get(spot).is_some_and(|spot| spot.kind_at(time) == SpotKind::Fridge);
    let mut state = if cold(&trial.container.spot, trial.container.sown) { Chilling::Still } else { Chilling::Never };
    for moved in &trial.moves {
        state = match (cold(&moved.spot, moved.time), state) {
            (true, _) => Chilling::Still,
            (false, Chilling::Still) => Chilling::Until(moved.time),
            (false, before) => before,
        };
    }
    state
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Move;
    use crate::civil::Zone;
    use chrono::Duration;

    fn at(day: i64) -> Time {
        Time::UNIX_EPOCH + Duration::days(day)
    }

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    #[test]
    fn seeds_out_of_a_bag_bring_its_days_along_and_the_bag_loses_them() {
        let mut bench = Bench::empty(Zone::UTC);
        let sown = |to: &str, day, spot: &str| Container::new(name(to), name("b"), name("leek"), name(spot), at(day));
        let bag = Container { seeds: Some(50), ..sown("bag", 0, "sill") };
        let second = Container { seeds: Some(30), from: Some(name("bag")), ..sown("second bag", 40, "fridge") };
        let pot = Container { seeds: Some(10), from: Some(name("second bag")), ..sown("pot", 60, "mat") };
        for container in [bag, second, pot] {
            bench.trials.insert(container.name.clone(), Trial::new(container));
        }
        let to_fridge = Move { container: name("bag"), time: at(3), spot: name("fridge") };
        bench.trials.get_mut(&name("bag")).unwrap().moves.push(to_fridge);
        bench.link();
        let pot = &bench.trials[&name("pot")];
        assert_eq!(bench.wetted(pot), at(0));
        let told =
            |stays: Vec<Stay<'_>>| stays.iter().map(|stay| (stay.spot.to_string(), stay.from, stay.until)).collect::<Vec<_>>();
        let spot = |spot: &str, from, until| (spot.to_owned(), at(from), at(until));
        assert_eq!(
            told(bench.history(pot, at(70))),
            [spot("sill", 0, 3), spot("fridge", 3, 40), spot("fridge", 40, 60), spot("mat", 60, 70)]
        );
        assert_eq!(told(bench.stays(pot, at(2), at(4))), [spot("sill", 2, 3), spot("fridge", 3, 4)]);
        assert_eq!(told(bench.stays(pot, at(-9), at(1))), [spot("sill", 0, 1)], "nothing from before they were wetted");
        assert_eq!(bench.trials[&name("bag")].left(), Some(20));
        assert_eq!(bench.as_of(at(39)).trials[&name("bag")].left(), Some(50), "nobody knew then");
    }
}
