//! From sheets to the bytes of a PDF: document, pages and faces by printpdf, faces cut down by subsetter, what stands on the
//! pages by `content`, and the last step by lopdf (version, `/ID`, Info, XMP, language, output intent, structure, outline,
//! links, attachment).
//!
//! Always holds: the bytes depend on the arguments alone; dates are those of the view's line; the
//! attachment is kept byte for byte and uncompressed, and the last comment before `startxref` says where it stands.
//! Built to PDF/A-3, level A; certified by nobody.
//! Source of formats: ISO 32000-1 (PDF 1.7), ISO 19005-3 (from memory), XMP specification part 1.

use super::face::{Codes, Faces};
use super::sheet::{Mark, Sheet, Weight};
use super::tree::Tree;
use super::{PaperProblem, PaperSize};
use crate::tongue::say;
use lopdf::{Object, ObjectId, Stream, dictionary};
use printpdf::{
    FontId, Op, PdfDocument, PdfFont, PdfFontHandle, PdfPage, PdfSaveOptions, Pt, Rect, TextItem,
};
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::io::Write as _;

/// Of zlib, 1 to 9: half the time of the best, a tenth larger.
const LEVEL: u32 = 3;

const PRODUCER: &str = concat!("airwrit ", env!("CARGO_PKG_VERSION"));

/// What a file says of itself.
pub struct Meta<'a> {
    /// Title.
    pub title: String,
    /// Language of its words.
    pub language: &'a str,
    /// Time of the line that it is as of, or empty.
    pub as_of_utc: &'a str,
    /// H of that line, or empty.
    pub as_of_hash: &'a str,
    /// What it was drawn from besides the record, for whoever draws it again.
    pub about: String,
    /// Everything it was drawn from.
    pub content: serde_json::Result<Vec<u8>>,
}

/// Puts the file together.
pub fn finish(
    meta: &Meta<'_>,
    size: PaperSize,
    faces: &Faces,
    (sheets, tree): (&[Sheet], &Tree),
    record: Option<&[u8]>,
) -> Result<Vec<u8>, PaperProblem> {
    let title = faces.safe(&meta.title);
    let mut pages = PdfDocument::new("");
    let used = characters(sheets);
    let mut codes = BTreeMap::new();
    for (weight, used) in &used {
        let (font, of) = faces.of(*weight).subset(used)?;
        pages.resources.fonts.map.insert(font_id(*weight), PdfFont::new(font));
        codes.insert(*weight, of);
    }
    let (w, h) = size.points();
    let none = BTreeMap::new();
    pages.pages =
        sheets.iter().enumerate().map(|(n, _)| page(w, h, if n == 0 { &used } else { &none })).collect();
    let mut warnings = Vec::new();
    let mut doc = pages.to_lopdf_document(&PdfSaveOptions::default(), &mut warnings);
    if let Some(w) = warnings.first() {
        return Err(PaperProblem::Pdf(format!("{w:?}")));
    }
    doc.version = "1.7".into();
    let no_codes = Codes::default();
    let codes = |weight| codes.get(&weight).unwrap_or(&no_codes);
    let codes = (codes(Weight::Regular), codes(Weight::Bold));
    for (sheet, id) in sheets.iter().zip(doc.get_pages().into_values().collect::<Vec<_>>()) {
        let content = doc
            .get_dictionary(id)
            .and_then(|page| page.get(b"Contents"))
            .and_then(Object::as_reference)
            .map_err(|e| PaperProblem::Pdf(e.to_string()))?;
        let bytes = super::content::content(sheet, h, codes);
        doc.objects.insert(content, Stream::new(dictionary! {}, bytes).into());
    }

    let id = Object::String(identity(meta, size, record)?, lopdf::StringFormat::Hexadecimal);
    doc.trailer.set("ID", vec![id.clone(), id]);

    let date = Date::of(meta.as_of_utc);
    let mut info = dictionary! {
        "Title" => utf16(&title),
        "Creator" => utf16(PRODUCER),
        "Producer" => utf16(PRODUCER),
    };
    if let Some(d) = &date {
        info.set("CreationDate", Object::string_literal(d.pdf.clone()));
        info.set("ModDate", Object::string_literal(d.pdf.clone()));
    }
    let info = doc.add_object(info);
    doc.trailer.set("Info", Object::Reference(info));

    let xmp = xmp(&title, &language(meta.language), date.as_ref());
    let xmp = doc.add_object(
        Stream::new(dictionary! { "Type" => "Metadata", "Subtype" => "XML" }, xmp.into_bytes())
            .with_compression(false),
    );
    let attached = record.map(|bytes| attach(&mut doc, bytes, date.as_ref()));
    let icc = doc.add_object(Stream::new(dictionary! { "N" => 3 }, super::icc::srgb()));
    let (root, outline) = super::structure::hang(&mut doc, tree, sheets, h, faces);
    let catalog = doc.catalog_mut().map_err(|e| PaperProblem::Pdf(e.to_string()))?;
    catalog.set("Metadata", Object::Reference(xmp));
    catalog.set("Lang", Object::string_literal(language(meta.language)));
    catalog.set("ViewerPreferences", dictionary! { "DisplayDocTitle" => true });
    catalog.set("MarkInfo", dictionary! { "Marked" => true });
    catalog.set("StructTreeRoot", Object::Reference(root));
    let intent = dictionary! {
        "Type" => "OutputIntent",
        "S" => "GTS_PDFA1",
        "OutputConditionIdentifier" => Object::string_literal("sRGB"),
        "Info" => Object::string_literal("sRGB, IEC 61966-2-1"),
        "DestOutputProfile" => Object::Reference(icc),
    };
    catalog.set("OutputIntents", vec![intent.into()]);
    if let Some(outline) = outline {
        catalog.set("Outlines", Object::Reference(outline));
    }
    catalog.set("PageMode", if outline.is_some() { "UseOutlines" } else { "UseNone" });
    if let Some(file) = attached {
        catalog.set("AF", vec![Object::Reference(file)]);
        catalog.set(
            "Names",
            dictionary! { "EmbeddedFiles" => dictionary! {
                "Names" => vec![Object::string_literal(RECORD_NAME), Object::Reference(file)]
            } },
        );
    }
    prune(&mut doc);
    compress(&mut doc).map_err(|e| PaperProblem::Pdf(e.to_string()))?;
    let mut out = Vec::new();
    let modern = lopdf::SaveOptions::builder()
        .use_object_streams(true)
        .use_xref_streams(true)
        .max_objects_per_stream(100)
        .compression_level(LEVEL)
        .build();
    doc.save_with_options(&mut out, modern).map_err(|e| PaperProblem::Pdf(e.to_string()))?;
    match record {
        Some(record) => say_where(out, record, &meta.about),
        None => Ok(out),
    }
}

/// What begins the comment that says where the record stands.
pub const COMMENT: &str = "%airwrit ";

/// Which airwrit draws, and which drawing of it: the second part changes with everything that decides how a paper looks (a
/// test holds it), so that a paper is compared with its own drawing only.
pub const DRAWN_BY: &str = concat!(env!("CARGO_PKG_VERSION"), "+", include_str!("drawing.txt"));

/// Says in a comment before `startxref` where the record stands, and what the pages were drawn from besides.
fn say_where(mut pdf: Vec<u8>, record: &[u8], about: &str) -> Result<Vec<u8>, PaperProblem> {
    let lost = |what: &str| PaperProblem::Pdf(format!("{what} is not in the file"));
    let at = pdf.windows(record.len().max(1)).position(|w| w == record).ok_or_else(|| lost("the record"))?;
    let tail = b"startxref\n";
    let end = pdf.windows(tail.len()).rposition(|w| w == tail).ok_or_else(|| lost("`startxref`"))?;
    let comment = format!("{COMMENT}{DRAWN_BY} {at} {} {about}\n", record.len());
    pdf.splice(end..end, comment.into_bytes());
    Ok(pdf)
}

const RECORD_NAME: &str = "record.jsonl";

fn attach(doc: &mut lopdf::Document, bytes: &[u8], date: Option<&Date>) -> lopdf::ObjectId {
    let mut params = dictionary! { "Size" => bytes.len() as i64 };
    if let Some(d) = date {
        params.set("ModDate", Object::string_literal(d.pdf.clone()));
    }
    let file = doc.add_object(
        Stream::new(
            dictionary! {
                "Type" => "EmbeddedFile",
                "Subtype" => Object::Name(b"application/jsonl".to_vec()),
                "Params" => params,
            },
            bytes.to_vec(),
        )
        .with_compression(false),
    );
    doc.add_object(dictionary! {
        "Type" => "Filespec",
        "F" => Object::string_literal(RECORD_NAME),
        "UF" => utf16(RECORD_NAME),
        "AFRelationship" => "Source",
        "Desc" => utf16(say!("the signed record this paper was made from")),
        "EF" => dictionary! { "F" => Object::Reference(file), "UF" => Object::Reference(file) },
    })
}

/// Sixteen bytes that differ whenever anything that went in differs.
fn identity(meta: &Meta<'_>, size: PaperSize, record: Option<&[u8]>) -> Result<Vec<u8>, PaperProblem> {
    let content = meta.content.as_ref().map_err(|e| PaperProblem::Pdf(e.to_string()))?;
    let mut hash = Sha256::new();
    for part in [
        PRODUCER.as_bytes(),
        size.name().as_bytes(),
        meta.as_of_hash.as_bytes(),
        content,
        record.unwrap_or_default(),
    ] {
        hash.update((part.len() as u64).to_be_bytes());
        hash.update(part);
    }
    Ok(hash.finalize().iter().copied().take(16).collect())
}

fn font_id(weight: Weight) -> FontId {
    FontId(super::content::font_name(weight).into())
}

fn characters(sheets: &[Sheet]) -> BTreeMap<Weight, BTreeSet<char>> {
    let mut used: BTreeMap<Weight, BTreeSet<char>> = BTreeMap::new();
    for mark in sheets.iter().flat_map(|s| &s.marks) {
        if let Mark::Text { text, weight, .. } = mark {
            used.entry(*weight).or_default().extend(text.chars());
        }
    }
    used
}

/// An empty page; the first names every character that is used once, so that printpdf embeds the faces. The content of all
/// is written by `content` afterwards.
fn page(w: f32, h: f32, used: &BTreeMap<Weight, BTreeSet<char>>) -> PdfPage {
    let page_box = Rect::from_wh(Pt(w), Pt(h));
    let mut ops = Vec::new();
    for (weight, used) in used {
        ops.extend([
            Op::StartTextSection,
            Op::SetFont { font: PdfFontHandle::External(font_id(*weight)), size: Pt(8.0) },
            Op::ShowText { items: vec![TextItem::Text(used.iter().collect())] },
            Op::EndTextSection,
        ]);
    }
    PdfPage { media_box: page_box.clone(), trim_box: page_box.clone(), crop_box: page_box, ops }
}

/// Takes out what nothing refers to, such as printpdf's own Info. In one pass; lopdf's own looks through all that it found for
/// each object.
fn prune(doc: &mut lopdf::Document) {
    let mut found: HashSet<ObjectId> = HashSet::new();
    let mut open: Vec<&Object> = doc.trailer.iter().map(|(_, value)| value).collect();
    while let Some(object) = open.pop() {
        #[expect(clippy::wildcard_enum_match_arm, reason = "whatever holds no other object")]
        match object {
            Object::Reference(id) if found.insert(*id) => open.extend(doc.objects.get(id)),
            Object::Array(all) => open.extend(all),
            Object::Dictionary(all) => open.extend(all.iter().map(|(_, value)| value)),
            Object::Stream(stream) => open.extend(stream.dict.iter().map(|(_, value)| value)),
            _ => {}
        }
    }
    doc.objects.retain(|id, _| found.contains(id));
}

/// Compresses what is worth it.
fn compress(doc: &mut lopdf::Document) -> std::io::Result<()> {
    for object in doc.objects.values_mut() {
        let Object::Stream(stream) = object else { continue };
        if !stream.allows_compression || stream.dict.has(b"Filter") {
            continue;
        }
        let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::new(LEVEL));
        encoder.write_all(&stream.content)?;
        let small = encoder.finish()?;
        if small.len() + 19 < stream.content.len() {
            stream.dict.set("Filter", "FlateDecode");
            stream.set_content(small);
        }
    }
    Ok(())
}

pub(super) fn utf16(text: &str) -> Object {
    if text.is_ascii() {
        return Object::string_literal(text);
    }
    let mut bytes = vec![0xFE, 0xFF];
    bytes.extend(text.encode_utf16().flat_map(u16::to_be_bytes));
    Object::String(bytes, lopdf::StringFormat::Hexadecimal)
}

/// The language tag if it has the form of one, else "und" (BCP 47: undetermined).
fn language(tag: &str) -> String {
    let good = !tag.is_empty()
        && tag.len() <= 35
        && tag.split('-').all(|p| (1..=8).contains(&p.len()) && p.bytes().all(|b| b.is_ascii_alphanumeric()));
    if good { tag.to_owned() } else { "und".into() }
}

/// A moment in the forms of PDF and XMP.
struct Date {
    pdf: String,
    xmp: String,
}

impl Date {
    /// From `YYYY-MM-DDThh:mm:ssZ`; none if it has another form, so that no date is made up.
    fn of(utc: &str) -> Option<Date> {
        let form = "dddd-dd-ddTdd:dd:ddZ";
        let same = utc.len() == form.len()
            && utc.bytes().zip(form.bytes()).all(
                |(b, f)| {
                    if f == b'd' { b.is_ascii_digit() } else { b == f }
                },
            );
        same.then(|| Date {
            pdf: format!("D:{}Z", utc.chars().filter(char::is_ascii_digit).collect::<String>()),
            xmp: utc.to_string(),
        })
    }
}

fn xml(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\n' => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

fn xmp(title: &str, language: &str, date: Option<&Date>) -> String {
    let dates = date.map_or(String::new(), |d| {
        format!(
            "<xmp:CreateDate>{0}</xmp:CreateDate><xmp:ModifyDate>{0}</xmp:ModifyDate><xmp:MetadataDate>{0}</xmp:MetadataDate>",
            d.xmp
        )
    });
    let title = xml(title);
    let producer = xml(PRODUCER);
    format!(
        "<?xpacket begin=\"\u{FEFF}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n\
<x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n\
<rdf:Description rdf:about=\"\" xmlns:pdfaid=\"http://www.aiim.org/pdfa/ns/id/\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\">\n\
<pdfaid:part>3</pdfaid:part><pdfaid:conformance>A</pdfaid:conformance>\n\
<dc:format>application/pdf</dc:format>\n\
<dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">{title}</rdf:li></rdf:Alt></dc:title>\n\
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>\n\
<xmp:CreatorTool>{producer}</xmp:CreatorTool>{dates}\n\
<pdf:Producer>{producer}</pdf:Producer>\n\
</rdf:Description></rdf:RDF></x:xmpmeta>\n\
<?xpacket end=\"r\"?>"
    )
}
