//! What a list says: edges, order of review, versions, totals.

use super::*;

fn touching(first: usize, second: usize, edges: u64) -> Neighbors {
    Neighbors { first, second: Side::Color(second), edges }
}

fn on_cloth(first: usize, edges: u64) -> Neighbors {
    Neighbors { first, second: Side::Cloth, edges }
}

#[test]
fn outlines_that_vanish_or_fade_are_counted_and_named() {
    let threads = grays(&[20.0, 22.0, 95.0]);
    let colors = vec![
        picture(lab(10.0, 0.0, 0.0), 50),
        picture(lab(20.0, 0.0, 0.0), 50),
        picture(lab(33.0, 0.0, 0.0), 50),
        picture(lab(80.0, 0.0, 0.0), 50),
    ];
    let neighbors = vec![
        touching(0, 1, 7),  // both become 20: vanishes
        touching(1, 2, 5),  // 20 and 22: fades
        touching(0, 3, 11), // stays
        on_cloth(3, 3),     // 80 on 95 becomes 95: fades into the cloth
        on_cloth(0, 2),     // stays
    ];
    let palette = PaletteSummary::new(colors, Some(neighbors), Some(lab(95.0, 0.0, 0.0))).unwrap();
    let list = convert(&catalog_of(&threads), &palette, &ask(), &Patient).unwrap();
    let edges = list.edges.unwrap();
    assert_eq!((edges.outline, edges.vanished, edges.faded), (28, 7, 8));
    let of = |color: usize| &list.changes.iter().find(|c| c.color == color).unwrap().remarks;
    assert!(of(0).contains(&Remark::LosesEdge(1)) && !of(0).contains(&Remark::LosesEdge(3)));
    assert!(of(1).contains(&Remark::LosesEdge(0)) && of(1).contains(&Remark::LosesEdge(2)));
    assert!(of(3).contains(&Remark::FadesIntoCloth));
}

#[test]
fn soft_pairs_are_no_outlines_and_unknown_cloth_counts_nothing() {
    let colors = vec![picture(lab(50.0, 0.0, 0.0), 5), picture(lab(54.0, 0.0, 0.0), 5)];
    let neighbors = vec![touching(0, 1, 9), on_cloth(0, 4)];
    let palette = PaletteSummary::new(colors, Some(neighbors), None).unwrap();
    let list = convert(&catalog_of(&grays(&[52.0])), &palette, &ask(), &Patient).unwrap();
    assert_eq!(list.edges.unwrap().outline, 0);
    assert!(
        convert(
            &catalog_of(&grays(&[52.0])),
            &summary(vec![picture(lab(1.0, 0.0, 0.0), 1)]),
            &ask(),
            &Patient
        )
        .unwrap()
        .edges
        .is_none()
    );
}

#[test]
fn shading_that_is_lost_or_turns_is_counted_apart() {
    let colors = vec![
        picture(lab(50.0, 0.0, 0.0), 5),  // becomes 52.5
        picture(lab(54.0, 0.0, 0.0), 5),  // becomes 52.5
        picture(lab(80.0, 0.0, 0.0), 5),  // becomes 81.5
        picture(lab(85.0, 0.0, 0.0), 5),  // becomes 83
        picture(lab(30.0, 30.0, 0.0), 5), // becomes 35, the darker one before
        picture(lab(34.0, 0.0, 30.0), 5), // becomes 31
    ];
    let threads = [
        lab(52.5, 0.0, 0.0),
        lab(81.5, 0.0, 0.0),
        lab(83.0, 0.0, 0.0),
        lab(35.0, 30.0, 0.0),
        lab(31.0, 0.0, 30.0),
    ];
    let neighbors = vec![touching(0, 1, 7), touching(2, 3, 5), touching(4, 5, 11), on_cloth(4, 3)];
    let palette = PaletteSummary::new(colors, Some(neighbors), Some(lab(32.0, 30.0, 0.0))).unwrap();
    let list = convert(&catalog_of(&threads), &palette, &ask(), &Patient).unwrap();
    let edges = list.edges.unwrap();
    assert_eq!((edges.soft, edges.soft_vanished, edges.soft_faded), (12, 7, 5));
    assert_eq!((edges.outline, edges.vanished, edges.faded, edges.turned), (11, 0, 0, 11));
    let of = |color: usize| &list.changes.iter().find(|c| c.color == color).unwrap().remarks;
    assert!(of(4).contains(&Remark::TurnsShading(5)) && of(5).contains(&Remark::TurnsShading(4)));
    assert!(!of(2).contains(&Remark::TurnsShading(3)));
}

#[test]
fn small_but_telling_changes_come_before_the_largest_areas() {
    let colors = vec![
        picture(lab(60.0, 0.0, 0.0), 5_000), // sky
        picture(lab(90.0, 0.0, 0.0), 9_000), // cloud
        picture(lab(8.0, 0.0, 0.0), 6),      // eye in the cloud: the sharpest
        picture(lab(58.0, 0.0, 0.0), 7),     // a few stitches of the sky's own shade
        picture(lab(30.0, 0.0, 0.0), 12),    // lettering in the cloud
    ];
    let neighbors =
        vec![touching(2, 1, 14), touching(3, 0, 20), touching(4, 1, 40), touching(0, 1, 300)];
    let palette = PaletteSummary::new(colors, Some(neighbors), None).unwrap();
    let threads = grays(&[10.0, 31.0, 61.0, 91.0]);
    let list = convert(&catalog_of(&threads), &palette, &ask(), &Patient).unwrap();
    let order: Vec<usize> = list.changes.iter().map(|change| change.color).collect();
    assert_eq!(order, vec![2, 4, 1, 0, 3]);
}

#[test]
fn a_list_names_tables_formula_and_standards() {
    let own = table_of("own", &grays(&[20.0, 40.0]));
    let hash = own.hash();
    let catalog = Catalog::build([own, table_of("other", &grays(&[80.0]))]);
    let tables = vec![TableId::parse("own").unwrap()];
    let colors = vec![worked(lab(99.0, 0.0, 0.0), 10, &[0]), picture(lab(34.0, 0.0, 0.0), 30)];
    let list = convert(&catalog, &summary(colors), &Ask { tables, ..ask() }, &Patient).unwrap();
    assert_eq!(list.tables.len(), 1);
    assert_eq!(list.tables[0].hash, hash);
    assert_eq!(list.formula, FORMULA);
    // The chart shows the first color wrongly; the table knows better.
    assert_eq!(list.unchanged, vec![0]);
    assert_eq!(list.changes[0].standard, lab(34.0, 0.0, 0.0));
    let single = list.changes[0].after[0].difference.delta_e.value();
    assert!((list.totals.mean_difference.value() - 0.75 * single).abs() < 1e-12);
    assert!((list.totals.max_difference.value() - single).abs() < 1e-12);
    assert_eq!((list.totals.colors_before, list.totals.threads_after), (2, 2));
}

#[test]
fn shared_threads_of_many_colors_are_named_in_part() {
    let colors = (0..500).map(|place| picture(lab(50.0, 0.0, 0.0), 1 + place)).collect();
    let list = convert(&catalog_of(&grays(&[50.0])), &summary(colors), &ask(), &Patient).unwrap();
    assert_eq!(list.changes[0].color, 499);
    assert_eq!(list.changes[0].remarks.len(), 8);
    assert_eq!(list.changes[0].remarks[0], Remark::SharesThread(498));
}
