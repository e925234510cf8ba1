//! Blends and large answers about tables: the same in process and over a server.
//! It does not say what a right answer is.

use dyekin_client::backend::Subject;
use dyekin_core::blend::{BlendOptions, Parts};

use super::*;

fn options(dice: &mut Dice, catalog: &Catalog) -> BlendOptions {
    let NearestOptions { tables, count, formula, adaptation, limit, filter, .. } =
        dice.options(catalog);
    let parts = match dice.roll(4) {
        0 => vec![Parts::OneAndOne],
        1 => vec![Parts::TwoAndOne, Parts::OneAndOne],
        2 => Parts::ALL.to_vec(),
        _ => vec![Parts::TwoAndOne],
    };
    BlendOptions { tables, count, formula, adaptation, limit, filter, parts }
}

#[test]
fn generated_blends_are_the_same() {
    let served = Served::start();
    let catalog = catalog();
    let (mut here, mut there) = (Embedded::new(catalog.clone()), served.remote());
    let mut dice = Dice(11);
    let (mut answered, mut refused) = (0, 0);
    for round in 0..60 {
        let options = options(&mut dice, &catalog);
        let subjects: Vec<Subject> = (0..1 + dice.roll(14))
            .map(|_| match dice.roll(2) {
                0 => Subject::Color(dice.color()),
                _ => Subject::Thread(dice.thread(&catalog)),
            })
            .collect();
        let left = words(here.suggest_blends(&subjects, &options, &Patient));
        let right = words(there.suggest_blends(&subjects, &options, &Patient));
        let plain =
            |answers: dyekin_client::backend::Answers<_>| (kinds(answers.results), answers.tables);
        let (left, right) = (left.map(plain), right.map(plain));
        assert_eq!(left, right, "round {round}: {options:?}");
        match left {
            Ok((results, _)) => answered += results.iter().filter(|result| result.is_ok()).count(),
            Err(_) => refused += 1,
        }
    }
    assert!(answered > 100 && refused > 3, "{answered} answered, {refused} refused");
    let subjects = [Subject::Color(dice.color())];
    let options = BlendOptions { tables: Vec::new(), ..options(&mut dice, &catalog) };
    let left = here.suggest_blends(&subjects, &options, &Gone).unwrap_err();
    assert_eq!(left.exit(), Exit::Stopped);
    assert_eq!(left, there.suggest_blends(&subjects, &options, &Gone).unwrap_err());
}

#[test]
fn blends_are_told_in_the_same_words() {
    let served = Served::start();
    for line in [
        "blend #4a6b3c QM-2M2 --details",
        "blend #4a6b3c QM-2M2 --json --strands 3",
        "blend #ff00ff --within 1 --available",
        "blend #4a6b3c --formula cmc:2:1 --fiber silk",
        "blend lab(42,-20,22) --origin meter --white D50/2 --adapt",
        "blend QM-9Z9 #12345",
        "blend #4a6b3c --finish metallic",
    ] {
        let typed = |table: &str| -> Vec<String> {
            let words = line.split_whitespace().map(str::to_owned);
            words.chain(["--table".to_owned(), table.to_owned()]).collect()
        };
        let mut there = typed("quillmoor");
        there.extend(["--server".to_owned(), served.url()]);
        assert_eq!(said(&typed(&file("quillmoor"))), said(&there), "{line}");
    }
}

#[test]
fn answers_about_tables_that_no_message_holds_come_in_pages() {
    let served = Served::start();
    let (mut here, mut there) = (Embedded::default(), served.remote());
    let mut dice = Dice(12);
    let mut rows = |prefix: &str, count: usize| -> String {
        let name = "An unhurried name for a thread ".repeat(9);
        let row = |row| format!("{prefix}-{row},{name}{row},{}\n", dice.srgb());
        format!("code,name,hex\n{}", (0..count).map(row).collect::<String>())
    };
    let files =
        [("old", rows("P", 9_000)), ("new", rows("P", 12_000)), ("gone", rows("Q", 14_000))];
    for (name, text) in &files {
        for backend in [&mut here as &mut dyn Backend, &mut there] {
            backend.import_table(text.as_bytes(), &read_options(name)).unwrap();
        }
    }
    let id = |name: &str| TableId::parse(name).unwrap();
    let measure = Measure::plain(Formula::DEFAULT);
    for (old, new) in [("old", "new"), ("gone", "new")] {
        let left = here.compare_tables(&id(old), &id(new), measure).unwrap();
        let bytes = 300 * (left.recolored.len() * 2 + left.added.len() + left.gone.len());
        assert!(bytes > 4 << 20, "{bytes} bytes of names are more than one message holds");
        assert_eq!(left, there.compare_tables(&id(old), &id(new), measure).unwrap());
    }
    let options = AuditOptions {
        formula: Formula::DEFAULT,
        twins: DeltaE::new(1.0).unwrap(),
        gap: DeltaE::new(10.0).unwrap(),
    };
    let left = here.audit_table(&id("old"), &options).unwrap();
    assert!(left.more_twins);
    assert_eq!(left, there.audit_table(&id("old"), &options).unwrap());
}
