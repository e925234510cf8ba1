//! One line of a person's list: which thread, how many, and what else it says.
//! It does not know the lines around it.

use std::collections::BTreeSet;

use dyekin_core::error::Error;
use dyekin_core::{Code, TableId, ThreadRef};

use super::count::{Count, is_meter, is_times, is_unit, length, marked, plain};
use super::shelf::{Shelf, loose};
use crate::chart::problems::bad_value;

/// Most words that one spelling of a thread is made of.
const MOST_WORDS: usize = 6;

/// Codes that a problem names.
const NAMED: usize = 5;

/// What a line says.
pub(super) enum Line {
    Blank,
    Note,
    Thread(Read),
    /// It names no thread, or not surely one.
    Unclear(Error),
}

/// A thread that a line names.
#[derive(Debug, PartialEq)]
pub(super) struct Read {
    pub(super) thread: ThreadRef,
    pub(super) count: Option<Count>,
    /// Meters, where the line says so many.
    pub(super) meters: Option<Count>,
    /// What was taken for granted.
    pub(super) notices: Vec<String>,
}

/// Marks behind which a remark begins, once a thread stands before them: a hash, two slashes, and
/// dashes of three lengths.
const REMARKS: [&str; 5] = [" #", " //", " -- ", " \u{2013} ", " \u{2014} "];

pub(super) fn read(line: &str, shelf: &Shelf<'_>) -> Line {
    let line = line.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}');
    if line.is_empty() {
        return Line::Blank;
    }
    let is_heading = line.ends_with(':');
    let is_text = line.chars().any(char::is_alphanumeric);
    if line.starts_with('#') || line.starts_with("//") || is_heading || !is_text {
        return Line::Note;
    }
    let cut = REMARKS.iter().filter_map(|mark| line.find(mark)).min();
    let mut before = cut.and_then(|cut| line.get(..cut)).unwrap_or(line);
    let mut found = Words::of(before).find(shelf);
    if matches!(found, Found::Nothing) && before.len() < line.len() {
        before = line;
        found = Words::of(line).find(shelf);
    }
    match found {
        Found::Unclear(problem) => Line::Unclear(problem),
        Found::Nothing => Line::Unclear(unknown(line, shelf)),
        Found::Thread(mut read) => {
            let remark = line.get(before.len()..).unwrap_or_default();
            let remark = remark.trim_matches(|c: char| !c.is_alphanumeric());
            if !remark.is_empty() {
                read.notices.push(as_note(remark));
            }
            Line::Thread(read)
        }
    }
}

fn as_note(text: &str) -> String {
    format!("`{text}` is taken as a note")
}

enum Found {
    Nothing,
    Thread(Read),
    Unclear(Error),
}

/// The words of a line.
struct Words<'l> {
    line: &'l str,
    words: Vec<&'l str>,
}

impl<'l> Words<'l> {
    fn of(line: &'l str) -> Self {
        let rough = line.split(|c: char| c.is_whitespace() || matches!(c, ';' | '|'));
        let mut words = Vec::new();
        for word in rough {
            // A comma may be the decimal mark of a count.
            if Count::parse(word).is_some() {
                words.push(word);
            } else {
                words.extend(word.split(','));
            }
        }
        words.retain(|word| !word.is_empty());
        Self { line, words }
    }

    fn find(&self, shelf: &Shelf<'_>) -> Found {
        let mut spans = self.spans(shelf.longest(), &|key| shelf.spelled(key));
        if spans.is_empty() {
            spans = self.spans(shelf.longest(), &|key| shelf.cut_short(key));
        }
        let Some(span) = longest(&spans) else { return self.by_name(shelf) };
        let threads = match self.of_range(span, shelf) {
            Ok(threads) => threads,
            Err(problem) => return Found::Unclear(problem),
        };
        // A second thread on the line may be the one that is meant.
        let is_second = |other: &&Span| !span.overlaps(other) && !other.threads.is_subset(&threads);
        if let Some(other) = spans.iter().find(is_second) {
            return Found::Unclear(two_threads(self.line, &span.threads, &other.threads));
        }
        let mut each = threads.iter();
        match (each.next(), each.next()) {
            (Some(thread), None) => self.told(thread, Some(span), shelf),
            _ => Found::Unclear(several(self.line, &threads)),
        }
    }

    /// Every run of words that spells a thread.
    fn spans<'s>(
        &self,
        longest: usize,
        spelled: &dyn Fn(&str) -> Option<&'s BTreeSet<ThreadRef>>,
    ) -> Vec<Span> {
        let mut spans = Vec::new();
        for start in 0..self.words.len() {
            let mut key = String::new();
            for (end, word) in self.words.iter().enumerate().skip(start).take(MOST_WORDS) {
                let part = loose(word);
                if part.is_empty() && end == start {
                    break;
                }
                key.push_str(&part);
                if key.chars().count() > longest {
                    break;
                }
                if let Some(threads) = spelled(&key).filter(|_| !part.is_empty()) {
                    let letters = key.chars().count();
                    spans.push(Span { start, end: end + 1, letters, threads: threads.clone() });
                }
            }
        }
        // What says that it is a count is one, where another word is a code.
        if spans.iter().any(|span| !self.is_marked(span)) {
            spans.retain(|span| !self.is_marked(span));
        }
        spans
    }

    fn is_marked(&self, span: &Span) -> bool {
        let only = self.words.get(span.start).filter(|_| span.end == span.start + 1);
        only.is_some_and(|word| marked(word).is_some())
    }

    /// The threads of a span, of the range that the words before it name.
    fn of_range(&self, span: &Span, shelf: &Shelf<'_>) -> Result<BTreeSet<ThreadRef>, Error> {
        let before = self.words.iter().take(span.start);
        let before: String =
            before.filter(|word| !is_count(word)).map(|word| loose(word)).collect();
        let ranges = shelf.ranges(&before);
        if ranges.is_empty() {
            return Ok(span.threads.clone());
        }
        let is_of_it = |held: &&ThreadRef| ranges.contains(&&held.table);
        let of_it: BTreeSet<ThreadRef> = span.threads.iter().filter(is_of_it).cloned().collect();
        if of_it.is_empty() {
            return Err(other_range(self.line, &ranges, &span.threads));
        }
        Ok(of_it)
    }

    /// A thread by nothing but its name.
    fn by_name(&self, shelf: &Shelf<'_>) -> Found {
        let rest = self.words.iter().filter(|word| !is_count(word) && !is_unit(word));
        let said: String = rest.map(|word| loose(word)).collect();
        let Some(threads) = shelf.named(&said) else { return Found::Nothing };
        let mut each = threads.iter();
        match (each.next(), each.next()) {
            (Some(thread), None) => self.told(thread, None, shelf),
            _ => Found::Unclear(several(self.line, threads)),
        }
    }

    /// The thread with its count and what else the line says.
    fn told(&self, thread: &ThreadRef, span: Option<&Span>, shelf: &Shelf<'_>) -> Found {
        let rest = Rest::of(self, span);
        let count = match rest.count(self.line) {
            Ok(count) => count,
            Err(problem) => return Found::Unclear(problem),
        };
        let spelled = span.map(|span| self.words.get(span.start..span.end).unwrap_or_default());
        let spelled = spelled.map_or_else(|| self.line.to_owned(), |words| words.join(" "));
        let mut notices = Vec::new();
        if !is_code(&spelled, thread) {
            notices.push(format!("`{spelled}` is read as {thread}"));
        }
        if span.is_some() {
            match beside(&rest.words, thread, shelf) {
                Beside::Nothing => {}
                Beside::Note(text) => notices.push(as_note(&text)),
                Beside::Other(others) => {
                    return Found::Unclear(name_of_another(self.line, thread, others));
                }
            }
        }
        let meters = rest.meters;
        Found::Thread(Read { thread: thread.clone(), count, meters, notices })
    }
}

/// What the words beside a code are.
enum Beside<'s> {
    /// Its name, its range, or none at all.
    Nothing,
    Note(String),
    /// The name of other threads.
    Other(&'s BTreeSet<ThreadRef>),
}

fn beside<'s>(words: &[&str], thread: &ThreadRef, shelf: &'s Shelf<'_>) -> Beside<'s> {
    let key: String = words.iter().map(|word| loose(word)).collect();
    let name = shelf.name_of(thread);
    let is_name = name.contains(&key);
    if key.is_empty() || is_name || shelf.ranges(&key).contains(&&thread.table) {
        return Beside::Nothing;
    }
    match shelf.named(&key) {
        Some(others) => Beside::Other(others),
        None => Beside::Note(words.join(" ")),
    }
}

/// True when a text spells the thread as the table does, alone or behind its table.
fn is_code(text: &str, thread: &ThreadRef) -> bool {
    let behind = text.split_once([':', ' ']);
    let behind = behind.filter(|(table, _)| *table == thread.table.as_str());
    let is_it = |text: &str| Code::parse(text).is_ok_and(|code| code == thread.code);
    is_it(text) || behind.is_some_and(|(_, code)| is_it(code))
}

fn is_count(word: &str) -> bool {
    plain(word).is_some()
        || length(word).is_some()
        || marked(word).is_some()
        || is_times(word)
        || is_numbering(word)
}

/// A run of words that spells threads.
struct Span {
    start: usize,
    end: usize,
    letters: usize,
    threads: BTreeSet<ThreadRef>,
}

impl Span {
    fn overlaps(&self, other: &Self) -> bool {
        self.start < other.end && other.start < self.end
    }
}

/// The longest spelling, the first of equals.
fn longest(spans: &[Span]) -> Option<&Span> {
    let mut best: Option<&Span> = None;
    for span in spans {
        if best.is_none_or(|held| span.letters > held.letters) {
            best = Some(span);
        }
    }
    best
}

/// What a line says beside its thread.
struct Rest<'l> {
    counts: Vec<Count>,
    meters: Option<Count>,
    words: Vec<&'l str>,
}

impl<'l> Rest<'l> {
    fn of(words: &Words<'l>, span: Option<&Span>) -> Self {
        let (start, end) = span.map_or((0, 0), |span| (span.start, span.end));
        let is_outside = |place: usize| place < start || place >= end;
        let all = words.words.iter().copied().enumerate();
        let outside: Vec<(usize, &'l str)> = all.filter(|(place, _)| is_outside(*place)).collect();
        let mut counts = Vec::new();
        let mut meters: Option<Count> = None;
        let mut kept: Vec<(usize, &'l str)> = Vec::new();
        let mut place = 0;
        while let Some((at, word)) = outside.get(place).copied() {
            let after = outside.get(place + 1).map(|(_, next)| *next).unwrap_or_default();
            place += 1;
            if let Some(found) = length(word) {
                meters = Some(meters.map_or(found, |held| held.plus(found)));
            } else if let (Some(found), true) = (plain(word), is_meter(after)) {
                meters = Some(meters.map_or(found, |held| held.plus(found)));
                place += 1;
            } else if let Some(count) = marked(word) {
                counts.push(count);
            } else if let (true, Some(count)) = (is_times(word), Count::parse(after)) {
                counts.push(count);
                place += 1;
            } else if let (Some(count), true) = (plain(word), is_times(after) || is_unit(after)) {
                counts.push(count);
                place += 1;
            } else if at > 0 || !is_numbering(word) {
                kept.push((at, word));
            }
        }
        if counts.is_empty() && meters.is_none() {
            // A number beside the code is a count where no other number stands on the line.
            let is_beside = |at: usize| span.is_none() || at + 1 >= start && at <= end + 1;
            let mut numbers =
                kept.iter().enumerate().filter(|(_, (_, word))| plain(word).is_some());
            if let (Some((found, (at, word))), None) = (numbers.next(), numbers.next())
                && is_beside(*at)
            {
                counts.extend(plain(word));
                kept.remove(found);
            }
        }
        let words = kept.into_iter().map(|(_, word)| word).filter(|word| !is_unit(word));
        Self { counts, meters, words: words.collect() }
    }

    fn count(&self, line: &str) -> Result<Option<Count>, Error> {
        match self.counts.as_slice() {
            [] => Ok(None),
            [one] if one.is_absurd() => Err(absurd(line, *one)),
            [one] => Ok(Some(*one)),
            _ => Err(two_counts(line)),
        }
    }
}

/// `3.` or `3)` at the beginning of a line: its number in the list.
fn is_numbering(word: &str) -> bool {
    let digits = word.strip_suffix(['.', ')']).unwrap_or_default();
    !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit())
}

fn listed(threads: &BTreeSet<ThreadRef>) -> String {
    let spelled: Vec<String> =
        threads.iter().take(NAMED).map(|held| format!("{}:{}", held.table, held.code)).collect();
    spelled.join(" or ")
}

fn unknown(line: &str, shelf: &Shelf<'_>) -> Error {
    let words = Words::of(line).words;
    let code = words.iter().find(|word| word.chars().any(|c| c.is_ascii_digit()));
    let near = code.map(|word| shelf.near(word)).unwrap_or_default();
    let near: Vec<String> = near.into_iter().take(NAMED).collect();
    let remedy = if near.is_empty() {
        "add --table with its range, take the line out, or begin it with # as a note".to_owned()
    } else {
        format!("is it {}? Otherwise take the line out, or begin it with #", near.join(" or "))
    };
    bad_value(line, "no thread of the tables is named here", &remedy)
}

fn several(line: &str, threads: &BTreeSet<ThreadRef>) -> Error {
    let remedy = format!("write {}", listed(threads));
    bad_value(line, "this can be more than one thread", &remedy)
}

fn two_threads(line: &str, one: &BTreeSet<ThreadRef>, other: &BTreeSet<ThreadRef>) -> Error {
    let reason = format!("two threads on one line: {} and {}", listed(one), listed(other));
    bad_value(line, reason, "write one thread a line, and notes behind #")
}

fn other_range(line: &str, ranges: &[&TableId], threads: &BTreeSet<ThreadRef>) -> Error {
    let named: Vec<&str> = ranges.iter().map(|range| range.as_str()).collect();
    let reason = format!("range {} has no such code", named.join(" or "));
    bad_value(line, reason, &format!("is it {}?", listed(threads)))
}

fn name_of_another(line: &str, thread: &ThreadRef, others: &BTreeSet<ThreadRef>) -> Error {
    let reason = format!("the code is {thread}, but the name is that of {}", listed(others));
    bad_value(line, reason, "leave out the one that is wrong")
}

fn two_counts(line: &str) -> Error {
    bad_value(line, "more than one count on the line", "write one count, such as x2")
}

fn absurd(line: &str, count: Count) -> Error {
    bad_value(line, format!("{count} skeins are too many"), "write at most 9999")
}
