//! The temperatures that a plan goes by, spot by spot, as thermal time of one kind of seed.

use super::meant::Kind;
use super::{Planner, WINDOW_DAYS};
use crate::answers::forecast::pace;
use crate::answers::own::unsure;
use crate::answers::present::outlook;
use crate::bench::Name;
use crate::experiment::plan::Basis;
use crate::forecast::{Ahead, Coming, DAYS_AHEAD, EarlierYears, Outlook, Supposed, earlier_days};
use crate::germination::Fit;
use crate::stats::parallel_map;
use crate::store::Interval;
use crate::thermal::Stretch;

/// What comes at a spot, in thermal time of one kind of seed.
pub(super) struct SpotCourse {
    pub(super) spot: Name,
    pub(super) basis: Option<Basis>,
    pub(super) mean_c: Option<f64>,
    pub(super) courses: Vec<Vec<f64>>,
}

enum Path {
    Outlook(Outlook),
    Years(EarlierYears),
}

impl Planner<'_> {
    /// What comes at each spot for one kind of seed.
    pub(super) fn courses(&self, kind: &Kind<'_>, fit: &Fit) -> Vec<SpotCourse> {
        parallel_map(&self.spots, |spot| self.course(spot, kind, fit))
    }

    fn course(&self, spot: &Name, kind: &Kind<'_>, fit: &Fit) -> SpotCourse {
        let window = (self.window().0, self.window().1.min(self.horizon));
        let Some((basis, path, offsets)) = self.path(spot, fit) else {
            return SpotCourse { spot: spot.clone(), basis: None, mean_c: None, courses: Vec::new() };
        };
        let mean_c = match &path {
            Path::Outlook(outlook) => outlook.mean_on(usize::midpoint(window.0, window.1)),
            Path::Years(years) => years.mean_c(window.0, window.1),
        };
        let needs = self.boxes(kind, fit, Some(mean_c)).into_iter().next().unwrap_or_default();
        let draws = needs.len().min(self.weather.len()).min(offsets.len());
        let pace = pace(Some(fit), mean_c, draws);
        let courses = match &path {
            Path::Outlook(outlook) => {
                let coming = [Coming { until_us: None, outlook, offsets, pace }];
                let rates = needs.iter().take(draws).map(|needs| needs.rate).collect();
                let mut ahead = Ahead::new(&coming, &self.weather, rates, self.known.now.timestamp_micros(), self.horizon);
                (0..draws).map(|draw| ahead.by_day(draw, f64::INFINITY).to_vec()).collect()
            }
            Path::Years(years) => {
                let of =
                    |draw: usize| years.by_day(&needs[draw].rate, offsets[draw], pace[draw], &self.weather[draw], self.horizon);
                (0..draws).map(of).collect()
            }
        };
        SpotCourse { spot: spot.clone(), basis: Some(basis), mean_c: Some(mean_c), courses }
    }

    /// The days, from now, in which the seeds' warmth counts.
    fn window(&self) -> (usize, usize) {
        let until = (self.until.max(0) as usize).max(WINDOW_DAYS / 3);
        (until.saturating_sub(WINDOW_DAYS), until)
    }

    /// Where the temperatures of a spot are taken from, and what is to be added to them, draw by draw.
    fn path(&self, spot: &Name, fit: &Fit) -> Option<(Basis, Path, Vec<f64>)> {
        let known = self.known;
        match self.question.assumed.iter().find(|assumed| assumed.spot == *spot).map(|assumed| &assumed.supposed) {
            Some(Supposed::Steady(set)) => {
                let offsets = unsure(spot, set.sd_c, self.weather.len());
                return Some((Basis::Assumed, Path::Outlook(Outlook::steady(set.celsius)), offsets));
            }
            Some(Supposed::Like(other)) => {
                let (_, path, offsets) = self.path_as_known(other, fit)?;
                return Some((Basis::Assumed, path, offsets));
            }
            None => {}
        }
        let given = known.warmth.get(spot).is_some_and(|warmth| warmth.set)
            && known.bench.spots.get(spot).is_some_and(|there| there.setting_at(known.now).given.is_some());
        let (basis, path, offsets) = self.path_as_known(spot, fit)?;
        Some((if given { Basis::Given } else { basis }, path, offsets))
    }

    fn path_as_known(&self, spot: &Name, fit: &Fit) -> Option<(Basis, Path, Vec<f64>)> {
        let known = self.known;
        let warmth = known.warmth.get(spot);
        let ahead = warmth.and_then(|warmth| outlook(known, spot, warmth));
        let near = self.until <= DAYS_AHEAD as i64 || warmth.is_some_and(|warmth| warmth.set);
        if let Some(outlook) = ahead.clone().filter(|_| near) {
            let basis = Basis::Season { years: outlook.years() };
            return Some((basis, Path::Outlook(outlook), known.offsets_now(fit, spot)));
        }
        if let Some((years, offsets)) = self.earlier(spot, fit) {
            return Some((Basis::EarlierYears { years: years.years() }, Path::Years(years), offsets));
        }
        ahead.map(|outlook| (Basis::RecentLevel, Path::Outlook(outlook), known.offsets_now(fit, spot)))
    }

    /// The days to come as they were in earlier years; none where the spot was changed since, or too little is known of them.
    fn earlier(&self, spot: &Name, fit: &Fit) -> Option<(EarlierYears, Vec<f64>)> {
        let known = self.known;
        if known.bench.spots.get(spot)?.changed_by(known.now).is_some() {
            return None;
        }
        let now_us = known.now.timestamp_micros();
        let days = earlier_days(now_us, self.horizon);
        let interval = |from_us: i64, until_us: i64| Interval { spot: spot.clone(), from_us, until_us };
        let stood = |from_us: i64, until_us: i64| {
            known.bench.stands_at(spot).any(|(placement, left)| {
                placement.since.timestamp_micros() < until_us && left.is_none_or(|left| left.timestamp_micros() > from_us)
            })
        };
        let day = |(_, from_us, until_us): &(i32, i64, i64)| -> Option<Stretch> {
            let asked = *from_us >= known.read_from_us() && *until_us <= now_us && stood(*from_us, *until_us);
            known.mean_c(spot, *from_us, *until_us).filter(|_| asked)?;
            Some(known.stretch_at(&interval(*from_us, *until_us)).into_owned())
        };
        let (from, until) = self.window();
        let years = days.iter().map(|days| days.iter().filter(|(at, ..)| *at > 0).map(day).collect());
        let years = EarlierYears::new(years.collect(), (from, until))?;
        // By the probe that stood there then.
        let then = days.iter().flatten().filter(|(at, ..)| *at >= from as i32 && *at <= until as i32);
        let (from_us, until_us) =
            then.map(|(_, from_us, until_us)| (*from_us, *until_us)).find(|(from_us, until_us)| stood(*from_us, *until_us))?;
        let (level, sd_c) = known.level_of(&interval(from_us, until_us));
        Some((years, fit.offsets_of(&level, sd_c)))
    }
}
