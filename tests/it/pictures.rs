//! Real drawings through the whole command: reduced or cleaned, written, read back, their threads
//! counted. It does not judge how the result looks.

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::path::Path;

use dyekin_client::{Exit, Printer, run};
use dyekin_core::Srgb8;
use dyekin_core::table::{ReadOptions, TableId, read};
use dyekin_tests::{TestDir, data, project};

/// Threads that each drawing is reduced to.
const THREADS: usize = 10;

/// The flat drawings of the Noto emoji set that lie in `tests/data/pictures` (Apache-2.0).
const NAMES: [&str; 4] = ["bus", "drop-of-blood", "goose", "kite"];

/// Width, height and RGBA pixels of a picture, by the `png` crate alone.
fn pixels(path: &Path) -> (u32, u32, Vec<[u8; 4]>) {
    let file = std::io::BufReader::new(std::fs::File::open(path).expect("a picture"));
    let mut decoder = png::Decoder::new(file);
    decoder.set_transformations(png::Transformations::EXPAND | png::Transformations::ALPHA);
    let mut reader = decoder.read_info().expect("a header");
    let mut bytes = vec![0; reader.output_buffer_size().expect("a size")];
    let frame = reader.next_frame(&mut bytes).expect("pixels");
    assert_eq!(frame.color_type, png::ColorType::Rgba, "{}", path.display());
    let pixels = bytes.chunks_exact(4).map(|part| [part[0], part[1], part[2], part[3]]).collect();
    (frame.width, frame.height, pixels)
}

/// Colors of the stitched pixels.
fn colors(pixels: &[[u8; 4]]) -> BTreeSet<[u8; 3]> {
    let stitched = pixels.iter().filter(|pixel| pixel[3] == 255);
    stitched.map(|[red, green, blue, _]| [*red, *green, *blue]).collect()
}

/// The colors of the threads of the longest example range.
fn thread_colors() -> BTreeSet<[u8; 3]> {
    let bytes = std::fs::read(project().join("data/quillmoor.csv")).expect("an example range");
    let options = ReadOptions {
        id: TableId::from_any("quillmoor"),
        source_name: "quillmoor.csv".to_owned(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    };
    let table = read(&bytes, &options).expect("a good table").table;
    let rgb = |color: Srgb8| [color.red, color.green, color.blue];
    table.threads().iter().map(|thread| rgb(thread.color.srgb())).collect()
}

#[test]
fn drawings_become_charts_in_few_threads() {
    let folder = TestDir::new("pictures");
    let threads = thread_colors();
    for name in NAMES {
        let input = data().join("pictures").join(format!("{name}.aa.png"));
        let output = folder.path().join(format!("{name}.png"));
        let (mut printer, captured) = Printer::captured(100);
        let table = project().join("data/quillmoor.csv");
        let typed: Vec<OsString> = vec![
            "dyekin".into(),
            "reduce".into(),
            input.clone().into(),
            "--table".into(),
            table.into(),
            "--threads".into(),
            THREADS.to_string().into(),
            "--json".into(),
            "-o".into(),
            output.clone().into(),
        ];
        let exit = run(typed, &mut printer);
        assert_eq!(exit, Exit::Done, "{name}: {}", captured.err());
        let told: serde_json::Value = serde_json::from_str(&captured.out()).expect("one object");

        let (width, height, before) = pixels(&input);
        let (new_width, new_height, after) = pixels(&output);
        assert_eq!((width, height), (new_width, new_height), "{name} keeps its size");
        assert_eq!(told["colors_before"], colors(&before).len(), "{name}: colors before");
        let used = colors(&after);
        assert_eq!(told["colors_after"], used.len(), "{name}: threads after");
        assert!(used.len() <= THREADS && used.is_subset(&threads), "{name}: {used:?}");
        assert_same_map(name, &before, &after);
    }
}

/// Bare cloth stays bare, and all stitches of one color get one thread.
fn assert_same_map(name: &str, before: &[[u8; 4]], after: &[[u8; 4]]) {
    let mut map: BTreeMap<[u8; 4], [u8; 4]> = BTreeMap::new();
    for (old, new) in before.iter().zip(after) {
        assert_eq!(old[3], new[3], "{name}: cloth stays cloth");
        if old[3] == 255 {
            assert_eq!(map.entry(*old).or_insert(*new), new, "{name}: {old:?} is split");
        }
    }
}

/// What a command makes of a picture with the threads of the longest example range.
fn in_threads(command: &str, input: &Path, folder: &Path) -> Vec<[u8; 4]> {
    let output = folder.join("made.png");
    let (mut printer, captured) = Printer::captured(100);
    let table = project().join("data/quillmoor.csv");
    let typed: Vec<OsString> = vec![
        "dyekin".into(),
        command.into(),
        input.into(),
        "--table".into(),
        table.into(),
        "--force".into(),
        "-o".into(),
        output.clone().into(),
    ];
    let exit = run(typed, &mut printer);
    assert_eq!(exit, Exit::Done, "{}: {}", input.display(), captured.err());
    pixels(&output).2
}

/// Counts the sure cells that a question about before, truth and after says yes to.
type Count<'c> = &'c dyn Fn(&dyn Fn([u8; 4], [u8; 4], [u8; 4]) -> bool) -> usize;

fn assert_near_truth(name: &str, count: Count<'_>) {
    let changed = count(&|before, _, after| before != after);
    let right = count(&|before, truth, after| before != after && after == truth);
    let wrong = count(&|before, truth, _| before != truth);
    let restored = count(&|before, truth, after| before != truth && after == truth);
    let harm = count(&|before, truth, after| before == truth && after != truth);
    assert!(100 * right >= 93 * changed, "{name}: {right} of {changed} changes are right");
    assert!(100 * restored >= 90 * wrong, "{name}: {restored} of {wrong} are restored");
    assert!(harm <= 1, "{name}: {harm} are spoilt");
    assert!(wrong >= 100, "{name}: {wrong} were wrong");
}

#[test]
fn cleaned_drawings_come_near_their_truth() {
    let folder = TestDir::new("pictures-truth");
    let picture = |name: &str| data().join("pictures").join(format!("{name}.png"));
    for (name, kinds) in [("drop-of-blood", ["aa", "lanczos"].as_slice()), ("goose", &["aa"])] {
        let sure = pixels(&picture(&format!("{name}.sure"))).2;
        let truth = in_threads("convert", &picture(&format!("{name}.truth")), folder.path());
        let again = in_threads("clean", &picture(&format!("{name}.truth")), folder.path());
        assert_eq!(again, truth, "{name}: a truth stays as it is");
        for kind in kinds {
            let input = picture(&format!("{name}.{kind}"));
            let before = in_threads("convert", &input, folder.path());
            let after = in_threads("clean", &input, folder.path());
            let count = |is: &dyn Fn([u8; 4], [u8; 4], [u8; 4]) -> bool| {
                let all = sure.iter().zip(&before).zip(&truth).zip(&after);
                all.filter(|(((sure, before), truth), after)| {
                    sure[0] > 0 && is(**before, **truth, **after)
                })
                .count()
            };
            assert_near_truth(&format!("{name} {kind}"), &count);
        }
    }
}
