//! The words of the chart file that reader and writer share. Format: `chart.schema.json`.
//! It does not know how JSON is parsed or laid out.

pub(crate) mod read;
pub(crate) mod write;

use super::{Corner, Shape, Slope};

/// What `format` says in a chart file.
pub(crate) const FORMAT: &str = "dyekin-chart";

/// The version that is written, and the highest that is read.
pub(crate) const VERSION: u64 = 1;

const CORNERS: [(&str, Corner); 4] = [
    ("bottom left", Corner::BottomLeft),
    ("bottom right", Corner::BottomRight),
    ("top left", Corner::TopLeft),
    ("top right", Corner::TopRight),
];

const SLOPES: [(&str, Slope); 2] = [("falling", Slope::Falling), ("rising", Slope::Rising)];

/// Key and word of a shape.
fn shape_words(shape: Shape) -> (&'static str, &'static str) {
    let corner_word = |wanted: Corner| {
        CORNERS.iter().find(|(_, corner)| *corner == wanted).map_or("", |(word, _)| word)
    };
    match shape {
        Shape::Quarter(corner) => ("quarter", corner_word(corner)),
        Shape::Half(wanted) => {
            let word = SLOPES.iter().find(|(_, slope)| *slope == wanted);
            ("half", word.map_or("", |(word, _)| word))
        }
        Shape::ThreeQuarter(corner) => ("three_quarter", corner_word(corner)),
    }
}

/// The shape of a key and its word.
fn shape_of(key: &str, word: &str) -> Option<Shape> {
    let corner = || CORNERS.iter().find(|(held, _)| *held == word).map(|(_, corner)| *corner);
    match key {
        "quarter" => corner().map(Shape::Quarter),
        "half" => {
            SLOPES.iter().find(|(held, _)| *held == word).map(|(_, slope)| Shape::Half(*slope))
        }
        "three_quarter" => corner().map(Shape::ThreeQuarter),
        _ => None,
    }
}
