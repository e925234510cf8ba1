//! `CxF3` (ISO 17972) documents: XML to objects with color values and the specifications of these.
//! It does not choose among values and does not know what a thread is.

mod choose;

use std::collections::BTreeMap;

use quick_xml::NsReader;
use quick_xml::XmlVersion;
use quick_xml::escape::resolve_predefined_entity;
use quick_xml::events::{BytesRef, BytesStart, Event};
use quick_xml::name::{Namespace, ResolveResult};

use super::bytes::{Lines, SAVE_AS_CSV};
use super::row::Rows;
use crate::error::{ErrorKind, Place, harmless, shown};

/// The namespace of the format's elements; a document may bind it to any prefix.
const NAMESPACE: &str = "http://colorexchangeformat.com/CxF3-core";

/// Deepest nesting that is followed.
const MAX_DEPTH: usize = 64;

/// Longest text of one element, in bytes.
const MAX_TEXT_BYTES: usize = 65_536;

/// Longest part of an error of the XML reader that is told, in characters.
const MAX_TOLD_CHARS: usize = 160;

/// True for a text that begins like XML.
pub(super) fn is_one(text: &str) -> bool {
    text.trim_start().starts_with('<')
}

/// A form in which an object gives its color.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    Lab,
    Lch,
    Xyz,
    Spectrum,
    Srgb,
}

impl Form {
    /// All forms, best first.
    const ALL: [Self; 5] = [Self::Lab, Self::Lch, Self::Xyz, Self::Spectrum, Self::Srgb];

    /// The element's name.
    fn element(self) -> &'static str {
        match self {
            Self::Lab => "ColorCIELab",
            Self::Lch => "ColorCIELCh",
            Self::Xyz => "ColorCIEXYZ",
            Self::Spectrum => "ReflectanceSpectrum",
            Self::Srgb => "ColorSRGB",
        }
    }

    /// The names of its three components; a spectrum is one text, which stands for the first.
    fn parts(self) -> [&'static str; 3] {
        match self {
            Self::Lab => ["L", "A", "B"],
            Self::Lch => ["L", "C", "H"],
            Self::Xyz => ["X", "Y", "Z"],
            Self::Spectrum => ["ReflectanceSpectrum", "", ""],
            Self::Srgb => ["R", "G", "B"],
        }
    }
}

/// A color value of an object.
#[derive(Debug)]
struct Value {
    form: Form,
    line: u64,
    /// The id of its specification.
    specification: String,
    parts: [String; 3],
    /// The largest component of sRGB where it is not 255.
    max_range: String,
    /// The first wavelength where the spectrum itself says it.
    start: String,
}

/// An object of the document.
#[derive(Debug, Default)]
struct Object {
    line: u64,
    id: String,
    name: String,
    values: Vec<Value>,
    /// Names of other elements with color values.
    others: Vec<String>,
}

/// What a color specification says.
#[derive(Debug, Default)]
struct Specification {
    line: u64,
    illuminant: String,
    observer: String,
    measurement: String,
    /// What the device lit the sample with.
    illumination: String,
    /// First wavelength and step of spectra, in nm.
    start: String,
    increment: String,
}

/// What is read of a document.
#[derive(Debug, Default)]
struct Document {
    has_root: bool,
    objects: Vec<Object>,
    specifications: BTreeMap<String, Specification>,
}

/// Reads all objects of a text.
pub(super) fn read(text: &str, rows: &mut Rows<'_>) {
    let mut walk = Walk::default();
    if walk.document(text, rows) {
        choose::give(&walk.document, rows);
    }
}

/// An error of the XML reader, which may repeat any length of foreign text.
fn told(error: &quick_xml::Error) -> String {
    harmless(&error.to_string().chars().take(MAX_TOLD_CHARS).collect::<String>())
}

/// A walk through the elements of a document.
#[derive(Debug, Default)]
struct Walk {
    document: Document,
    /// Local names of the open elements; empty for those of other namespaces.
    open: Vec<String>,
    /// Text of the innermost element.
    text: String,
    object: Option<Object>,
    value: Option<Value>,
    specification: Option<(String, Specification)>,
    line: u64,
}

impl Walk {
    /// Walks to the end. False when the document cannot be followed or is another one.
    fn document(&mut self, text: &str, rows: &mut Rows<'_>) -> bool {
        let mut reader = NsReader::from_str(text);
        let mut lines = Lines::new(text.as_bytes());
        loop {
            let at = usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX);
            let read = reader.read_resolved_event();
            self.line = lines.line_of(at.min(text.len()));
            let (is_ours, event) = match read {
                Ok((space, event)) => (space == ResolveResult::Bound(Namespace(NAMESPACE)), event),
                Err(error) => {
                    let reason = format!("not well-formed XML: {}", told(&error));
                    self.problem(&reason, "correct the XML, or export the colors again", rows);
                    return false;
                }
            };
            let goes_on = match event {
                Event::Start(start) => self.start(&start, is_ours, rows),
                Event::Empty(start) => {
                    let goes_on = self.start(&start, is_ours, rows);
                    self.end(rows);
                    goes_on
                }
                Event::End(_) => {
                    self.end(rows);
                    true
                }
                Event::Text(part) => self.take_text(&part.xml10_content(), rows),
                Event::CData(part) => self.take_text(&part.xml10_content(), rows),
                Event::GeneralRef(part) => self.reference(&part, rows),
                Event::DocType(name) => {
                    self.document_type(&name.xml10_content(), rows);
                    false
                }
                Event::Comment(_) | Event::Decl(_) | Event::PI(_) => true,
                Event::Eof => return self.is_whole(rows),
            };
            if !goes_on {
                return false;
            }
        }
    }

    fn problem(&self, reason: &str, remedy: &str, rows: &mut Rows<'_>) {
        let kind = ErrorKind::BadFile { reason: reason.into(), remedy: remedy.into() };
        rows.report.problem(kind, Place::line(self.line));
    }

    fn document_type(&self, text: &str, rows: &mut Rows<'_>) {
        let name = text.split(|c: char| c.is_whitespace() || c == '[').next().unwrap_or_default();
        if name.rsplit(':').next() != Some("CxF") {
            self.other_document(rows);
            return;
        }
        let reason = "a document type (DTD), which could define entities, is not read";
        self.problem(reason, "take the <!DOCTYPE …> out", rows);
    }

    fn is_whole(&self, rows: &mut Rows<'_>) -> bool {
        if let Some(name) = self.open.last() {
            let reason = format!("the file ends inside element {}", shown(name));
            self.problem(&reason, "the file is cut off: export the colors again", rows);
            return false;
        }
        if !self.document.has_root {
            self.other_document(rows);
        }
        self.document.has_root
    }

    fn other_document(&self, rows: &mut Rows<'_>) {
        let kind = ErrorKind::BadFile {
            reason: "this is an XML or HTML document, not a thread table".into(),
            remedy: SAVE_AS_CSV.into(),
        };
        rows.report.problem(kind, Place::default());
    }

    /// Opens an element. False when the walk must stop.
    fn start(&mut self, start: &BytesStart<'_>, is_ours: bool, rows: &mut Rows<'_>) -> bool {
        let name = start.local_name();
        let name = name.as_ref();
        if self.open.is_empty() && !self.root(name, is_ours, rows) {
            return false;
        }
        if self.open.len() == MAX_DEPTH {
            let reason = format!("nested deeper than {MAX_DEPTH} levels");
            self.problem(&reason, "export the colors again", rows);
            return false;
        }
        self.text.clear();
        // A name that stands twice would leave it to chance which value is read.
        if let Some(Err(error)) = start.attributes().find(Result::is_err) {
            let reason = format!("not well-formed XML: {}", told(&error.into()));
            self.problem(&reason, "the file is damaged: export the colors again", rows);
            return false;
        }
        if is_ours {
            self.open_ours(name, start, rows);
        }
        self.open.push(if is_ours { name.to_owned() } else { String::new() });
        true
    }

    /// Checks the outermost element. False when the document cannot be read.
    fn root(&mut self, name: &str, is_ours: bool, rows: &mut Rows<'_>) -> bool {
        if name != "CxF" {
            self.other_document(rows);
        } else if !is_ours {
            let reason = "a CxF document whose elements are not in the namespace of CxF3";
            self.problem(reason, &format!("declare the namespace {NAMESPACE}"), rows);
        } else if std::mem::replace(&mut self.document.has_root, true) {
            self.problem("a second CxF document in the file", "give each its own file", rows);
        } else {
            return true;
        }
        false
    }

    fn open_ours(&mut self, name: &str, start: &BytesStart<'_>, rows: &mut Rows<'_>) {
        let parent = self.open.last().map(String::as_str).unwrap_or_default();
        match (parent, name) {
            ("ObjectCollection", "Object") => {
                let id = self.attribute(start, "Id", rows).unwrap_or_default();
                let name = self.attribute(start, "Name", rows).unwrap_or_default();
                self.object = Some(Object { line: self.line, id, name, ..Object::default() });
            }
            ("ColorValues" | "DeviceColorValues", name) => self.open_value(name, start, rows),
            ("ColorSpecificationCollection", "ColorSpecification") => {
                let id = self.attribute(start, "Id", rows).unwrap_or_default();
                let made = Specification { line: self.line, ..Specification::default() };
                self.specification = Some((id, made));
            }
            (_, "WavelengthRange") => {
                let mut said = |name| self.attribute(start, name, rows).unwrap_or_default();
                let (first, step) = (said("StartWL"), said("Increment"));
                if let Some((_, specification)) = &mut self.specification {
                    (specification.start, specification.increment) = (first, step);
                }
            }
            _ => {}
        }
    }

    fn open_value(&mut self, name: &str, start: &BytesStart<'_>, rows: &mut Rows<'_>) {
        let form = Form::ALL.into_iter().find(|form| form.element() == name);
        let Some(form) = form else {
            if let Some(object) = &mut self.object {
                object.others.push(name.to_owned());
            }
            return;
        };
        let mut said = |name| self.attribute(start, name, rows).unwrap_or_default();
        let (specification, first) = (said("ColorSpecification"), said("StartWL"));
        self.value = Some(Value {
            form,
            line: self.line,
            specification,
            parts: Default::default(),
            max_range: String::new(),
            start: first,
        });
    }

    /// The value of an attribute without a prefix.
    fn attribute(&self, start: &BytesStart<'_>, name: &str, rows: &mut Rows<'_>) -> Option<String> {
        let found = start.try_get_attribute(name).map_err(quick_xml::Error::from);
        let value = found.and_then(|attribute| {
            attribute
                .map(|attribute| attribute.normalized_value(XmlVersion::Implicit1_0))
                .transpose()
                .map(|value| value.map(|value| value.trim().to_owned()))
        });
        match value {
            Ok(value) => value,
            Err(error) => {
                let reason = format!("attribute {name}: {}", told(&error));
                self.problem(&reason, "write the characters themselves", rows);
                None
            }
        }
    }

    fn take_text(&mut self, part: &str, rows: &mut Rows<'_>) -> bool {
        if self.open.is_empty() && !part.trim().is_empty() {
            self.problem("text outside the document", "take it out", rows);
            return false;
        }
        if self.text.len() + part.len() > MAX_TEXT_BYTES {
            let kind = ErrorKind::OverLimit {
                what: "bytes of text in one element".into(),
                found: (self.text.len() + part.len()) as u64,
                limit: MAX_TEXT_BYTES as u64,
            };
            rows.report.problem(kind, Place::line(self.line));
            return false;
        }
        self.text.push_str(part);
        true
    }

    /// Takes a character reference or one of the five entities of XML itself.
    fn reference(&mut self, part: &BytesRef<'_>, rows: &mut Rows<'_>) -> bool {
        let name = part.xml10_content();
        let mut buffer = [0; 4];
        let text = match part.resolve_char_ref() {
            Ok(Some(character)) => Some(&*character.encode_utf8(&mut buffer)),
            Ok(None) => resolve_predefined_entity(&name),
            Err(_) => None,
        };
        match text {
            Some(text) => self.take_text(text, rows),
            None => {
                let reason = format!("the entity &{}; is not known", shown(&name));
                self.problem(&reason, "write the characters themselves", rows);
                true
            }
        }
    }

    fn end(&mut self, rows: &mut Rows<'_>) {
        let Some(name) = self.open.pop() else { return };
        let text = std::mem::take(&mut self.text);
        let text = text.trim();
        match name.as_str() {
            "Object" if self.parent_is("ObjectCollection") => {
                self.document.objects.extend(self.object.take());
            }
            "ColorSpecification" if self.parent_is("ColorSpecificationCollection") => {
                if let Some((id, made)) = self.specification.take() {
                    self.keep_specification(&id, made, rows);
                }
            }
            name if self.value.as_ref().is_some_and(|value| value.form.element() == name) => {
                if let (Some(object), Some(mut value)) = (&mut self.object, self.value.take()) {
                    if let (Form::Spectrum, [first, ..]) = (value.form, &mut value.parts) {
                        text.clone_into(first);
                    }
                    object.values.push(value);
                }
            }
            name => self.take_leaf(name, text),
        }
    }

    fn keep_specification(&mut self, id: &str, made: Specification, rows: &mut Rows<'_>) {
        let line = made.line;
        if let Some(before) = self.document.specifications.insert(id.to_owned(), made) {
            let kind = ErrorKind::BadFile {
                reason: format!("a second specification {}, after line {}", shown(id), before.line),
                remedy: "give each specification its own Id".into(),
            };
            rows.report.problem(kind, Place::line(line));
        }
    }

    fn parent_is(&self, name: &str) -> bool {
        self.open.last().is_some_and(|open| open == name)
    }

    /// Keeps the text of an element that has no other elements.
    fn take_leaf(&mut self, name: &str, text: &str) {
        if let Some(value) = &mut self.value {
            let parts = value.form.parts().into_iter().zip(&mut value.parts);
            for (_, part) in parts.filter(|(wanted, _)| *wanted == name) {
                *part = text.to_owned();
            }
            if name == "MaxRange" {
                value.max_range = text.to_owned();
            }
        } else if let Some((_, specification)) = &mut self.specification {
            let place = match name {
                "Illuminant" => &mut specification.illuminant,
                "Observer" => &mut specification.observer,
                "MeasurementType" => &mut specification.measurement,
                "DeviceIllumination" => &mut specification.illumination,
                _ => return,
            };
            *place = text.to_owned();
        }
    }
}
