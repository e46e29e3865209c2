//! How long seeds are to be chilled: by their treatment's words, else by what their lot is said to want.

use crate::bench::{Lot, Trial};

/// Days in a week.
const WEEK_DAYS: f64 = 7.0;

/// Who says how long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlanBy {
    /// The words of the box's own treatment.
    Treatment,
    /// What its lot is said to want.
    Lot,
}

/// How long seeds are to be chilled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChillPlan {
    /// Days of moist cold; 0: none are wanted.
    pub days: f64,
    /// Who says so.
    pub by: PlanBy,
}

/// What a treatment's words say of cold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TreatmentCold {
    /// So many days of moist cold.
    Days(f64),
    /// Cold, but dry: that breaks no dormancy.
    Dry,
    /// Nothing of cold.
    Nothing,
    /// Something that could be meant in more than one way.
    Unclear,
}

/// What a treatment's words say of cold: a number of days or weeks, or the trade's C(60), where it is the only length named and nothing
/// else (warmth, frost, a range) could be meant by it.
#[must_use]
pub fn cold_in_words(words: &str) -> TreatmentCold {
    let words = words.to_lowercase();
    let tokens = tokens(&words);
    let begins = |signs: &[&str]| tokens.iter().any(|token| signs.iter().any(|sign| token.starts_with(sign)));
    let code = tokens.contains(&"c") && words.contains("c(");
    if !code && !begins(&["cold", "chill", "strat", "fridge", "refrigerat"]) {
        return TreatmentCold::Nothing;
    }
    let lengths_named = tokens.iter().any(|token| token.starts_with(|c: char| c.is_ascii_digit()));
    if !lengths_named && (begins(&["unchill", "unstrat"]) || tokens.iter().any(|token| ["no", "not", "without"].contains(token))) {
        return TreatmentCold::Nothing;
    }
    if begins(&["dry", "dried"]) {
        return TreatmentCold::Dry;
    }
    if begins(&["warm", "frost", "freez", "frozen", "no", "without", "un", "room"]) {
        return TreatmentCold::Unclear;
    }
    let mut lengths = Vec::new();
    for (at, token) in tokens.iter().enumerate() {
        let Ok(number) = token.parse::<f64>() else { continue };
        let unit = tokens.get(at + 1).copied().unwrap_or("");
        match unit {
            "d" | "day" | "days" => lengths.push(number),
            "w" | "wk" | "wks" | "week" | "weeks" => lengths.push(number * WEEK_DAYS),
            // The trade's code letter, its days in brackets behind it.
            _ if code && at > 0 && tokens[at - 1] == "c" => lengths.push(number),
            "c" | "f" | "°c" | "°f" | "°" | "ppm" | "%" => {}
            _ => return TreatmentCold::Unclear,
        }
    }
    match lengths[..] {
        [days] if days.is_finite() && days >= 0.0 => TreatmentCold::Days(days),
        _ => TreatmentCold::Unclear,
    }
}

/// Numbers, words and signs of a text, spaces and punctuation left out: "30d" is a number and a word, "GA3" one word.
fn tokens(words: &str) -> Vec<&str> {
    let kind = |c: char| match c {
        c if c.is_ascii_digit() || c == '.' => 1,
        c if c.is_alphabetic() || c == '°' => 2,
        '%' => 3,
        _ => 0,
    };
    let mut tokens = Vec::new();
    let mut begin = 0;
    let mut before = 0;
    for (at, c) in words.char_indices().chain([(words.len(), ' ')]) {
        // Digits behind letters belong to the word.
        let now = if before == 2 && c.is_ascii_digit() { 2 } else { kind(c) };
        if now != before || now == 3 {
            if before != 0 {
                tokens.push(words[begin..at].trim_end_matches('.'));
            }
            begin = at;
        }
        before = now;
    }
    tokens
}

/// A treatment's words speak of cold and nothing else, or of no treatment.
#[must_use]
pub fn cold_alone(words: &str) -> bool {
    let words = words.to_lowercase();
    let known = |token: &&str| {
        let begins = ["cold", "chill", "strat", "fridge", "refrigerat", "moist", "damp", "wet", "day", "week", "un"];
        let alone = [
            "d", "w", "wk", "wks", "c", "f", "°c", "°f", "in", "at", "for", "the", "of", "none", "no", "not", "without", "control",
        ];
        token.starts_with(|c: char| c.is_ascii_digit())
            || alone.contains(token)
            || begins.iter().any(|sign| token.starts_with(sign))
    };
    tokens(&words).iter().all(known)
}

/// How long a trial's seeds are to be chilled: its own treatment is nearer to the box than what its lot is said to want.
#[must_use]
pub(super) fn plan(trial: &Trial, lot: Option<&Lot>) -> Option<ChillPlan> {
    let of_lot = || lot.and_then(|lot| lot.chill_days).map(|days| ChillPlan { days, by: PlanBy::Lot });
    match trial.container.treatment.as_ref().map(|words| cold_in_words(words.as_str())) {
        Some(TreatmentCold::Days(days)) => Some(ChillPlan { days, by: PlanBy::Treatment }),
        _ => of_lot(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_treatments_days_are_read_where_they_can_mean_one_thing_only() {
        for (words, days) in [
            ("30 d cold moist", 30.0),
            ("cold 30d", 30.0),
            ("8 weeks moist chilling", 56.0),
            ("C(60)", 60.0),
            ("Chilled, 4 °C, 45 days", 45.0),
            ("GA3 500 ppm, then 30 d cold", 30.0),
            ("stratified 0 days", 0.0),
            ("cold moist 10.5 d.", 10.5),
        ] {
            assert_eq!(cold_in_words(words), TreatmentCold::Days(days), "{words}");
        }
        for words in [
            "cold moist",
            "30–60 d cold",
            "30 to 60 days cold",
            "60 d warm, 90 d cold",
            "2 months cold",
            "not chilled 30 d",
            "unchilled, 30 d cold",
            "30 d in the freezer, cold",
            "3 x 20 seeds, 30 d cold",
            "cold 30 days at 4",
        ] {
            assert_eq!(cold_in_words(words), TreatmentCold::Unclear, "{words}");
        }
        for words in ["none", "scarified", "30 d", "", "not chilled", "unchilled", "no cold"] {
            assert_eq!(cold_in_words(words), TreatmentCold::Nothing, "{words}");
        }
        assert!(["30 d cold moist", "none", "untreated", "C(60)", "not chilled"].into_iter().all(cold_alone));
        assert!(!["scarified", "GA3 500 ppm, then 30 d cold", "smoke"].into_iter().any(cold_alone));
        assert_eq!(cold_in_words("60 d dry cold"), TreatmentCold::Dry);
    }
}
