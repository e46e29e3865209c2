//! The usual cautions, in one table with their sources: one line in place, the whole text once. Never a claim of legality or safety.

use std::collections::BTreeSet;

use crate::bench::Container;
use crate::diagnosis::{Caution, Finding, caution_of_plant, cautions_in_words};

/// One caution.
#[derive(Debug, Clone, Copy)]
struct Row {
    caution: Caution,
    /// The one line beside an advice.
    in_place: &'static str,
    /// The whole text.
    in_full: &'static str,
    /// On whose word; what nobody in particular says is common practice.
    sources: &'static [&'static str],
}

const COMMON: &str = "common practice";

const TABLE: [Row; Caution::ALL.len()] = [
    Row {
        caution: Caution::Heat,
        in_place: "Heat mat or lamp: thermostat with its probe in the mix, an RCD/GFCI in the supply, nothing over the mat.",
        in_full: "Adding warmth. Use a waterproof mat listed by a testing laboratory, never a household heating pad. Put the thermostat's \
                  probe in the mix; a probe that falls out or dries lets the mat run away. Do not lay the mat on foam or under plastic. Look \
                  over the cord, leave a drip loop, use an RCD/GFCI, keep a smoke alarm. A lamp's bulb can be over 249 °C: keep it clear of \
                  domes, paper and fleece, guarded, hung by two supports, dry, and not alone. seedclock logs and advises; it never switches \
                  heat. Local electrical codes and a licensed electrician come first.",
        sources: &[
            "extension-service pages on heat mats",
            "a grower's report of a near-fire",
            "a trade page on lamps (surface temperature)",
            COMMON,
        ],
    },
    Row {
        caution: Caution::Mould,
        in_place: "Mould: open the box outdoors or with a mask if you are asthmatic or your defences are low; never sniff it; wash hands.",
        in_full: "Mould. White mould on the surface is mostly harmless and a sign of too much water. Take mouldy seeds out outdoors or with a \
                  mask if you are asthmatic or your defences are low, never sniff a box, wash your hands. Seed dyed an unnatural colour has been \
                  treated: wear gloves, keep it from children and animals, and follow its label.",
        sources: &["Iowa State University Extension (surface mould)", COMMON],
    },
    Row {
        caution: Caution::Chemicals,
        in_place: "Chemicals: gloves and goggles, the label's own rules first, labelled vessels away from food and children; acid is for a laboratory.",
        in_full: "Chemicals. Gibberellic acid, saltpetre, peroxide, bleach and the like: wear gloves and goggles, follow the label and local rules, never \
                  mix bleach with acid or ammonia, keep labelled vessels away from food, children and animals, and put what is left where your \
                  council takes it. Scarifying with sulphuric acid is for a laboratory.",
        sources: &[COMMON],
    },
    Row {
        caution: Caution::Cold,
        in_place: "Cold for damp seed: moist and just above freezing, never the freezer; nothing treated or poisonous loose among food.",
        in_full: "Chilling. It is moisture, air and cold just above freezing, for weeks, that does it: never put damp seed into the freezer, and do \
                  not take dry cold for it. Keep the medium damp, not dripping, at 1 to 5 °C, away from the wall that ices up. In a fridge that \
                  holds food keep seeds in a closed, labelled box of their own, and nothing there that is treated or poisonous: seed dyed an \
                  unnatural colour has been treated, and its label comes first. Look once a week for sprouts and mould. The days that are named \
                  for a species are what others found; lots differ.",
        sources: &[
            "nurseries' code sheets (cold moist, refrigerator at 1 to 5 °C)",
            "University of Minnesota Extension (not the freezer)",
            "HortScience 58(6):614, 2023 (dry cold)",
            COMMON,
        ],
    },
    Row {
        caution: Caution::Treated,
        in_place: "Treated seed: gloves, out of reach of children and animals, never for food or feed, no leftovers on the compost; its label and \
                   your local rules come first.",
        in_full: "Treated seed. Seed dyed an unnatural colour, or labelled as treated, carries a pesticide: wear gloves, never let children count \
                  or animals eat it, never use it for food, feed or oil, put no leftovers on the compost or out for birds. A skull and crossbones \
                  marks the most poisonous. Its label and your local rules come first.",
        sources: &["7 CFR 201.31a", "40 CFR 153.155(c)", "Minnesota Department of Agriculture"],
    },
    Row {
        caution: Caution::Saps,
        in_place: "This plant's sap or seed can harm: gloves, no hand near the eyes, wash after; children and animals away.",
        in_full: "Saps and seeds that harm. The sap of milkweeds and spurges can cloud the sight for days, and it begins hours later; seeds of castor bean and \
                  jequirity kill; foxglove and thorn apple are poisonous; chillies burn. Wear gloves, do not rub your eyes, wash hands and tools, keep \
                  children and animals away. Sap in the eye: rinse long, see an eye doctor, and name the plant. Swallowed: call a poison centre.",
        sources: &["Review of Optometry (a case of sap in the eye)", "University of Florida IFAS Extension, 2019", COMMON],
    },
    Row {
        caution: Caution::Mix,
        in_place: "Potting mix: open the bag away from your face, damp it before you handle it, wash your hands.",
        in_full: "Potting mix. Bagged mix can hold Legionella longbeachae, which is breathed in with dust: open the bag outdoors and away from your \
                  face, damp the mix before you handle it, wear gloves, and wash your hands before you eat, drink or smoke.",
        sources: &["labels of potting mix as Australian law wants them (from memory)"],
    },
];

/// The table's row; a caution that has none would not be found, which a test rules out.
fn row(caution: Caution) -> &'static Row {
    const NONE: Row = Row { caution: Caution::Heat, in_place: "", in_full: "", sources: &[] };
    TABLE.iter().find(|row| row.caution == caution).unwrap_or(&NONE)
}

/// The one line that goes beside an advice.
#[must_use]
pub fn in_place(caution: Caution) -> &'static str {
    row(caution).in_place
}

/// The whole text.
#[must_use]
pub fn in_full(caution: Caution) -> &'static str {
    row(caution).in_full
}

/// On whose word it is said.
#[must_use]
pub fn sources(caution: Caution) -> &'static [&'static str] {
    row(caution).sources
}

/// The cautions beside a finding: that of its advice, and where seeds are to be handled what their plant and their treatment call for.
#[must_use]
pub fn cautions_beside(finding: &Finding, container: &Container) -> BTreeSet<Caution> {
    let mut cautions: BTreeSet<Caution> = finding.caution.into_iter().collect();
    if finding.advice.as_ref().is_some_and(|advice| advice.touches_seeds()) {
        cautions.extend(of_seeds(container.species.as_str(), container.treatment.iter().map(|words| words.as_str())));
    }
    cautions
}

/// What seeds of this plant, of which these words were said, call for when they are handled.
pub(super) fn of_seeds<'a>(species: &str, words: impl Iterator<Item = &'a str>) -> BTreeSet<Caution> {
    words.flat_map(cautions_in_words).chain(caution_of_plant(species)).collect()
}

/// Lines of cautions one after the other.
#[must_use]
pub fn lines_of(cautions: &BTreeSet<Caution>) -> Option<String> {
    let lines: Vec<&str> = cautions.iter().map(|caution| in_place(*caution)).collect();
    (!lines.is_empty()).then(|| lines.join(" "))
}

#[cfg(test)]
mod tests;
