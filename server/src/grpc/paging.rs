//! Pages and the tokens that lead to the next one. A token is opaque to clients and worthless for
//! another list. It does not know what is listed.

use std::sync::Arc;

use dyekin_core::{CatalogTable, TableId};

use super::status::Trouble;

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
