//! Labels for lids and boxes, on sheets of paper to be cut up.

use askama::Template;

use super::qr::{QUIET_MODULES, code};
use super::text::{FAMILIES, clean, shortened, width, wrapped};

/// A label's width and height, mm.
const LABEL: (f64, f64) = (48.0, 25.0);
/// The room of a code with its quiet zone, and what is clear around it, mm: its modules take 18 mm of it at least.
const CODE: f64 = 23.0;
const AROUND: f64 = 1.0;
/// The smallest module that telephones read from an office printer's paper, mm (common practice, no source).
const SMALLEST_MODULE: f64 = 0.33;
/// Where words begin, and the room to the right of it, mm.
const WORDS_AT: f64 = 24.9;
const WORDS_ROOM: f64 = 22.3;
/// Heights of letters of a name, the largest first, and of the rest, mm.
const NAME_SIZES: [f64; 6] = [7.0, 6.0, 5.0, 4.2, 3.6, 3.0];
const WORDS_SIZE: f64 = 2.9;
/// How far letters reach above their line, with accents, and below it, in heights of letters (Open Sans).
const ASCENT: f64 = 0.98;
const DESCENT: f64 = 0.26;
/// Heights of what must stand on one line, such as a date.
const LINE_SIZES: [f64; 4] = [WORDS_SIZE, 2.6, 2.35, 2.2];

/// A sheet of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 × 11 inches.
    Letter,
}

impl Paper {
    /// Its word in options and on the page.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "letter",
        }
    }

    /// The paper of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::A4, Self::Letter].into_iter().find(|paper| paper.word() == word)
    }

    /// Labels across and down, with 8 mm clear at the edges.
    #[must_use]
    pub fn labels(self) -> (usize, usize) {
        match self {
            Self::A4 => (4, 11),
            Self::Letter => (4, 10),
        }
    }
}

/// What stands on a label.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    /// The name that lasts.
    pub name: String,
    /// Lines under it.
    pub species: String,
    /// Further lines, such as when it was sown.
    pub more: Vec<String>,
    /// What its code opens.
    pub address: String,
}

impl Label {
    /// Whether its code can be printed large enough.
    #[must_use]
    pub fn has_code(&self) -> bool {
        printable(&self.address).is_some()
    }
}

fn printable(address: &str) -> Option<(String, f64)> {
    let code = code(address)?;
    let module = CODE / (code.modules + 2 * QUIET_MODULES) as f64;
    (module >= SMALLEST_MODULE).then_some((code.path, module))
}

struct Drawn {
    x: f64,
    y: f64,
    code: Option<DrawnCode>,
    texts: Vec<Line>,
}

struct DrawnCode {
    at: f64,
    module: f64,
    path: String,
}

struct Line {
    y: f64,
    size: f64,
    bold: bool,
    words: String,
}

#[derive(Template)]
#[template(path = "labels.svg", config = "src/charts/askama.toml")]
struct Sheet {
    families: &'static str,
    title: String,
    width: f64,
    height: f64,
    words_at: f64,
    across: Vec<f64>,
    down: Vec<f64>,
    labels: Vec<Drawn>,
}

/// The labels on as many sheets as they need, each an SVG figure of 1 mm a unit that lies within the paper's margins. There is no style
/// in it, so that it can stand in a page that allows none.
#[must_use]
pub fn label_sheets(labels: &[Label], paper: Paper) -> Vec<String> {
    let (across, down) = paper.labels();
    let sheets = labels.chunks(across * down).map(|labels| {
        let rows = labels.len().div_ceil(across);
        let place = |(at, label): (usize, &Label)| drawn(label, (at % across) as f64 * LABEL.0, (at / across) as f64 * LABEL.1);
        let names: Vec<&str> = labels.iter().map(|label| label.name.as_str()).collect();
        let sheet = Sheet {
            families: FAMILIES,
            title: clean(&format!("Labels to cut out: {}", names.join(", "))),
            width: across as f64 * LABEL.0,
            height: rows as f64 * LABEL.1,
            words_at: WORDS_AT,
            across: (0..=across).map(|at| at as f64 * LABEL.0).collect(),
            down: (0..=rows).map(|at| at as f64 * LABEL.1).collect(),
            labels: labels.iter().enumerate().map(place).collect(),
        };
        // Nothing in the template can fail.
        sheet.render().unwrap_or_default()
    });
    sheets.collect()
}

fn drawn(label: &Label, x: f64, y: f64) -> Drawn {
    let name = clean(&label.name);
    let size = fitting(&name, &NAME_SIZES, BOLD);
    let names = if width(&name, size * BOLD) <= WORDS_ROOM { vec![name] } else { wrapped(&name, WORDS_ROOM / BOLD, size, 2) };
    let mut texts = Vec::new();
    let mut at = AROUND;
    let mut put = |words: String, size: f64, bold: bool| {
        texts.push(Line { y: at + size * ASCENT, size, bold, words });
        at += size * (ASCENT + DESCENT);
    };
    names.into_iter().for_each(|words| put(words, size, true));
    wrapped(&label.species, WORDS_ROOM, WORDS_SIZE, 2).into_iter().for_each(|words| put(words, WORDS_SIZE, false));
    for words in &label.more {
        let size = fitting(words, &LINE_SIZES, 1.0);
        put(shortened(words, WORDS_ROOM, size), size, false);
    }
    let code =
        printable(&label.address).map(|(path, module)| DrawnCode { at: AROUND + module * QUIET_MODULES as f64, module, path });
    if code.is_none() {
        put("no code".to_owned(), LINE_SIZES[LINE_SIZES.len() - 1], false);
    }
    Drawn { x, y, code, texts }
}

/// The largest of some sizes at which words stand on one line; the smallest where they do at none.
fn fitting(words: &str, sizes: &[f64], wider: f64) -> f64 {
    let fits = sizes.iter().find(|size| width(words, **size * wider) <= WORDS_ROOM);
    fits.or(sizes.last()).copied().unwrap_or(WORDS_SIZE)
}

/// How much wider letters run when they are bold (Open Sans Bold beside Regular, on names of ours).
const BOLD: f64 = 1.08;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_is_filled_before_the_next_begins_and_lies_within_the_paper() {
        let label =
            Label { name: "B3".to_owned(), species: "leek".to_owned(), more: vec![], address: "http://b/lid/B3".to_owned() };
        for (paper, (wide, high)) in [(Paper::A4, (210.0, 297.0)), (Paper::Letter, (215.9, 279.4))] {
            let (across, down) = paper.labels();
            assert!(across as f64 * LABEL.0 <= wide - 16.0 && down as f64 * LABEL.1 <= high - 16.0, "{paper:?}");
            let sheets = label_sheets(&vec![label.clone(); across * down + 1], paper);
            let counts: Vec<usize> = sheets.iter().map(|sheet| sheet.matches("font-weight").count()).collect();
            assert_eq!(counts, [across * down, 1]);
            assert!(sheets[1].contains("height=\"25mm\""), "{}", sheets[1]);
        }
        assert!(label_sheets(&[], Paper::A4).is_empty());
    }

    #[test]
    fn a_code_is_18_mm_at_least_with_its_quiet_zone_within_its_room() {
        for letters in [1, 40, 60, 100, 150, 230] {
            let address = format!("http://bench.lan/{:x>letters$}", "");
            let (_, module) = printable(&address).unwrap();
            let modules = code(&address).unwrap().modules as f64;
            assert!(modules * module >= 18.0 && (modules + 8.0) * module <= CODE + 1e-9 && module >= SMALLEST_MODULE, "{letters}");
        }
        assert!(printable(&format!("http://bench.lan/{:x>300}", "")).is_none());
    }

    #[test]
    fn the_longest_date_stands_on_a_label_whole() {
        let label = Label {
            name: "Q".repeat(80),
            species: "m".repeat(80),
            more: vec!["sown 28 Nov 2026".to_owned()],
            address: "x".to_owned(),
        };
        assert!(label_sheets(&[label], Paper::A4)[0].contains(">sown 28 Nov 2026</text>"));
    }

    #[test]
    fn a_label_without_room_for_its_code_says_so() {
        let long = Label { name: "x".repeat(80), species: "y".repeat(80), more: vec!["sown".to_owned()], address: "x".repeat(400) };
        assert!(!long.has_code());
        let sheet = &label_sheets(&[long], Paper::A4)[0];
        assert!(sheet.contains(">no code<") && !sheet.contains("crispEdges"), "{sheet}");
    }
}
