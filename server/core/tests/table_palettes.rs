//! Palettes and swatch exchange files with injuries that no stored file shows: each gets the right
//! value or a clear refusal. It does not know how the readers work.

#![cfg(test)]

use dyekin_core::table::{self, Loaded, ReadOptions, Refused};
use dyekin_core::{Conditions, Origin, TableId};

fn read(bytes: &[u8]) -> Result<Loaded, Refused> {
    read_under(bytes, Conditions::parse("D50/2"))
}

fn read_under(bytes: &[u8], conditions: Option<Conditions>) -> Result<Loaded, Refused> {
    let options = ReadOptions {
        id: TableId::from_any("palette"),
        source_name: "t".into(),
        conditions,
        origin: None,
        alpha_first: false,
        measurement: None,
    };
    table::read(bytes, &options)
}

#[track_caller]
fn loaded(bytes: &[u8]) -> Loaded {
    read(bytes).unwrap_or_else(|refused| panic!("{refused:#?}"))
}

#[track_caller]
fn check_told(bytes: &[u8], expected: &[(&str, &str)]) {
    let refused = read(bytes).expect_err("the file must be refused");
    let told: Vec<String> = refused
        .problems
        .iter()
        .map(|p| format!("{p} | {}", p.hint().unwrap_or_default()))
        .map(|text| text.replacen("t, ", "", 1).replacen("t: ", "", 1))
        .collect();
    for (told, (start, remedy)) in told.iter().zip(expected) {
        assert!(told.starts_with(start) && told.contains(remedy), "{told}\n{start} … {remedy}");
    }
    assert_eq!(told.len(), expected.len(), "{told:#?}");
}

fn notices(loaded: &Loaded) -> Vec<&str> {
    loaded.notices.iter().map(|notice| notice.text.as_str()).collect()
}

fn codes(loaded: &Loaded) -> Vec<&str> {
    loaded.table.threads().iter().map(|thread| thread.code.as_str()).collect()
}

fn names(loaded: &Loaded) -> Vec<&str> {
    loaded.table.threads().iter().map(|thread| thread.name.as_str()).collect()
}

fn colors(loaded: &Loaded) -> Vec<String> {
    let listed = loaded.table.threads().iter().map(|thread| thread.color.listed_srgb());
    listed.map(|rgb| rgb.map(|rgb| rgb.to_string()).unwrap_or_default()).collect()
}

const BY_NAME: &str = "a palette has no codes: each color's name is its code";

#[test]
fn names_with_blanks_are_codes_where_each_color_has_its_own() {
    for end in ["\n", "\r\n", "\r"] {
        let text = "GIMP Palette\nName: made\nColumns: 0\n#\n74 107 60\tMoss path\n\n  159\t195 207  Ice: pale # 2 \n";
        let loaded = loaded(text.replace('\n', end).as_bytes());
        assert_eq!(codes(&loaded), ["Moss path", "Ice: pale # 2"]);
        assert_eq!(names(&loaded), codes(&loaded));
        assert_eq!(colors(&loaded), ["#4a6b3c", "#9fc3cf"]);
        assert_eq!(loaded.table.threads()[0].color.origin(), Origin::Screen);
        assert_eq!(notices(&loaded), [BY_NAME]);
    }
}

#[test]
fn a_name_given_to_two_colors_makes_numbers_of_all_codes() {
    let loaded = loaded(b"GIMP Palette\n1 2 3 Untitled\n4 5 6 untitled\n7 8 9 Moss\n");
    assert_eq!(codes(&loaded), ["1", "2", "3"]);
    assert_eq!(names(&loaded), ["Untitled", "untitled", "Moss"]);
    let same = self::loaded(b"GIMP Palette\n1 2 3 Moss\n1 2 3 Moss\n4 5 6 Ice\n");
    assert_eq!(codes(&same), ["Moss", "Ice"]);
    let kept = "1 row equal to an earlier one in every column: kept once";
    assert!(notices(&same).contains(&kept), "{:?}", same.notices);
}

#[test]
fn every_line_that_is_no_color_is_told() {
    let text = "GIMP Palette\nChannels: HSV\nShelf: 3\n74 107\n74,107,60 Moss\n1.5 2 -3 Ice\n\
                0x10 0 0\nClay\n256 1 2 Ash\n";
    check_told(
        text.as_bytes(),
        &[
            ("line 2, column Channels: `HSV`: channels that are not known", "RGBA"),
            (
                "line 4: `74 107` is not a usable color: 2 of the numbers are there",
                "74 107 60 Moss",
            ),
            ("line 5: `74,107,60 Moss` is not a usable color: 2 of the numbers", "74 107 60 Moss"),
            ("line 6, column red: `1.5` is not a usable color: not a whole number", "clipped"),
            ("line 6, column blue: `-3` is not a usable color: not a whole number", "clipped"),
            ("line 7, column red: `0x10` is not a usable color", "clipped"),
            ("line 8: `Clay` is not a usable color: 1 of the numbers are there", "74 107 60 Moss"),
            ("line 9, column red: `256` is not a usable color", "clipped"),
        ],
    );
    check_told(b"GIMP Palette\n# none\n", &[("the table has no thread", "")]);
}

#[test]
fn alpha_is_opaque_or_no_color_and_suspected_where_it_is_not_announced() {
    let text = b"GIMP Palette\nChannels: RGBA\n1 2 3 128 Moss\n1 2 3\n1 2 3 x Ice\n";
    check_told(
        text,
        &[
            ("line 3, column alpha: `128` is not a usable color: alpha 128 of 255", "opaque"),
            ("line 4: `1 2 3` is not a usable color: 3 of the numbers are there, four", "74"),
            ("line 5, column alpha: `x` is not a usable color", "clipped"),
        ],
    );
    let loaded = loaded(b"GIMP Palette\n1 2 3 255 Moss\n4 5 6 255\n");
    assert_eq!(names(&loaded), ["255 Moss", "255"]);
    assert!(notices(&loaded).iter().any(|text| text.contains("`Channels: RGBA`")));
}

#[test]
fn utf_16_palettes_are_read_and_windows_1252_is_refused() {
    let text = "GIMP Palette\n159 195 207 Étang gelé\n";
    let units: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(names(&loaded(&[b"\xFF\xFE", &units[..]].concat())), ["Étang gelé"]);
    check_told(b"GIMP Palette\n1 2 3 Bl\xE9\n", &[("line 2: byte 21 (0xE9): not UTF-8", "UTF-8")]);
}

fn text(name: &str) -> Vec<u8> {
    let units: Vec<u16> = name.encode_utf16().chain([0]).collect();
    let count = u16::try_from(units.len()).unwrap();
    [count].into_iter().chain(units).flat_map(u16::to_be_bytes).collect()
}

fn block(kind: u16, body: &[u8]) -> Vec<u8> {
    let length = u32::try_from(body.len()).unwrap().to_be_bytes();
    [&kind.to_be_bytes()[..], &length, body].concat()
}

fn color(name: &str, model: &[u8; 4], parts: &[f32]) -> Vec<u8> {
    let parts: Vec<u8> = parts.iter().flat_map(|part| part.to_be_bytes()).collect();
    block(1, &[&text(name)[..], model, &parts, &[0, 2]].concat())
}

/// A swatch exchange file that states the right number of blocks.
fn file(blocks: &[Vec<u8>]) -> Vec<u8> {
    let count = u32::try_from(blocks.len()).unwrap().to_be_bytes();
    [&b"ASEF\0\x01\0\0"[..], &count, &blocks.concat()].concat()
}

#[test]
fn swatches_keep_their_names_and_exact_values() {
    let loaded = loaded(&file(&[
        block(0xC001, &text("Étang")),
        color("Ice 🧵", b"RGB ", &[0.0, 1.0, 0.5]),
        block(0xC002, &[]),
        color("Moss", b"LAB ", &[0.4215, -18.3, 22.75]),
        block(0x0003, b"unknown"),
    ]));
    assert_eq!(codes(&loaded), ["Ice 🧵", "Moss"]);
    assert_eq!(colors(&loaded), ["#00ff80", ""]);
    let lab = loaded.table.threads()[1].color.lab();
    assert_eq!(vec![lab.l(), lab.a(), lab.b()], [42.15, -18.3, 22.75]);
    let told = notices(&loaded);
    for text in [
        "the names of 1 group are not kept: Étang",
        "blocks of a kind that is not known: 1, not read",
        "1 row with red, green and blue between two 8-bit steps: rounded",
    ] {
        assert!(told.contains(&text), "{text}: {told:#?}");
    }
}

#[test]
fn every_swatch_that_cannot_be_read_is_told_by_number_name_and_byte() {
    let mut long = color("Long", b"RGB ", &[0.0; 3]);
    long[6..8].copy_from_slice(&99_u16.to_be_bytes());
    let lone = block(1, &[&[0, 2, 0xD8, 0, 0, 0][..], b"RGB ", &[0; 14]].concat());
    let nul = block(1, &[&[0, 3, 0, 0, 0, 65, 0, 0][..], b"RGB ", &[0; 14]].concat());
    check_told(
        &file(&[
            color("Hot", b"RGB ", &[1.01, f32::NAN, -0.1]),
            color("Pale", b"LAB ", &[42.15, 0.0, 0.0]),
            color("Far", b"LAB ", &[0.5, 300.0, f32::INFINITY]),
            color("Odd", b"HSB ", &[0.0; 3]),
            color("Short", b"RGB ", &[0.0]),
            long,
            lone,
            nul,
            block(0xC001, &[0, 9]),
        ]),
        &[
            ("byte 278: a group: the name is longer than its block", "export the swatches again"),
            ("swatch 1 `Hot` at byte 12: `1.01` is not a usable color: red is outside", "clipped"),
            ("swatch 2 `Pale` at byte 46: `42.15` is not a usable color: L* is stored", "clipped"),
            ("swatch 3 `Far` at byte 82, b: `inf`: not a finite number", "42.15"),
            ("swatch 3 `Far` at byte 82, a: `300` is not a usable color", "-200 to 200"),
            (
                "swatch 4 `Odd` at byte 116: `HSB ` is not a usable color: a color model",
                "RGB or Lab",
            ),
            ("swatch 5 `Short` at byte 150: the block is too short for its color", "cut off"),
            ("swatch 6 `` at byte 180: the name is longer than its block", "cut off"),
            ("swatch 7 `` at byte 216: the name is not UTF-16", "cut off"),
            ("swatch 8 `` at byte 246: the name holds NUL", "cut off"),
        ],
    );
}

#[test]
fn the_white_of_lab_swatches_is_asked_for_once_and_never_assumed() {
    let listed = color("Sky", b"RGB ", &[0.0, 0.5, 1.0]);
    let labs = ["One", "Two", "Three"].map(|name| color(name, b"LAB ", &[0.5, 1.0, -2.0]));
    let bytes = file(&[&[listed.clone()][..], &labs].concat());
    let refused = read_under(&bytes, None).unwrap_err();
    assert_eq!(refused.problems.len(), 1, "{refused:?}");
    let said = refused.problems[0].to_string();
    let start = "t, swatch 2 `One` at byte 46: `50 1 -2` is not a usable color: Lab without a light \
                 and observer, as in 2 more swatches";
    assert!(said.starts_with(start), "{said}");
    let hint = refused.problems[0].hint().unwrap();
    assert!(hint.contains("`--white D50/2`") && hint.contains("`--white D65/10`"), "{hint}");
    for white in ["D50/2", "D65/10"] {
        let white = Conditions::parse(white);
        let loaded = read_under(&bytes, white).unwrap();
        assert_eq!(Some(loaded.table.threads()[1].color.conditions()), white);
        assert!(!notices(&loaded).iter().any(|text| text.contains("illuminant")));
    }
    // Without a Lab there is nothing to ask.
    assert!(read_under(&file(&[listed]), None).is_ok());
}

#[test]
fn the_head_of_a_swatch_file_is_checked() {
    check_told(b"ASEF", &[("byte 4: the file ends after 4 bytes, inside the head", "cut off")]);
    let version = [&b"ASEF\0\x02\0\0\0\0\0\0"[..]].concat();
    check_told(&version, &[("byte 4: version 2 of the swatch exchange format", "save it as CSV")]);
    let mut more = file(&[color("Moss", b"RGB ", &[0.0; 3])]);
    more[11] = 9;
    check_told(&more, &[("byte 48: the file says 9 blocks and ends after 1", "cut off")]);
    more[11] = 0;
    assert!(notices(&loaded(&more)).contains(&"the file says 0 blocks, 1 are there: all read"));
    let huge = [&file(&[])[..], &[0, 1, 0xFF, 0xFF, 0xFF, 0xFF, 0]].concat();
    check_told(&huge, &[("byte 12: a block of 4294967295 bytes, of which 1 are there", "")]);
    check_told(&file(&[]), &[("the table has no thread", "")]);
}

#[test]
fn a_swatch_between_two_steps_is_counted_once() {
    let half = color("Moss", b"RGB ", &[0.29, 0.42, 0.235]);
    let whole = color("Snow", b"RGB ", &[1.0, 1.0, 1.0]);
    let read = loaded(&file(&[half.clone(), whole, color("Fern", b"RGB ", &[0.29, 1.0, 1.0])]));
    let rounded: Vec<&str> =
        notices(&read).into_iter().filter(|notice| notice.contains("two 8-bit steps")).collect();
    assert_eq!(rounded.len(), 1);
    assert!(rounded[0].starts_with("2 "), "{rounded:?}");
    let mut huge = file(&[half]);
    huge[8..12].copy_from_slice(&u32::MAX.to_be_bytes());
    check_told(&huge, &[("byte 48: the file says 4294967295 blocks and ends after 1", "cut off")]);
    for odd in [f32::NAN, f32::INFINITY, -0.1, 74.0] {
        let file = file(&[color("Moss", b"RGB ", &[odd, 0.5, 0.5])]);
        let refused = read_as_is(&file);
        assert!(refused.contains("red is outside 0 to 1"), "{refused}");
    }
}

fn read_as_is(bytes: &[u8]) -> String {
    read(bytes).unwrap_err().problems.iter().map(ToString::to_string).collect()
}
