//! QR codes on a screen and back: an act drawn in a terminal or as PNG, and found again in a photograph.
//!
//! Always: a picture from outside is held to bounds before it is unpacked, and whatever stands in it, reading
//! it ends with bytes or with a sentence. In a terminal the colours are told, so that it is black on white also
//! where the terminal is dark. Not here: what the bytes say (`record::carried`).

use crate::paper::qr::{Matrix, QUIET};
use image::codecs::png::PngEncoder;
use image::{DynamicImage, ExtendedColorType, ImageEncoder, ImageFormat, ImageReader, Limits};
use std::io::Cursor;

/// Pixels of a module in a PNG.
const MODULE: usize = 6;
/// Largest picture that is opened: bytes of the file, pixels on a side, bytes unpacked.
pub const MOST_FILE: usize = 32 * 1024 * 1024;
const MOST_SIDE: u32 = 8192;
const MOST_UNPACKED: u64 = 256 * 1024 * 1024;
/// Black on white in the fixed part of the 256 colours, and back.
const INK: &str = "\x1b[38;5;16;48;5;231m";
const PLAIN: &str = "\x1b[0m";

/// Columns that a code takes in a terminal.
pub const fn columns(m: &Matrix) -> usize {
    m.width + 2 * QUIET
}

/// The code in half blocks, two rows to a line, quiet zone included.
pub fn in_terminal(m: &Matrix) -> String {
    let side = columns(m);
    let dark = |x: usize, y: usize| x >= QUIET && y >= QUIET && m.dark(x - QUIET, y - QUIET);
    let mut out = String::new();
    for y in (0..side).step_by(2) {
        out.push_str(INK);
        out.extend((0..side).map(|x| match (dark(x, y), dark(x, y + 1)) {
            (true, true) => '█',
            (true, false) => '▀',
            (false, true) => '▄',
            (false, false) => ' ',
        }));
        out.push_str(PLAIN);
        out.push('\n');
    }
    out
}

/// The code as PNG, quiet zone included.
pub fn png(m: &Matrix) -> Result<Vec<u8>, String> {
    let side = columns(m) * MODULE;
    let mut pixels = Vec::with_capacity(side * side);
    for y in 0..side {
        for x in 0..side {
            let (x, y) = (x / MODULE, y / MODULE);
            let dark = x >= QUIET && y >= QUIET && m.dark(x - QUIET, y - QUIET);
            pixels.push(if dark { 0 } else { 255 });
        }
    }
    let mut out = Vec::new();
    let side = u32::try_from(side).map_err(|_| "the code is too large for a picture")?;
    PngEncoder::new(&mut out)
        .write_image(&pixels, side, side, ExtendedColorType::L8)
        .map_err(|e| format!("the picture cannot be made: {e}"))?;
    Ok(out)
}

/// Whether these bytes begin as a picture that is read here.
pub fn is_picture(bytes: &[u8]) -> bool {
    bytes.starts_with(b"\x89PNG") || bytes.starts_with(b"\xff\xd8\xff")
}

/// The bytes of the one QR code in a picture that begins as an act does.
pub fn read(bytes: &[u8]) -> Result<Vec<u8>, String> {
    if bytes.len() > MOST_FILE {
        return Err(format!("the picture is {} bytes long, at most {MOST_FILE} are opened", bytes.len()));
    }
    // The decoders are others' work and read what strangers send: should one stop, this program goes on.
    std::panic::catch_unwind(|| found(bytes))
        .unwrap_or_else(|_| Err("the picture cannot be read: it is damaged, or made to do harm".into()))
}

fn found(bytes: &[u8]) -> Result<Vec<u8>, String> {
    let picture = grey(bytes)?;
    let side = |n: u32| usize::try_from(n).map_err(|_| "the picture is too large");
    let (width, height) = (side(picture.width())?, side(picture.height())?);
    let mut codes = 0;
    let mut acts: Vec<Vec<u8>> = Vec::new();
    // Light on dark is read too: some screens turn colours over.
    for turned in [false, true] {
        let mut prepared = rqrr::PreparedImage::prepare_from_greyscale(width, height, |x, y| {
            let at = (u32::try_from(x).unwrap_or(0), u32::try_from(y).unwrap_or(0));
            let v = picture.get_pixel(at.0, at.1).0[0];
            if turned { 255 - v } else { v }
        });
        for grid in prepared.detect_grids() {
            let mut content = Vec::new();
            codes += 1;
            if grid.decode_to(&mut content).is_ok()
                && content.starts_with(b"{\"act\":")
                && !acts.contains(&content)
            {
                acts.push(content);
            }
        }
        if !acts.is_empty() {
            break;
        }
    }
    match (acts.len(), codes) {
        (1, _) => Ok(acts.remove(0)),
        (0, 0) => Err("no QR code is found in the picture: nearer, straighter, more light".into()),
        (0, _) => {
            Err("the QR code in the picture holds no signed act, or is not sharp enough to be read".into())
        }
        (n, _) => Err(format!("{n} signed acts stand in the picture: take them in one by one")),
    }
}

fn grey(bytes: &[u8]) -> Result<image::GrayImage, String> {
    // The decoder's own words are for programmers.
    let cannot = |e: image::ImageError| {
        match e {
        image::ImageError::Limits(_) => {
            format!(
                "the picture cannot be read: at most {MOST_SIDE} pixels on a side are opened; take a smaller one"
            )
        }
        image::ImageError::Decoding(_)
        | image::ImageError::Encoding(_)
        | image::ImageError::Parameter(_)
        | image::ImageError::Unsupported(_)
        | image::ImageError::IoError(_) => {
            "the picture cannot be read: it is damaged or cut short; take it again, or bring the file of the act"
                .to_owned()
        }
    }
    };
    let mut reader = ImageReader::new(Cursor::new(bytes));
    reader.set_format(if bytes.starts_with(b"\x89PNG") { ImageFormat::Png } else { ImageFormat::Jpeg });
    let mut limits = Limits::default();
    limits.max_image_width = Some(MOST_SIDE);
    limits.max_image_height = Some(MOST_SIDE);
    limits.max_alloc = Some(MOST_UNPACKED);
    reader.limits(limits);
    let picture = reader.decode().map_err(cannot)?;
    if !picture.color().has_alpha() {
        return Ok(picture.into_luma8());
    }
    // What shines through is the white of a page.
    let both = DynamicImage::into_luma_alpha8(picture);
    let (w, h) = both.dimensions();
    Ok(image::GrayImage::from_fn(w, h, |x, y| {
        let [v, a] = both.get_pixel(x, y).0;
        let over = (u16::from(v) * u16::from(a) + 255 * (255 - u16::from(a))) / 255;
        image::Luma([u8::try_from(over).unwrap_or(255)])
    }))
}
