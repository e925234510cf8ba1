//! Notes of a chart: the same with tables in process and at a server.
//! It does not say which notes are right.

use super::*;

#[test]
fn a_check_is_told_in_the_same_words() {
    let served = Served::start();
    for (line, chart) in [
        ("check --quiet --json", "../data/charts/lighthouse.csv"),
        ("check --cloth #f4f0e6 --fail-on look", "../data/charts/lighthouse.png"),
        ("check --sarif", "../data/charts/lighthouse.csv"),
    ] {
        let typed = |table: &str| -> Vec<String> {
            let words = line.split_whitespace().map(str::to_owned);
            words.chain([chart.to_owned(), "--table".to_owned(), table.to_owned()]).collect()
        };
        let mut there = typed("quillmoor");
        there.extend(["--server".to_owned(), served.url()]);
        let (here, there) = (said(&typed(&file("quillmoor"))), said(&there));
        // The commands that are proposed name the table as it was typed.
        let plain = |text: String| {
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            let text = text.replace(&file("quillmoor"), "quillmoor");
            text.replace(&format!(" --server {}", served.url()), "")
        };
        assert_eq!(
            (plain(here.0), plain(here.1), here.2),
            (plain(there.0), plain(there.1), there.2)
        );
    }
}
