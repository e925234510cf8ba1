//! Charts measured under another light than the tables, and runners-up that the data cannot tell
//! from the thread proposed. It does not know how a color is carried over.

use super::*;
use crate::color::{AdaptationMethod, Trust};
use crate::difference::Measure;

fn under(conditions: &str, [l, a, b]: [f64; 3]) -> Color {
    let conditions = Conditions::parse(conditions).unwrap();
    Color::lab_under(Lab::new(l, a, b).unwrap(), conditions, Origin::Meter)
}

/// Threads measured for print, and a chart measured for textiles: one light each, one observer.
fn held() -> Vec<Color> {
    [
        [40.0, 30.0, 10.0],
        [42.0, 28.0, 14.0],
        [70.0, -20.0, 30.0],
        [71.0, -22.0, 26.0],
        [30.0, 5.0, -40.0],
    ]
    .map(|lab| under("D50/2", lab))
    .to_vec()
}

fn chart() -> Vec<ChartColor> {
    [([41.0, 29.0, 12.0], 40), ([69.0, -21.0, 28.0], 900), ([31.0, 6.0, -38.0], 7)]
        .map(|(lab, stitches)| picture(under("D65/2", lab), stitches))
        .to_vec()
}

fn adapting() -> Ask {
    Ask { adaptation: Some(AdaptationMethod::Bradford), ..ask() }
}

#[test]
fn other_lights_are_refused_by_every_question_unless_adaptation_is_asked_for() {
    let (catalog, palette) = (catalog_of(&held()), summary(chart()));
    let worked = summary(vec![worked(under("D65/2", [41.0, 29.0, 12.0]), 5, &[0])]);
    let options = substitution::missing(&[0]);
    let lists = |ask: &Ask| {
        [
            convert(&catalog, &palette, ask, &Patient),
            reduce(&catalog, &palette, ask, &at_most(2), &Patient),
        ]
    };
    for refused in lists(&ask()) {
        let hint = refused.unwrap_err().hint().unwrap();
        assert!(hint.contains("--adapt bradford"), "{hint}");
    }
    assert!(suggest_merges(&catalog, &palette, &ask(), STEPS, &Patient).is_err());
    // A thread of the tables is compared as its table has it.
    assert!(substitute(&catalog, &worked, &ask(), &options, &Patient).is_ok());

    let measure = Measure { formula: FORMULA, adaptation: Some(AdaptationMethod::Bradford) };
    for list in lists(&adapting()) {
        let list = list.unwrap();
        assert_eq!(list.changes.len(), 3);
        for change in &list.changes {
            for proposed in change.after.iter().chain(&change.runners_up) {
                let expected =
                    Difference::measured(&change.standard, &proposed.color, measure).unwrap();
                assert_eq!(proposed.difference, expected);
                assert_eq!(expected.trust, Trust::Adapted(AdaptationMethod::Bradford));
            }
            assert_eq!(change.standard.conditions(), Conditions::SCREEN, "as it was measured");
        }
    }
    let merges = suggest_merges(&catalog, &palette, &adapting(), STEPS, &Patient).unwrap();
    let moves = merges.steps.iter().flat_map(|step| &step.moves);
    assert!(moves.clone().count() > 0);
    for moved in moves {
        assert_eq!(moved.difference.trust, Trust::Adapted(AdaptationMethod::Bradford));
    }
}

#[test]
fn substitution_across_tables_of_two_lights_adapts_the_missing_thread() {
    let print = table_of("print", &held());
    let cloth = [[41.5, 29.0, 12.0], [60.0, 0.0, 0.0]].map(|lab| under("D65/2", lab));
    let catalog = Catalog::build([print, table_of("cloth", &cloth)]);
    let missing =
        ThreadRef { table: TableId::parse("print").unwrap(), code: Code::parse("T-000").unwrap() };
    let color = ChartColor {
        color: under("D50/2", [40.0, 30.0, 10.0]),
        stitches: 9,
        threads: vec![missing.clone()],
        area: None,
    };
    let tables = vec![TableId::parse("cloth").unwrap()];
    let options = SubstituteOptions { missing: vec![missing], ..substitution::missing(&[]) };
    let asked =
        |ask: Ask| substitute(&catalog, &summary(vec![color.clone()]), &ask, &options, &Patient);
    assert!(asked(Ask { tables: tables.clone(), ..ask() }).is_err());
    let list = asked(Ask { tables, ..adapting() }).unwrap();
    let [change] = list.changes.as_slice() else { panic!("{list:?}") };
    assert_eq!(change.after[0].thread.code.as_str(), "T-000");
    assert_eq!(change.after[0].difference.trust, Trust::Adapted(AdaptationMethod::Bradford));
}

#[test]
fn runners_up_within_the_noise_of_the_data_are_marked() {
    // Grays of a screen: told apart from one unit of CIEDE2000 on.
    let catalog = catalog_of(&grays(&[50.0, 51.2, 54.0, 40.0]));
    let palette = summary(vec![picture(lab(50.5, 0.0, 0.0), 3)]);
    let list = convert(&catalog, &palette, &ask(), &Patient).unwrap();
    let change = &list.changes[0];
    assert!(!change.after[0].as_near);
    let marked: Vec<(&str, bool)> =
        change.runners_up.iter().map(|other| (other.thread.code.as_str(), other.as_near)).collect();
    assert_eq!(marked, [("T-001", true), ("T-002", false), ("T-003", false)]);
}
