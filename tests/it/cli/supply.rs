//! Conversion from ranges at a price, from own threads and without collisions, as typed.
//! It does not judge the choice: the planner's tests do.

use super::*;

const OWNED: &str = "data/cli/owned.txt";

fn convert(extra: &[&str]) -> Said {
    let folder = Folder::new(&format!("supply-{}", extra.join("-").replace(['/', '.'], "-")));
    let out = folder.path("out.json");
    dyekin(&[&["convert", BRIDGE, "--from", POND, "-o", &out], extra].concat())
}

#[test]
fn convert_takes_a_second_range_where_it_is_worth_its_price() {
    let folder = Folder::new("ranges");
    let out = folder.path("out.json");
    let ranges = ["--table", WEIR, "--table", POND, "--from", POND];
    let args = [&["convert", BRIDGE, "-o", &out, "--extra-range", "4"], &ranges[..]].concat();
    let said = golden("convert_takes_a_second_range", Some(&folder), WIDE, &args);
    assert_eq!(said.exit, Exit::Done);
    assert!(said.out.contains("No other choice of ranges does better."), "{}", said.out);
    let dear = convert(&["--table", WEIR, "--table", POND, "--extra-range", "90"]);
    assert!(dear.out.contains("pond is not worth its price."), "{}", dear.out);
    let other = convert(&["--server", "http://127.0.0.1:9", "--extra-range", "1"]);
    assert_ne!(other.exit, Exit::Done);
}

#[test]
fn convert_lists_what_to_buy_beside_own_threads() {
    let folder = Folder::new("owned");
    let out = folder.path("out.json");
    let owned = ["--owned", OWNED, "--buy-within", "30"];
    let args = [&["convert", BRIDGE, "--from", POND, "--table", WEIR, "-o", &out], &owned[..]];
    let said = golden("convert_lists_what_to_buy", Some(&folder), WIDE, &args.concat());
    assert!(said.out.contains("to buy, to come within 30.0"), "{}", said.out);
    let alone = convert(&["--table", WEIR, "--owned", OWNED]);
    assert!(!alone.out.contains("buy"), "{}", alone.out);
    let tight = convert(&["--table", WEIR, "--owned", OWNED, "--buy-within", "1"]);
    assert_eq!(tight.exit, Exit::NothingMatched);
    assert!(tight.out.contains("no thread within 1.0 in the tables"), "{}", tight.out);
}

#[test]
fn a_list_with_lines_that_name_nothing_is_refused_with_all_of_them() {
    let folder = Folder::new("owned-wrong");
    let (out, list) = (folder.path("out.json"), folder.path("my threads.json"));
    fs::write(&list, "WR-11\nwr 99\nWR-12 WR-13\nlamp black\n").unwrap();
    let args = ["convert", BRIDGE, "--from", POND, "--table", WEIR, "-o", &out, "--owned", &list];
    let said = golden("convert_refuses_lines_that_name_nothing", Some(&folder), WIDE, &args);
    assert_eq!(said.exit, Exit::Input);
    assert_eq!(said.err.matches("error: ").count(), 3, "{}", said.err);
    assert_eq!(folder.files(), 1);
    let over = [&args[..7], &[list.as_str(), "--owned", &list, "--force"]].concat();
    assert!(dyekin(&over).err.contains("never overwritten"));
}

#[test]
fn distinct_colors_get_threads_of_their_own_or_hear_why_not() {
    let said = convert(&["--table", "../data/ottersby.csv", "--distinct"]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    assert!(said.out.starts_with("9 colors become 9 threads"), "{}", said.out);
    assert!(said.out.contains("Every color has a thread of its own"), "{}", said.out);
    let few = convert(&["--table", WEIR, "--distinct", "--exclude", "WR-11,WR-12"]);
    assert_eq!(few.exit, Exit::Input);
    assert!(few.err.contains("cannot all have a different thread"), "{}", few.err);
    let far = convert(&["--table", "../data/ottersby.csv", "--distinct", "--apart", "90"]);
    assert_eq!(far.exit, Exit::NothingMatched);
    assert!(far.out.contains("and not 90.0"), "{}", far.out);
    for wrong in [
        &["--apart", "3"][..],
        &["--buy-within", "3"],
        &["--distinct", "--apart", "-1"],
        &["--owned", OWNED, "--extra-range", "1"],
    ] {
        let said = convert(&[&["--table", WEIR], wrong].concat());
        assert_eq!(said.exit, Exit::Input, "{wrong:?}");
    }
}

#[test]
fn convert_asks_whose_the_bare_codes_are() {
    let folder = Folder::new("convert");
    let out = folder.path("out.json");
    let args = ["convert", BRIDGE, "--table", WEIR, "-o", &out];
    let said = dyekin(&args);
    assert_eq!(said.exit, Exit::Input);
    assert!(said.err.contains("add --from with the table's file"), "{}", said.err);
    let args = ["convert", BRIDGE, "--table", WEIR, "--from", POND, "-o", &out];
    let said = golden("convert_reports_what_falls_together", Some(&folder), WIDE, &args);
    assert!(said.out.contains("fall together"), "{}", said.out);
    assert!(said.err.contains("Convert only artwork you have the rights to."));
}
