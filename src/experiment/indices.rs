//! The trade's germination indices: numbers in common use, each beside its formula, since one name has often several.

/// One index of one group or box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Index {
    /// Its name in the trade.
    pub name: &'static str,
    /// Unit; empty where there is none.
    pub unit: &'static str,
    /// How it is made. t: days of a look since sowing; n: new sprouts seen then; c: all sprouts seen by then; N: seeds sown; D: days of
    /// the last look.
    pub formula: &'static str,
    /// Who brought it in, or where the formula is printed.
    pub source: &'static str,
    /// What it is easily misread as; empty where it is what it says.
    pub trap: &'static str,
    /// The number; none where it cannot be had from these looks.
    pub value: Option<f64>,
}

const RANAL_SANTANA: &str =
    "Ranal & Santana 2006, Revista Brasileira de Botânica 29:1–11, https://doi.org/10.1590/S0100-84042006000100002";
const OF_SPROUTED: &str = "seeds that did not sprout have no part in it";
const COUNTED_LATE: &str = "a sprout counts from the look that found it: half the time between looks too late";
const SPACING: &str = "hangs on how often one looked: compare only boxes looked at alike";
const MIXED: &str = "few fast sprouts and many slow ones can give the same number";

/// A look: days since sowing, new sprouts then, all sprouts by then.
#[derive(Debug, Clone, Copy)]
struct Look {
    days: f64,
    new: f64,
    all: f64,
}

/// Looks in order, as they count.
struct Looks {
    looks: Vec<Look>,
    /// Seeds sown; none where not counted, or fewer than sprouted.
    seeds: Option<f64>,
    sprouted: f64,
    /// A sprout was seen on the day of sowing: rates by day have no meaning.
    at_once: bool,
}

impl Looks {
    fn new(looks: &[(f64, u32)], seeds: Option<u32>) -> Self {
        let mut sound: Vec<(f64, f64)> =
            looks.iter().filter(|(days, _)| days.is_finite() && *days >= 0.0).map(|(days, new)| (*days, f64::from(*new))).collect();
        sound.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut all = 0.0;
        let looks: Vec<Look> = sound
            .into_iter()
            .map(|(days, new)| {
                all += new;
                Look { days, new, all }
            })
            .collect();
        let at_once = looks.iter().any(|look| look.days == 0.0 && look.new > 0.0);
        let seeds = seeds.map(f64::from).filter(|seeds| *seeds > 0.0 && *seeds >= all);
        Self { looks, seeds, sprouted: all, at_once }
    }

    fn sum(&self, of: impl Fn(&Look) -> f64) -> f64 {
        self.looks.iter().map(of).sum()
    }

    /// A sum over the sprouts for each sprout.
    fn per_sprout(&self, of: impl Fn(&Look) -> f64) -> Option<f64> {
        (self.sprouted > 0.0).then(|| self.sum(of) / self.sprouted)
    }

    fn mean_days(&self) -> Option<f64> {
        self.per_sprout(|look| look.new * look.days)
    }

    fn mean_of_middles(&self) -> Option<f64> {
        let mut before = 0.0;
        let mut sum = 0.0;
        for look in &self.looks {
            sum += look.new * 0.5 * (before + look.days);
            before = look.days;
        }
        (self.sprouted > 0.0).then(|| sum / self.sprouted)
    }

    fn variance(&self) -> Option<f64> {
        let mean = self.mean_days()?;
        (self.sprouted > 1.0).then(|| self.sum(|look| look.new * (look.days - mean).powi(2)) / (self.sprouted - 1.0))
    }

    fn last(&self) -> Option<f64> {
        self.looks.last().map(|look| look.days)
    }

    /// Sprouts seen by the end of a day.
    fn by(&self, days: f64) -> f64 {
        self.looks.iter().rev().find(|look| look.days <= days).map_or(0.0, |look| look.all)
    }

    /// When so many had sprouted, in a straight line between two looks.
    fn reached(&self, target: f64) -> Option<f64> {
        if target <= 0.0 {
            return None;
        }
        let mut before = (0.0, 0.0);
        for look in &self.looks {
            if look.all >= target {
                return Some(before.0 + (target - before.1) / (look.all - before.1) * (look.days - before.0));
            }
            before = (look.days, look.all);
        }
        None
    }

    /// The whole days from 1 to the last look's.
    fn whole_days(&self) -> Option<u32> {
        self.last().map(|days| days.floor()).filter(|days| *days >= 1.0 && *days <= f64::from(u16::MAX)).map(|days| days as u32)
    }

    fn timson(&self) -> Option<f64> {
        let seeds = self.seeds?;
        Some((1..=self.whole_days()?).map(|day| 100.0 * self.by(f64::from(day)) / seeds).sum())
    }

    /// The highest cumulative percentage a day.
    fn peak(&self) -> Option<f64> {
        let seeds = self.seeds.filter(|_| !self.at_once)?;
        self.looks.iter().filter(|look| look.days > 0.0).map(|look| 100.0 * look.all / seeds / look.days).max_by(f64::total_cmp)
    }

    fn mean_daily(&self) -> Option<f64> {
        let days = self.last().filter(|days| *days > 0.0)?;
        Some(100.0 * self.sprouted / self.seeds? / days)
    }
}

/// All indices from (days since sowing, new sprouts) of each look and the seeds sown. Looks may be at any times, but where days were left
/// out the indices that go by looks change their meaning, which `trap` says. `energy_day`: the day by which germination energy is counted.
///
/// What cannot be had is none: percentages where seeds were not counted, times without a sprout, a spread with fewer than two, 1/t where a
/// sprout was seen at once. Looks before the sowing, and those without a day, are left out.
#[must_use]
pub fn indices(looks: &[(f64, u32)], seeds: Option<u32>, energy_day: f64) -> Vec<Index> {
    let of = Looks::new(looks, seeds);
    let (sprouted, mean, variance) = (of.sprouted, of.mean_days(), of.variance());
    let percent = |count: f64| of.seeds.filter(|_| !of.looks.is_empty()).map(|seeds| 100.0 * count / seeds);
    let any = (sprouted > 0.0).then_some(sprouted);
    let pairs = |n: f64| 0.5 * n * (n - 1.0);
    let index = |name, unit, formula, source, trap, value: Option<f64>| Index {
        name,
        unit,
        formula,
        source,
        trap,
        value: value.filter(|value| value.is_finite()),
    };
    vec![
        index(
            "germination percentage",
            "%",
            "100 Σn / N",
            RANAL_SANTANA,
            "dead seeds and those still waiting count alike",
            percent(sprouted),
        ),
        index(
            "germination energy",
            "%",
            "100 c / N by the chosen day",
            RANAL_SANTANA,
            "worth nothing without its day; some mean the share by the day of most sprouts",
            percent(of.by(energy_day)).filter(|_| of.last().is_some_and(|last| last >= energy_day)),
        ),
        index("mean germination time", "d", "Σ n t / Σ n", RANAL_SANTANA, COUNTED_LATE, mean),
        index(
            "mean germination time, from the middle between looks",
            "d",
            "Σ n (t + t before) / 2 Σ n",
            RANAL_SANTANA,
            OF_SPROUTED,
            of.mean_of_middles(),
        ),
        index("mean germination rate", "1/d", "Σ n / Σ n t", RANAL_SANTANA, OF_SPROUTED, mean.map(|mean| 1.0 / mean)),
        index(
            "coefficient of velocity",
            "%/d",
            "100 Σ n / Σ n t",
            "Kotowski 1926, Proceedings of the American Society for Horticultural Science 23:176–184",
            OF_SPROUTED,
            mean.map(|mean| 100.0 / mean),
        ),
        index("variance of the germination time", "d²", "Σ n (t − mean)² / (Σ n − 1)", RANAL_SANTANA, OF_SPROUTED, variance),
        index(
            "standard deviation of the germination time",
            "d",
            "√(Σ n (t − mean)² / (Σ n − 1))",
            RANAL_SANTANA,
            "of single seeds: not how sure the mean is",
            variance.map(f64::sqrt),
        ),
        index(
            "coefficient of variation of the germination time",
            "%",
            "100 standard deviation / mean",
            RANAL_SANTANA,
            OF_SPROUTED,
            variance.zip(mean).map(|(variance, mean)| 100.0 * variance.sqrt() / mean),
        ),
        index(
            "T50 by Coolbear",
            "d",
            "t where c = (Σ n + 1) / 2, in a straight line between two looks",
            "Coolbear, Francis & Grierson 1984, Journal of Experimental Botany 35:1609–1617, https://doi.org/10.1093/jxb/35.11.1609",
            "half of those that sprouted, not of those sown",
            any.and_then(|sprouted| of.reached(0.5 * (sprouted + 1.0))),
        ),
        index(
            "T50 by Farooq",
            "d",
            "t where c = Σ n / 2, in a straight line between two looks",
            "Farooq, Basra, Ahmad & Hafeez 2005, Journal of Integrative Plant Biology 47:187–193, \
             https://doi.org/10.1111/j.1744-7909.2005.00031.x",
            "half of those that sprouted, not of those sown",
            any.and_then(|sprouted| of.reached(0.5 * sprouted)),
        ),
        index(
            "T50 of the seeds sown",
            "d",
            "t where c = N / 2, in a straight line between two looks",
            "common practice",
            "there is none where fewer than half sprouted",
            of.seeds.and_then(|seeds| of.reached(0.5 * seeds)),
        ),
        index(
            "speed of germination",
            "1/d",
            "Σ n / t",
            "Maguire 1962, Crop Science 2:176–177, https://doi.org/10.2135/cropsci1962.0011183X000200020033x",
            MIXED,
            Some(of.sum(|look| if look.new > 0.0 { look.new / look.days } else { 0.0 })).filter(|_| !of.looks.is_empty()),
        ),
        index(
            "Timson's sum",
            "%",
            "Σ 100 c / N over the days 1 to D",
            "Timson 1965, Nature 207:216–217, https://doi.org/10.1038/207216a0",
            "grows with the days watched: compare only the same number of days",
            of.timson(),
        ),
        index(
            "Timson's sum a day",
            "%",
            "Σ 100 c / (N D) over the days 1 to D",
            "Timson 1965, Nature 207:216–217, https://doi.org/10.1038/207216a0",
            MIXED,
            of.timson().zip(of.whole_days()).map(|(sum, days)| sum / f64::from(days)),
        ),
        index(
            "weighted germination index",
            "d",
            "Σ (D + 1 − t) n",
            RANAL_SANTANA,
            "grows with the days watched and the seeds sown; \"germination index\" has other meanings too",
            of.last().map(|last| of.sum(|look| (last + 1.0 - look.days) * look.new)),
        ),
        index(
            "synchrony",
            "",
            "Σ n (n − 1) / (Σ n (Σ n − 1))",
            RANAL_SANTANA,
            SPACING,
            (sprouted > 1.0).then(|| of.sum(|look| pairs(look.new)) / pairs(sprouted)),
        ),
        index(
            "uncertainty",
            "bit",
            "−Σ f log₂ f, f = n / Σ n",
            RANAL_SANTANA,
            SPACING,
            any.map(|sprouted| {
                0.0 - of.sum(|look| if look.new > 0.0 { look.new / sprouted * (look.new / sprouted).log2() } else { 0.0 })
            }),
        ),
        index(
            "peak value",
            "%/d",
            "largest 100 c / (N t)",
            "Czabator 1962, Forest Science 8:386–396",
            "one early sprout can make the peak",
            of.peak(),
        ),
        index(
            "mean daily germination",
            "%/d",
            "100 Σ n / (N D)",
            "Czabator 1962, Forest Science 8:386–396",
            "falls with every day that one waits longer",
            of.mean_daily(),
        ),
        index(
            "germination value",
            "(%/d)²",
            "peak value × mean daily germination",
            "Czabator 1962, Forest Science 8:386–396",
            MIXED,
            of.peak().zip(of.mean_daily()).map(|(peak, mean)| peak * mean),
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// 25 seeds looked at daily for 14 days.
    const DAILY: [u32; 14] = [0, 0, 0, 1, 3, 6, 5, 3, 2, 1, 0, 1, 0, 0];

    fn daily() -> Vec<(f64, u32)> {
        DAILY.into_iter().enumerate().map(|(at, new)| (at as f64 + 1.0, new)).collect()
    }

    fn value(of: &[Index], name: &str) -> Option<f64> {
        of.iter().find(|index| index.name == name).unwrap_or_else(|| panic!("no {name}")).value
    }

    /// A made-up box, worked out by the formulas of Ranal & Santana 2006 and the others named, as recomputed with numpy in
    /// tests/reference/fixtures.py.
    #[test]
    fn the_worked_example() {
        let found = indices(&daily(), Some(25), 7.0);
        let expected = [
            ("germination percentage", 88.0),
            ("germination energy", 60.0),
            ("mean germination time", 7.0),
            ("mean germination time, from the middle between looks", 6.5),
            ("mean germination rate", 0.142857),
            ("coefficient of velocity", 14.2857),
            ("variance of the germination time", 3.42857),
            ("standard deviation of the germination time", 1.85164),
            ("coefficient of variation of the germination time", 26.4520),
            ("T50 by Coolbear", 6.3),
            ("T50 by Farooq", 6.2),
            ("T50 of the seeds sown", 6.5),
            ("speed of germination", 3.344841),
            ("Timson's sum", 704.0),
            ("Timson's sum a day", 50.2857),
            ("weighted germination index", 176.0),
            ("synchrony", 32.0 / 231.0),
            ("uncertainty", 2.703559),
            ("peak value", 9.0),
            ("mean daily germination", 6.285714),
            ("germination value", 56.571429),
        ];
        assert_eq!(found.len(), expected.len());
        for (index, (name, number)) in found.iter().zip(expected) {
            assert_eq!(index.name, name);
            assert!((index.value.unwrap() - number).abs() < 6e-7 * number.max(100.0), "{index:?}, expected {number}");
        }
    }

    /// By hand: 2 of 10 found on day 4, 6 more on day 8, nothing on day 10.
    #[test]
    fn looks_far_apart() {
        let found = indices(&[(4.0, 2), (8.0, 6), (10.0, 0)], Some(10), 5.0);
        for (name, number) in [
            ("germination energy", 20.0),
            ("mean germination time", 7.0),
            ("mean germination time, from the middle between looks", (2.0 * 2.0 + 6.0 * 6.0) / 8.0),
            ("T50 by Farooq", 4.0 + 2.0 / 6.0 * 4.0),
            ("T50 of the seeds sown", 6.0),
            ("speed of germination", 2.0 / 4.0 + 6.0 / 8.0),
            ("Timson's sum", 4.0 * 20.0 + 3.0 * 80.0),
            ("weighted germination index", 7.0 * 2.0 + 3.0 * 6.0),
            ("peak value", 10.0),
            ("mean daily germination", 8.0),
        ] {
            assert!((value(&found, name).unwrap() - number).abs() < 1e-12, "{name}: {:?}, expected {number}", value(&found, name));
        }
        // The first look found more than half: the line starts at the sowing.
        assert_eq!(value(&indices(&[(4.0, 8)], Some(10), 4.0), "T50 by Farooq"), Some(2.0));
    }

    #[test]
    fn what_cannot_be_had_is_none() {
        let none_sprouted = indices(&[(1.0, 0), (5.0, 0)], Some(20), 5.0);
        assert_eq!(value(&none_sprouted, "germination percentage"), Some(0.0));
        assert_eq!(value(&none_sprouted, "speed of germination"), Some(0.0));
        for name in [
            "mean germination time",
            "coefficient of velocity",
            "T50 by Farooq",
            "T50 of the seeds sown",
            "synchrony",
            "uncertainty",
        ] {
            assert_eq!(value(&none_sprouted, name), None, "{name}");
        }
        let uncounted = indices(&daily(), None, 7.0);
        assert_eq!(value(&uncounted, "mean germination time"), Some(7.0));
        for name in ["germination percentage", "germination energy", "T50 of the seeds sown", "Timson's sum", "germination value"] {
            assert_eq!(value(&uncounted, name), None, "{name}");
        }
        assert_eq!(value(&indices(&daily(), Some(25), 20.0), "germination energy"), None, "nobody looked so late");
        assert_eq!(value(&indices(&[(0.0, 1), (3.0, 1)], Some(4), 3.0), "speed of germination"), None);
        assert!(indices(&[], Some(4), 3.0).iter().all(|index| index.value.is_none()), "nobody looked");
    }

    proptest! {
        #[test]
        fn any_looks_have_finite_indices(
            looks in prop::collection::vec((prop_oneof![0.0f64..60.0, Just(f64::NAN), Just(-1.0), Just(f64::INFINITY), Just(1e300)], 0u32..40), 0..12),
            seeds in prop::option::of(0u32..200),
        ) {
            for index in indices(&looks, seeds, 7.0) {
                prop_assert!(index.value.is_none_or(f64::is_finite), "{:?}", index);
            }
        }
    }
}
