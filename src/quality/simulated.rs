//! Made-up homes for tests: a room, a sill, a mat, a fridge, and probes of a few minutes in boxes of half an hour and more.

use crate::units::MICROS_PER_SECOND;

/// 1 March 2026, 0 h UTC.
pub(super) const BEGUN_US: i64 = 1_772_323_200 * MICROS_PER_SECOND;
pub(super) const DAY_US: i64 = 86_400 * MICROS_PER_SECOND;
const MINUTES: usize = 1440;

/// A stream of numbers that a seed decides (Steele, Lea and Flood 2014, SplitMix64, <https://doi.org/10.1145/2660193.2660195>).
pub(super) struct Chance(pub(super) u64);

impl Chance {
    pub(super) fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((mixed ^ (mixed >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    pub(super) fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.uniform()).ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

/// A home over some days, minute by minute from [`BEGUN_US`].
pub(super) struct Home {
    /// How clear each day is, 0 to 1.
    pub(super) clear: Vec<f64>,
    /// The room's air, °C.
    pub(super) air: Vec<f64>,
    chance: Chance,
}

impl Home {
    /// Heating that comes and goes with a night's setback, and weather behind it.
    pub(super) fn new(seed: u64, days: usize) -> Self {
        let mut chance = Chance(seed);
        let clear =
            (0..days).map(|_| if chance.uniform() < 0.5 { chance.between(0.7, 1.0) } else { chance.between(0.0, 0.2) }).collect();
        let (mut level, mut heat, mut heating, mut air) = (0.0, 0.0, false, Vec::new());
        let (swing, setback) = (chance.between(0.3, 0.6), chance.between(1.0, 3.0));
        for minute in 0..days * MINUTES {
            let hour = (minute % MINUTES) as f64 / 60.0;
            if minute % MINUTES == 0 {
                level = 0.7 * level + 0.6 * chance.normal();
            }
            let wished = if (6.0..22.0).contains(&hour) { setback } else { 0.0 };
            heat += if heating { 0.03 } else { -0.02 } + 0.005 * chance.normal();
            heating = if heat > swing { false } else { heat < -swing || heating };
            let now = 17.0 + level + heat + wished;
            let last = air.last().copied().unwrap_or(now);
            air.push(last + (now - last) / 20.0);
        }
        Self { clear, air, chance }
    }

    pub(super) fn minutes(&self) -> usize {
        self.air.len()
    }

    /// How clear it is in a minute, clouds passing.
    fn clouds(&mut self) -> Vec<f64> {
        let (mut cloud, mut clear) = (0.0, Vec::new());
        for minute in 0..self.minutes() {
            cloud = 0.97 * cloud + 0.04 * self.chance.normal();
            clear.push(((1.0 + cloud) * self.clear[minute / MINUTES]).clamp(0.0, 1.0));
        }
        clear
    }

    /// A sill that the sun truly warms, by up to `by_c` a day.
    pub(super) fn sill(&mut self, by_c: f64) -> Vec<f64> {
        let clouds = self.clouds();
        let sun = |minute: usize| (((minute % MINUTES) as f64 / 60.0 - 8.0) / 8.0 * std::f64::consts::PI).sin().max(0.0);
        let day = |minute: usize| if (480..960).contains(&(minute % MINUTES)) { sun(minute) } else { 0.0 };
        let warmed: Vec<f64> =
            (0..self.minutes()).map(|minute| self.air[minute] - 3.0 + by_c * day(minute) * clouds[minute]).collect();
        followed(&warmed, 45.0)
    }

    /// A mat with boxes on it, on a thermostat that swings by about two degrees either way.
    pub(super) fn thermostat(&mut self) -> Vec<f64> {
        let (mut on, mut celsius, mut mat) = (false, 24.0, 24.0);
        let drop = self.chance.between(1.0, 2.5);
        (0..self.minutes())
            .map(|minute| {
                on = if celsius > 25.0 + drop { false } else { celsius < 25.0 - drop || on };
                mat += ((if on { 42.0 } else { self.air[minute] }) - mat) / 8.0;
                celsius += (mat - celsius) / 40.0;
                celsius
            })
            .collect()
    }

    /// A box on a mat that a timer switches on each day for some hours.
    pub(super) fn timer(&mut self, hours: f64) -> Vec<f64> {
        let begins = self.chance.between(7.0, 14.0);
        let lasts = begins..begins + hours;
        let heated: Vec<f64> = (0..self.minutes())
            .map(|minute| self.air[minute] + if lasts.contains(&((minute % MINUTES) as f64 / 60.0)) { 14.0 } else { 0.0 })
            .collect();
        followed(&followed(&heated, 8.0), 35.0)
    }

    /// A fridge's air: its compressor, and doors opened at mealtimes for some minutes.
    pub(super) fn fridge(&mut self) -> Vec<f64> {
        let mut celsius = Vec::new();
        let mut open = vec![false; self.minutes()];
        for day in 0..self.clear.len() {
            for meal in [7.5, 12.5, 18.5] {
                let begins = day * MINUTES + (60.0 * (meal + self.chance.between(-0.7, 0.7))) as usize;
                open[begins..begins + self.chance.between(1.0, 5.0) as usize].fill(true);
            }
        }
        for (minute, open) in open.iter().enumerate() {
            let cool = 4.0 + 1.2 * (minute as f64 / 40.0 * std::f64::consts::TAU).sin();
            celsius.push(if *open { 14.0 } else { cool });
        }
        followed(&celsius, 6.0)
    }

    /// Air under glass that follows each cloud.
    pub(super) fn under_glass(&mut self) -> Vec<f64> {
        let mut cloud: f64 = 0.0;
        let lit: Vec<f64> = (0..self.minutes())
            .map(|minute| {
                cloud = 0.98 * cloud + 0.2 * self.chance.normal();
                let height = (((minute % MINUTES) as f64 / 60.0 - 7.0) / 10.0 * std::f64::consts::PI).sin().max(0.0);
                let day = (420..1020).contains(&(minute % MINUTES));
                let through = if cloud > 0.3 { 1.0 } else { 0.2 };
                if day { 18.0 * height * through * self.clear[minute / MINUTES] } else { 0.0 }
            })
            .collect();
        let lit: Vec<f64> = lit.iter().zip(&self.air).map(|(sun, air)| air - 8.0 + sun).collect();
        followed(&lit, 10.0)
    }

    /// The sun on the probe itself: from an hour of the day (UTC) on, which creeps forward with the season, for some hours of clear days.
    pub(super) fn struck(&mut self, place: &[f64], hour: f64, hours: f64, by_c: f64) -> Vec<f64> {
        let clouds = self.clouds();
        let sun = |minute: usize| {
            let begins = hour - 2.0 / 60.0 * (minute / MINUTES) as f64;
            let lit = (begins..begins + hours).contains(&((minute % MINUTES) as f64 / 60.0));
            if lit { by_c * clouds[minute] } else { 0.0 }
        };
        let lit: Vec<f64> = place.iter().enumerate().map(|(minute, celsius)| celsius + sun(minute)).collect();
        followed(&lit, 4.0)
    }

    /// What a probe shows of a place, so many minutes apart: its lag, its noise and steps of a sixteenth.
    pub(super) fn shown(&mut self, place: &[f64], every: usize) -> Vec<(i64, f64)> {
        let place = followed(place, 4.0);
        let mut shown = Vec::new();
        for (minute, celsius) in place.iter().enumerate().step_by(every) {
            let noisy = celsius + 0.03 * self.chance.normal();
            shown.push((BEGUN_US + minute as i64 * 60 * MICROS_PER_SECOND, (noisy * 16.0).round() / 16.0));
        }
        shown
    }
}

/// A first-order lag of so many minutes.
pub(super) fn followed(place: &[f64], tau: f64) -> Vec<f64> {
    let mut own = place.first().copied().unwrap_or_default();
    place
        .iter()
        .map(|celsius| {
            own += (celsius - own) / tau;
            own
        })
        .collect()
}
