//! Palettes and swatch exchange files of `data/inputs`: each loads right or is refused with its
//! place, value and remedy. It does not know how the readers work.

#![expect(clippy::float_cmp, reason = "a decimal text has one nearest number")]

use dyekin_core::Conditions;
use dyekin_core::table::{self, Loaded, ReadOptions};

use crate::inputs_table::{bytes, check_told, codes, colors, labs, names, notices, options};

fn loaded(bytes: &[u8], options: &ReadOptions) -> Loaded {
    table::read(bytes, options).unwrap_or_else(|refused| panic!("{refused:?}"))
}

const BY_NUMBER: &str = "not every color has a name of its own, so each code is the color's \
                         number in the file and changes with the order";

#[test]
fn palette_colors_without_names_get_their_numbers_as_codes() {
    let loaded = loaded(&bytes("gpl-unnamed.gpl"), &options("gpl-unnamed.gpl"));
    assert_eq!(codes(&loaded), ["1", "2", "3", "4"]);
    assert_eq!(names(&loaded), ["", "Ice pond", "Ripe corn pale", ""]);
    assert_eq!(colors(&loaded), ["#4a6b3c", "#9fc3cf", "#d9b45a", "#000000"]);
    assert_eq!(notices(&loaded), [format!("a palette has no codes: {BY_NUMBER}")]);
}

#[test]
fn alpha_is_read_where_the_palette_announces_it() {
    let wrong = "line 7, column red: `300` is not a usable color: not a whole number from 0 to 255";
    check_told("gpl-rgba-bom-crlf.gpl", &[(wrong, "nothing is clipped")]);
    let text = String::from_utf8(bytes("gpl-rgba-bom-crlf.gpl")).unwrap();
    let good = text.replace("300 10 20 255 Broken\r\n", "");
    let loaded = loaded(good.as_bytes(), &options("good.gpl"));
    assert_eq!(codes(&loaded), ["1", "2"]);
    assert_eq!(names(&loaded), ["Moss path", ""]);
    assert_eq!(colors(&loaded), ["#4a6b3c", "#9fc3cf"]);
    let clear = "6: 1 row with alpha 0, which is no color: not read";
    assert_eq!(notices(&loaded), [format!("a palette has no codes: {BY_NUMBER}"), clear.into()]);
}

#[test]
fn swatches_of_ink_are_refused_by_name_and_the_others_are_exact() {
    let name = "swatches-rgb-lab-cmyk-gray.ase";
    let remedy = "change the swatch to Lab or RGB where its profile is known";
    let cmyk = "swatch 3 `Ripe corn` at byte 126: `0.1 0.25 0.75 0.05` is not a usable color: \
                CMYK without a profile is not a color: any reading is approximate";
    let gray = "swatch 4 `Ash` at byte 176: `0.5` is not a usable color: \
                gray without a profile is not a color: any reading is approximate";
    let lab = "swatch 2 `Ice pond` at byte 82: `76 -8.5 -9` is not a usable color: \
               Lab without a light and observer: a swatch exchange file cannot state them";
    let white = "drawing programs usually mean D50/2, so `--white D50/2`";
    check_told(name, &[(lab, white), (cmyk, remedy), (gray, remedy)]);
    // The same file up to the block of the third swatch, and saying so.
    let mut good = bytes(name)[..126].to_vec();
    good[11] = 3;
    let refused = table::read(&good, &options(name)).unwrap_err();
    assert_eq!(refused.problems.len(), 1, "{refused:?}");
    let print = Conditions::parse("D50/2").unwrap();
    let said = ReadOptions { conditions: Some(print), ..options(name) };
    let loaded = loaded(&good, &said);
    assert_eq!(codes(&loaded), ["Moss path", "Ice pond"]);
    assert_eq!(colors(&loaded), ["#4a6b3c", ""]);
    assert_eq!(labs(&loaded)[1], [76.0, -8.5, -9.0]);
    assert_eq!(loaded.table.threads()[1].color.conditions(), print);
    assert_eq!(loaded.table.threads()[0].color.conditions(), Conditions::SCREEN);
    assert_eq!(
        notices(&loaded),
        [
            "the names of 1 group are not kept: Group A",
            "groups begin and end unevenly: read as they stand",
            "a swatch exchange file has no codes: each color's name is its code",
            "no origin stated for 1 row: taken as unknown; \
             say `--origin meter` when a color meter gave them",
        ]
    );
    assert_eq!(loaded.notices[3].place.as_ref().unwrap().field.as_deref(), Some("swatch 2"));
}

#[test]
fn another_format_with_the_ending_of_swatches_is_no_swatch_exchange_file() {
    let told = "not a swatch exchange file (no ASEF)";
    check_told("other-format-same-extension.ase", &[(told, "export the swatches again")]);
}

#[test]
fn a_swatch_file_cut_at_any_byte_is_refused_with_the_byte() {
    let name = "swatches-rgb-lab-cmyk-gray.ase";
    let whole = bytes(name);
    for length in 4..whole.len() {
        let refused = table::read(&whole[..length], &options(name)).unwrap_err();
        let cut = refused.problems.iter().filter(|problem| {
            let field = problem.place().and_then(|place| place.field.as_deref());
            field.is_some_and(|field| field.starts_with("byte "))
        });
        assert_eq!(cut.count(), 1, "{length}: {refused:?}");
    }
}
