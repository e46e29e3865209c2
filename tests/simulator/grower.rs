//! The grower: looks in the morning, misses some, takes out mould, pots on, gives up in the end.

use chrono::{DateTime, Duration, NaiveDate, NaiveTime, TimeZone, Utc};
use chrono_tz::Tz;

use super::climate::{STEP_MINUTES, Warmth};
use super::random::Stream;
use super::truth::Species;

/// What truly becomes of the seeds of one box, and what can happen to them besides.
pub(crate) struct Fate {
    /// When each seed sprouts; none: not within the time simulated.
    pub(crate) sprouts: Vec<Option<DateTime<Utc>>>,
    /// When a seed that never sprouts turns mouldy, in the order of those seeds.
    mould: Vec<DateTime<Utc>>,
}

/// The thermal time of a box by direct summation over the spots where it stands (from, warmth), until the requirement of each
/// seed is met or `until` is reached.
pub(crate) fn fate(
    species: &Species,
    seeds: &[Option<f64>],
    stays: &[(DateTime<Utc>, &Warmth)],
    until: DateTime<Utc>,
    random: &mut Stream,
) -> Fate {
    let sown = stays[0].0;
    let mut sprouts = vec![None; seeds.len()];
    let (mut gathered, mut time) = (0.0, sown);
    while time < until {
        let warmth = stays.iter().rev().find(|(from, _)| *from <= time).unwrap().1;
        gathered += species.rate(warmth.at(time)) * STEP_MINUTES as f64 / 1440.0;
        time += Duration::minutes(STEP_MINUTES);
        for (seed, sprout) in seeds.iter().zip(sprouts.iter_mut()) {
            if sprout.is_none() && seed.is_some_and(|needs| gathered >= needs) {
                *sprout = Some(time);
            }
        }
    }
    let dead = seeds.iter().filter(|seed| seed.is_none()).count();
    let mut mould: Vec<_> = (0..dead)
        .filter_map(|_| {
            let after = Duration::minutes((random.between(7.0, 30.0) * 1440.0) as i64);
            random.chance(0.45).then(|| sown + after)
        })
        .collect();
    mould.sort_unstable();
    Fate { sprouts, mould }
}

/// One look, as the bench folder writes it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Look {
    pub(crate) time: DateTime<Utc>,
    pub(crate) sprouted: u32,
    pub(crate) removed: u32,
    pub(crate) lost: u32,
    pub(crate) potted_on: u32,
    pub(crate) died: u32,
    pub(crate) condition: &'static str,
    pub(crate) note: &'static str,
}

/// The mornings on which somebody looks: about half past seven, minutes early or late, some missed,
/// though none of the last three.
pub(crate) fn rounds(zone: Tz, from: NaiveDate, to: NaiveDate, away: &[NaiveDate], random: &mut Stream) -> Vec<DateTime<Utc>> {
    from.iter_days()
        .take_while(|date| *date <= to)
        .filter_map(|date| {
            let minute = 7 * 60 + 30 + random.normal(9.0).clamp(-25.0, 35.0) as u32;
            let missed = random.chance(0.06) && to - date > Duration::days(2);
            let morning = NaiveTime::from_num_seconds_from_midnight_opt(minute * 60, 0)?;
            let time = zone.from_local_datetime(&date.and_time(morning)).earliest()?.with_timezone(&Utc);
            (!missed && !away.contains(&date)).then_some(time)
        })
        .collect()
}

/// What the grower does with one box.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Habits {
    /// Gives a box up in the end; a present one is still watched.
    pub(crate) gives_up: bool,
    /// Loses one unsprouted seed at this look.
    pub(crate) loses_one_at: Option<usize>,
    /// One sprout dies at the first look from this one on at which any stands.
    pub(crate) one_dies_from: Option<usize>,
}

/// The looks at a box.
pub(crate) fn looks(fate: &Fate, sown: DateTime<Utc>, rounds: &[DateTime<Utc>], habits: Habits, random: &mut Stream) -> Vec<Look> {
    let mut looks: Vec<Look> = Vec::new();
    let total = fate.sprouts.len() as u32;
    let (mut sprouted, mut removed, mut lost, mut standing) = (0, 0, 0, 0);
    let mut last_news = sown;
    let mut dies_from = habits.one_dies_from;
    // The seed that is lost is the last to sprout of those that do; it is then no longer waited for.
    let mut due: Vec<_> = fate.sprouts.iter().flatten().copied().collect();
    due.sort_unstable();
    for &round in rounds.iter().filter(|round| **round > sown + Duration::hours(12)) {
        let time = round + Duration::seconds(random.between(0.0, 420.0) as i64);
        let mut look = Look { time, ..Look::default() };
        let nth = looks.len();
        let up = due.iter().filter(|due| **due <= time).count() as u32;
        look.sprouted = up - sprouted;
        if habits.loses_one_at == Some(nth) && due.last().is_some_and(|last| *last > time) {
            due.pop();
            (look.lost, look.note) = (1, "one rolled off the paper");
        }
        let mouldy = fate.mould.iter().filter(|mould| **mould <= time).count() as u32;
        look.removed = mouldy - removed;
        if look.removed > 0 {
            (look.condition, look.note) = ("mouldy", if removed == 0 { "grey fluff on it" } else { "" });
        } else if random.chance(0.03) {
            look.condition = "dry";
        }
        if dies_from.is_some_and(|from| nth >= from) && standing > 0 {
            dies_from = None;
            (look.died, look.note) = (1, "its root tip went brown");
            standing -= 1;
        }
        // Only those seen before today are big enough to handle.
        if standing >= 5 && random.chance(0.55) {
            look.potted_on = standing;
            standing = 0;
        }
        (sprouted, removed, lost, standing) = (up, mouldy, lost + look.lost, standing + look.sprouted);
        if look.sprouted > 0 {
            last_news = time;
        }
        looks.push(look);
        let all_done = sprouted + removed + lost == total;
        let waited_in_vain = time - last_news > Duration::days(12) && sprouted > 0;
        let lost_patience = time - sown > Duration::days(48);
        if habits.gives_up && (all_done || waited_in_vain || lost_patience) {
            break;
        }
    }
    looks
}
