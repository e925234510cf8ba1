//! Drawings with a known truth, made here: what is found, and what is left alone.

use super::*;
use dyekin_core::math;

/// Samples of a cell in each direction.
const FINE: usize = 8;

const CLOTH: [u8; 3] = [244, 239, 230];
const RED: [u8; 3] = [200, 40, 48];
const TEAL: [u8; 3] = [20, 120, 128];
const INK: [u8; 3] = [34, 30, 38];

/// The color at a point, in cells.
type Shape<'s> = &'s dyn Fn(f64, f64) -> [u8; 3];

fn size(number: usize) -> f64 {
    f64::from(u32::try_from(number).unwrap())
}

/// What a drawing shows: a disk with an outline, a slanted bar, a ring one stitch wide.
fn scene(x: f64, y: f64) -> [u8; 3] {
    let from = |cx: f64, cy: f64| ((x - cx).powi(2) + (y - cy).powi(2)).sqrt();
    if (from(17.3, 16.1) - 9.0).abs() < 0.65 {
        return INK;
    }
    if from(17.3, 16.1) < 9.0 {
        return RED;
    }
    if (x - 2.0 * y + 22.0).abs() < 7.0 && y > 24.0 {
        return TEAL;
    }
    CLOTH
}

/// A drawing as a program mixes it, and the color that covers most of each cell.
fn blended(side: usize, light: bool, shape: Shape<'_>) -> (Vec<[u8; 3]>, Vec<[u8; 3]>) {
    let to_light = |part: u8| {
        let part = f64::from(part) / 255.0;
        if part <= 0.040_45 { part / 12.92 } else { math::pow((part + 0.055) / 1.055, 2.4) }
    };
    let to_encoded = |part: f64| {
        255.0
            * if part <= 0.003_130_8 {
                part * 12.92
            } else {
                1.055 * math::pow(part, 1.0 / 2.4) - 0.055
            }
    };
    let (mut seen, mut truth) = (Vec::new(), Vec::new());
    for cell in 0..side * side {
        let mut counts: Vec<([u8; 3], f64)> = Vec::new();
        for sample in 0..FINE * FINE {
            let at = |cell: usize, sample: usize| size(cell) + (size(sample) + 0.5) / size(FINE);
            let color = shape(at(cell % side, sample % FINE), at(cell / side, sample / FINE));
            match counts.iter_mut().find(|held| held.0 == color) {
                Some(held) => held.1 += 1.0,
                None => counts.push((color, 1.0)),
            }
        }
        let mut mixed = [0.0; 3];
        for (color, count) in &counts {
            let share = count / size(FINE * FINE);
            for (sum, part) in mixed.iter_mut().zip(color) {
                *sum += share * if light { to_light(*part) } else { f64::from(*part) };
            }
        }
        let mixed = mixed.map(|part| if light { to_encoded(part) } else { part });
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 255")]
        seen.push(mixed.map(|part| part.round() as u8));
        truth.push(counts.iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap().0);
    }
    (seen, truth)
}

fn cells(width: usize, colors: &[[u8; 3]]) -> Cells {
    let mut known: Vec<[u8; 3]> = Vec::new();
    let mut number = |color: [u8; 3]| {
        let found = known.iter().position(|held| *held == color).unwrap_or_else(|| {
            known.push(color);
            known.len() - 1
        });
        Some(u16::try_from(found).unwrap())
    };
    let cells = colors.iter().map(|color| number(*color)).collect();
    let colors = known.iter().map(|[r, g, b]| Srgb8::new(*r, *g, *b)).collect();
    Cells { width, cells, colors, goals: Vec::new() }
}

/// The colors after the moves.
fn cleaned(width: usize, colors: &[[u8; 3]]) -> Vec<[u8; 3]> {
    let cells = cells(width, colors);
    let mut after = colors.to_vec();
    for moved in stray(&cells, &Range::Any).moves {
        assert_eq!(cells.cells[moved.place], Some(moved.from));
        let to = cells.colors[usize::from(moved.to)];
        after[moved.place] = [to.red, to.green, to.blue];
    }
    after
}

fn equal(one: &[[u8; 3]], other: &[[u8; 3]]) -> usize {
    one.iter().zip(other).filter(|(one, other)| one == other).count()
}

#[test]
fn blends_go_to_the_side_that_covers_most() {
    for light in [false, true] {
        let (seen, truth) = blended(40, light, &scene);
        let after = cleaned(40, &seen);
        let (before, after) = (equal(&seen, &truth), equal(&after, &truth));
        assert!(before < 1_470, "{before}");
        assert!(after >= 1_590, "light {light}: {after} of 1600");
    }
}

#[test]
fn a_line_of_one_stitch_stays_in_one_piece() {
    let line = |x: f64, y: f64| if (y - 0.37 * x - 6.0).abs() < 0.6 { INK } else { scene(x, y) };
    let (seen, truth) = blended(40, false, &line);
    let after = cleaned(40, &seen);
    for x in 0..40 {
        let ink = |colors: &[[u8; 3]]| (0..40).any(|y| colors[y * 40 + x] == INK);
        assert_eq!(ink(&after), ink(&truth), "column {x}");
    }
}

#[test]
fn a_chart_without_blends_is_left_alone() {
    let (_, truth) = blended(40, false, &scene);
    assert_eq!(stray(&cells(40, &truth), &Range::Any), Found::default());
}

#[test]
fn an_outline_in_the_middle_color_is_left_alone() {
    let middle = [222, 140, 139];
    let shape = |x: f64, y: f64| match ((x - 20.0).powi(2) + (y - 20.0).powi(2)).sqrt() {
        far if far < 11.0 => RED,
        far if far < 12.4 => middle,
        _ => CLOTH,
    };
    let (_, truth) = blended(40, false, &shape);
    assert!(truth.contains(&middle));
    assert_eq!(stray(&cells(40, &truth), &Range::Any), Found::default());
}

#[test]
fn a_bar_in_a_middle_color_stays_among_blends() {
    let middle = [222, 140, 139];
    let shape = |x: f64, y: f64| {
        let is_bar = (30.0..32.0).contains(&x) && (4.0..16.0).contains(&y);
        if is_bar { middle } else { scene(x, y) }
    };
    let (seen, truth) = blended(40, false, &shape);
    let after = cleaned(40, &seen);
    for place in (0..1_600).filter(|place| truth[*place] == middle) {
        assert_eq!(after[place], middle, "cell {place}");
    }
}

#[test]
fn a_line_that_no_cell_shows_whole_joins_its_color_from_one_end() {
    // The block shows ink whole; the line lies across two rows and never does.
    let line = |x: f64, y: f64| {
        let is_block = (2.0..8.0).contains(&x) && y < 3.0;
        let is_line = x >= 8.0 && (0.7..1.65).contains(&y);
        if is_block || is_line { INK } else { scene(x, y) }
    };
    let (seen, truth) = blended(40, false, &line);
    let after = cleaned(40, &seen);
    let right = (48..80).filter(|place| after[*place] == truth[*place]).count();
    assert!(right >= 30, "{right} of 32");
}

#[test]
fn an_exact_half_goes_to_the_side_whose_thread_it_becomes() {
    let half = |x: f64, y: f64| match (x, y) {
        (_, y) if y < 5.5 => RED,
        _ => scene(x, y),
    };
    let (seen, _) = blended(40, false, &half);
    let mut cells = cells(40, &seen);
    let number = |color: [u8; 3]| {
        let color = Srgb8::new(color[0], color[1], color[2]);
        cells.colors.iter().position(|held| *held == color).unwrap()
    };
    let (tie, red, cloth) = (cells.cells[5 * 40].unwrap(), number(RED), number(CLOTH));
    for (goal, want) in [(red, red), (cloth, cloth)] {
        cells.goals = (0_u16..).take(cells.colors.len()).collect();
        cells.goals[usize::from(tie)] = u16::try_from(goal).unwrap();
        let moves = stray(&cells, &Range::Any).moves;
        let of_row = moves.iter().find(|moved| moved.place == 5 * 40);
        assert_eq!(of_row.map(|moved| usize::from(moved.to)), Some(want));
    }
}

#[test]
fn ramps_checkers_and_lone_stitches_are_left_alone() {
    let mut colors = vec![CLOTH; 1_600];
    for (place, color) in colors.iter_mut().enumerate() {
        let (x, y) = (place % 40, place / 40);
        if (2..11).contains(&y) && (5..14).contains(&x) {
            let step = u8::try_from(x - 5).unwrap();
            *color = [244 - 26 * step, 239 - 25 * step, 230 - 23 * step];
        }
        if y >= 20 && x < 20 && (x + y) % 2 == 0 {
            *color = INK;
        }
        if y >= 15 && x > 22 {
            *color = TEAL;
        }
        if (x, y) == (30, 25) || (x, y) == (35, 33) {
            *color = [255, 255, 255];
        }
    }
    assert_eq!(stray(&cells(40, &colors), &Range::Any), Found::default());
}

/// What a sharpening filter makes of a drawing: each cell is driven away from its neighbors.
fn sharpened(side: usize, colors: &[[u8; 3]]) -> Vec<[u8; 3]> {
    let raster = Raster::of(side, colors.len());
    let sharpen = |place: usize| {
        let mut out = [0; 3];
        for (channel, part) in out.iter_mut().enumerate() {
            let near: Vec<f64> =
                raster.around(place, 1).map(|near| f64::from(colors[near][channel])).collect();
            let mean = near.iter().sum::<f64>() / size(near.len());
            let own = f64::from(colors[place][channel]);
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
            let driven = (own + 0.25 * (own - mean)).round().clamp(0.0, 255.0) as u8;
            *part = driven;
        }
        out
    };
    (0..colors.len()).map(sharpen).collect()
}

#[test]
fn ringing_goes_with_the_blends() {
    let (seen, truth) = blended(40, false, &scene);
    let sharp = sharpened(40, &seen);
    let before = equal(&sharp, &truth);
    assert!(before < 1_250, "{before}");
    let after = equal(&cleaned(40, &sharp), &truth);
    assert!(after >= 1_500, "{after} of 1600");
}

/// What cleaning does to a drawing, against its truth.
#[derive(Debug)]
struct Figures {
    changed: usize,
    right: usize,
    wrong: usize,
    restored: usize,
    harm: usize,
    colors: usize,
}

fn figures(side: usize, seen: &[[u8; 3]], truth: &[[u8; 3]]) -> Figures {
    let after = cleaned(side, seen);
    let count = |is: &dyn Fn([u8; 3], [u8; 3], [u8; 3]) -> bool| {
        let all = seen.iter().zip(truth).zip(&after);
        all.filter(|((seen, truth), after)| is(**seen, **truth, **after)).count()
    };
    Figures {
        changed: count(&|seen, _, after| seen != after),
        right: count(&|seen, truth, after| seen != after && after == truth),
        wrong: count(&|seen, truth, _| seen != truth),
        restored: count(&|seen, truth, after| seen != truth && after == truth),
        harm: count(&|seen, truth, after| seen == truth && after != truth),
        colors: cells(side, &after).colors.len(),
    }
}

/// Holds the figures that cleaning reaches: at least 93 of 100 changes are right, 90 of 100 wrong cells
/// are restored, one right cell is spoilt, and one color is left too many.
#[test]
fn drawings_are_restored_to_the_figures_promised() {
    let line = |x: f64, y: f64| if (y - 0.37 * x - 6.0).abs() < 0.6 { INK } else { scene(x, y) };
    let shapes: [Shape<'_>; 2] = [&scene, &line];
    for shape in shapes {
        for light in [false, true] {
            let (seen, truth) = blended(40, light, shape);
            let found = figures(40, &seen, &truth);
            let named = format!("linear {light}: {found:?}");
            assert!(100 * found.right >= 93 * found.changed, "{named}");
            assert!(100 * found.restored >= 90 * found.wrong, "{named}");
            assert!(found.harm <= 1, "{named}");
            assert!(found.colors <= cells(40, &truth).colors.len() + 1, "{named}");
        }
    }
}

#[test]
fn stars_snow_and_diagonals_are_left_alone() {
    let night = [18, 22, 60];
    let mut colors = vec![night; 1_600];
    for step in 0..40 {
        colors[step * 40 + step] = INK;
        colors[step * 40 + (step + 9) % 40] = RED;
        colors[step * 40 + (step + 10) % 40] = TEAL;
        let (x, y) = (step * 17 % 38 + 1, step * 29 % 38 + 1);
        colors[y * 40 + x] = [[255, 255, 240], [250, 220, 120], [160, 180, 255]][step % 3];
        colors[y * 40 + x - 1] = [120, 130, 170];
    }
    assert_eq!(stray(&cells(40, &colors), &Range::Any), Found::default());
}

#[test]
fn cloth_is_no_side_and_never_changes() {
    let (seen, _) = blended(40, false, &scene);
    let mut bare = cells(40, &seen);
    for place in (0..1_600).step_by(3) {
        bare.cells[place] = None;
    }
    for moved in stray(&bare, &Range::Any).moves {
        assert!(bare.cells[moved.place].is_some());
    }
    let nothing = Cells { width: 0, cells: Vec::new(), colors: Vec::new(), goals: Vec::new() };
    assert_eq!(stray(&nothing, &Range::Any), Found::default());
}
