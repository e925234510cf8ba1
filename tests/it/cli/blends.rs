//! `dyekin blend`: estimates, their range, speckle, what a blend must beat, what it is not for.
//! It does not check mixes: core does.

use serde_json::Value;

use super::{Exit, NARROW, POND, WEIR, WIDE, dyekin, fits, golden};

/// A report as one line.
fn unwrapped(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn blends_are_told_as_estimates_with_their_range() {
    let args = ["blend", "#7c6f5e", "--table", POND];
    let said = golden("blends_are_told_as_estimates_with_their_range", None, WIDE, &args);
    assert_eq!(said.exit, Exit::Done);
    let words = unwrapped(&said.out);
    assert_eq!(words.matches("estimate: ").count(), 3, "{words}");
    assert_eq!(words.matches("if light spreads between the strands").count(), 3, "{words}");
    assert!(words.contains("visible speckle") && words.contains("alone: "), "{words}");
    let cautions = unwrapped(&said.err);
    assert!(cautions.contains("not for single stitches or lettering"), "{cautions}");
    fits(&dyekin_in(NARROW), NARROW);
}

fn dyekin_in(width: usize) -> String {
    super::dyekin_wide(width, &["blend", "#7c6f5e", "PN-3B", "--details", "--table", POND]).out
}

#[test]
fn details_of_a_blend_name_both_ends_of_the_range() {
    let args = ["blend", "PN-3B", "--details", "--count", "1", "--table", POND];
    let said = golden("details_of_a_blend_name_both_ends_of_the_range", None, WIDE, &args);
    let words = unwrapped(&said.out);
    for part in ["light averaged by area: ", "Yule-Nielsen with n = 2: ", "CIEDE2000 1:1:1"] {
        assert!(words.contains(part), "{words}");
    }
}

#[test]
fn strands_in_the_needle_say_which_mixes_are_tried() {
    for (strands, wanted) in [("2", [1, 1]), ("3", [2, 1])] {
        let args = ["blend", "#7c6f5e", "--strands", strands, "--json", "--table", POND];
        let answer: Value = serde_json::from_str(&dyekin(&args).out).unwrap();
        let blends = answer["answers"][0]["blends"].as_array().unwrap();
        assert_eq!(blends.len(), 3);
        assert!(blends.iter().all(|blend| blend["strands"] == serde_json::json!(wanted)));
    }
    for bad in ["1", "4", "two", ""] {
        let said = dyekin(&["blend", "#7c6f5e", "--strands", bad, "--table", POND]);
        assert_eq!(said.exit, Exit::Input, "{bad}");
        assert!(said.err.contains("--strands 3 for two of one"), "{}", said.err);
    }
}

#[test]
fn a_thread_is_not_blended_with_itself() {
    let args = ["blend", "PN-3B", "--count", "1000", "--json", "--table", POND];
    let answer: Value = serde_json::from_str(&dyekin(&args).out).unwrap();
    let blends = answer["answers"][0]["blends"].as_array().unwrap();
    let codes = blends.iter().flat_map(|blend| [&blend["first"]["code"], &blend["second"]["code"]]);
    assert!(codes.clone().count() > 10 && codes.clone().all(|code| code != "PN-3B"));
}

#[test]
fn none_within_the_limit_names_the_nearest_blend_beyond() {
    let args = ["blend", "#ff00ff", "--within", "1", "--table", POND];
    let said = golden("none_within_the_limit_names_the_nearest_blend_beyond", None, WIDE, &args);
    assert_eq!(said.exit, Exit::NothingMatched);
    let said = dyekin(&["blend", "#ff00ff", "--fiber", "nettle", "--table", POND]);
    assert_eq!(said.exit, Exit::NothingMatched);
    assert!(said.out.contains("no two plain threads"), "{}", said.out);
}

#[test]
fn another_finish_another_light_and_unknown_codes_are_refused() {
    for finish in ["metallic", "any", "plain,metallic"] {
        let said = dyekin(&["blend", "#7c6f5e", "--finish", finish, "--table", POND]);
        assert_eq!(said.exit, Exit::Input, "{finish}");
        assert!(said.err.contains("only plain threads are blended"), "{}", said.err);
    }
    let plain = dyekin(&["blend", "#7c6f5e", "--finish", "plain", "--table", POND]);
    assert_eq!(plain.exit, Exit::Done);
    let lab = ["blend", "lab(42 -20 22)", "--origin", "meter", "--white", "D50/10"];
    let refused = dyekin(&[&lab, &["--table", WEIR][..]].concat());
    assert_eq!(refused.exit, Exit::Input);
    assert!(refused.err.contains("--adapt"), "{}", refused.err);
    let adapted = dyekin(&[&lab, &["--table", WEIR, "--adapt"][..]].concat());
    assert!(unwrapped(&adapted.out).contains("adapted by Bradford)"), "{}", adapted.out);
    assert!(!adapted.err.contains("Screen colors"), "all was measured: {}", adapted.err);
    let unknown = dyekin(&["blend", "PN-99", "--table", POND]);
    assert_eq!((unknown.exit, unknown.out.as_str()), (Exit::Input, ""));
}
