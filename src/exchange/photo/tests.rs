//! Made-up pictures, as cameras and strangers send them.

use super::*;
use image::codecs::png::PngEncoder;
use image::{ExtendedColorType, ImageEncoder as _, Rgb};
use proptest::prelude::*;

/// Dark above on the left, red above on the right, blue below on the left, white below on the right.
fn quarters(width: u32, height: u32) -> RgbImage {
    RgbImage::from_fn(width, height, |x, y| {
        Rgb(match (x < width / 2, y < height / 2) {
            (true, true) => [0, 0, 0],
            (false, true) => [220, 0, 0],
            (true, false) => [0, 0, 220],
            (false, false) => [255, 255, 255],
        })
    })
}

/// Every pixel another colour, by a fixed rule: what JPEG is worst at.
fn noise(width: u32, height: u32) -> RgbImage {
    let mut state = 1_u32;
    RgbImage::from_fn(width, height, |_, _| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let [_, red, green, blue] = state.to_be_bytes();
        Rgb([red, green, blue])
    })
}

fn jpeg(picture: &RgbImage) -> Vec<u8> {
    let mut file = Vec::new();
    JpegEncoder::new_with_quality(&mut file, 95).encode_image(picture).unwrap();
    file
}

fn png_of(pixels: &[u8], width: u32, height: u32, colour: ExtendedColorType) -> Vec<u8> {
    let mut file = Vec::new();
    PngEncoder::new(&mut file).write_image(pixels, width, height, colour).unwrap();
    file
}

const CAMERA: &[u8] = b"A camera of somebody";

/// The Exif block of a camera held on its side, with its name and with a place (Exif 2.32, 4.6: TIFF, little endian; tags 0x010F
/// maker, 0x0112 orientation, 0x8825 place, there 1 and 2: latitude, 52° 31′ 12″ N).
fn exif(orientation: u16) -> Vec<u8> {
    let entry = |tag: u16, kind: u16, count: u32, value: u32| {
        [&tag.to_le_bytes()[..], &kind.to_le_bytes(), &count.to_le_bytes(), &value.to_le_bytes()].concat()
    };
    let (maker_at, place_at) = (50_u32, 50 + CAMERA.len() as u32);
    let latitude_at = place_at + 2 + 2 * 12 + 4;
    let mut block = b"Exif\0\0II*\0\x08\0\0\0".to_vec();
    block.extend(3_u16.to_le_bytes());
    block.extend(entry(0x010f, 2, CAMERA.len() as u32, maker_at));
    block.extend(entry(0x0112, 3, 1, orientation.into()));
    block.extend(entry(0x8825, 4, 1, place_at));
    block.extend([0; 4]);
    assert_eq!(block.len(), 6 + maker_at as usize);
    block.extend(CAMERA);
    block.extend(2_u16.to_le_bytes());
    block.extend(entry(1, 2, 2, u32::from(b'N')));
    block.extend(entry(2, 5, 3, latitude_at));
    block.extend([0; 4]);
    [52_u32, 1, 31, 1, 12, 1].iter().for_each(|number| block.extend(number.to_le_bytes()));
    block
}

fn with_segment(jpeg: &[u8], marker: u8, block: &[u8]) -> Vec<u8> {
    let length = u16::try_from(block.len() + 2).unwrap().to_be_bytes();
    [&jpeg[..2], &[0xff, marker], &length, block, &jpeg[2..]].concat()
}

fn decoded(photo: &SmallPhoto) -> RgbImage {
    image::load_from_memory_with_format(&photo.jpeg, ImageFormat::Jpeg).unwrap().to_rgb8()
}

/// What is at the middle of a quarter, as the nearest of the four colours.
fn at(picture: &RgbImage, right: u32, below: u32) -> char {
    let [red, green, blue] = picture.get_pixel(picture.width() * (1 + 2 * right) / 4, picture.height() * (1 + 2 * below) / 4).0;
    match (red > 128, green > 128, blue > 128) {
        (false, false, false) => 'k',
        (true, false, false) => 'r',
        (false, false, true) => 'b',
        (true, true, true) => 'w',
        _ => '?',
    }
}

fn seen(picture: &RgbImage) -> [char; 4] {
    [at(picture, 0, 0), at(picture, 1, 0), at(picture, 0, 1), at(picture, 1, 1)]
}

/// The markers of a JPEG file up to its scan.
fn markers(jpeg: &[u8]) -> Vec<u8> {
    let (mut at, mut found) = (2, Vec::new());
    while jpeg[at + 1] != 0xda {
        found.push(jpeg[at + 1]);
        at += 2 + usize::from(u16::from_be_bytes([jpeg[at + 2], jpeg[at + 3]]));
    }
    found
}

#[test]
fn a_photo_is_turned_as_the_camera_was_held() {
    // Exif 2.32, table of Orientation: where the picture's 0th row and 0th column are to be seen.
    let turned = [
        (1, ['k', 'r', 'b', 'w']),
        (2, ['r', 'k', 'w', 'b']),
        (3, ['w', 'b', 'r', 'k']),
        (4, ['b', 'w', 'k', 'r']),
        (5, ['k', 'b', 'r', 'w']),
        (6, ['b', 'k', 'w', 'r']),
        (7, ['w', 'r', 'b', 'k']),
        (8, ['r', 'w', 'k', 'b']),
    ];
    for (orientation, expected) in turned {
        let photo = small_photo(&with_segment(&jpeg(&quarters(80, 40)), 0xe1, &exif(orientation))).unwrap();
        assert_eq!(seen(&decoded(&photo)), expected, "orientation {orientation}");
        let size = if orientation < 5 { (80, 40) } else { (40, 80) };
        assert_eq!((photo.width, photo.height), size, "orientation {orientation}");
    }
}

#[test]
fn nothing_but_the_picture_is_left_of_what_a_camera_wrote() {
    let mut file = with_segment(&jpeg(&quarters(80, 40)), 0xe1, &exif(6));
    file = with_segment(&file, 0xe1, b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta>home</x:xmpmeta>");
    file = with_segment(&file, 0xed, b"Photoshop 3.0\0somebody");
    file = with_segment(&file, 0xfe, b"a comment");
    file.extend(b"what a phone puts behind the picture");
    let held = |file: &[u8], words: &[u8]| file.windows(words.len()).any(|some| some == words);
    let photo = small_photo(&file).unwrap();
    for words in [&b"Exif"[..], CAMERA, b"xmpmeta", b"Photoshop", b"a comment", b"behind the picture"] {
        assert!(held(&file, words) && !held(&photo.jpeg, words), "{}", String::from_utf8_lossy(words));
    }
    // Only JFIF's own block, tables and the picture (ITU-T T.81, table B.1).
    assert!(markers(&photo.jpeg).iter().all(|marker| [0xe0, 0xdb, 0xc0, 0xc4].contains(marker)), "{:x?}", markers(&photo.jpeg));
}

#[test]
fn a_large_photo_becomes_small_and_a_small_one_stays_as_large() {
    let photo = small_photo(&jpeg(&quarters(4000, 3000))).unwrap();
    assert_eq!((photo.width, photo.height), (1600, 1200));
    assert_eq!(seen(&decoded(&photo)), ['k', 'r', 'b', 'w']);
    let photo = small_photo(&jpeg(&quarters(300, 1700))).unwrap();
    assert_eq!((photo.width, photo.height), (282, 1600));
    let photo = small_photo(&jpeg(&quarters(31, 17))).unwrap();
    assert_eq!((photo.width, photo.height), (31, 17));
}

#[test]
fn what_would_take_too_many_bytes_gets_less_quality_and_then_fewer_pixels() {
    let photo = small_photo(&jpeg(&noise(1600, 1200))).unwrap();
    assert!(photo.jpeg.len() <= PHOTO_BYTES, "{}", photo.jpeg.len());
    assert!(photo.width < 1600 && photo.width > 600, "{}", photo.width);
    assert_eq!(decoded(&photo).dimensions(), (photo.width, photo.height));
}

#[test]
fn a_png_is_taken_with_white_where_it_is_clear() {
    let clear = [0, 0, 0, 0, 200, 0, 0, 255].repeat(32);
    let photo = small_photo(&png_of(&clear, 8, 8, ExtendedColorType::Rgba8)).unwrap();
    assert!(decoded(&photo).get_pixel(0, 0).0.iter().all(|value| *value > 150), "{:?}", decoded(&photo).get_pixel(0, 0));
    let grey = png_of(&[128; 64], 8, 8, ExtendedColorType::L8);
    assert_eq!(small_photo(&grey).map(|photo| (photo.width, photo.height)), Ok((8, 8)));
    assert_eq!(small_photo(&grey[..grey.len() - 20]), Err(PhotoFault::Damaged("PNG")));
}

#[test]
fn a_file_that_breaks_off_is_refused_wherever_it_does() {
    let file = with_segment(&jpeg(&noise(64, 64)), 0xe1, &exif(6));
    for kept in (3..file.len()).step_by(97).chain([file.len() - 2, file.len() - 1]) {
        assert_eq!(small_photo(&file[..kept]), Err(PhotoFault::Damaged("JPEG")), "{kept} bytes of {}", file.len());
    }
    assert!(small_photo(&file).is_ok());
}

#[test]
fn a_file_that_claims_too_many_pixels_is_refused_before_it_is_read() {
    let mut file = jpeg(&quarters(16, 16));
    let frame = file.windows(2).position(|two| two == [0xff, 0xc0]).unwrap();
    file[frame + 5..frame + 9].copy_from_slice(&[0x4e, 0x20, 0x4e, 0x20]);
    assert_eq!(small_photo(&file), Err(PhotoFault::TooLarge { width: 20_000, height: 20_000 }));
    // PNG, 5.3 and 11.2.2: the header block with its checksum; crc by ISO/IEC 3309, as the standard's annex has it.
    let mut header = b"IHDR\0\0\x4e\x20\0\0\x4e\x20\x08\x02\0\0\0".to_vec();
    let sum = crc_of(&header);
    header.extend(sum.to_be_bytes());
    let data = [&[0, 0, 0, 0][..], b"IDAT", &crc_of(b"IDAT").to_be_bytes()].concat();
    let file = [&b"\x89PNG\r\n\x1a\n\0\0\0\x0d"[..], &header, &data].concat();
    assert_eq!(small_photo(&file), Err(PhotoFault::TooLarge { width: 20_000, height: 20_000 }));
}

fn crc_of(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |sum, byte| {
        (0..8).fold(sum ^ u32::from(*byte), |sum, _| if sum & 1 == 1 { 0xedb8_8320 ^ (sum >> 1) } else { sum >> 1 })
    })
}

#[test]
fn what_is_no_photo_is_said_plainly() {
    let told = |file: &[u8]| small_photo(file).map_err(|fault| format!("{fault}; next: {}", fault.next())).unwrap_err();
    assert_eq!(told(b""), "the file is empty; next: choose another file, or take the photograph anew");
    assert_eq!(
        told(b"container,time,sprouted\n"),
        "this file is no photograph: neither a JPEG nor a PNG picture; next: choose another file, or take the photograph anew"
    );
    assert_eq!(
        told(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic"),
        "HEIC pictures cannot be read here, only JPEG and PNG; next: set the camera to JPEG (\"most compatible\"), or save the picture \
         as JPEG and choose that"
    );
    for (file, word) in [(&b"RIFF\x1a\0\0\0WEBPVP8L"[..], "WebP"), (b"GIF89a", "GIF"), (b"\0\0\0\x18ftypavif", "AVIF")] {
        assert_eq!(small_photo(file), Err(PhotoFault::Format(word)));
    }
    assert_eq!(small_photo(b"\0\0\0\x18ftypisom"), Err(PhotoFault::NoPhoto));
    assert!(told(b"\xff\xd8\xff").starts_with("this JPEG picture breaks off or is damaged; next: copy the file once more"));
}

proptest! {
    #[test]
    fn random_bytes_never_panic_and_are_never_a_photo(file in prop::collection::vec(any::<u8>(), 0..600), head in 0_usize..4) {
        let head: &[u8] = [&b""[..], b"\xff\xd8\xff\xe0", b"\x89PNG\r\n\x1a\n", b"\0\0\0\x18ftyp"][head];
        prop_assert!(small_photo(&[head, &file].concat()).is_err());
    }

    #[test]
    fn a_photo_with_garbled_bytes_is_small_or_refused(garbled in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..20)) {
        let mut file = with_segment(&jpeg(&quarters(48, 32)), 0xe1, &exif(8));
        for (at, byte) in garbled {
            let at = at.index(file.len());
            file[at] = byte;
        }
        if let Ok(photo) = small_photo(&file) {
            prop_assert!(photo.jpeg.len() <= PHOTO_BYTES && photo.width.max(photo.height) <= PHOTO_SIDE);
        }
    }
}
