//! What a palette summary says of a chart: stitches, neighbors, areas.
//! It does not test files.

use dyekin_client::chart::{Area, Chart, Corner, Knot, Label, Line, Part, Run, Shape, Usage};
use dyekin_client::summary::{Summary, SummaryOptions};
use dyekin_core::palette::{Neighbors, Side};

use super::made::{colors, drawn, id, point, summary};

fn contacts(chart: &Chart) -> Vec<(usize, Option<usize>, u64)> {
    let flat = |pair: &Neighbors| match pair.second {
        Side::Cloth => (pair.first, None, pair.edges),
        Side::Color(second) => (pair.first, Some(second), pair.edges),
    };
    summary(chart).palette().neighbors().unwrap().iter().map(flat).collect()
}

#[test]
fn neighbors_are_counted_by_cell_edges() {
    let chart = Chart::new(drawn(&["aab", "a.b"], colors(&["#111", "#eee"]))).unwrap();
    // a-b once; a beside the bare cell: left and above; b beside it: right.
    assert_eq!(contacts(&chart), [(0, Some(1), 1), (0, None, 2), (1, None, 1)]);
}

#[test]
fn lines_and_knots_touch_what_lies_below_them() {
    let mut draft = drawn(&["aab", "a.b"], colors(&["#111", "#eee", "#f00", "#00f"]));
    // Along the lower edge of the first row, two cells long: above a, a; below a and cloth.
    draft.lines.push(Line::new(point(0, 2), point(4, 2), id(2)).unwrap());
    // Across the last column from top to bottom: two cells of b, in two pieces.
    draft.lines.push(Line::new(point(5, 0), point(5, 4), id(2)).unwrap());
    // In the middle of the first cell, and on the corner of four cells.
    draft.knots.push(Knot { at: point(1, 1), entry: id(3) });
    draft.knots.push(Knot { at: point(4, 2), entry: id(3) });
    let chart = Chart::new(draft).unwrap();
    assert_eq!(
        contacts(&chart),
        [
            (0, Some(1), 1),
            (0, Some(2), 3),
            (0, Some(3), 2),
            (0, None, 2),
            (1, Some(2), 2),
            (1, Some(3), 2),
            (1, None, 1),
            (2, None, 1),
            (3, None, 1),
        ]
    );
    let stitches: Vec<u64> =
        summary(&chart).palette().colors().iter().map(|c| c.stitches).collect();
    // Four cell sides of line make one stitch, two knots one.
    assert_eq!(stitches, [3, 2, 1, 1]);
}

#[test]
fn part_stitches_touch_inside_their_cell_and_through_their_sides() {
    let mut draft = drawn(&["a.b"], colors(&["#111", "#eee", "#f00"]));
    let left = Part { shape: Shape::ThreeQuarter(Corner::TopLeft), entry: id(2) };
    let right = Part { shape: Shape::Quarter(Corner::BottomRight), entry: id(1) };
    draft.grid.put_parts(1, 0, vec![left, right]).unwrap();
    let chart = Chart::new(draft).unwrap();
    // 0-2 through the left side, 1-2 inside; the right side is 1 on both.
    assert_eq!(contacts(&chart), [(0, Some(2), 1), (1, Some(2), 1)]);
    let usage = Usage::of(&chart);
    assert_eq!((usage[1].full, usage[1].quarter, usage[1].stitches()), (1, 1, 2));
    assert_eq!((usage[2].three_quarter, usage[2].stitches()), (1, 1));
}

#[test]
fn split_areas_come_apart() {
    let mut draft = drawn(&["aaab"], colors(&["#111", "#eee"]));
    let face = Label::parse("face").unwrap();
    draft.areas.push(Area::new(face.clone(), vec![Run { y: 0, x: 0, count: 2 }]).unwrap());
    let chart = Chart::new(draft).unwrap();
    let split = [face];
    let options = SummaryOptions { split: &split, apart: None, color_of: &|_| None };
    let summary = Summary::of_chart(&chart, options).unwrap();
    let colors: Vec<_> =
        summary.palette().colors().iter().map(|c| (c.stitches, c.area.as_deref())).collect();
    assert_eq!(colors, [(1, None), (2, Some("face")), (1, None)]);
}
