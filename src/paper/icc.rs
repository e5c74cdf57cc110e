//! The colour space of paper: an sRGB profile, made here so that its bytes are ours.
//!
//! Always holds: the same bytes. Source: ICC.1:2004-10 (profile version 4.2) for the form; IEC 61966-2-1 for primaries,
//! white and curve; the matrix worked out from them exactly, adapted to D50 by Bradford, rounded so that the columns add up
//! to the white.

/// One number as `s15Fixed16Number`, by its bits.
const WHITE: [u32; 3] = [0x0000_f6d6, 0x0001_0000, 0x0000_d32d];
const PRIMARIES: [[u32; 3]; 3] = [
    [0x0000_6fa0, 0x0000_38f5, 0x0000_0390],
    [0x0000_6297, 0x0000_b787, 0x0000_18d9],
    [0x0000_249f, 0x0000_0f84, 0x0000_b6c4],
];
const ADAPTED: [u32; 9] = [
    0x0001_0c42,
    0x0000_05de,
    0xffff_f325,
    0x0000_0793,
    0x0000_fd90,
    0xffff_fba1,
    0xffff_fda2,
    0x0000_03dc,
    0x0000_c06e,
];
/// (a x + b)^g above d, c x below.
const CURVE: [u32; 5] = [0x0002_6666, 0x0000_f2a7, 0x0000_0d59, 0x0000_13d0, 0x0000_0a5b];
const HEADER: usize = 128;

fn of(kind: [u8; 4], body: &[u32]) -> Vec<u8> {
    let mut out = kind.to_vec();
    out.extend([0; 4]);
    out.extend(body.iter().flat_map(|w| w.to_be_bytes()));
    out
}

fn words(text: &str) -> Vec<u8> {
    let bytes: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
    let mut out = of(*b"mluc", &[1, 12]);
    out.extend(b"enUS");
    out.extend((bytes.len() as u32).to_be_bytes());
    out.extend(28_u32.to_be_bytes());
    out.extend(bytes);
    out
}

/// The profile.
pub fn srgb() -> Vec<u8> {
    let mut curve = of(*b"para", &[0x0003_0000]);
    curve.extend(CURVE.iter().flat_map(|w| w.to_be_bytes()));
    let [red, green, blue] = PRIMARIES.map(|p| of(*b"XYZ ", &p));
    let tags: [([u8; 4], Vec<u8>); 10] = [
        (*b"desc", words("sRGB")),
        (*b"cprt", words("no copyright")),
        (*b"wtpt", of(*b"XYZ ", &WHITE)),
        (*b"chad", of(*b"sf32", &ADAPTED)),
        (*b"rXYZ", red),
        (*b"gXYZ", green),
        (*b"bXYZ", blue),
        (*b"rTRC", curve.clone()),
        (*b"gTRC", curve.clone()),
        (*b"bTRC", curve),
    ];
    let mut table = (tags.len() as u32).to_be_bytes().to_vec();
    let mut data: Vec<u8> = Vec::new();
    let start = HEADER + 4 + 12 * tags.len();
    let mut last: Option<(Vec<u8>, usize)> = None;
    for (name, body) in tags {
        // The three curves are one.
        let at = match &last {
            Some((same, at)) if *same == body => *at,
            _ => {
                let at = start + data.len();
                data.extend(&body);
                data.resize(data.len().next_multiple_of(4), 0);
                at
            }
        };
        table.extend(name);
        table.extend((at as u32).to_be_bytes());
        table.extend((body.len() as u32).to_be_bytes());
        last = Some((body, at));
    }
    let size = start + data.len();
    let mut out = (size as u32).to_be_bytes().to_vec();
    out.extend([0; 4]);
    out.extend(0x0420_0000_u32.to_be_bytes());
    out.extend(b"mntrRGB XYZ ");
    // A date has to stand here; it is that of nothing.
    out.extend([2026_u16, 1, 1, 0, 0, 0].iter().flat_map(|w| w.to_be_bytes()));
    out.extend(b"acsp");
    out.resize(68, 0);
    out.extend(WHITE.iter().flat_map(|w| w.to_be_bytes()));
    out.resize(HEADER, 0);
    out.extend(table);
    out.extend(data);
    out
}
