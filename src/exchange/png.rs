//! Figures as PNG pictures, for programs that take no SVG.

use std::sync::{Arc, LazyLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};
use thiserror::Error;

use crate::charts::{FONT, FONT_FAMILY};

/// More pixels along one side than this are not made: 16384² take a gigabyte.
const LONGEST: f32 = 16_384.0;

/// Only the built-in font, so that a figure looks the same on every machine. Without any font, words vanish silently.
static FONTS: LazyLock<Arc<fontdb::Database>> = LazyLock::new(|| {
    let mut fonts = fontdb::Database::new();
    fonts.load_font_data(FONT.to_vec());
    fonts.set_sans_serif_family(FONT_FAMILY);
    Arc::new(fonts)
});

/// Why there is no picture.
#[derive(Debug, Error)]
pub enum PngError {
    /// The text is not an SVG figure.
    #[error("cannot draw the figure: {0}")]
    Figure(String),
    /// A picture of this many pixels cannot be made.
    #[error("cannot draw a picture of {width:.0} × {height:.0} pixels; at most 16384 each way")]
    Size {
        /// Pixels across.
        width: f32,
        /// Pixels down.
        height: f32,
    },
}

/// A figure as a PNG picture with so many pixels for each of its units: 1 makes 1280 across of a wide figure.
///
/// # Errors
/// The text is no SVG, or the picture would be empty or too large.
pub fn png(svg: &str, pixels_per_unit: f32) -> Result<Vec<u8>, PngError> {
    let options = Options { fontdb: Arc::clone(&FONTS), font_family: FONT_FAMILY.to_owned(), ..Options::default() };
    let tree = Tree::from_str(svg, &options).map_err(|error| PngError::Figure(error.to_string()))?;
    let (width, height) = (tree.size().width() * pixels_per_unit, tree.size().height() * pixels_per_unit);
    let size = PngError::Size { width, height };
    if !(1.0..=LONGEST).contains(&width) || !(1.0..=LONGEST).contains(&height) {
        return Err(size);
    }
    let Some(mut picture) = Pixmap::new(width.round() as u32, height.round() as u32) else { return Err(size) };
    resvg::render(&tree, Transform::from_scale(pixels_per_unit, pixels_per_unit), &mut picture.as_mut());
    picture.encode_png().map_err(|error| PngError::Figure(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_figure_is_refused() {
        assert!(png("<p>hello", 1.0).unwrap_err().to_string().starts_with("cannot draw the figure: "));
        let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"/>"#;
        assert_eq!(
            png(svg, 1e6).unwrap_err().to_string(),
            "cannot draw a picture of 10000000 × 10000000 pixels; at most 16384 each way"
        );
        assert!(png(svg, f32::NAN).is_err());
        assert_eq!(png(svg, 2.0).unwrap()[..8], *b"\x89PNG\r\n\x1a\n");
    }

    #[test]
    fn words_are_drawn_and_not_lost() {
        let svg = |words: &str| {
            format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 99 20\"><text style=\"font-family:Nowhere,sans-serif\" y=\"15\">{words}</text></svg>"
            )
        };
        let drawn = Pixmap::decode_png(&png(&svg("20 °C·d"), 1.0).unwrap()).unwrap();
        let blank = Pixmap::decode_png(&png(&svg(""), 1.0).unwrap()).unwrap();
        let inked = |picture: &Pixmap| picture.pixels().iter().filter(|pixel| pixel.alpha() > 0).count();
        assert_eq!(inked(&blank), 0);
        assert!(inked(&drawn) > 100, "{}", inked(&drawn));
    }
}
