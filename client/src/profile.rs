//! A shop's own limits for `check`, in TOML: one table for each code, its limits and its degree.
//! It does not know what the limits are for.

use dyekin_core::DeltaE;
use dyekin_core::error::{Error, Place};
use dyekin_core::table::Refused;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::chart::problems::{Problems, bad_value, spot};
use crate::check::{Code, Degree, Limits};

/// Largest profile, in bytes. House choice: all tables with long comments fit many times over.
const MAX_BYTES: usize = 1 << 20;

/// The key that every table may have.
const DEGREE: &str = "degree";

/// The word that turns a code off.
const OFF: &str = "off";

/// A limit of one code.
struct Field {
    code: Code,
    key: &'static str,
    /// Smallest and largest value.
    range: (f64, f64),
    /// Only whole numbers.
    whole: bool,
    set: fn(&mut Limits, f64),
}

/// Most that a difference may be: between black and white it is 100, with room for vivid colors.
const MOST_DIFFERENCE: f64 = 200.0;

/// Most stitches of a chart.
const MOST_STITCHES: f64 = 4e6;

const fn difference(code: Code, key: &'static str, set: fn(&mut Limits, f64)) -> Field {
    Field { code, key, range: (0.0, MOST_DIFFERENCE), whole: false, set }
}

const fn percent(code: Code, key: &'static str, set: fn(&mut Limits, f64)) -> Field {
    Field { code, key, range: (0.0, 100.0), whole: false, set }
}

const fn count(code: Code, key: &'static str, least: f64, set: fn(&mut Limits, f64)) -> Field {
    Field { code, key, range: (least, MOST_STITCHES), whole: true, set }
}

/// All limits that a profile can set.
const FIELDS: [Field; 13] = [
    difference(Code::KeyColor, "above", |limits, value| limits.key_color_above = units(value)),
    difference(Code::ColorVision, "seen-from", |limits, value| limits.seen_above = units(value)),
    difference(Code::ColorVision, "lost-below", |limits, value| limits.lost_below = units(value)),
    difference(Code::NearColors, "within", |limits, value| limits.near_within = units(value)),
    percent(Code::LoneStitches, "above-percent", |limits, value| limits.lone_above = value),
    count(Code::FewStitches, "below", 0.0, |limits, value| limits.few_below = whole(value)),
    difference(Code::LikeCloth, "within", |limits, value| limits.cloth_within = units(value)),
    difference(Code::LostOutline, "within", |limits, value| limits.outline_within = units(value)),
    count(Code::LostOutline, "cell-sides", 1.0, |limits, value| limits.outline_over = whole(value)),
    percent(Code::LostOutline, "percent", |limits, value| limits.outline_share = value),
    percent(Code::MayBleed, "dark-to", |limits, value| limits.dark_below = value),
    difference(Code::MayBleed, "vivid-from", |limits, value| limits.vivid_above = value),
    percent(Code::MayBleed, "pale-from", |limits, value| limits.pale_above = value),
];

/// A checked number as a difference.
fn units(value: f64) -> DeltaE {
    DeltaE::new(value).unwrap_or_default()
}

/// A checked whole number.
fn whole(value: f64) -> u64 {
    crate::json::whole(value).unwrap_or(0)
}

/// Reads a profile: the usual limits, with those that it sets.
///
/// # Errors
///
/// Everything that is wrong with it, at once, each with its line and column.
pub fn read(bytes: &[u8], source_name: &str) -> Result<Limits, Refused> {
    let remedy = "a profile is a short text; is it the right file?";
    let (text, problems) = Problems::reading(source_name, bytes, (MAX_BYTES, remedy))?;
    let (table, faults) = DeTable::parse_recoverable(text);
    let mut reader = Reader { text, problems, limits: Limits::usual() };
    for fault in faults {
        let at = fault.span().map_or(0, |span| span.start);
        let value = reader.line(at);
        let remedy = "write TOML such as [few-stitches] and, on a line of its own, below = 20";
        let problem = bad_value(&value, fault.message().to_owned(), remedy);
        reader.problems.push(problem.at(reader.place(at)));
    }
    for (name, value) in table.get_ref() {
        reader.table(name, value);
    }
    reader.problems.sort_by_line();
    let Reader { problems, limits, .. } = reader;
    problems.ok(limits)
}

struct Reader<'t> {
    text: &'t str,
    problems: Problems,
    limits: Limits,
}

impl Reader<'_> {
    /// Line and column of a byte, from 1; columns are counted in characters.
    fn place(&self, at: usize) -> Place {
        let before = self.text.get(..at).unwrap_or(self.text);
        let line = before.matches('\n').count() as u64 + 1;
        let column = before.rsplit('\n').next().unwrap_or_default().chars().count() as u64 + 1;
        spot(line, column)
    }

    /// The line that a byte stands in.
    fn line(&self, at: usize) -> String {
        let before = self.text.get(..at).unwrap_or(self.text);
        let start = before.rfind('\n').map_or(0, |end| end + 1);
        let rest = self.text.get(start..).unwrap_or_default();
        rest.lines().next().unwrap_or_default().trim().to_owned()
    }

    fn refuse(&mut self, at: usize, value: &str, reason: impl Into<String>, remedy: &str) {
        let problem: Error = bad_value(value, reason, remedy);
        self.problems.push(problem.at(self.place(at)));
    }

    /// The table of one code.
    fn table(&mut self, name: &Spanned<std::borrow::Cow<'_, str>>, value: &Spanned<DeValue<'_>>) {
        let at = name.span().start;
        let Some(code) = Code::parse(name.get_ref()) else {
            let codes: Vec<&str> = Code::ALL.iter().map(|code| code.as_str()).collect();
            let remedy = format!("the codes are {}", codes.join(", "));
            self.refuse(at, name.get_ref(), "no note has this code", &remedy);
            return;
        };
        let Some(table) = value.get_ref().as_table() else {
            let remedy =
                format!("write [{}] on a line of its own, and its limits below", code.as_str());
            let value = self.said(value);
            self.refuse(at, &value, "a table with limits is expected", &remedy);
            return;
        };
        for (key, value) in table {
            self.field(code, key, value);
        }
    }

    fn field(
        &mut self,
        code: Code,
        key: &Spanned<std::borrow::Cow<'_, str>>,
        value: &Spanned<DeValue<'_>>,
    ) {
        let name: &str = key.get_ref();
        if name == DEGREE {
            self.degree(code, value);
            return;
        }
        let Some(field) = FIELDS.iter().find(|field| field.code == code && field.key == name)
        else {
            let of_code = FIELDS.iter().filter(|field| field.code == code).map(|field| field.key);
            let keys: Vec<&str> = std::iter::once(DEGREE).chain(of_code).collect();
            let reason = format!("[{}] has no such limit", code.as_str());
            self.refuse(key.span().start, name, reason, &format!("it has {}", keys.join(", ")));
            return;
        };
        let (least, most) = field.range;
        let number = number(value.get_ref())
            .filter(|number| (least..=most).contains(number))
            .filter(|number| !field.whole || crate::json::whole(*number).is_some());
        match number {
            Some(number) => (field.set)(&mut self.limits, number),
            None => {
                let what = if field.whole { "a whole number" } else { "a number" };
                let reason = format!("{what} from {least} to {most} is expected");
                let written = self.said(value);
                let remedy = format!("write for example {name} = {}", least.max(1.0));
                self.refuse(value.span().start, &written, reason, &remedy);
            }
        }
    }

    fn degree(&mut self, code: Code, value: &Spanned<DeValue<'_>>) {
        let word = value.get_ref().as_str();
        let degree = match word {
            Some(OFF) => Some(None),
            Some(word) => Degree::parse(word).map(Some),
            None => None,
        };
        match degree {
            Some(degree) => self.limits.set_degree(code, degree),
            None => {
                let written = self.said(value);
                let remedy = "write \"fix\", \"look\", \"information\" or \"off\", in quotes";
                self.refuse(value.span().start, &written, "no degree", remedy);
            }
        }
    }

    /// A value as it was written.
    fn said(&self, value: &Spanned<DeValue<'_>>) -> String {
        self.text.get(value.span()).unwrap_or_default().to_owned()
    }
}

/// A number as written, whole or not; underscores between digits are TOML's.
fn number(value: &DeValue<'_>) -> Option<f64> {
    if let Some(whole) = value.as_integer() {
        let digits: i64 = i64::from_str_radix(whole.as_str(), whole.radix()).ok()?;
        return i32::try_from(digits).ok().map(f64::from);
    }
    value.as_float().and_then(|float| float.as_str().parse().ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(text: &str) -> Vec<String> {
        let refused = read(text.as_bytes(), "shop.toml").unwrap_err();
        refused.problems.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_profile_sets_limits_and_degrees_and_leaves_the_rest() {
        let text = "# ours\n[near-colors]\nwithin = 1.5\ndegree = \"fix\"\n\n[few-stitches]\nbelow = 2_0\n\
                    [may-bleed]\ndegree = \"off\"\n";
        let limits = read(text.as_bytes(), "shop.toml").unwrap();
        assert_eq!(limits.near_within, units(1.5));
        assert_eq!(limits.degree(Code::NearColors), Some(Degree::Fix));
        assert_eq!(limits.few_below, 20);
        assert_eq!(limits.degree(Code::MayBleed), None);
        assert_eq!(limits.cloth_within, Limits::usual().cloth_within);
        assert_eq!(read(b"", "shop.toml").unwrap(), Limits::usual());
    }

    #[test]
    fn every_limit_can_be_set_and_has_the_value_that_was_written() {
        for field in &FIELDS {
            let text = format!("[{}]\n{} = 7\n", field.code.as_str(), field.key);
            let mut expected = Limits::usual();
            (field.set)(&mut expected, 7.0);
            assert_ne!(expected, Limits::usual(), "{}", field.key);
            assert_eq!(read(text.as_bytes(), "shop.toml").unwrap(), expected, "{}", field.key);
        }
        for code in Code::ALL {
            let text = format!("[{}]\ndegree = \"off\"\n", code.as_str());
            assert_eq!(read(text.as_bytes(), "shop.toml").unwrap().degree(code), None);
        }
    }

    #[test]
    fn all_problems_are_told_at_once_with_line_column_and_value() {
        let text = "[near-colors]\nwithin = \"1\"\nwithn = 2\n[few-stitches]\nbelow = 2.5\ndegree = 'red'\n\
                    [lone-stitch]\nabove = 3\n[lone-stitches]\nabove-percent = 101\n[like-cloth]\nwithin = nan\n";
        let told = refused(text);
        let expected = [
            "shop.toml, line 2, column 10: `\"1\"`: a number from 0 to 200 is expected",
            "shop.toml, line 3, column 1: `withn`: [near-colors] has no such limit",
            "shop.toml, line 5, column 9: `2.5`: a whole number from 0 to 4000000 is expected",
            "shop.toml, line 6, column 10: `'red'`: no degree",
            "shop.toml, line 7, column 2: `lone-stitch`: no note has this code",
            "shop.toml, line 10, column 17: `101`: a number from 0 to 100 is expected",
            "shop.toml, line 12, column 10: `nan`: a number from 0 to 200 is expected",
        ];
        assert_eq!(told, expected);
    }

    #[test]
    fn what_is_no_toml_is_told_with_what_is_wrong_beside_it() {
        let told = refused("[near-colors]\nwithin = \nwithn = 2\n[few-stitches\n");
        assert!(told.iter().all(|line| line.starts_with("shop.toml, line ")), "{told:?}");
        assert!(told.len() >= 3, "{told:?}");
        for text in
            ["near-colors = 1", "x", "[near-colors]\nwithin = 1\nwithin = 2\n", "[[near-colors]]\n"]
        {
            assert!(!refused(text).is_empty(), "{text}");
        }
        assert!(read(&[0xFF, 0xFE, 0x20], "shop.toml").is_err());
        assert!(read(&vec![b' '; MAX_BYTES + 1], "shop.toml").is_err());
    }

    #[test]
    fn no_text_is_too_strange_to_be_refused_calmly() {
        let parts =
            ["[", "]", "near-colors", "=", "\"", "\u{1b}", "{", "}", "\n", "1e999", "é", "."];
        let mut state = 7_u64;
        for _ in 0..2_000 {
            let mut text = String::new();
            for _ in 0..12 {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                text.push_str(parts[usize::try_from(state >> 33).unwrap() % parts.len()]);
            }
            if let Err(refused) = read(text.as_bytes(), "shop.toml") {
                assert!(
                    refused.problems.iter().all(|problem| problem.place().unwrap().line.is_some())
                );
            }
        }
    }
}
