//! Pages and the tokens that lead to the next one. A token is opaque to clients and worthless for
//! another list. It does not know what is listed.

use std::sync::Arc;

use dyekin_core::{CatalogTable, TableId};
use prost::Message;

use super::MAX_RESPONSE_BYTES;
use super::status::Trouble;

/// Bytes of a response that are left for what is not listed, and for the next token.
const HEAD_BYTES: usize = 64 << 10;

/// Bytes around an entry of a list: its tag and length.
const ENTRY_BYTES: usize = 8;

/// A page of rows that stay where they are as long as the scope does.
pub(super) fn rows<'r, T>(
    rows: &'r [T],
    token: &str,
    size: usize,
    scope: &str,
) -> Result<(&'r [T], String), Trouble> {
    let start = match position(token, scope)? {
        Some(row) => row.parse().map_err(|_| Trouble::PageTokenInvalid)?,
        None => 0,
    };
    let rest = rows.get(start..).ok_or(Trouble::PageTokenInvalid)?;
    let page = rest.get(..size).unwrap_or(rest);
    let more = page.len() < rest.len();
    let next = if more { write(scope, &(start + page.len()).to_string()) } else { String::new() };
    Ok((page, next))
}

/// A page of tables: goes on behind the last id, whatever came and went meanwhile.
pub(super) fn tables<'t>(
    tables: &'t [Arc<CatalogTable>],
    token: &str,
    size: usize,
) -> Result<(&'t [Arc<CatalogTable>], String), Trouble> {
    const SCOPE: &str = "tables";
    let rest = match position(token, SCOPE)? {
        Some(id) => {
            let id = TableId::parse(&id).map_err(|_| Trouble::PageTokenInvalid)?;
            let start = tables.partition_point(|held| *held.table().id() <= id);
            tables.get(start..).unwrap_or_default()
        }
        None => tables,
    };
    let page = rest.get(..size).unwrap_or(rest);
    let next = match page.last() {
        Some(last) if page.len() < rest.len() => write(SCOPE, last.table().id().as_str()),
        Some(_) | None => String::new(),
    };
    Ok((page, next))
}

/// One page through several lists, one after the other.
#[derive(Debug)]
pub(super) struct Cut {
    start: usize,
    /// Entries still to pass over.
    skip: usize,
    taken: usize,
    /// Entries and bytes that may come.
    room: (usize, usize),
    more: bool,
}

impl Cut {
    /// Behind the position of the token; of at most so many entries and what a response holds, or
    /// all entries without a size.
    pub(super) fn new(token: &str, size: Option<usize>, scope: &str) -> Result<Self, Trouble> {
        let start = match position(token, scope)? {
            Some(place) => place.parse().map_err(|_| Trouble::PageTokenInvalid)?,
            None => 0,
        };
        let all = (usize::MAX, usize::MAX);
        let room = size.map_or(all, |size| (size, MAX_RESPONSE_BYTES - HEAD_BYTES));
        Ok(Self { start, skip: start, taken: 0, room, more: false })
    }

    /// The entries of the next list that belong to the page, as messages.
    pub(super) fn take<T, M: Message>(&mut self, list: &[T], convert: impl Fn(&T) -> M) -> Vec<M> {
        let passed = self.skip.min(list.len());
        self.skip -= passed;
        let mut page = Vec::new();
        for entry in list.get(passed..).unwrap_or_default() {
            self.more |= self.taken == self.room.0;
            if self.more {
                break;
            }
            let message = convert(entry);
            let bytes = message.encoded_len() + ENTRY_BYTES;
            // An entry is far smaller than a response, so that no page is empty for its size.
            if bytes > self.room.1 {
                self.more = true;
                break;
            }
            self.room.1 -= bytes;
            self.taken += 1;
            page.push(message);
        }
        page
    }

    /// The token that leads behind what was taken; empty on the last page.
    pub(super) fn next(&self, scope: &str) -> String {
        if self.more { write(scope, &(self.start + self.taken).to_string()) } else { String::new() }
    }

    /// Refuses a position beyond the lists.
    pub(super) fn within(&self) -> Result<(), Trouble> {
        if self.skip == 0 { Ok(()) } else { Err(Trouble::PageTokenInvalid) }
    }
}

/// Scope and position as hexadecimal digits, which need no escaping in a URL.
fn write(scope: &str, position: &str) -> String {
    format!("{scope}\n{position}").bytes().map(|byte| format!("{byte:02x}")).collect()
}

/// The position in a token of this scope; `None` for an empty token.
fn position(token: &str, scope: &str) -> Result<Option<String>, Trouble> {
    if token.is_empty() {
        return Ok(None);
    }
    let text = read(token).ok_or(Trouble::PageTokenInvalid)?;
    match text.split_once('\n') {
        Some((found, position)) if found == scope => Ok(Some(position.to_owned())),
        Some(_) | None => Err(Trouble::PageTokenInvalid),
    }
}

fn read(token: &str) -> Option<String> {
    let (pairs, rest) = token.as_bytes().as_chunks::<2>();
    let digit = |byte: u8| char::from(byte).to_digit(16).and_then(|digit| u8::try_from(digit).ok());
    let bytes: Option<Vec<u8>> =
        pairs.iter().map(|[high, low]| Some(digit(*high)? * 16 + digit(*low)?)).collect();
    rest.is_empty().then(|| String::from_utf8(bytes?).ok())?
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pages_cover_all_rows_once_and_the_last_has_no_token() {
        let all: Vec<u32> = (0..7).collect();
        let (mut seen, mut token) = (Vec::new(), String::new());
        for _ in 0..4 {
            let (page, next) = rows(&all, &token, 2, "scope").unwrap();
            seen.extend_from_slice(page);
            token = next;
        }
        assert_eq!(seen, all);
        assert_eq!(token, "");
    }

    /// All pages of two lists.
    fn pages(size: Option<usize>, lists: [&[String]; 2]) -> Vec<[Vec<String>; 2]> {
        let (mut pages, mut token) = (Vec::new(), String::new());
        loop {
            let mut cut = Cut::new(&token, size, "scope").unwrap();
            pages.push(lists.map(|list| cut.take(list, String::clone)));
            cut.within().unwrap();
            token = cut.next("scope");
            if token.is_empty() {
                return pages;
            }
        }
    }

    #[test]
    fn pages_go_through_several_lists_and_lose_nothing() {
        let numbers = |from: usize, to: usize| (from..to).map(|number| number.to_string());
        let (one, two): (Vec<_>, Vec<_>) = (numbers(0, 5).collect(), numbers(5, 12).collect());
        for size in [1, 2, 3, 5, 11, 12, 13] {
            let pages = pages(Some(size), [&one, &two]);
            let entries: Vec<usize> = pages.iter().map(|page| page.concat().len()).collect();
            let (last, full) = entries.split_last().unwrap();
            assert!(full.iter().all(|entries| *entries == size) && *last <= size, "{entries:?}");
            for (at, whole) in [&one, &two].into_iter().enumerate() {
                assert_eq!(
                    pages.iter().map(|page| page[at].clone()).collect::<Vec<_>>().concat(),
                    *whole
                );
            }
        }
        assert_eq!(pages(None, [&one, &two]), [[one, two]]);
        assert_eq!(pages(Some(3), [&[], &[]]), [[Vec::<String>::new(), Vec::new()]]);
    }

    #[test]
    fn a_page_ends_before_a_response_is_too_large() {
        let long = vec!["x".repeat(1 << 20); 9];
        let pages = pages(Some(100), [&long, &[]]);
        let entries: Vec<usize> = pages.iter().map(|page| page[0].len()).collect();
        assert_eq!(entries, [3, 3, 3]);
    }

    #[test]
    fn a_position_beyond_all_lists_is_refused() {
        let mut cut = Cut::new(&write("scope", "4"), Some(9), "scope").unwrap();
        assert!(cut.take(&vec!["a".to_owned(); 3], String::clone).is_empty());
        assert_eq!(cut.within(), Err(Trouble::PageTokenInvalid));
        for odd in ["-1", "", "x", "99999999999999999999999"] {
            let found = Cut::new(&write("scope", odd), None, "scope");
            assert_eq!(found.unwrap_err(), Trouble::PageTokenInvalid);
        }
    }

    #[test]
    fn a_token_of_another_scope_or_not_of_ours_is_refused() {
        let (_, token) = rows(&[1, 2, 3], "", 1, "one").unwrap();
        for (token, scope) in [(token.as_str(), "two"), ("zz", "one"), ("6", "one"), ("ff", "one")]
        {
            assert_eq!(rows(&[1, 2, 3], token, 1, scope), Err(Trouble::PageTokenInvalid));
        }
        let beyond = write("one", "9");
        assert_eq!(rows(&[1, 2, 3], &beyond, 1, "one"), Err(Trouble::PageTokenInvalid));
    }
}
