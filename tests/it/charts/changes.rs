//! Change lists through their file, and carried out on charts.
//! It does not test the questions that lists answer.

use dyekin_client::apply::{NewThread, Unanswered, apply, by_hand};
use dyekin_client::change_file::{self, ChangeFile, FileAnswer, Made};
use dyekin_client::chart::{Area, Cell, Chart, ChartHash, Label, Run, SymbolSet, Usage, Work};
use dyekin_client::summary::{Summary, SummaryOptions};
use dyekin_core::change::{Change, ChangeList, Proposed, Question, Remark, TableVersion, Totals};
use dyekin_core::difference::{DeltaE, Difference};
use dyekin_core::{Code, Color, Formula, Srgb8, TableHash, ThreadRef};

use super::made::{colors, drawn, full_chart, id, key_thread, summary, table, told};

/// A list that gives the colors of a chart these threads of the table, in the palette's order.
fn change_list(summary: &Summary, goals: &[Option<&str>]) -> ChangeList {
    let table = table();
    let proposed = |standard: &Color, code: &str| {
        let thread = table.thread(&Code::parse(code).unwrap()).unwrap();
        Proposed {
            thread: ThreadRef { table: table.id().clone(), code: thread.code.clone() },
            name: thread.name.clone(),
            color: thread.color,
            difference: Difference::between(standard, &thread.color, Formula::DEFAULT).unwrap(),
            as_near: code == "QV02",
            over_lights: None,
        }
    };
    let mut changes = Vec::new();
    let mut unchanged = Vec::new();
    for (color, goal) in goals.iter().enumerate() {
        let held = &summary.palette().colors()[color];
        match goal {
            None => unchanged.push(color),
            Some(code) => changes.push(Change {
                color,
                standard: held.color,
                before: held.threads.clone(),
                stitches: held.stitches,
                after: vec![proposed(&held.color, code)],
                runners_up: vec![proposed(&held.color, "QV02")],
                remarks: vec![Remark::NotNearest, Remark::SharesThread(0), Remark::FadesIntoCloth],
                answer: None,
            }),
        }
    }
    ChangeList {
        question: Question::Reduce,
        tables: vec![TableVersion { table: table.id().clone(), hash: table.hash() }],
        formula: Formula::DEFAULT,
        changes,
        unchanged,
        totals: Totals {
            colors_before: goals.len(),
            threads_after: 2,
            mean_difference: DeltaE::new(1.25).unwrap(),
            max_difference: DeltaE::new(3.5).unwrap(),
            lower_bound: Some(DeltaE::new(1.0).unwrap()),
            proved_best: false,
            combined: None,
        },
        edges: None,
        joint: None,
        reduction: None,
        ranges: None,
        own: None,
    }
}

fn made() -> Made {
    Made { program: "0.1.0".into(), settings: vec![("threads".into(), "2".into())] }
}

fn find(thread: &ThreadRef) -> Result<NewThread, dyekin_core::Error> {
    let table = table();
    let found = dyekin_core::table::find(&table, thread.code.as_str())?;
    Ok(NewThread {
        thread: key_thread(found.code.as_str()),
        name: Label::cut(&found.name),
        color: found.color.srgb(),
    })
}

pub(crate) fn four_colors() -> (Chart, ChangeFile) {
    let rows = ["aabbb", "ccccd"];
    let chart = Chart::new(drawn(&rows, colors(&["#486a3c", "#4b6c3d", "#9fc3ce", "#d0b050"])));
    let chart = chart.unwrap().with_symbols(SymbolSet::Ascii);
    let summary = summary(&chart);
    let goals = [Some("QV01"), Some("QV01"), Some("QV02"), None];
    let file = ChangeFile::new(&change_list(&summary, &goals), &summary, made()).unwrap();
    (chart, file)
}

#[test]
fn a_change_list_comes_back_from_its_file() {
    let (_, mut file) = four_colors();
    file.changes[0].answer = Some(FileAnswer::Yes);
    file.changes[1].answer = Some(FileAnswer::No);
    file.changes[2].answer = Some(FileAnswer::Another(key_thread("QV03").thread));
    file.chart_after = file.chart;
    let bytes = file.to_json();
    let again = change_file::read(&bytes, "changes.json");
    assert_eq!(again.unwrap_or_else(|refused| panic!("{refused:?}")), file);
    let text = String::from_utf8(bytes).unwrap();
    assert!(text.contains("\"words\": \"looks close, not checked"), "{text}");
    assert!(text.contains("\"checked\": false"));
    assert_eq!(file.answers().len(), 3);
}

#[test]
fn differences_of_every_formula_come_back_from_a_file() {
    for formula in Formula::PRESETS {
        let (_, mut file) = four_colors();
        file.formula = formula;
        for change in &mut file.changes {
            for thread in change.after.iter_mut().chain(&mut change.runners_up) {
                let sample = Color::screen(thread.hex);
                thread.difference =
                    Difference::between(&change.standard, &sample, formula).unwrap();
            }
        }
        let again = change_file::read(&file.to_json(), "changes.json");
        assert_eq!(again.unwrap_or_else(|refused| panic!("{formula}: {refused:?}")), file);
    }
}

#[test]
fn a_formula_without_its_parameters_is_refused() {
    let (_, file) = four_colors();
    let text = String::from_utf8(file.to_json()).unwrap();
    for (name, parameters) in [("cmc", ""), ("ciede2000", ""), ("ciede2000", "2:1"), ("hyab", "1")]
    {
        let edited = text
            .replacen("\"name\": \"ciede2000\"", &format!("\"name\": \"{name}\""), 1)
            .replacen("\"parameters\": \"1:1:1\"", &format!("\"parameters\": \"{parameters}\""), 1);
        assert_ne!(edited, text);
        let texts = told(&change_file::read(edited.as_bytes(), "c.json").unwrap_err());
        assert!(texts[0].contains("not a formula of this version"), "{name}: {texts:?}");
    }
}

#[test]
fn an_edited_change_list_is_refused_with_all_problems() {
    let (_, file) = four_colors();
    let text = String::from_utf8(file.to_json()).unwrap();
    let text = text
        .replacen("\"answer\": null", "\"answer\": \"maybe\"", 1)
        .replacen("\"origin\": \"screen\"", "\"origin\": \"moon\"", 1)
        .replacen("\"colors_before\": 4", "\"colors_before\": -4", 1);
    let refused = change_file::read(text.as_bytes(), "c.json").unwrap_err();
    let texts = told(&refused);
    assert_eq!(texts.len(), 3, "{texts:?}");
    assert!(
        texts[0].ends_with(
            "totals.colors_before: `-4`: a whole number from 0 to \
                                9007199254740992 is expected"
        ),
        "{texts:?}"
    );
    assert!(texts[1].ends_with("changes[0].answer: `maybe`: not an answer"), "{texts:?}");
    assert!(texts[2].ends_with("changes[0].standard.origin: `moon`: not an origin"), "{texts:?}");
    assert!(texts.iter().all(|text| text.starts_with("c.json, line ")));
}

#[test]
fn entries_that_become_one_thread_are_joined() {
    let (chart, file) = four_colors();
    let applied = apply(&chart, &file, Unanswered::Carry, &find).unwrap();
    let new = &applied.chart;
    assert_eq!(new.key().len(), 3);
    // The larger of the two keeps its symbol; the untouched color is untouched.
    let symbols: Vec<_> = new.key().iter().map(|e| e.symbol.clone().unwrap().to_string()).collect();
    assert_eq!(symbols, ["A", "S", "4"]);
    assert_eq!(new.key()[0].work, Work::Thread(key_thread("QV01")));
    assert_eq!(new.key()[0].color, Srgb8::parse_hex("#4a6b3c").unwrap());
    assert_eq!(new.key()[2], chart.key()[3]);
    let counts: Vec<u64> = Usage::of(new).iter().map(Usage::stitches).collect();
    assert_eq!(counts, [5, 4, 1]);
    assert_eq!(new.grid().cell(0, 0), new.grid().cell(4, 0));
    assert_eq!(applied.joined(), [(id(0), vec![id(0), id(1)])]);
    let list = String::from_utf8(by_hand(&file, Unanswered::Carry, chart.key())).unwrap();
    assert!(list.contains("\nX       #486a3c  meadow QV01 Moss path  2\n"), "{list}");
    assert!(list.contains("\nmeadow QV01: X (#486a3c), A (#4b6c3d)\n"), "{list}");
}

#[test]
fn answers_decide() {
    let (chart, mut file) = four_colors();
    file.changes[0].answer = Some(FileAnswer::No);
    file.changes[1].answer = Some(FileAnswer::Another(key_thread("-5").thread));
    let applied = apply(&chart, &file, Unanswered::Leave, &find).unwrap();
    assert_eq!(applied.refused, ["c1"]);
    assert_eq!(applied.unanswered, ["c3"]);
    assert_eq!(applied.chart.key()[0], chart.key()[0]);
    assert_eq!(applied.chart.key()[1].work, Work::Thread(key_thread("-5")));
    assert_eq!(applied.chart.key()[2], chart.key()[2]);
}

#[test]
fn a_list_for_another_chart_is_refused() {
    let (chart, mut file) = four_colors();
    let other = Chart::new(drawn(&["ab"], colors(&["#486a3c", "#4b6c3d"]))).unwrap();
    let problems = apply(&other, &file, Unanswered::Carry, &find).unwrap_err();
    assert!(problems[0].to_string().starts_with("the change list was made for another chart"));
    let applied = apply(&chart, &file, Unanswered::Carry, &find).unwrap();
    file.chart_after = Some(ChartHash::of(&applied.chart));
    let problems = apply(&applied.chart, &file, Unanswered::Carry, &find).unwrap_err();
    assert_eq!(problems[0].to_string(), "the changes are already carried out in this chart");
    file.changes[0].of.hex = Srgb8::new(1, 1, 1);
    let problems = apply(&chart, &file, Unanswered::Carry, &find).unwrap_err();
    assert!(problems[0].to_string().contains("no color c1 worked as the list says"));
}

#[test]
fn a_table_that_changed_is_refused() {
    let (chart, mut file) = four_colors();
    file.changes[0].answer = Some(FileAnswer::Another(key_thread("QV03").thread));
    let other = |thread: &ThreadRef| {
        let mut new = find(thread)?;
        new.thread.table_hash = TableHash::parse(&"0".repeat(64)).unwrap();
        Ok(new)
    };
    let problems = apply(&chart, &file, Unanswered::Carry, &other).unwrap_err();
    assert_eq!(
        problems[0].to_string(),
        "changes[0].answer: `meadow QV03`: table meadow has changed since the list was made"
    );
}

#[test]
fn every_place_of_an_entry_changes_and_a_used_thread_takes_it_in() {
    let chart = full_chart();
    let summary = summary(&chart);
    // The first entry becomes the thread of the second one; strands agree where both say them.
    let file =
        ChangeFile::new(&change_list(&summary, &[Some("QV02"), None, None]), &summary, made());
    let applied = apply(&chart, &file.unwrap(), Unanswered::Carry, &find).unwrap();
    let new = &applied.chart;
    assert_eq!(new.key().len(), 2);
    assert_eq!(new.lines()[0].entry, id(0));
    assert_eq!(new.knots()[0].entry, id(0));
    assert_eq!(new.key()[0].strands, chart.key()[0].strands);
    let Cell::Parts(parts) = new.grid().cell(1, 1) else { panic!() };
    assert_eq!(parts.iter().map(|part| part.entry).collect::<Vec<_>>(), [id(0), id(1)]);
    let all = |chart: &Chart| -> u64 {
        Usage::of(chart)
            .iter()
            .map(|u| u.full * 4 + u.half * 2 + u.quarter + u.three_quarter * 3)
            .sum()
    };
    assert_eq!(all(new), all(&chart));
    assert_eq!(new.areas(), chart.areas());
}

#[test]
fn a_color_changes_in_one_area_only() {
    let mut draft = drawn(&["aaab"], colors(&["#111", "#eee"]));
    let face = Label::parse("face").unwrap();
    draft.areas.push(Area::new(face.clone(), vec![Run { y: 0, x: 0, count: 2 }]).unwrap());
    let chart = Chart::new(draft).unwrap();
    let split = [face];
    let summary = Summary::of_chart(
        &chart,
        SummaryOptions { split: &split, apart: None, color_of: &|_| None },
    )
    .unwrap();
    let list = change_list(&summary, &[Some("QV01"), None, None]);
    let file = ChangeFile::new(&list, &summary, made()).unwrap();
    let applied = apply(&chart, &file, Unanswered::Carry, &find).unwrap();
    let work = |x: u16| match applied.chart.grid().cell(x, 0) {
        Cell::Full(entry) => applied.chart.entry(entry).unwrap().work.clone(),
        Cell::Bare | Cell::Parts(_) => panic!(),
    };
    assert_eq!(work(0), Work::Color);
    assert_eq!(work(2), Work::Thread(key_thread("QV01")));
}

#[test]
fn a_blend_gets_new_threads_or_becomes_one() {
    let chart = full_chart();
    let summary = summary(&chart);
    let list = change_list(&summary, &[None, None, Some("QV03")]);
    let mut file = ChangeFile::new(&list, &summary, made()).unwrap();
    assert_eq!(file.changes[0].of.before, [key_thread("QV02"), key_thread("-5")]);
    // Both strands to one thread: three strands of it in the needle, as before.
    let both = file.changes[0].after[0].clone();
    file.changes[0].after.push(both);
    let one = apply(&chart, &file, Unanswered::Carry, &find).unwrap().chart;
    assert_eq!(one.key()[2].work, Work::Thread(key_thread("QV03")));
    assert_eq!(one.key()[2].strands.cross(), Some(3));
    // One strand stays, the other is replaced; each keeps its count.
    file.changes[0].after[0].thread = key_thread("QV02");
    let two = apply(&chart, &file, Unanswered::Carry, &find).unwrap().chart;
    let Work::Blend(blend) = &two.key()[2].work else { panic!("a blend stays a blend") };
    assert_eq!(blend.threads(), &[(key_thread("QV02"), 1), (key_thread("QV03"), 2)]);
}
