//! Days in the moist cold before sowing.

/// Where a number of days in the cold comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChillSource {
    /// The grower said it for this plan.
    Given,
    /// It stands with the lot.
    Lot,
    /// The treatment's name says it.
    Treatment,
    /// The boxes of this kind sown last had so many.
    Records,
}

/// A chilling that a lot goes through before sowing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chill {
    /// Days, rounded up.
    pub days: u32,
    /// Who says so.
    pub source: ChillSource,
}

/// The days of chilling that the name of a treatment tells: "30 d cold moist" 30, "cold 6 weeks" 42; none where it is not about cold
/// or has no such number.
#[must_use]
pub fn chill_days_in(treatment: &str) -> Option<u32> {
    let words = treatment.to_lowercase();
    if !["cold", "chill", "strat", "fridge"].iter().any(|word| words.contains(word)) {
        return None;
    }
    let digits = |c: char| c.is_ascii_digit();
    let mut rest = &words[..];
    while let Some(start) = rest.find(digits) {
        let end = rest[start..].find(|c| !digits(c)).map_or(rest.len(), |length| start + length);
        let unit = rest[end..].trim_start_matches([' ', '-', '\u{a0}']);
        let word: String = unit.chars().take_while(|c| c.is_alphabetic()).collect();
        let each = match &word[..] {
            "d" | "day" | "days" => Some(1),
            "w" | "wk" | "wks" | "week" | "weeks" => Some(7),
            "month" | "months" => Some(30),
            _ => None,
        };
        if let (Ok(number), Some(each)) = (rest[start..end].parse::<u32>(), each) {
            return number.checked_mul(each).filter(|days| (1..=1000).contains(days));
        }
        rest = &rest[end..];
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_days_are_read_out_of_a_treatments_name() {
        for (name, days) in [
            ("30 d cold moist", Some(30)),
            ("28 d cold moist", Some(28)),
            ("cold moist, 6 weeks", Some(42)),
            ("Stratified 60days", Some(60)),
            ("fridge 3-week", Some(21)),
            ("2 months chilled", Some(60)),
            ("cold at 4 °C for 45 d", Some(45)),
            ("soaked 1 d", None),
            ("cold", None),
            ("cold 4 C", None),
            ("cold 99999999999 d", None),
            ("cold 0 d", None),
        ] {
            assert_eq!(chill_days_in(name), days, "{name}");
        }
    }
}
