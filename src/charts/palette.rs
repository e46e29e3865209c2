//! Colours, and the style sheet that gives them to classes.
//!
//! The hues are those of Okabe M, Ito K (2008), Color Universal Design, <https://jfly.uni-koeln.de/color/> (values from memory). On each
//! ground only those stand for groups that reach a contrast of 3:1 with it (WCAG 2.2, 1.4.11); words are in ink, at 4.5:1 or
//! more (1.4.3).

use std::fmt::Write as _;

use super::{Look, Size};

const BLACK: &str = "#000000";
const ORANGE: &str = "#E69F00";
const SKY_BLUE: &str = "#56B4E9";
const GREEN: &str = "#009E73";
const YELLOW: &str = "#F0E442";
const BLUE: &str = "#0072B2";
const VERMILION: &str = "#D55E00";
const PURPLE: &str = "#CC79A7";

/// Groups that differ by colour, dash and marker together.
pub(super) const SIGNS: usize = 8;

/// Dashes by sign, in units of the wide figure; empty is solid.
pub(super) const DASHES: [&[f64]; SIGNS] = [
    &[],
    &[14.0, 9.0],
    &[0.1, 9.0],
    &[22.0, 8.0, 0.1, 8.0],
    &[30.0, 10.0],
    &[14.0, 8.0, 0.1, 8.0, 0.1, 8.0],
    &[6.0, 9.0],
    &[22.0, 8.0, 6.0, 8.0],
];

/// All colours of a look.
pub(super) struct Palette {
    pub(super) ground: &'static str,
    pub(super) ink: &'static str,
    /// For words that matter less, and for groups in the background.
    pub(super) quiet: &'static str,
    /// Lines that only guide the eye.
    pub(super) hair: &'static str,
    /// By sign.
    pub(super) groups: [&'static str; SIGNS],
    /// What is doubtful or too hot.
    pub(super) warn: &'static str,
}

/// The colours of a look.
pub(super) fn palette(look: Look) -> Palette {
    match look {
        Look::Light => Palette {
            ground: "#FFFFFF",
            ink: "#1C1C1C",
            quiet: "#5A5A5A",
            hair: "#DADADA",
            groups: [BLUE, VERMILION, GREEN, PURPLE, BLACK, BLUE, VERMILION, GREEN],
            warn: VERMILION,
        },
        Look::Print => Palette {
            ground: "#FFFFFF",
            ink: BLACK,
            quiet: "#404040",
            hair: "#C4C4C4",
            groups: [BLUE, VERMILION, GREEN, PURPLE, BLACK, BLUE, VERMILION, GREEN],
            warn: VERMILION,
        },
        Look::Dark => Palette {
            ground: "#12171C",
            ink: "#F4F4F4",
            quiet: "#B9BDC2",
            hair: "#39424B",
            groups: [SKY_BLUE, ORANGE, GREEN, PURPLE, YELLOW, SKY_BLUE, ORANGE, GREEN],
            warn: ORANGE,
        },
    }
}

pub(super) fn look_class(look: Look) -> &'static str {
    match look {
        Look::Light => "light",
        Look::Dark => "dark",
        Look::Print => "print",
    }
}

pub(super) fn size_class(size: Size) -> &'static str {
    match size {
        Size::Wide => "wide",
        Size::Narrow => "narrow",
    }
}

/// The style sheet of a look and size. Its rules begin with the figure's own classes, so that figures of several looks may stand in one
/// page and change nothing else there.
pub(super) fn style_sheet(look: Look, size: Size, text: f64, heading: f64) -> String {
    let colours = palette(look);
    let scope = format!(".figure.{}.{}", look_class(look), size_class(size));
    let unit: f64 = match size {
        Size::Wide => 1.0,
        Size::Narrow => 0.55,
    } * if look == Look::Print { 1.15 } else { 1.0 };
    let mut sheet = String::new();
    let mut rule = |selector: &str, declarations: String| {
        let _ = write!(sheet, "{scope} {selector}{{{declarations}}}");
    };
    let Palette { ground, ink, quiet, hair, groups, warn } = colours;
    rule("text", format!("font-family:{};font-size:{text}px;fill:{ink}", super::text::FAMILIES));
    rule(".heading", format!("font-size:{heading}px"));
    rule(".quiet", format!("fill:{quiet}"));
    rule(".ground", format!("fill:{ground}"));
    rule("path", "fill:none;stroke-linecap:round;stroke-linejoin:round".to_owned());
    rule(".hair", format!("stroke:{hair};stroke-width:{:.2}", 1.5 * unit));
    rule(".axis", format!("stroke:{ink};stroke-width:{:.2}", 3.0 * unit));
    rule(".mid", format!("stroke:{quiet};stroke-width:{:.2}", 2.0 * unit));
    rule(".other", format!("stroke:{quiet};stroke-width:{:.2};opacity:0.45", 1.5 * unit));
    rule(".still", format!("fill:{quiet};opacity:0.14"));
    rule(".doubt", format!("stroke:{warn};stroke-width:{:.2}", 2.5 * unit));
    rule(".line", format!("stroke-width:{:.2}", 4.0 * unit));
    rule(".fine", format!("stroke-width:{:.2}", 2.2 * unit));
    rule(".dot", format!("stroke-width:{:.2}", 2.5 * unit));
    rule(".edge", format!("stroke:{ground};stroke-width:{:.2}", 1.5 * unit));
    rule(".spot", format!("fill:{quiet}"));
    rule(".area", "opacity:0.3".to_owned());
    rule(".band", "opacity:0.16".to_owned());
    for (sign, colour) in groups.iter().enumerate() {
        rule(&format!(".stroke{sign}"), format!("stroke:{colour}"));
        rule(&format!(".fill{sign}"), format!("fill:{colour}"));
        rule(&format!(".full{sign}"), format!("fill:{colour};stroke:{colour}"));
        rule(&format!(".ring{sign}"), format!("fill:{ground};stroke:{colour}"));
        if !DASHES[sign].is_empty() {
            let dash: Vec<_> = DASHES[sign].iter().map(|length| format!("{:.1}", length * unit.max(0.7))).collect();
            rule(&format!(".dash{sign}"), format!("stroke-dasharray:{}", dash.join(" ")));
        }
    }
    sheet
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance (WCAG 2.2, definition; after sRGB, IEC 61966-2-1).
    fn luminance(colour: &str) -> f64 {
        let channel = |at: usize| {
            let part = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
            if part <= 0.04045 { part / 12.92 } else { ((part + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    }

    /// Contrast ratio (WCAG 2.2, definition).
    fn contrast(one: &str, other: &str) -> f64 {
        let (a, b) = (luminance(one), luminance(other));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn words_and_groups_stand_out_from_their_ground() {
        assert!((contrast("#000000", "#FFFFFF") - 21.0).abs() < 1e-9);
        assert!((contrast("#777777", "#FFFFFF") - 4.48).abs() < 0.005, "a grey that just fails, as commonly told");
        for look in [Look::Light, Look::Dark, Look::Print] {
            let palette = palette(look);
            for words in [palette.ink, palette.quiet] {
                assert!(contrast(words, palette.ground) >= 4.5, "{look:?}: {words}");
            }
            for group in palette.groups.iter().chain([&palette.warn]) {
                assert!(contrast(group, palette.ground) >= 3.0, "{look:?}: {group}: {}", contrast(group, palette.ground));
            }
        }
    }

    #[test]
    fn groups_of_one_hue_differ_by_their_dash() {
        for look in [Look::Light, Look::Dark, Look::Print] {
            let groups = palette(look).groups;
            for (a, b) in (0..SIGNS).flat_map(|a| (a + 1..SIGNS).map(move |b| (a, b))) {
                assert!(DASHES[a] != DASHES[b], "{look:?}: {a} and {b}, {} and {}", groups[a], groups[b]);
            }
        }
    }
}
