//! Embedded and remote give the same answers in the same words, refusals included.
//! It does not say what a right answer is: other tests do.

mod blends;
mod checks;
mod conversion;
mod reducing;
mod spectra;

use std::ffi::OsString;
use std::fs;
use std::path::PathBuf;

use dyekin_client::backend::{Backend, Embedded, Remote};
use dyekin_client::{Exit, Failure, Printer, run};
use dyekin_core::audit::AuditOptions;
use dyekin_core::color::AdaptationMethod;
use dyekin_core::difference::Measure;
use dyekin_core::nearest::{NearestOptions, ThreadFilter};
use dyekin_core::palette::{ChartColor, Neighbors, Side};
use dyekin_core::planner::{Ask, Keep, MergeOptions, ReduceOptions, SubstituteOptions};
use dyekin_core::table::{Finish, ReadOptions};
use dyekin_core::watch::{Patient, Progress, Watch};
use dyekin_core::{
    Catalog, Code, Color, Conditions, DeltaE, ErrorKind, Formula, Lab, Origin, PaletteSummary,
    Srgb8, Table, TableId, ThreadRef, table,
};
use dyekin_tests::server::TestServer;
use tokio::runtime::Runtime;

const TABLES: [&str; 3] = ["larkpenny", "ottersby", "quillmoor"];

fn file(name: &str) -> String {
    format!("../data/{name}.csv")
}

fn read_options(name: &str) -> ReadOptions {
    ReadOptions {
        id: TableId::parse(name).unwrap(),
        source_name: format!("{name}.csv"),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    }
}

fn load(name: &str) -> Table {
    table::read(&fs::read(file(name)).unwrap(), &read_options(name)).unwrap().table
}

fn catalog() -> Catalog {
    Catalog::build(TABLES.map(load))
}

/// A real server over the example tables, and the runtime that drives it.
struct Served {
    server: Option<TestServer>,
    runtime: Runtime,
}

impl Served {
    fn start() -> Self {
        let runtime = Runtime::new().unwrap();
        let server = runtime.block_on(TestServer::start(catalog()));
        Self { server: Some(server), runtime }
    }

    fn url(&self) -> String {
        format!("http://{}", self.server.as_ref().unwrap().address())
    }

    fn remote(&self) -> Remote {
        Remote::connect(&self.url()).unwrap()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        if let Some(server) = self.server.take() {
            self.runtime.block_on(server.stop());
        }
    }
}

/// Numbers that look random and are the same in every run (Knuth's MMIX constants).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: u64) -> u64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }

    fn pick<'t, T>(&mut self, from: &'t [T]) -> &'t T {
        let place = usize::try_from(self.roll(from.len() as u64)).unwrap();
        &from[place]
    }

    fn byte(&mut self) -> u8 {
        u8::try_from(self.roll(256)).unwrap()
    }

    fn srgb(&mut self) -> Srgb8 {
        Srgb8::new(self.byte(), self.byte(), self.byte())
    }

    fn part(&mut self, from: i32, to: i32) -> f64 {
        let span = u64::from((to - from).unsigned_abs()) * 100;
        f64::from(from) + f64::from(u32::try_from(self.roll(span)).unwrap()) / 100.0
    }

    fn color(&mut self) -> Color {
        if self.roll(3) > 0 {
            return Color::screen(self.srgb());
        }
        let lab = Lab::new(self.part(0, 100), self.part(-80, 80), self.part(-80, 80)).unwrap();
        let white = *self.pick(&["D65/10", "D50/2", "A/10"]);
        let origin = *self.pick(&[Origin::Meter, Origin::Unknown, Origin::Scan, Origin::Spectrum]);
        Color::lab_under(lab, Conditions::parse(white).unwrap(), origin)
    }

    fn formula(&mut self) -> Formula {
        *self.pick(&Formula::PRESETS)
    }

    fn adaptation(&mut self) -> Option<AdaptationMethod> {
        *self.pick(&[None, Some(AdaptationMethod::Bradford), Some(AdaptationMethod::Cat16)])
    }

    fn thread(&mut self, catalog: &Catalog) -> ThreadRef {
        let held = self.pick(catalog.tables());
        let code = match self.roll(8) {
            0 => Code::parse("QM-9Z9").unwrap(),
            _ => self.pick(held.table().threads()).code.clone(),
        };
        let table = match self.roll(12) {
            0 => TableId::parse("nowhere").unwrap(),
            _ => held.table().id().clone(),
        };
        ThreadRef { table, code }
    }

    fn tables(&mut self) -> Vec<TableId> {
        match self.roll(5) {
            0 => Vec::new(),
            1 => vec![TableId::parse("nowhere").unwrap()],
            _ => vec![TableId::parse(self.pick::<&str>(&TABLES)).unwrap()],
        }
    }

    fn filter(&mut self, catalog: &Catalog) -> ThreadFilter {
        ThreadFilter {
            available_only: self.roll(3) == 0,
            finishes: if self.roll(2) == 0 { vec![Finish::Plain] } else { Vec::new() },
            fibers: if self.roll(6) == 0 { vec!["cotton".into()] } else { Vec::new() },
            excluded: (0..self.roll(3)).map(|_| self.thread(catalog)).collect(),
            max_price: None,
        }
    }

    fn options(&mut self, catalog: &Catalog) -> NearestOptions {
        NearestOptions {
            tables: self.tables(),
            count: usize::try_from(self.roll(12)).unwrap() + 1,
            formula: self.formula(),
            adaptation: self.adaptation(),
            lights: None,
            limit: (self.roll(2) == 0).then(|| DeltaE::new(self.part(0, 12)).unwrap()),
            filter: self.filter(catalog),
            count_as_near: true,
        }
    }

    fn palette(&mut self, catalog: &Catalog) -> PaletteSummary {
        let known = catalog.table(&TableId::parse("quillmoor").unwrap()).unwrap();
        let worked = self.roll(2) == 0;
        let colors: Vec<ChartColor> = (0..4 + self.roll(12))
            .map(|_| {
                let thread = self.pick(known.table().threads()).clone();
                let threads = ThreadRef { table: known.table().id().clone(), code: thread.code };
                ChartColor {
                    color: if worked { thread.color } else { Color::screen(self.srgb()) },
                    stitches: self.roll(5_000) + 1,
                    threads: if worked { vec![threads] } else { Vec::new() },
                    area: (self.roll(3) == 0).then(|| "face".to_owned()),
                }
            })
            .collect();
        let neighbors = (1..colors.len())
            .map(|place| Neighbors {
                first: place - 1,
                second: if self.roll(6) == 0 { Side::Cloth } else { Side::Color(place) },
                edges: self.roll(90) + 1,
            })
            .collect();
        let neighbors = (self.roll(4) > 0).then_some(neighbors);
        PaletteSummary::new(colors, neighbors, Some(Color::screen(self.srgb()))).unwrap()
    }

    fn ask(&mut self, catalog: &Catalog) -> Ask {
        Ask {
            tables: self.tables(),
            formula: self.formula(),
            adaptation: self.adaptation(),
            filter: self.filter(catalog),
            keeps: match self.roll(4) {
                0 => vec![Keep::Color(usize::try_from(self.roll(20)).unwrap())],
                1 => vec![Keep::Thread(self.thread(catalog))],
                2 => vec![Keep::Area("nowhere".into())],
                _ => Vec::new(),
            },
            answers: Vec::new(),
        }
    }
}

/// A refusal as people read it: without the path of a request's field, which only programs see.
fn words<T>(result: Result<T, Failure>) -> Result<T, Vec<(String, Option<String>)>> {
    result.map_err(|failure| match failure {
        Failure::Domain { errors, .. } => {
            errors.iter().map(|error| (error.kind().to_string(), error.hint())).collect()
        }
        other @ (Failure::Bug { .. }
        | Failure::Said { .. }
        | Failure::TimedOut { .. }
        | Failure::Unreachable { .. }) => vec![(other.to_string(), None)],
    })
}

fn kinds<T>(results: Vec<Result<T, dyekin_core::Error>>) -> Vec<Result<T, ErrorKind>> {
    results.into_iter().map(|result| result.map_err(|error| error.kind().clone())).collect()
}

#[test]
fn generated_matches_are_the_same() {
    let served = Served::start();
    let catalog = catalog();
    let (mut here, mut there) = (Embedded::new(catalog.clone()), served.remote());
    let mut dice = Dice(2);
    let (mut answered, mut refused) = (0, 0);
    for round in 0..120 {
        let options = dice.options(&catalog);
        let colors: Vec<Color> = (0..1 + dice.roll(6)).map(|_| dice.color()).collect();
        let left = words(here.match_colors(&colors, &options));
        let right = words(there.match_colors(&colors, &options));
        let plain =
            |answers: dyekin_client::backend::Answers<_>| (kinds(answers.results), answers.tables);
        let (left, right) = (left.map(plain), right.map(plain));
        assert_eq!(left, right, "round {round}: {options:?}");
        if left.is_ok() {
            answered += 1
        } else {
            refused += 1
        }
        let threads: Vec<ThreadRef> =
            (0..1 + dice.roll(4)).map(|_| dice.thread(&catalog)).collect();
        let any = dice.roll(2) == 0;
        let left = words(here.match_threads(&threads, &options, any)).map(plain);
        let right = words(there.match_threads(&threads, &options, any)).map(plain);
        assert_eq!(left, right, "round {round}: {threads:?} {options:?}");
        let left = words(here.threads(&threads)).map(kinds);
        assert_eq!(left, words(there.threads(&threads)).map(kinds), "round {round}");
    }
    assert!(answered > 40 && refused > 5, "{answered} answered, {refused} refused");
}

#[test]
fn generated_comparisons_are_the_same() {
    let served = Served::start();
    let (mut here, mut there) = (Embedded::default(), served.remote());
    let mut dice = Dice(3);
    let pairs: Vec<(Color, Color)> = (0..1_500).map(|_| (dice.color(), dice.color())).collect();
    for formula in Formula::PRESETS {
        let measure = Measure { formula, adaptation: dice.adaptation() };
        let left = words(here.compare(&pairs, measure)).map(kinds).unwrap();
        let right = words(there.compare(&pairs, measure)).map(kinds).unwrap();
        assert_eq!(left, right);
        assert!(left.iter().any(Result::is_err) && left.iter().any(Result::is_ok));
    }
}

#[test]
fn generated_palettes_are_planned_the_same() {
    let served = Served::start();
    let catalog = catalog();
    let (mut here, mut there) = (Embedded::new(catalog.clone()), served.remote());
    let mut dice = Dice(4);
    let (mut answered, mut refused) = (0, 0);
    for round in 0..40 {
        let palette = dice.palette(&catalog);
        let ask = dice.ask(&catalog);
        let options = dice.reduce_options(&palette, &catalog);
        let left = words(here.reduce(&palette, &ask, &options, &Patient));
        assert_eq!(left, words(there.reduce(&palette, &ask, &options, &Patient)), "round {round}");
        if left.is_ok() {
            answered += 1
        } else {
            refused += 1
        }
        let anchor = (dice.roll(2) == 0).then(|| usize::try_from(dice.roll(9)).unwrap() + 1);
        let options = MergeOptions { anchor, curve: dice.roll(2) == 0 };
        let left = words(here.suggest_merges(&palette, &ask, options, &Patient));
        let right = words(there.suggest_merges(&palette, &ask, options, &Patient));
        assert_eq!(left, right, "round {round}");
        let used = palette.colors().iter().flat_map(|color| color.threads.clone());
        let options = SubstituteOptions {
            missing: used.take(2).chain([dice.thread(&catalog)]).take(2).collect(),
            allow_used: dice.roll(2) == 0,
            limit: (dice.roll(2) == 0).then(|| DeltaE::new(4.0).unwrap()),
            min_apart: DeltaE::new(*dice.pick(&[0.0, 2.5, 30.0])).unwrap(),
            keep_lightness: dice.roll(2) == 0,
            keep_outlines: dice.roll(2) == 0,
            lights: None,
            stock: (dice.roll(3) == 0).then(|| dice.stock(&catalog)),
            staying: if dice.roll(3) == 0 { vec![0] } else { Vec::new() },
        };
        let left = words(here.substitute(&palette, &ask, &options, &Patient));
        let right = words(there.substitute(&palette, &ask, &options, &Patient));
        assert_eq!(left, right, "round {round}");
    }
    assert!(answered > 5 && refused > 5, "{answered} answered, {refused} refused");
}

/// Tells everything that standard error says, but what only who reads the file can know.
fn said(args: &[String]) -> (String, String, Exit) {
    let (mut printer, captured) = Printer::captured(100);
    let typed = std::iter::once("dyekin".to_owned()).chain(args.iter().cloned());
    let exit = run(typed.map(OsString::from), &mut printer);
    let err: Vec<String> = captured
        .err()
        .lines()
        .filter(|line| !line.starts_with("note: ../data/"))
        .map(str::to_owned)
        .collect();
    (captured.out(), err.join("\n"), exit)
}

#[test]
fn commands_say_the_same_words() {
    let served = Served::start();
    let folder = std::env::temp_dir().join(format!("dyekin-parity-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    let out = folder.join("out.json").to_str().unwrap().to_owned();
    let chart = "../data/charts/lighthouse.png";
    let grid = "../data/charts/lighthouse.csv";
    let mut questions: Vec<Vec<String>> = [
        "match #4a6b3c QM-2M2 --details".to_owned(),
        "match #4a6b3c --json --within 1".to_owned(),
        "match #4a6b3c --formula cmc:2:1 --details".to_owned(),
        "match #4a6b3c --formula cmc".to_owned(),
        "match #4a6b3c --available --exclude QM-2M3 --count 9".to_owned(),
        "match lab(42,-20,22) --origin meter --white D50/2 --adapt --details".to_owned(),
        "match QM-9Z9 nowhere:1 #12345 quillmoor:QM-2M4".to_owned(),
        "match #4a6b3c --exclude QM-9Z9".to_owned(),
        "match #4a6b3c --fiber silk --within 3".to_owned(),
        "compare #4a6b3c QM-2M2 #fff --details".to_owned(),
        format!("merge {chart}"),
        format!("merge {chart} --anchor 4 --details"),
        format!("merge {chart} --anchor 0"),
        format!("merge {chart} --anchor 4097"),
        format!("merge {grid} --json"),
        format!("reduce {chart} --threads 6 -o {out} --force --details"),
        format!("reduce {chart} --threads 6 -o {out} --force --json --keep QM-2M2"),
        format!("reduce {chart} --threads 1 -o {out} --force --keep QM-2M2,QM-2M3"),
        format!("reduce {chart} --threads 4 -o {out} --force --keep #010203"),
        format!("reduce {chart} --tolerance 9 -o {out} --force --details"),
        format!("reduce {chart} --tolerance 9 --threads 2 -o {out} --force"),
        format!("reduce {chart} --tolerance 1 -o {out} --force"),
        format!("reduce {chart} --thread-worth 0.2 --squared -o {out} --force --json"),
        format!("reduce {chart} -o {out} --force"),
        format!("convert {chart} -o {out} --force"),
        format!("substitute {grid} --missing QM-2Z2 -o {out} --force"),
        format!("substitute {grid} --missing QM-9Z9 -o {out} --force"),
        format!("substitute {grid} --missing QM-2M2 -o {out} --force"),
        "table list".to_owned(),
        "table list --json".to_owned(),
    ]
    .iter()
    .map(|line| line.split_whitespace().map(str::to_owned).collect())
    .collect();
    let half_way = ["--done", "rows 1", "--left", "QM-2Z2 0.02 m", "--count", "14", "--details"];
    let substitute = ["substitute", grid, "--missing", "QM-2Z2", "-o", &out, "--force"];
    questions.push([&substitute[..], &half_way].concat().into_iter().map(str::to_owned).collect());
    let mut dice = Dice(5);
    for _ in 0..30 {
        let color = dice.srgb().to_string();
        let within = format!("{:.1}", dice.part(0, 9));
        let count = (dice.roll(5) + 1).to_string();
        let formula = dice.formula();
        let formula = format!("{}:{}", formula.name(), formula.parameters());
        let formula = formula.trim_end_matches(':').to_owned();
        questions.push(
            ["match", &color, "--within", &within, "--count", &count, "--formula", &formula]
                .map(str::to_owned)
                .to_vec(),
        );
    }
    for question in questions {
        let mut here = question.clone();
        here.extend(["--table".into(), file("quillmoor")]);
        let mut there = question.clone();
        there.extend(["--table".into(), "quillmoor".into(), "--server".into(), served.url()]);
        let (left, right) = (said(&here), said(&there));
        if question.contains(&"nowhere:1".to_owned()) {
            // Which other tables are known differs: one file here, three tables there.
            assert_eq!(left.1.lines().next(), right.1.lines().next());
            assert_eq!(left.2, right.2);
            continue;
        }
        assert_eq!(left, right, "{question:?}");
    }
    fs::remove_dir_all(&folder).unwrap();
}

#[test]
fn tables_are_read_listed_and_refused_alike() {
    let served = Served::start();
    let (mut here, mut there) = (Embedded::new(catalog()), served.remote());
    assert_eq!(here.list_tables(), there.list_tables());
    let mut files: Vec<PathBuf> =
        fs::read_dir("data/inputs").unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|path| {
        let ending = path.extension().unwrap_or_default();
        ["csv", "txt", "json"].iter().any(|known| ending == *known)
    });
    files.sort();
    assert!(files.len() > 20, "{}", files.len());
    for path in files {
        let name = path.file_name().unwrap().to_str().unwrap();
        let options = ReadOptions { source_name: name.into(), ..read_options("tried") };
        let bytes = fs::read(&path).unwrap();
        assert_eq!(
            here.check_table(&bytes, &options),
            there.check_table(&bytes, &options),
            "{name}"
        );
        let (left, right) =
            (here.import_table(&bytes, &options), there.import_table(&bytes, &options));
        assert_eq!(left, right, "{name}");
        if left.is_ok() {
            let id = &options.id;
            let (left, right) = (here.table(id).unwrap(), there.table(id).unwrap());
            assert_eq!(left.threads(), right.threads(), "{name}");
            assert_eq!(left.hash(), right.hash(), "{name}");
            assert_eq!(here.delete_table(id), there.delete_table(id), "{name}");
        }
    }
    let gone = TableId::parse("tried").unwrap();
    assert_eq!(words(here.delete_table(&gone)), words(there.delete_table(&gone)));
    assert_eq!(here.list_tables(), there.list_tables());
}

#[test]
fn a_large_table_travels_in_pieces() {
    let served = Served::start();
    let mut text = String::from("code,name,hex\n");
    let mut dice = Dice(6);
    for row in 0..30_000 {
        text.push_str(&format!("LT-{row},Thread number {row},{}\n", dice.srgb()));
    }
    let options = read_options("large");
    let (mut here, mut there) = (Embedded::default(), served.remote());
    let left = here.import_table(text.as_bytes(), &options).unwrap();
    let right = there.import_table(text.as_bytes(), &options).unwrap();
    assert_eq!(left, right);
    assert!(text.len() > 700_000, "several messages");
    assert_eq!(here.table(&options.id).unwrap().hash(), there.table(&options.id).unwrap().hash());
    let colors: Vec<Color> = (0..2_500).map(|_| Color::screen(dice.srgb())).collect();
    let asked = NearestOptions {
        tables: vec![options.id.clone()],
        count: 15,
        formula: Formula::DEFAULT,
        adaptation: None,
        lights: None,
        limit: None,
        filter: ThreadFilter::default(),
        count_as_near: true,
    };
    let left = here.match_colors(&colors, &asked).unwrap();
    assert_eq!(left, there.match_colors(&colors, &asked).unwrap());
    assert_eq!(left.results.len(), 2_500);
}

/// Nobody wants the answer any more.
struct Gone;

impl Watch for Gone {
    fn stopped(&self) -> bool {
        true
    }

    fn progress(&self, _: &Progress) {}
}

#[test]
fn stopping_is_heard_in_both_modes() {
    let served = Served::start();
    let catalog = catalog();
    let mut dice = Dice(7);
    let palette = dice.palette(&catalog);
    let ask = Ask {
        tables: Vec::new(),
        formula: Formula::DEFAULT,
        adaptation: None,
        filter: ThreadFilter::default(),
        keeps: Vec::new(),
        answers: Vec::new(),
    };
    let left = Embedded::new(catalog)
        .reduce(&palette, &ask, &ReduceOptions::at_most(3), &Gone)
        .unwrap_err();
    let right =
        served.remote().reduce(&palette, &ask, &ReduceOptions::at_most(3), &Gone).unwrap_err();
    assert_eq!(left.exit(), Exit::Stopped);
    assert_eq!(left, right);
}

#[test]
fn a_set_flag_ends_any_question() {
    let served = Served::start();
    let stop = std::sync::Arc::new(std::sync::atomic::AtomicBool::new(true));
    let mut dice = Dice(8);
    let pairs: Vec<(Color, Color)> = (0..1_000).map(|_| (dice.color(), dice.color())).collect();
    let mut remote = served.remote().heeding(stop);
    let failure = remote.compare(&pairs, Measure::plain(Formula::DEFAULT)).unwrap_err();
    assert_eq!(failure.exit(), Exit::Stopped);
}

#[test]
fn a_server_that_went_away_is_called_unreachable() {
    let served = Served::start();
    let mut remote = served.remote();
    assert!(remote.list_tables().is_ok());
    drop(served);
    let failure = remote.list_tables().unwrap_err();
    assert_eq!(failure.exit(), Exit::Unreachable, "{failure:?}");
}

#[test]
fn audits_and_comparisons_of_tables_are_the_same() {
    let served = Served::start();
    let (mut here, mut there) = (Embedded::new(catalog()), served.remote());
    let mut dice = Dice(8);
    let mut names = TABLES.to_vec();
    names.push("nowhere");
    for round in 0..12 {
        let options = AuditOptions {
            formula: dice.formula(),
            twins: DeltaE::new(dice.part(0, 4)).unwrap(),
            gap: DeltaE::new(dice.part(6, 20)).unwrap(),
        };
        let [one, two] = [(); 2].map(|()| TableId::parse(dice.pick::<&str>(&names)).unwrap());
        let left = words(here.audit_table(&one, &options));
        assert_eq!(left, words(there.audit_table(&one, &options)), "round {round}: {one}");
        let measure = Measure { formula: options.formula, adaptation: dice.adaptation() };
        let left = words(here.compare_tables(&one, &two, measure));
        let right = words(there.compare_tables(&one, &two, measure));
        assert_eq!(left, right, "round {round}: {one} {two}");
    }
    for command in ["table audit TABLE", "table audit TABLE --json", "table compare TABLE TABLE"] {
        let typed = |name: &str| -> Vec<String> {
            command.split_whitespace().map(|word| word.replace("TABLE", name)).collect()
        };
        let mut there = typed("quillmoor");
        there.extend(["--server".into(), served.url()]);
        let (left, right) = (said(&typed(&file("quillmoor"))), said(&there));
        if command.contains("compare") {
            // The same file twice is two tables here and one table there.
            assert_eq!(
                (left.0.split_once(':').unwrap().1, left.2),
                (right.0.split_once(':').unwrap().1, right.2)
            );
        } else {
            assert_eq!(left, right, "{command}");
        }
    }
}
