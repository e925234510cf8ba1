//! The service over a real socket on loopback: what each method answers and refuses.
//! It does not check the numbers of core, which have tests of their own.

mod audits;
mod blends;
mod life;
mod limits;
mod matching;
mod palette;
mod reasons;
mod spectra;
mod tables;

use dyekin_proto::v1 as pb;
use dyekin_tests::server::{problems, reason};
use tonic::{Code, Status};
use tonic_types::StatusExt;

/// A color by its hex.
fn hex(text: &str) -> pb::Color {
    pb::Color { value: Some(pb::color::Value::Hex(text.into())), ..Default::default() }
}

/// A measured Lab color under an illuminant and 10 degrees.
fn meter(l: f64, illuminant: pb::Illuminant) -> pb::Color {
    let observer = pb::Observer::TenDegree.into();
    pb::Color {
        value: Some(pb::color::Value::Lab(pb::LabColor { l, a: 10.0, b: 10.0 })),
        conditions: Some(pb::Conditions { illuminant: illuminant.into(), observer }),
        origin: pb::Origin::Meter.into(),
        ..Default::default()
    }
}

fn query(color: pb::Color) -> pb::ColorQuery {
    pb::ColorQuery { color: Some(color), query_id: String::new(), spectrum: None }
}

fn match_one(color: pb::Color) -> pb::MatchColorsRequest {
    pb::MatchColorsRequest { queries: vec![query(color)], options: None }
}

fn thread_ref(table: &str, code: &str) -> pb::ThreadRef {
    pb::ThreadRef { table_id: table.into(), code: code.into() }
}

/// A palette of screen colors with a stitch count each, the neighbors not known.
fn palette<'c>(colors: impl IntoIterator<Item = (&'c str, i64)>) -> pb::PaletteSummary {
    let colors = colors
        .into_iter()
        .map(|(text, stitch_count)| pb::PaletteColor {
            color: Some(hex(text)),
            stitch_count,
            ..Default::default()
        })
        .collect();
    pb::PaletteSummary { colors, neighbors: None, cloth: None }
}

/// A palette of that many different colors.
fn large_palette(count: usize) -> pb::PaletteSummary {
    let mut colors = dyekin_tests::threads::Sequence::new(7);
    let texts: Vec<String> = (0..count).map(|_| colors.color().to_string()).collect();
    palette(texts.iter().map(|text| (text.as_str(), 10)))
}

/// Asserts code and reason, and that every error carries exactly one `ErrorInfo` of our domain.
#[track_caller]
fn refused<T: std::fmt::Debug>(answer: Result<T, Status>, code: Code, expected: &str) -> Status {
    let status = answer.expect_err("a refusal");
    assert_eq!((status.code(), reason(&status).as_str()), (code, expected), "{status:?}");
    let details = status.get_details_error_info().expect("an ErrorInfo");
    assert_eq!(details.domain, "dyekin");
    assert!(status.message().len() <= 900, "{}", status.message().len());
    status
}

/// Asserts the field of the first problem as well, in both forms.
#[track_caller]
fn refused_field<T: std::fmt::Debug>(
    answer: Result<T, Status>,
    code: Code,
    expected: &str,
    field: &str,
) -> Status {
    let status = refused(answer, code, expected);
    let listed = problems(&status);
    let first = listed.problems.first().expect("a problem");
    assert_eq!(first.place.as_ref().map(|place| place.field.as_str()), Some(field), "{first:?}");
    let standard = status.get_details_bad_request().expect("a BadRequest");
    assert_eq!(standard.field_violations[0].field, field);
    status
}
