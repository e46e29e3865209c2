//! Photographs as cameras make them → small JPEG pictures with nothing but the picture in them.

use std::io::Cursor;
use std::sync::{Mutex, PoisonError};

use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageError, ImageFormat, ImageReader, Limits, RgbImage};
use thiserror::Error;

/// The longer side of what is kept, pixels: a seedling is told from mould, and a phone's screen is filled.
pub const PHOTO_SIDE: u32 = 1600;
/// Bytes of what is kept, at most.
pub const PHOTO_BYTES: usize = 300_000;
/// Pixels of what is read, at most: cameras of phones make 12 to 50 million.
const PIXELS: u64 = 52_000_000;
/// Memory that reading may take; a small computer has half a gigabyte in all.
const MEMORY: u64 = 256 << 20;
/// Qualities, the best first; below the last one blocks show, and a smaller picture is the better one.
const QUALITIES: [u8; 5] = [85, 78, 70, 60, 50];
/// How much smaller where no quality is enough.
const SMALLER: f64 = 0.8;

/// One at a time: a few large ones at once would take all memory of a small computer.
static DECODING: Mutex<()> = Mutex::new(());

/// A photograph as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SmallPhoto {
    /// JPEG without anything beside the picture.
    pub jpeg: Vec<u8>,
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
}

/// Why a file is not taken as a photograph.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PhotoFault {
    /// Nothing was sent.
    #[error("the file is empty")]
    Empty,
    /// A format that is not read here.
    #[error("{0} pictures cannot be read here, only JPEG and PNG")]
    Format(&'static str),
    /// It is none.
    #[error("this file is no photograph: neither a JPEG nor a PNG picture")]
    NoPhoto,
    /// It ends too early, or is garbled.
    #[error("this {0} picture breaks off or is damaged")]
    Damaged(&'static str),
    /// More pixels or memory than is read.
    #[error("the picture has {width} × {height} pixels; at most 52 million are read")]
    TooLarge {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
}

impl PhotoFault {
    /// What to do.
    #[must_use]
    pub fn next(&self) -> &'static str {
        match self {
            Self::Empty | Self::NoPhoto => "choose another file, or take the photograph anew",
            Self::Format(_) => "set the camera to JPEG (\"most compatible\"), or save the picture as JPEG and choose that",
            Self::Damaged(_) => "copy the file once more from the camera, or take the photograph anew",
            Self::TooLarge { .. } => "make it smaller first, or set the camera to fewer pixels",
        }
    }
}

/// Makes a photograph small: read within limits, turned as the camera held it, at most [`PHOTO_SIDE`] pixels long and [`PHOTO_BYTES`]
/// bytes. Of what the camera wrote beside it (place, time, name of the camera) nothing is left.
///
/// # Errors
/// [`PhotoFault`].
pub fn small_photo(file: &[u8]) -> Result<SmallPhoto, PhotoFault> {
    let format = format_of(file)?;
    let word = if format == ImageFormat::Png { "PNG" } else { "JPEG" };
    if format == ImageFormat::Jpeg && !is_whole_jpeg(file) {
        return Err(PhotoFault::Damaged(word));
    }
    let _one_at_a_time = DECODING.lock().unwrap_or_else(PoisonError::into_inner);
    let mut reader = ImageReader::with_format(Cursor::new(file), format);
    reader.limits(limits());
    let mut decoder = reader.into_decoder().map_err(|error| fault(&error, word, (0, 0)))?;
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > PIXELS || decoder.total_bytes() > MEMORY {
        return Err(PhotoFault::TooLarge { width, height });
    }
    let turned = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let whole = DynamicImage::from_decoder(decoder).map_err(|error| fault(&error, word, (width, height)))?;
    let mut small = within(whole, PHOTO_SIDE);
    small.apply_orientation(turned);
    encoded(on_white(small)).ok_or(PhotoFault::Damaged(word))
}

fn limits() -> Limits {
    let mut limits = Limits::default();
    limits.max_alloc = Some(MEMORY);
    limits
}

fn fault(error: &ImageError, word: &'static str, (width, height): (u32, u32)) -> PhotoFault {
    match error {
        ImageError::Limits(_) => PhotoFault::TooLarge { width, height },
        _ => PhotoFault::Damaged(word),
    }
}

/// The format by the file's first bytes: its name proves nothing.
fn format_of(file: &[u8]) -> Result<ImageFormat, PhotoFault> {
    let brand = file.get(4..12).unwrap_or_default();
    match file {
        [] => Err(PhotoFault::Empty),
        [0xff, 0xd8, 0xff, ..] => Ok(ImageFormat::Jpeg),
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => Ok(ImageFormat::Png),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Err(PhotoFault::Format("WebP")),
        [b'G', b'I', b'F', b'8', ..] => Err(PhotoFault::Format("GIF")),
        // ISO/IEC 14496-12: a box 'ftyp' with the brand; those of ISO/IEC 23008-12 (HEIF) and of AV1 pictures.
        _ if brand.starts_with(b"ftyp") => match &brand[4..] {
            b"heic" | b"heix" | b"hevc" | b"hevx" | b"heim" | b"heis" | b"mif1" | b"msf1" => Err(PhotoFault::Format("HEIC")),
            b"avif" | b"avis" => Err(PhotoFault::Format("AVIF")),
            _ => Err(PhotoFault::NoPhoto),
        },
        _ => Err(PhotoFault::NoPhoto),
    }
}

/// Whether a JPEG file has an end (ITU-T T.81, B.1: segments up to a scan, whose data hold the marker FF D9 nowhere). The decoder
/// fills what is missing with grey and says nothing.
fn is_whole_jpeg(file: &[u8]) -> bool {
    let mut at = 2;
    while let Some(&[0xff, marker, high, low]) = file.get(at..at + 4).and_then(|four| four.first_chunk::<4>()) {
        match marker {
            // A fill byte.
            0xff => at += 1,
            0xda => return file[at..].windows(2).any(|two| two == [0xff, 0xd9]),
            _ => at += 2 + usize::from(u16::from_be_bytes([high, low])),
        }
    }
    false
}

fn within(picture: DynamicImage, side: u32) -> DynamicImage {
    if picture.width().max(picture.height()) > side { picture.thumbnail(side, side) } else { picture }
}

/// Without transparency, which JPEG has not.
fn on_white(picture: DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.to_rgb8();
    }
    let picture = picture.to_rgba8();
    RgbImage::from_fn(picture.width(), picture.height(), |x, y| {
        let [red, green, blue, alpha] = picture.get_pixel(x, y).0.map(u32::from);
        let over = |value: u32| ((value * alpha + 255 * (255 - alpha)) / 255) as u8;
        image::Rgb([over(red), over(green), over(blue)])
    })
}

/// As JPEG of as few bytes as are wanted: first with less quality, then smaller.
fn encoded(mut picture: RgbImage) -> Option<SmallPhoto> {
    loop {
        for quality in QUALITIES {
            let mut jpeg = Vec::new();
            JpegEncoder::new_with_quality(&mut jpeg, quality).encode_image(&picture).ok()?;
            if jpeg.len() <= PHOTO_BYTES {
                return Some(SmallPhoto { jpeg, width: picture.width(), height: picture.height() });
            }
        }
        let side = (f64::from(picture.width().max(picture.height())) * SMALLER) as u32;
        picture = within(DynamicImage::ImageRgb8(picture), side.max(1)).to_rgb8();
    }
}

#[cfg(test)]
mod tests;
