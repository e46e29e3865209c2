//! The usual cautions: one line in place, the whole text once. Never a claim of legality or safety.

use crate::diagnosis::Caution;

/// Beside advice to chill seeds (common practice; that freezing breaks no dormancy: University of Minnesota Extension).
pub(super) const CHILLING: &str = "Chill moist and just above freezing (1 to 5 °C), never in the freezer; look for mould. In a fridge with \
                                   food: no treated or poisonous seed loose, but in a sealed box with a label.";
/// Beside seed that was treated (7 CFR 201.31a and 40 CFR 153.155 on its colour and label).
pub(super) const TREATED: &str = "Treated seed: gloves, out of reach of children and animals, never for food or feed, no leftovers on the \
                                  compost; its label and your local rules come first.";

/// The one line that goes beside an advice.
#[must_use]
pub fn in_place(caution: Caution) -> &'static str {
    match caution {
        Caution::Heat => "Heat mat or lamp: thermostat with its probe in the mix, an RCD/GFCI in the supply, nothing over the mat.",
        Caution::Cold => {
            "Cold for damp seed: moist and just above freezing, never the freezer; nothing treated or poisonous loose among food."
        }
        Caution::Mould => {
            "Mould: open the box outdoors or with a mask if you are asthmatic or your defences are low; never sniff it; wash hands."
        }
        Caution::Chemicals => {
            "Chemicals: gloves and goggles, the label's own rules first, labelled vessels away from food and children; acid is for a laboratory."
        }
    }
}

/// The whole text. Sources: extension-service pages and a grower's report of a near-fire for mats; lamp surface temperature from a
/// trade page; for chilling nurseries' code sheets (cold moist, refrigerator at 1 to 5 °C, not the freezer) and extension advice against
/// freezing; for treated seed 7 CFR 201.31a and 40 CFR 153.155(c); the rest, sealed and labelled boxes among it, is common practice.
#[must_use]
pub fn in_full(caution: Caution) -> &'static str {
    match caution {
        Caution::Heat => {
            "Adding warmth. Use a waterproof mat listed by a testing laboratory, never a household heating pad. Put the thermostat's \
             probe in the mix; a probe that falls out or dries lets the mat run away. Do not lay the mat on foam or under plastic. Look \
             over the cord, leave a drip loop, use an RCD/GFCI, keep a smoke alarm. A lamp's bulb can be over 249 °C: keep it clear of \
             domes, paper and fleece, guarded, hung by two supports, dry, and not alone. seedclock logs and advises; it never switches \
             heat. Local electrical codes and a licensed electrician come first."
        }
        Caution::Cold => {
            "Chilling. It is moisture, air and cold just above freezing, for weeks, that does it: never put damp seed into the freezer, and do \
             not take dry cold for it. Keep the medium damp, not dripping, at 1 to 5 °C, away from the wall that ices up. In a fridge that \
             holds food keep seeds in a closed, labelled box of their own, and nothing there that is treated or poisonous: seed dyed an \
             unnatural colour has been treated, and its label comes first. Look once a week for sprouts and mould. The days that are named \
             for a species are what others found; lots differ."
        }
        Caution::Mould => {
            "Mould. White mould on the surface is mostly harmless and a sign of too much water. Take mouldy seeds out outdoors or with a \
             mask if you are asthmatic or your defences are low, never sniff a box, wash your hands. Seed dyed an unnatural colour has been \
             treated: wear gloves, keep it from children and animals, and follow its label."
        }
        Caution::Chemicals => {
            "Chemicals. Gibberellic acid, saltpetre, peroxide, bleach and the like: wear gloves and goggles, follow the label and local rules, never \
             mix bleach with acid or ammonia, keep labelled vessels away from food, children and animals, and put what is left where your \
             council takes it. Scarifying with sulphuric acid is for a laboratory."
        }
    }
}
