//! Notes in words: headings, one line for each, and the way out with the command that mends it.
//! It does not find notes, and it does not run anything.

mod about;
mod json;
pub(crate) mod sarif;
mod words;

use dyekin_core::color::Trust;
use dyekin_core::error::harmless;

use super::{Caution, counted, text, thousands};
use crate::check::{Checked, Code, Degree, Note};
use crate::cli::CheckArgs;
pub(crate) use words::to;
use words::{Command, Way, heading, item, way};

/// Notes of one code that are told without being asked for details.
const SHOWN: usize = 5;

/// What was typed, for the commands that a note proposes.
#[derive(Clone, Debug)]
pub(crate) struct Names {
    /// The chart.
    pub(crate) chart: String,
    /// What stands behind it in every command: tables and the like.
    options: String,
    has_table: bool,
}

impl Names {
    /// The options with a chart.
    pub(crate) fn with(typed: &CheckArgs, chart: &str) -> Self {
        let mut options = String::new();
        let mut add = |name: &str, value: &str| {
            options.push_str(&format!(" {name} {}", typeable(value)));
        };
        typed.tables.tables.iter().for_each(|path| add("--table", &path.to_string_lossy()));
        typed.read.from.iter().for_each(|path| add("--from", &path.to_string_lossy()));
        typed.read.picture.typed().iter().for_each(|(name, value)| add(name, value));
        let reading = &typed.tables.reading;
        reading.server.iter().for_each(|url| add("--server", url));
        reading.white.iter().for_each(|white| add("--white", white));
        reading.origin.iter().for_each(|origin| add("--origin", origin));
        reading.measurement.iter().for_each(|wanted| add("--measurement", wanted));
        if reading.alpha_first {
            options.push_str(" --alpha-first");
        }
        Self {
            chart: chart.to_owned(),
            options,
            has_table: !typed.tables.tables.is_empty() || typed.tables.reading.server.is_some(),
        }
    }

    /// A command on the chart, as it can be typed.
    fn command(&self, command: &Command) -> String {
        let Command { verb, options, needs_table } = command;
        let chart = match self.chart.strip_prefix('-') {
            Some(_) => format!("./{}", self.chart),
            None => self.chart.clone(),
        };
        let table = if *needs_table && !self.has_table { " --table FILE" } else { "" };
        format!("dyekin {verb} {}{}{table}{options}", typeable(&chart), self.options)
    }
}

/// A word as a shell takes it, with nothing in it that could harm a terminal.
pub(crate) fn typeable(word: &str) -> String {
    let shown = harmless(word);
    let is_plain = |character: char| {
        character.is_alphanumeric() || matches!(character, '.' | '_' | '-' | '/' | ':' | ',' | '+')
    };
    if !shown.is_empty() && shown.chars().all(is_plain) {
        return shown;
    }
    format!("'{}'", shown.replace('\'', r"'\''"))
}

/// What is told.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Told<'t> {
    pub(crate) checked: &'t Checked,
    pub(crate) names: &'t Names,
}

impl Told<'_> {
    /// The lines of the report.
    pub(crate) fn lines(&self, details: bool, width: usize) -> Vec<String> {
        let mut lines = text::wrap(&self.headline(), width, 2);
        lines.extend(self.notes(details, width));
        lines
    }

    /// The notes, by degree.
    pub(crate) fn notes(&self, details: bool, width: usize) -> Vec<String> {
        let mut lines = Vec::new();
        for degree in Degree::ALL {
            let codes =
                Code::ALL.into_iter().filter(|code| self.of(degree, *code).next().is_some());
            for (number, code) in codes.enumerate() {
                if number == 0 {
                    lines.push(String::new());
                    lines.push(format!("{}:", words::degree(degree)));
                }
                lines.extend(self.block(degree, code, details, width));
            }
        }
        lines
    }

    /// One line for the whole chart, such as `ferry.json: 24 colors, 33,600 stitches, 1.2 % of them
    /// lone; 2 notes to fix before selling`.
    pub(crate) fn headline(&self) -> String {
        format!("{}: {}", harmless(&self.names.chart), self.of_chart())
    }

    /// The same without the name of the chart.
    pub(crate) fn of_chart(&self) -> String {
        let checked = self.checked;
        let mut parts = Vec::new();
        parts.extend(checked.size.map(|size| size.to_string()));
        parts.push(counted(checked.colors as u64, "color", "colors"));
        parts.push(counted(checked.stitches, "stitch", "stitches"));
        parts.extend(self.lone_percent().map(|percent| format!("{percent:.1} % of them lone")));
        let counts: Vec<String> = Degree::ALL
            .into_iter()
            .filter(|degree| checked.count(*degree) > 0)
            .map(|degree| format!("{} {}", thousands(checked.count(degree) as u64), to(degree)))
            .collect();
        let counts = if counts.is_empty() { "no note".to_owned() } else { counts.join(", ") };
        format!("{}; {counts}.", parts.join(", "))
    }

    fn lone_percent(&self) -> Option<f64> {
        let (lone, stitched) = self.checked.lone.zip(self.checked.stitched_cells)?;
        #[expect(clippy::cast_precision_loss, reason = "at most four million cells")]
        let percent = lone as f64 * 100.0 / stitched.max(1) as f64;
        (lone > 0).then_some(percent)
    }

    fn of(&self, degree: Degree, code: Code) -> impl Iterator<Item = &Note> {
        let notes = self.checked.notes.iter();
        notes.filter(move |note| note.degree == degree && note.code() == code)
    }

    /// All notes of one code: what they are, each of them, and the way out.
    fn block(&self, degree: Degree, code: Code, details: bool, width: usize) -> Vec<String> {
        let notes: Vec<&Note> = self.of(degree, code).collect();
        let cut = self.checked.more.iter().find(|more| more.0 == code).map_or(0, |more| more.1);
        let all = notes.len() as u64 + cut;
        let mut lines =
            text::wrap(&format!("{}: {}", code.as_str(), heading(&notes, all)), width, 2);
        let shown = if details { notes.len() } else { SHOWN.min(notes.len()) };
        for words in notes.iter().take(shown).filter_map(|note| item(note, details)) {
            lines.extend(text::wrap_hanging(&words, width, (2, 6)));
        }
        let unsaid = (notes.len() - shown) as u64;
        if unsaid > 0 {
            lines.push(format!("  and {} more: --details shows them", thousands(unsaid + cut)));
        } else if cut > 0 {
            lines.push(format!("  and {} more", thousands(cut)));
        }
        let mut told: Vec<String> = Vec::new();
        for way in ways(&notes) {
            let words = match &way.command {
                Some(command) => format!("{}: {}", way.words, self.names.command(command)),
                None => way.words.to_owned(),
            };
            if !told.contains(&words) {
                lines.extend(text::wrap_hanging(&format!("> {words}"), width, (2, 4)));
                told.push(words);
            }
        }
        lines
    }

    /// Advice that is due, each once.
    pub(crate) fn cautions(&self) -> Vec<Caution> {
        let notes = &self.checked.notes;
        let is_rough =
            |note: &Note| note.finding.difference().is_some_and(|held| held.trust == Trust::Rough);
        let has = |code: Code| notes.iter().any(|note| note.code() == code);
        let due = [
            (Caution::Screen, notes.iter().any(is_rough)),
            (Caution::Lot, has(Code::ThreadLow)),
            (Caution::Wet, has(Code::MayBleed)),
            (Caution::Rights, has(Code::NoThread)),
        ];
        due.into_iter().filter(|(_, is_due)| *is_due).map(|(caution, _)| caution).collect()
    }
}

/// The ways out of notes of one code: one command for all threads together.
fn ways(notes: &[&Note]) -> Vec<Way> {
    let missing: Vec<_> = notes.iter().filter_map(|note| note.finding.supply()).collect();
    if missing.is_empty() {
        return notes.iter().map(|note| way(&note.finding)).collect();
    }
    let threads: Vec<_> = missing.iter().map(|(thread, _)| *thread).collect();
    notes.first().map(|note| words::substitute(note.code(), &threads)).into_iter().collect()
}
