//! What the first bytes of a picture file say: its format, and how many pixels it has.
//!
//! Deliberately shallow: nothing is decoded, and what the picture shows is for people. Pure, and bounded by the length of the bytes.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A format of picture files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ImageFormat {
    /// JPEG.
    Jpeg,
    /// PNG.
    Png,
    /// WebP.
    Webp,
}

impl ImageFormat {
    /// Its name for people.
    pub fn words(self) -> &'static str {
        match self {
            Self::Jpeg => "JPEG",
            Self::Png => "PNG",
            Self::Webp => "WebP",
        }
    }

    /// How the names of its files end.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Jpeg => "jpg",
            Self::Png => "png",
            Self::Webp => "webp",
        }
    }
}

/// What a header says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ImageHeader {
    /// The format.
    pub format: ImageFormat,
    /// Width and height in pixels; `None` where the header does not say.
    pub size: Option<(u32, u32)>,
}

/// Reads the header. `None`: it is that of no format that is known here.
pub fn read(bytes: &[u8]) -> Option<ImageHeader> {
    let (format, size) = if bytes.starts_with(&[0xff, 0xd8, 0xff]) {
        (ImageFormat::Jpeg, jpeg_size(bytes))
    } else if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        (ImageFormat::Png, png_size(bytes))
    } else if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
        (ImageFormat::Webp, webp_size(bytes))
    } else {
        return None;
    };
    let has_pixels = |size: &(u32, u32)| size.0 > 0 && size.1 > 0;
    Some(ImageHeader {
        format,
        size: size.filter(has_pixels),
    })
}

fn be16(bytes: &[u8], at: usize) -> Option<u32> {
    let two: [u8; 2] = bytes.get(at..at.checked_add(2)?)?.try_into().ok()?;
    Some(u16::from_be_bytes(two).into())
}

fn be32(bytes: &[u8], at: usize) -> Option<u32> {
    let four: [u8; 4] = bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
    Some(u32::from_be_bytes(four))
}

/// So many bytes, the lowest first.
fn little_endian(bytes: &[u8], at: usize, count: usize) -> Option<u32> {
    let taken = bytes.get(at..at.checked_add(count)?)?;
    Some(taken.iter().rev().fold(0, |sum, byte| sum << 8 | u32::from(*byte)))
}

/// The header chunk must come first.
fn png_size(bytes: &[u8]) -> Option<(u32, u32)> {
    (bytes.get(12..16) == Some(b"IHDR")).then_some(())?;
    Some((be32(bytes, 16)?, be32(bytes, 20)?))
}

/// Goes from segment to segment up to the first frame header; each segment is longer than nothing, so this ends.
fn jpeg_size(bytes: &[u8]) -> Option<(u32, u32)> {
    let mut at = 2;
    loop {
        (*bytes.get(at)? == 0xff).then_some(())?;
        let marker = *bytes.get(at + 1)?;
        match marker {
            // Markers may be padded.
            0xff => at += 1,
            0x01 | 0xd0..=0xd7 => at += 2,
            // The tables of codes and arithmetic, and an extension, lie among the numbers of the frame headers.
            0xc0..=0xcf if !matches!(marker, 0xc4 | 0xc8 | 0xcc) => {
                return Some((be16(bytes, at + 7)?, be16(bytes, at + 5)?));
            }
            // The pixels, or the end, without a frame header before them.
            0xd8..=0xda => return None,
            _ => {
                let length = be16(bytes, at + 2)? as usize;
                (length >= 2).then_some(())?;
                at += 2 + length;
            }
        }
    }
}

fn webp_size(bytes: &[u8]) -> Option<(u32, u32)> {
    match bytes.get(12..16)? {
        b"VP8X" => Some((little_endian(bytes, 24, 3)? + 1, little_endian(bytes, 27, 3)? + 1)),
        b"VP8L" => {
            (*bytes.get(20)? == 0x2f).then_some(())?;
            let packed = little_endian(bytes, 21, 4)?;
            Some(((packed & 0x3fff) + 1, (packed >> 14 & 0x3fff) + 1))
        }
        b"VP8 " => {
            (bytes.get(23..26)? == [0x9d, 0x01, 0x2a]).then_some(())?;
            Some((
                little_endian(bytes, 26, 2)? & 0x3fff,
                little_endian(bytes, 28, 2)? & 0x3fff,
            ))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn says(bytes: &[u8]) -> Option<(ImageFormat, Option<(u32, u32)>)> {
        read(bytes).map(|header| (header.format, header.size))
    }

    fn jpeg() -> Vec<u8> {
        let start = [0xff, 0xd8, 0xff, 0xe0, 0, 4, 7, 7];
        // A table of codes, a padded marker, then the frame: 480 high, 640 wide.
        let table = [0xff, 0xc4, 0, 3, 7];
        let frame = [0xff, 0xff, 0xc2, 0, 11, 8, 1, 224, 2, 128, 1, 1, 17, 0];
        [&start[..], &table, &frame].concat()
    }

    fn png() -> Vec<u8> {
        [
            &b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR"[..],
            &[0, 0, 2, 128, 0, 0, 1, 224, 8, 2, 0, 0, 0],
        ]
        .concat()
    }

    fn webp(kind: &[u8], body: &[u8]) -> Vec<u8> {
        [&b"RIFF\x40\0\0\0WEBP"[..], kind, &[30, 0, 0, 0], body].concat()
    }

    #[test]
    fn width_and_height_are_read_from_each_format() {
        let size = Some((640, 480));
        assert_eq!(says(&jpeg()), Some((ImageFormat::Jpeg, size)));
        assert_eq!(says(&png()), Some((ImageFormat::Png, size)));
        let extended = webp(b"VP8X", &[0, 0, 0, 0, 0x7f, 2, 0, 0xdf, 1, 0]);
        assert_eq!(says(&extended), Some((ImageFormat::Webp, size)));
        let packed = (639_u32 | 479 << 14).to_le_bytes();
        let lossless = webp(b"VP8L", &[&[0x2f][..], &packed].concat());
        assert_eq!(says(&lossless), Some((ImageFormat::Webp, size)));
        let lossy = webp(b"VP8 ", &[0, 0, 0, 0x9d, 1, 0x2a, 0x80, 2, 0xe0, 0x41]);
        assert_eq!(
            says(&lossy),
            Some((ImageFormat::Webp, size)),
            "the scale is no part of it"
        );
    }

    #[test]
    fn what_is_cut_off_or_broken_has_no_size_and_what_is_no_picture_no_format() {
        for whole in [jpeg(), png(), webp(b"VP8X", &[0; 10])] {
            for length in 0..whole.len() {
                if let Some(header) = read(&whole[..length]) {
                    assert!(length < 30 || header.size.is_some(), "{length} of {whole:?}");
                }
            }
        }
        assert_eq!(
            says(&[0xff, 0xd8, 0xff, 0xe0, 0, 0, 0xff, 0xc0]),
            Some((ImageFormat::Jpeg, None))
        );
        assert_eq!(says(&[0xff, 0xd8, 0xff, 0xda, 0, 4]), Some((ImageFormat::Jpeg, None)));
        assert_eq!(
            says(b"\x89PNG\r\n\x1a\n\0\0\0\x0dIDAT\0\0\0\x01\0\0\0\x01"),
            Some((ImageFormat::Png, None))
        );
        assert_eq!(says(b"<html>"), None);
    }
}
