//! QR codes on a screen and back: an act drawn in a terminal or as PNG, and found again in a photograph.
//!
//! Always: a picture from outside is held to bounds before it is unpacked, and whatever stands in it, reading
//! it ends with bytes or with a sentence. In a terminal the colours are told, so that it is black on white also
//! where the terminal is dark. Not here: what the bytes say (`record::carried`).

use crate::paper::qr::{Matrix, QUIET};
use crate::tongue::say;
use std::io::Cursor;

/// Pixels of a module in a PNG.
const MODULE: usize = 6;
/// Largest picture that is opened: bytes of the file, pixels on a side, bytes unpacked.
pub const MOST_FILE: usize = 32 * 1024 * 1024;
const MOST_SIDE: usize = 8192;
const MOST_UNPACKED: usize = 256 * 1024 * 1024;
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
    let side = u32::try_from(side).map_err(|_| say!("the code is too large for a picture"))?;
    let cannot = |e: png::EncodingError| say!("the picture cannot be made: {why}", why = e);
    let mut encoder = png::Encoder::new(&mut out, side, side);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header().map_err(cannot)?;
    writer.write_image_data(&pixels).map_err(cannot)?;
    writer.finish().map_err(cannot)?;
    Ok(out)
}

/// Whether these bytes begin as a picture that is read here.
pub fn is_picture(bytes: &[u8]) -> bool {
    bytes.starts_with(b"\x89PNG") || bytes.starts_with(b"\xff\xd8\xff")
}

/// The bytes of the one QR code in a picture that begins as an act does.
pub fn read(bytes: &[u8]) -> Result<Vec<u8>, String> {
    read_as(bytes, b"{\"act\":")
}

/// The text of the one QR code in a picture that is the token of a printed permit.
pub fn token(bytes: &[u8]) -> Result<String, String> {
    let found =
        read_as(bytes, b"AW1.").map_err(|why| say!("no token of a permit is read in it: {why}", why))?;
    String::from_utf8(found).map_err(|_| say!("the QR code in the picture holds no text").into())
}

fn read_as(bytes: &[u8], begins: &[u8]) -> Result<Vec<u8>, String> {
    if bytes.len() > MOST_FILE {
        return Err(say!(
            "the picture is {bytes} bytes long, at most {most} are opened",
            bytes = bytes.len(),
            most = MOST_FILE
        ));
    }
    // The decoders are others' work and read what strangers send: should one stop, this program goes on.
    std::panic::catch_unwind(|| found(bytes, begins))
        .unwrap_or_else(|_| Err(say!("the picture cannot be read: it is damaged, or made to do harm").into()))
}

fn found(bytes: &[u8], begins: &[u8]) -> Result<Vec<u8>, String> {
    let picture = grey(bytes)?;
    let mut codes = 0;
    let mut acts: Vec<Vec<u8>> = Vec::new();
    // Light on dark is read too: some screens turn colours over.
    for turned in [false, true] {
        let mut prepared =
            rqrr::PreparedImage::prepare_from_greyscale(picture.width, picture.height, |x, y| {
                let v = picture.pixels.get(y * picture.width + x).copied().unwrap_or(255);
                if turned { 255 - v } else { v }
            });
        for grid in prepared.detect_grids() {
            let mut content = Vec::new();
            codes += 1;
            if grid.decode_to(&mut content).is_ok() && content.starts_with(begins) && !acts.contains(&content)
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
        (0, 0) => Err(say!("no QR code is found in the picture: nearer, straighter, more light").into()),
        (0, _) => {
            Err(say!("the QR code in the picture holds no signed act, or is not sharp enough to be read")
                .into())
        }
        (n, _) => Err(say!("{n} signed acts stand in the picture: take them in one by one", n)),
    }
}

/// Lightness, row by row, white where nothing is.
struct Grey {
    width: usize,
    height: usize,
    pixels: Vec<u8>,
}

fn too_large() -> String {
    say!("the picture cannot be read: it is too large to be unpacked; take a smaller one").to_owned()
}

/// The decoders' own words are for programmers.
fn damaged<E>(_: E) -> String {
    say!(
        "the picture cannot be read: it is damaged or cut short; take it again, or bring the file of the act"
    )
    .to_owned()
}

/// Before anything is unpacked.
fn bounded(width: usize, height: usize) -> Result<(), String> {
    if width > MOST_SIDE || height > MOST_SIDE {
        return Err(say!(
            "the picture cannot be read: at most {most} pixels on a side are opened; take a smaller one",
            most = MOST_SIDE
        ));
    }
    Ok(())
}

fn grey(bytes: &[u8]) -> Result<Grey, String> {
    if bytes.starts_with(b"\x89PNG") { of_png(bytes) } else { of_jpeg(bytes) }
}

fn of_png(bytes: &[u8]) -> Result<Grey, String> {
    let limits = png::Limits { bytes: MOST_UNPACKED };
    let mut decoder = png::Decoder::new_with_limits(Cursor::new(bytes), limits);
    decoder.set_transformations(png::Transformations::normalize_to_color8());
    decoder.set_ignore_text_chunk(true);
    let header = decoder.read_header_info().map_err(damaged)?;
    let side = |n: u32| usize::try_from(n).map_err(|_| too_large());
    let (width, height) = (side(header.width)?, side(header.height)?);
    bounded(width, height)?;
    let mut reader = decoder.read_info().map_err(|e| match e {
        png::DecodingError::LimitsExceeded => too_large(),
        png::DecodingError::IoError(_) | png::DecodingError::Format(_) | png::DecodingError::Parameter(_) => {
            damaged(e)
        }
    })?;
    let size = reader.output_buffer_size().filter(|n| *n <= MOST_UNPACKED).ok_or_else(too_large)?;
    let mut raw = vec![0; size];
    let told = reader.next_frame(&mut raw).map_err(damaged)?;
    let pixels = match told.color_type {
        png::ColorType::Grayscale | png::ColorType::Indexed => raw,
        png::ColorType::GrayscaleAlpha => raw.as_chunks().0.iter().map(|[v, a]| over_white(*v, *a)).collect(),
        png::ColorType::Rgb => raw.as_chunks().0.iter().map(|c| lightness(*c)).collect(),
        png::ColorType::Rgba => {
            raw.as_chunks().0.iter().map(|[r, g, b, a]| over_white(lightness([*r, *g, *b]), *a)).collect()
        }
    };
    whole(width, height, pixels)
}

fn of_jpeg(bytes: &[u8]) -> Result<Grey, String> {
    use zune_jpeg::zune_core::colorspace::ColorSpace;
    use zune_jpeg::zune_core::options::DecoderOptions;
    let options = DecoderOptions::new_safe()
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX))
        .jpeg_set_out_colorspace(ColorSpace::RGB);
    let mut decoder = zune_jpeg::JpegDecoder::new_with_options(Cursor::new(bytes), options);
    decoder.decode_headers().map_err(damaged)?;
    let header = decoder.info().ok_or_else(|| damaged(()))?;
    let (width, height) = (usize::from(header.width), usize::from(header.height));
    bounded(width, height)?;
    let raw = decoder.decode().map_err(damaged)?;
    let pixels = match decoder.output_colorspace() {
        Some(ColorSpace::Luma) => raw,
        _ => raw.as_chunks().0.iter().map(|c| lightness(*c)).collect(),
    };
    whole(width, height, pixels)
}

fn whole(width: usize, height: usize, pixels: Vec<u8>) -> Result<Grey, String> {
    if width == 0 || height == 0 || pixels.len() != width * height {
        return Err(damaged(()));
    }
    Ok(Grey { width, height, pixels })
}

/// Luma of ITU-R BT.601, coefficients 0.299, 0.587, 0.114, from memory.
fn lightness([r, g, b]: [u8; 3]) -> u8 {
    let sum = 299 * u32::from(r) + 587 * u32::from(g) + 114 * u32::from(b);
    u8::try_from(sum / 1000).unwrap_or(255)
}

/// What shines through is the white of a page.
fn over_white(v: u8, alpha: u8) -> u8 {
    let over = (u16::from(v) * u16::from(alpha) + 255 * (255 - u16::from(alpha))) / 255;
    u8::try_from(over).unwrap_or(255)
}
