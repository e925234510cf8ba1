//! Measured colors under several lights, adapted on request: exact over mixed tables, refused else.
//! It does not know how a color is carried over.

use super::*;
use crate::color::{AdaptationMethod, Trust};
use crate::difference::{Application, Factors, Ratio};
use crate::seeded::bits;

fn under(conditions: &str, lab: [f64; 3]) -> Color {
    let [l, a, b] = lab;
    let conditions = Conditions::parse(conditions).unwrap();
    Color::lab_under(Lab::new(l, a, b).unwrap(), conditions, Origin::Meter)
}

/// Numbers in 0..1 from a seed, the same everywhere (`SplitMix64`).
struct Seeded(u64);

impl Seeded {
    fn next(&mut self) -> f64 {
        f64::from(u32::try_from(bits(&mut self.0) >> 32).unwrap()) / f64::from(u32::MAX)
    }

    fn lab(&mut self) -> [f64; 3] {
        [20.0 + 60.0 * self.next(), 60.0 * self.next() - 30.0, 60.0 * self.next() - 30.0]
    }

    /// A color measured under this light, or for a third of them one of a screen.
    fn held(&mut self, light: &str) -> Color {
        let lab = self.lab();
        if self.next() < 0.33 {
            let [l, a, b] = lab;
            return Color::screen(Srgb8::nearest_to(Lab::new(l, a, b).unwrap()));
        }
        under(light, lab)
    }
}

fn mixed(name: &str, light: &str, count: usize, seeded: &mut Seeded) -> Table {
    let threads = (0..count).map(|row| thread(&format!("{row:04}"), seeded.held(light)));
    table(name, threads.collect())
}

/// All threads by their differences, one by one.
fn by_pass(catalog: &Catalog, standard: &Color, asked: &NearestOptions) -> Vec<(f64, String)> {
    let measure = Measure { formula: asked.formula, adaptation: asked.adaptation };
    let mut all = Vec::new();
    for held in catalog.tables() {
        for thread in held.table().threads() {
            let far = Difference::measured(standard, &thread.color, measure).unwrap();
            all.push((far.delta_e.value(), format!("{} {}", held.table().id(), thread.code)));
        }
    }
    all.sort_by(|left, right| left.0.total_cmp(&right.0).then_with(|| left.1.cmp(&right.1)));
    all
}

#[test]
fn adapted_searches_over_mixed_tables_find_what_a_pass_over_all_threads_finds() {
    let mut seeded = Seeded(7);
    let catalog = Catalog::build([
        mixed("a", "D65/2", 120, &mut seeded),
        mixed("b", "D50/2", 300, &mut seeded),
        mixed("c", "LED-B3/2", 30, &mut seeded),
    ]);
    let formulas = [
        Formula::Ciede2000(Factors::new(2.0, 1.0, 1.0).unwrap()),
        Formula::Cmc(Ratio::new(2.0, 1.0).unwrap()),
        Formula::Cie94(Application::GraphicArts),
        Formula::Cie76,
        Formula::Din99o,
        Formula::Hyab,
        Formula::DEFAULT,
    ];
    let mut searches = 0;
    for formula in formulas {
        for adaptation in [AdaptationMethod::Bradford, AdaptationMethod::Cat16].map(Some) {
            for count in [1, 7] {
                for light in ["D50/2", "A/2", "FL11/2", "D65/2"].into_iter().cycle().take(10) {
                    let standard = seeded.held(light);
                    let asked = NearestOptions { formula, adaptation, ..options(count) };
                    let found = nearest(&catalog, &standard, &asked).unwrap();
                    let expected = by_pass(&catalog, &standard, &asked);
                    let names: Vec<&String> =
                        expected.iter().take(count).map(|(_, name)| name).collect();
                    assert_eq!(codes(&found).iter().collect::<Vec<_>>(), names, "{formula}");
                    for (hit, (far, _)) in found.matches.iter().zip(&expected) {
                        assert!((hit.difference.delta_e.value() - far).abs() < 1e-9);
                    }
                    searches += 1;
                }
            }
        }
    }
    assert_eq!(searches, 280);
}

#[test]
fn other_lights_are_refused_with_the_option_that_admits_them() {
    let catalog = Catalog::build([table("t", vec![thread("1", under("D65/2", [50.0, 0.0, 0.0]))])]);
    let standard = under("D50/2", [50.0, 0.0, 0.0]);
    let refused = nearest(&catalog, &standard, &options(1)).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "the color asked for was measured under D50/2°, the other under D65/2°"
    );
    assert!(refused.hint().unwrap().contains("--adapt bradford"), "{refused:?}");

    let adaptation = Some(AdaptationMethod::Cat16);
    let asked = NearestOptions { adaptation, ..options(1) };
    let found = nearest(&catalog, &standard, &asked).unwrap();
    let difference = found.matches[0].difference;
    assert_eq!(difference.trust, Trust::Adapted(AdaptationMethod::Cat16));
    assert!(difference.delta_e.value() < 1e-9, "a gray stays gray: {difference:?}");
}

#[test]
fn another_observer_is_refused_even_when_adaptation_is_asked_for() {
    let catalog =
        Catalog::build([table("t", vec![thread("1", under("D65/10", [50.0, 0.0, 0.0]))])]);
    let standard = under("D65/2", [50.0, 0.0, 0.0]);
    let hint = nearest(&catalog, &standard, &options(1)).unwrap_err().hint().unwrap();
    assert!(!hint.contains("--adapt"), "{hint}");
    let adaptation = Some(AdaptationMethod::Bradford);
    let refused = nearest(&catalog, &standard, &NearestOptions { adaptation, ..options(1) });
    let refused = refused.unwrap_err();
    assert!(refused.to_string().contains("not the observer"), "{refused}");
}

#[test]
fn colors_under_one_light_and_pictures_are_not_adapted() {
    let catalog = Catalog::build([table(
        "t",
        vec![
            thread("1", under("D65/2", [50.0, 0.0, 0.0])),
            thread("2", Color::screen(Srgb8::new(100, 20, 20))),
        ],
    )]);
    let adaptation = Some(AdaptationMethod::Bradford);
    let asked = NearestOptions { adaptation, ..options(2) };
    let trusts = |standard: &Color| {
        let found = nearest(&catalog, standard, &asked).unwrap();
        found.matches.iter().map(|hit| hit.difference.trust).collect::<Vec<_>>()
    };
    let adapted = Trust::Adapted(AdaptationMethod::Bradford);
    let gray = [51.0, 0.0, 0.0];
    assert_eq!(trusts(&under("D65/2", gray)), [Trust::Measured, Trust::Rough]);
    assert_eq!(trusts(&under("D50/2", gray)), [adapted, Trust::Rough]);
    assert_eq!(trusts(&Color::screen(Srgb8::new(121, 121, 121))), [Trust::Rough; 2]);
}
