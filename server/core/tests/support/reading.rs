//! Texts read as tables with the `options` of the test that includes this, and what is said of them.
//! It does not know their format.

use dyekin_core::table::{self, Loaded};

use super::options;

/// A text that must load.
#[track_caller]
pub(crate) fn loaded(text: &str) -> Loaded {
    table::read(text.as_bytes(), &options())
        .unwrap_or_else(|refused| panic!("{text}\n{refused:#?}"))
}

/// Problems of a text that must be refused, with their remedies and without the name of the file:
/// `line 2, column LAB_L: … | remedy`.
#[track_caller]
pub(crate) fn told(text: &str) -> Vec<String> {
    let options = options();
    let refused = table::read(text.as_bytes(), &options).expect_err("the text must be refused");
    let name = &options.source_name;
    let problem = |p: &dyekin_core::Error| {
        let said = format!("{p} | {}", p.hint().unwrap_or_default());
        said.replacen(&format!("{name}, "), "", 1).replacen(&format!("{name}: "), "", 1)
    };
    refused.problems.iter().map(problem).collect()
}

/// Each problem must begin and be remedied like this, and there must be no other.
#[track_caller]
pub(crate) fn check_told(text: &str, expected: &[(&str, &str)]) {
    let told = told(text);
    for (told, (start, remedy)) in told.iter().zip(expected) {
        assert!(told.starts_with(start) && told.contains(remedy), "{told}\n{start} … {remedy}");
    }
    assert_eq!(told.len(), expected.len(), "{told:#?}");
}
