//! The formulas on the command line.
//! It does not know how they are computed.

use super::{Exit, POND, dyekin};

#[test]
fn every_formula_of_the_help_measures_and_names_itself() {
    let help = dyekin(&["match", "--help"]).out;
    let help = help.split_whitespace().collect::<Vec<_>>().join(" ");
    for (formula, named) in [
        ("ciede2000", "CIEDE2000 1:1:1 "),
        ("ciede2000:2:1:1", "CIEDE2000 2:1:1 "),
        ("cmc:2:1", "CMC 2:1 "),
        ("cmc:1:1", "CMC 1:1 "),
        ("cie94:graphic-arts", "CIE94 graphic-arts "),
        ("cie94:textile", "CIE94 textile "),
        ("din99o", "DIN99o "),
        ("hyab", "HyAB "),
        ("cie76", "CIE76 "),
    ] {
        assert!(help.contains(formula), "{formula} in {help}");
        let args = ["match", "#4a6b3c", "--table", POND, "--details", "--formula", formula];
        let said = dyekin(&args);
        assert_eq!(said.exit, Exit::Done, "{formula}: {}", said.err);
        let words = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains(named), "{formula}: {words}");
        assert!(words.contains("gray scale 5, estimated after ISO 105-A05"), "{words}");
    }
}
