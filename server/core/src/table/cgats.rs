//! CGATS.17 and ISO 28178 text: tables of measurements with a data format above each.
//! It does not know what a thread is; it hands on rows of texts and the light they belong to.

mod bands;
mod cut;
mod field;
mod light;
mod scale;
mod token;

pub(super) use light::{parse_illuminant, parse_observer};

use std::borrow::Cow;

use self::cut::{Set, Sets};
use self::field::{FORMS, Field, Layout, Source};
use self::light::{Keyword, Light};
use self::scale::{Scales, scales};
use super::MAX_THREADS;
use super::bytes::numbered_lines;
use super::column::{COLUMNS, Column};
use super::csv::MAX_ROW_BYTES;
use super::naming::{Nameless, Naming};
use super::row::{Row, Rows};
use super::spectral::Spectral;
use super::tristimulus::{Space, shown_white};
use crate::color::Illuminant;
use crate::error::{ErrorKind, Place, shown};

/// Lines from the top among which a data format is looked for where the first line is a vendor's.
const HEAD_LINES: usize = 400;

/// Most columns of one table.
const MAX_FIELDS: usize = 1_024;

/// Most lines of data of one table: rows may run over several.
const MAX_LINES: usize = 4 * MAX_THREADS;

const EXPORT_LAB: &str = "export the colors as Lab (LAB_L LAB_A LAB_B)";
const EXPORT_AGAIN: &str = "the file may be cut off: export it again";

/// True for a text that begins like a file of measurements, or holds a data format near its top.
pub(super) fn is_one(text: &str) -> bool {
    let start = text.trim_start();
    let begins = ["CGATS", "IT8.", "ISO28178", "ISO 28178"]
        .into_iter()
        .any(|mark| start.get(..mark.len()).is_some_and(|head| head.eq_ignore_ascii_case(mark)));
    let is_format = |line: &str| line.split_whitespace().next() == Some("BEGIN_DATA_FORMAT");
    begins || text.split(['\n', '\r']).take(HEAD_LINES).any(is_format)
}

/// One table of the file as its lines have it.
#[derive(Debug, Default)]
struct Section<'t> {
    light: Light,
    fields: Vec<Cow<'t, str>>,
    format_line: Option<u64>,
    data_line: u64,
    /// Numbers of fields and sets that the file states, with their lines.
    stated_fields: Option<(u64, String)>,
    stated_sets: Option<(u64, String)>,
    lines: Vec<(u64, &'t str)>,
}

/// Where the reader of lines stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    Head,
    Format,
    Data,
}

/// Reads all tables of a text.
pub(super) fn read(text: &str, rows: &mut Rows<'_>) {
    let sections = sections(text, rows);
    let layouts: Vec<Option<Layout>> = sections.iter().map(|section| section.layout()).collect();
    let has_color = layouts.iter().any(Option::is_some);
    if sections.is_empty() && !rows.report.has_problems() {
        let reason = "a file of measurements without data (BEGIN_DATA)";
        rows.report.problem(bad_file(reason, EXPORT_AGAIN), Place::default());
    }
    let Some(scales) = scales(&sections, &layouts, rows) else { return };
    let mut before = Light::default();
    for (mut section, layout) in sections.into_iter().zip(layouts) {
        section.check_stated_fields(rows);
        if section.light.is_silent() && !before.is_silent() && layout.is_some() {
            section.light = before;
            let text = "this table states no illuminant and observer: taken like the table before";
            rows.report.notice(Some(Place::line(section.data_line)), text);
        }
        before = section.light;
        match layout {
            Some(mut layout) => {
                if let Source::Numbers(Space::Xyz { white_y }, _) = &mut layout.source {
                    *white_y = scales.white_y;
                }
                section.give(&layout, scales, rows);
            }
            None => section.refuse(has_color, rows),
        }
    }
}

fn bad_file(reason: &str, remedy: &str) -> ErrorKind {
    ErrorKind::BadFile { reason: reason.into(), remedy: remedy.into() }
}

/// Cuts the text into tables. Data that is never ended still counts, with a problem.
fn sections<'t>(text: &'t str, rows: &mut Rows<'_>) -> Vec<Section<'t>> {
    let mut sections = Vec::new();
    let mut open = Section::default();
    let mut part = Part::Head;
    for (number, line) in numbered_lines(text) {
        if line.trim().is_empty() {
            continue;
        }
        if line.len() > MAX_ROW_BYTES {
            let reason = format!("a line of {} bytes, the limit is {MAX_ROW_BYTES}", line.len());
            rows.report.problem(bad_file(&reason, "shorten it"), Place::line(number));
            continue;
        }
        let first = line.split_whitespace().next().unwrap_or_default();
        part = match (part, first) {
            (Part::Data, "END_DATA") => {
                sections.push(std::mem::take(&mut open));
                Part::Head
            }
            (Part::Data, "BEGIN_DATA" | "BEGIN_DATA_FORMAT" | "END_DATA_FORMAT") => {
                let reason = format!("{first} inside data that begins on line {}", open.data_line);
                let kind = bad_file(&reason, "end the data with END_DATA");
                rows.report.problem(kind, Place::line(number));
                Part::Data
            }
            (Part::Data, _) => {
                if open.lines.len() == MAX_LINES {
                    refuse_lines(number, rows);
                }
                if open.lines.len() <= MAX_LINES {
                    open.lines.push((number, line));
                }
                Part::Data
            }
            (Part::Head | Part::Format, _) => open.read_head(part, (number, line), rows),
        };
    }
    if part != Part::Head {
        let what = if part == Part::Data { "END_DATA" } else { "END_DATA_FORMAT" };
        let line = if part == Part::Data { Some(open.data_line) } else { open.format_line };
        let reason = format!("the file ends before {what}");
        let place = line.map(Place::line).unwrap_or_default();
        rows.report.problem(bad_file(&reason, EXPORT_AGAIN), place);
        sections.push(open);
    }
    sections
}

fn refuse_lines(line: u64, rows: &mut Rows<'_>) {
    let kind = ErrorKind::OverLimit {
        what: "lines of data in one table, this one or more".into(),
        found: MAX_LINES as u64 + 1,
        limit: MAX_LINES as u64,
    };
    rows.report.problem(kind, Place::line(line));
}

impl<'t> Section<'t> {
    /// Reads a line above the data.
    fn read_head(&mut self, part: Part, (line, text): (u64, &'t str), rows: &mut Rows<'_>) -> Part {
        let words = match token::words(text) {
            Ok(words) => words,
            Err(fault) => {
                rows.report.problem(bad_file(fault.reason, fault.remedy), Place::line(line));
                return part;
            }
        };
        let mut words = words.into_iter();
        if part == Part::Format {
            return self.read_format(words, rows);
        }
        let Some(name) = words.next() else { return part };
        let values: Vec<Cow<'t, str>> = words.collect();
        let stated = || Some((line, values.first().cloned().unwrap_or_default().into_owned()));
        match name.as_ref() {
            "BEGIN_DATA_FORMAT" => {
                self.format_line = Some(line);
                self.fields.clear();
                return self.read_format(values.into_iter(), rows);
            }
            "BEGIN_DATA" => {
                self.data_line = line;
                return Part::Data;
            }
            "NUMBER_OF_FIELDS" => self.stated_fields = stated(),
            "NUMBER_OF_SETS" => self.stated_sets = stated(),
            name => self.light.note(Keyword { name, line }, &values, &mut rows.report),
        }
        Part::Head
    }

    fn read_format(
        &mut self,
        names: impl Iterator<Item = Cow<'t, str>>,
        rows: &mut Rows<'_>,
    ) -> Part {
        for name in names {
            if name == "END_DATA_FORMAT" {
                return Part::Head;
            }
            if self.fields.len() == MAX_FIELDS {
                let kind = ErrorKind::OverLimit {
                    what: "columns of one table, this one or more".into(),
                    found: MAX_FIELDS as u64 + 1,
                    limit: MAX_FIELDS as u64,
                };
                rows.report.problem(kind, self.format_place());
            }
            if self.fields.len() <= MAX_FIELDS {
                self.fields.push(name);
            }
        }
        Part::Format
    }

    fn format_place(&self) -> Place {
        Place::line(self.format_line.unwrap_or(self.data_line))
    }

    fn meanings(&self) -> Vec<Field> {
        self.fields.iter().map(|name| Field::parse(name)).collect()
    }

    fn layout(&self) -> Option<Layout> {
        Layout::of(&self.meanings())
    }

    fn check_stated_fields(&self, rows: &mut Rows<'_>) {
        tell_count("NUMBER_OF_FIELDS", self.stated_fields.as_ref(), self.fields.len(), self, rows);
    }

    /// Says why a table without colors is not read, or refuses it where no other has any.
    fn refuse(&self, others_have: bool, rows: &mut Rows<'_>) {
        let fields = self.meanings();
        let reason = if self.format_line.is_none() {
            "data without a data format (BEGIN_DATA_FORMAT)".to_owned()
        } else if let Some(missing) = self.missing(&fields) {
            missing
        } else if fields.iter().any(|field| matches!(field, Field::Spectral(_))) {
            "it holds reflectance spectra whose columns name no wavelengths".to_owned()
        } else if fields.contains(&Field::Device) {
            "it holds amounts of a printer or screen only, which are no color without its profile"
                .to_owned()
        } else {
            "none of its columns is a color".to_owned()
        };
        if others_have {
            let text = format!("this table is not read: {reason}");
            rows.report.notice(Some(self.format_place()), text);
        } else {
            rows.report.problem(bad_file(&reason, EXPORT_LAB), self.format_place());
        }
    }

    /// The names of a form of color of which only some columns are there.
    fn missing(&self, fields: &[Field]) -> Option<String> {
        const NAMES: [&str; 3] = ["LAB_L LAB_A LAB_B", "LAB_L LAB_C LAB_H", "XYZ_X XYZ_Y XYZ_Z"];
        let has = |field: &Field| fields.contains(field);
        let part = FORMS.iter().zip(NAMES).find(|((_, form), _)| form.iter().any(has));
        part.map(|(_, names)| format!("not all of the columns {names} are there"))
    }

    /// Hands the rows on.
    fn give(&self, layout: &Layout, scales: Scales, rows: &mut Rows<'_>) {
        self.tell_columns(layout, rows);
        if layout.source == Source::Spectrum && layout.grid().is_none() {
            let reason = "the wavelengths of the spectral columns have no equal steps";
            rows.report.problem(bad_file(reason, EXPORT_LAB), self.format_place());
            return;
        }
        let sets = Sets::told(&self.lines, layout.width, rows);
        if !rows.report.has_problems() {
            tell_count("NUMBER_OF_SETS", self.stated_sets.as_ref(), sets.len(), self, rows);
        }
        self.spell(layout, rows);
        let naming = self.naming(layout, sets, rows);
        for set in sets.iter() {
            let (numbers, spectrum) = match layout.source {
                Source::Numbers(space, places) => {
                    rows.space = space;
                    let numbers = places.map(|place| text(&set, Some(place)));
                    (numbers, bands::beside(layout, &set, scales))
                }
                Source::Spectrum => {
                    let place = || Place::line(set.line);
                    match bands::bands(self, layout, &set, scales, rows).map(|it| it.spectrum()) {
                        Some(Ok(spectrum)) => ([""; 3], spectrum),
                        Some(Err(error)) => {
                            rows.report.problem(error.kind().clone(), place());
                            ([""; 3], Spectral::Refused)
                        }
                        None => ([""; 3], Spectral::Refused),
                    }
                }
            };
            self.push(layout, naming, (&set, numbers), spectrum, rows);
            if rows.is_full {
                return;
            }
        }
    }

    /// Hands on a row with three numbers or a spectrum, under the light of the table.
    fn push(
        &self,
        layout: &Layout,
        naming: Option<Naming>,
        (set, [first, second, third]): (&Set<'_>, [&str; 3]),
        spectrum: Spectral,
        rows: &mut Rows<'_>,
    ) {
        let name = text(set, layout.name);
        let made;
        let code = match naming {
            Some(naming) => {
                made = naming.code(name, rows.threads.len() + 1);
                &made
            }
            None => text(set, layout.id),
        };
        let light = self.light.illuminant.map(|(light, _)| light);
        let observer = self.light.observer.map(|(observer, _)| observer);
        let observer = observer.map(|observer| observer.degrees().to_string());
        let mut row = Row { line: set.line, origin: None, cells: [""; COLUMNS], spectrum };
        for (column, text) in [
            (Column::Code, code),
            (Column::Name, name),
            (Column::LabL, first),
            (Column::LabA, second),
            (Column::LabB, third),
            (Column::Illuminant, light.map_or("", Illuminant::as_str)),
            (Column::Observer, observer.as_deref().unwrap_or_default()),
        ] {
            if let Some(place) = row.cells.get_mut(column.index()) {
                *place = text;
            }
        }
        rows.push(&row);
    }

    /// How rows without `SAMPLE_ID` get their codes.
    fn naming(&self, layout: &Layout, sets: Sets<'_, '_>, rows: &mut Rows<'_>) -> Option<Naming> {
        if layout.id.is_some() || sets.len() == 0 {
            return None;
        }
        let colors: Vec<(String, String)> = sets
            .iter()
            .map(|set| {
                let color: Vec<&str> = match layout.numbers() {
                    Some(places) => places.iter().map(|place| text(&set, Some(*place))).collect(),
                    None => layout.bands.iter().map(|(_, at)| text(&set, Some(*at))).collect(),
                };
                (text(&set, layout.name).to_owned(), color.join(" "))
            })
            .collect();
        let named = colors.iter().map(|(name, color)| Nameless { name, color });
        let naming = Naming::decide(named);
        naming.tell("a table without SAMPLE_ID", &mut rows.report);
        Some(naming)
    }

    /// Notices about columns that are not read, problems about those that stand twice.
    fn tell_columns(&self, layout: &Layout, rows: &mut Rows<'_>) {
        let place = self.format_place();
        let meanings = self.meanings();
        let used: Vec<usize> = layout.columns().map(|(_, place)| place).collect();
        let mut others: Vec<String> = Vec::new();
        for (index, (field, name)) in meanings.iter().zip(&self.fields).enumerate() {
            let twice = used.iter().any(|first| {
                *first != index && meanings.get(*first) == Some(field) && !used.contains(&index)
            });
            if twice {
                let kind = ErrorKind::BadValue {
                    value: name.to_string(),
                    reason: "a second column of this meaning".into(),
                    remedy: "keep one of them".into(),
                };
                rows.report
                    .problem(kind, Place { column: Some(name.to_string()), ..place.clone() });
            } else if !used.contains(&index) && !matches!(field, Field::Spectral(_)) {
                others.push(shown(name));
            }
        }
        if !others.is_empty() {
            const NAMED: usize = 8;
            let more = if others.len() > NAMED { ", …" } else { "" };
            others.truncate(NAMED);
            let text = format!("columns not read: {}{more}", others.join(", "));
            rows.report.notice(Some(place), text);
        }
        self.tell_space(layout, rows);
    }

    fn tell_space(&self, layout: &Layout, rows: &mut Rows<'_>) {
        let Source::Numbers(space, _) = layout.source else { return };
        let text = match space {
            Space::Lab => return,
            Space::Lch => "L*, C* and hue are converted to L*, a*, b*".to_owned(),
            Space::Xyz { white_y } => {
                let stated = rows.conditions_of(
                    self.light.illuminant.map(|(light, _)| light),
                    self.light.observer.map(|(observer, _)| observer),
                );
                format!(
                    "X, Y, Z, where the white has Y {white_y}, are converted to CIELAB with the \
                     white of {}",
                    shown_white(stated)
                )
            }
        };
        rows.report.notice(Some(self.format_place()), text);
    }

    /// Sets the column names that messages use.
    fn spell(&self, layout: &Layout, rows: &mut Rows<'_>) {
        rows.spelled = Default::default();
        for (column, place) in layout.columns() {
            if let (Some(spelled), Some(name)) =
                (rows.spelled.get_mut(column.index()), self.fields.get(place))
            {
                *spelled = name.to_string();
            }
        }
    }
}

/// A cell of a row; empty where there is none.
fn text<'s>(set: &'s Set<'_>, place: Option<usize>) -> &'s str {
    place.and_then(|place| set.cells.get(place)).map_or("", AsRef::as_ref)
}

/// Says that a count in the file is missing or wrong. What is there is counted.
fn tell_count(
    keyword: &str,
    stated: Option<&(u64, String)>,
    found: usize,
    section: &Section<'_>,
    rows: &mut Rows<'_>,
) {
    let text = match stated {
        Some((_, text)) if text.parse() == Ok(found) => return,
        Some((_, text)) => format!("{keyword} says {}, {found} are there: counted", shown(text)),
        None => format!("no {keyword}: {found} are there, counted"),
    };
    let line = stated.map_or(section.data_line, |(line, _)| *line);
    rows.report.notice(Some(Place::line(line)), text);
}
