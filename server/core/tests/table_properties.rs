//! What holds for any bytes and any table: no panic, a place for each problem, nothing lost on the
//! way out and back. It does not know how the reader works.

#![cfg(test)]

use std::sync::Arc;

use dyekin_core::spectrum::Reflectance;
use dyekin_core::table::{
    self, CsvForm, Currency, Finish, Gtin, Price, ReadOptions, Status, write_csv, write_json,
};
use dyekin_core::{
    Code, Color, Conditions, Illuminant, Lab, Observer, Origin, Srgb8, Table, TableId, Thread,
};
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;

fn options() -> ReadOptions {
    ReadOptions {
        id: TableId::from_any("made"),
        source_name: "t.csv".into(),
        conditions: None,
        origin: None,
        alpha_first: false,
        measurement: None,
    }
}

/// Reads and checks that each problem names the file and, unless it is about the whole, a line.
fn check(bytes: &[u8]) {
    if let Err(refused) = table::read(bytes, &options()) {
        assert!(!refused.problems.is_empty());
        assert!(refused.unlisted == 0 || refused.problems.len() == 50);
        for problem in &refused.problems {
            let place = problem.place().expect("a place");
            assert_eq!(place.source_name.as_deref(), Some("t.csv"));
            // A swatch exchange file has bytes and no lines.
            let has_lines = !bytes.starts_with(b"ASEF");
            assert!(has_lines || place.line.is_none(), "{problem}");
            if has_lines && (place.column.is_some() || place.field.is_some()) {
                assert!(place.line.is_some_and(|line| line > 0), "{problem}");
            }
            assert!(!problem.to_string().chars().any(char::is_control), "{problem:?}");
        }
    }
}

const GOOD: [&str; 9] = [
    "code,name,hex,price,currency,status,gtin,alternates\n\
     K-1,\"Moss, dark\",#4a6b3c,3.50,EUR,low,40123455,K-2\nK-2,Ice,#9fc3cf,,,,,\n",
    "code;L;a;b;illuminant;observer;origin\nK-1;42,15;-18,3;22,75;D65;10;meter\nK-2;1;2;3;;;\n",
    "code\tr\tg\tb\r\nK-1\t74\t107\t60\r\nK-2\t1\t2\t3\r\n",
    "{\"format\":\"dyekin-table\",\"version\":1,\"threads\":[\n{\"code\":\"K-1\",\"hex\":\"#4a6b3c\"},\n\
     {\"code\":\"K-2\",\"lab\":[1,-2,3.5],\"observer\":10,\"alternates\":[\"K-1\"]}]}",
    "CGATS.17\nILLUMINATION_NAME D50\nOBSERVER_ANGLE \"2\"\nNUMBER_OF_FIELDS 5\nBEGIN_DATA_FORMAT\n\
     SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nNUMBER_OF_SETS 2\nBEGIN_DATA\n\
     1 \"Moss path\" 42.15 -18.3 22.75\n2 Ice 76 -8.5 -9\nEND_DATA\n",
    "CGATS.17\r\nBEGIN_DATA_FORMAT\tSAMPLE_NAME\tXYZ_X\tXYZ_Y\tXYZ_Z\tEND_DATA_FORMAT\r\nBEGIN_DATA\r\n\
     Moss\t20.5\t18.25\t9.75\r\nIce\t1\t2\t3\r\nEND_DATA\r\n",
    "GIMP Palette\nName: made\nColumns: 2\n# none\n 74 107  60 Moss path\n159 195 207\tIce\n",
    "GIMP Palette\nChannels: RGBA\n74 107 60 255 Moss\n0 0 0 0 Cloth\n1 2 3 255\n",
    "<c:CxF xmlns:c=\"http://colorexchangeformat.com/CxF3-core\"><c:Resources><c:ObjectCollection>\n\
     <c:Object Id=\"o1\" Name=\"Moss &amp; Ice\"><c:ColorValues><c:ColorCIELab ColorSpecification=\"s\">\n\
     <c:L>42.15</c:L><c:A>-18.3</c:A><c:B>22.75</c:B></c:ColorCIELab></c:ColorValues></c:Object>\n\
     <c:Object Id=\"o2\"><c:ColorValues><c:ColorSRGB ColorSpecification=\"s\"><c:R>1</c:R><c:G>2</c:G>\
     <c:B>3</c:B></c:ColorSRGB></c:ColorValues></c:Object></c:ObjectCollection>\n\
     <c:ColorSpecificationCollection><c:ColorSpecification Id=\"s\"><c:TristimulusSpec>\
     <c:Illuminant>D65</c:Illuminant><c:Observer>2_Degree</c:Observer></c:TristimulusSpec>\
     <c:MeasurementSpec><c:MeasurementType>Colorimetric_Reflectance</c:MeasurementType></c:MeasurementSpec>\
     </c:ColorSpecification></c:ColorSpecificationCollection></c:Resources></c:CxF>\n",
];

/// A swatch exchange file of one group with an RGB and a Lab color.
fn swatches() -> Vec<u8> {
    let text = |name: &str| -> Vec<u8> {
        let units: Vec<u16> = name.encode_utf16().chain([0]).collect();
        let count = u16::try_from(units.len()).unwrap();
        [count].into_iter().chain(units).flat_map(u16::to_be_bytes).collect()
    };
    let block = |kind: u16, body: Vec<u8>| -> Vec<u8> {
        let length = u32::try_from(body.len()).unwrap().to_be_bytes();
        [&kind.to_be_bytes()[..], &length, &body].concat()
    };
    let color = |name: &str, model: &[u8; 4], parts: [f32; 3]| {
        let parts: Vec<u8> = parts.into_iter().flat_map(f32::to_be_bytes).collect();
        block(1, [&text(name)[..], model, &parts, &[0, 2]].concat())
    };
    [
        &b"ASEF\x00\x01\x00\x00\x00\x00\x00\x04"[..],
        &block(0xC001, text("Group")),
        &color("Moss path", b"RGB ", [74.0 / 255.0, 107.0 / 255.0, 60.0 / 255.0]),
        &color("Ice", b"LAB ", [0.76, -8.5, -9.0]),
        &block(0xC002, Vec::new()),
    ]
    .concat()
}

/// A file of two spectra without Lab.
fn spectra() -> Vec<u8> {
    let names: Vec<String> = (40..=70).map(|ten| format!("NM_{ten}0")).collect();
    let row = |id: u32, value: &str| format!("{id} {}\n", vec![value; 31].join(" "));
    let (names, rows) = (names.join(" "), row(1, "0.25") + &row(2, "0.5"));
    format!(
        "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID {names}\nEND_DATA_FORMAT\nBEGIN_DATA\n{rows}END_DATA\n"
    )
    .into_bytes()
}

/// Good files of every format.
fn good_files() -> Vec<Vec<u8>> {
    let texts = GOOD.iter().map(|text| text.as_bytes().to_vec());
    texts.chain([swatches(), spectra()]).collect()
}

/// Pieces that hurt wherever they stand.
const SHARP: [&str; 24] = [
    "\"", ",", ";", "\t", "\n", "\r", "\0", "\u{feff}", "\u{200b}", "é", "−", "NaN", "1e999", "{",
    "}", "[", "]", ":", "\\u0000", "\\", "#", "=", "null", "-",
];

fn mutated() -> impl Strategy<Value = Vec<u8>> {
    let cut = (any::<prop::sample::Index>(), 0_usize..6, 0..SHARP.len(), any::<Option<u8>>());
    (0..GOOD.len() + 2, vec(cut, 1..6)).prop_map(|(good, cuts)| {
        let mut bytes = good_files().swap_remove(good);
        for (at, out, sharp, byte) in cuts {
            let at = at.index(bytes.len() + 1);
            let end = (at + out).min(bytes.len());
            let piece = byte.map_or_else(|| SHARP[sharp].as_bytes().to_vec(), |byte| vec![byte]);
            bytes.splice(at..end, piece);
        }
        bytes
    })
}

fn text() -> impl Strategy<Value = String> {
    let pieces = prop_oneof![
        any::<char>().prop_map(|c| c.to_string()),
        (0..SHARP.len()).prop_map(|index| SHARP[index].to_owned()),
        Just("'".to_owned()),
        Just("=".to_owned()),
        Just(" ".to_owned()),
        Just("Moss".to_owned()),
    ];
    vec(pieces, 0..6).prop_map(|pieces| pieces.concat().replace('\0', ""))
}

fn code() -> impl Strategy<Value = Code> {
    text().prop_filter_map("a code", |text| {
        Code::parse(&text).ok().filter(|code| !code.as_str().starts_with("#"))
    })
}

fn number(low: f64, high: f64) -> impl Strategy<Value = f64> {
    prop_oneof![low..high, Just(low), Just(high), (low..high).prop_map(f64::round)]
}

fn color() -> impl Strategy<Value = Color> {
    let origin = prop_oneof![
        Just(Origin::Scan),
        Just(Origin::Screen),
        Just(Origin::Unknown),
        Just(Origin::Meter)
    ];
    let listed = any::<[u8; 3]>().prop_map(|[r, g, b]| Err(Srgb8::new(r, g, b)));
    let lab = (number(0.0, 102.0), number(-200.0, 200.0), number(-200.0, 200.0))
        .prop_map(|(l, a, b)| Ok(Lab::new(l, a, b).unwrap()));
    let conditions = (
        prop_oneof![Just(Illuminant::D50), Just(Illuminant::LedB3), Just(Illuminant::D65)],
        prop_oneof![Just(Observer::TwoDegree), Just(Observer::TenDegree)],
    );
    (prop_oneof![listed, lab], origin, conditions, option::of(number(0.0, 1e9))).prop_map(
        |(value, origin, (illuminant, observer), uncertainty)| {
            let color = match value {
                Err(listed) => Color::listed(listed, origin),
                // Measured colors of one table share their conditions with its sRGB colors.
                Ok(lab) if origin == Origin::Meter => {
                    Color::lab_under(lab, Conditions::SCREEN, origin)
                }
                Ok(lab) => Color::lab_under(lab, Conditions { illuminant, observer }, origin),
            };
            uncertainty.map_or(color, |units| color.with_uncertainty(units).unwrap())
        },
    )
}

/// Spectra on every grid, so that a table mixes them.
fn spectrum() -> impl Strategy<Value = Reflectance> {
    let grids = prop_oneof![
        Just((400, 10, 31)),
        Just((380, 10, 41)),
        Just((380, 5, 71)),
        Just((400, 20, 16)),
        Just((390, 20, 17))
    ];
    (grids, vec(number(-0.01, 2.0), 71)).prop_map(|((start, step, count), values)| {
        Reflectance::new(start, step, &values[..count]).unwrap()
    })
}

fn thread() -> impl Strategy<Value = Thread> {
    let goods = (
        option::of((0..i64::MAX, option::of("[A-Z]{3}"))),
        option::of(1_u32..),
        option::of(1_u32..),
        option::of(Just("40123455")),
        option::of(prop_oneof![Just("cotton"), Just("=silk"), Just("'wool"), Just("a b;c,\"d\"")]),
        option::of(1_u8..=99),
        option::of(number(0.001, 1e12)),
    );
    let kinds = (
        prop_oneof![Just(Finish::Plain), Just(Finish::Metallic), Just(Finish::Variegated)],
        prop_oneof![Just(Status::Unknown), Just(Status::BackOrder), Just(Status::Available)],
    );
    let kinds = (kinds, option::weighted(0.3, spectrum()));
    (code(), text(), color(), goods, kinds, vec(code(), 0..4)).prop_map(
        |(code, name, color, goods, ((finish, status), spectrum), alternates)| {
            let (price, pack, minimum, gtin, fiber, strands, skein_metres) = goods;
            Thread {
                // A thread with a spectrum has no listed color.
                spectrum: spectrum.filter(|_| color.listed_srgb().is_none()).map(Arc::new),
                finish,
                status,
                price: price.map(|(micros, letters)| Price {
                    micros,
                    currency: letters.and_then(|letters| Currency::parse(&letters)),
                }),
                pack,
                minimum,
                gtin: gtin.map(|digits| Gtin::parse(digits).unwrap()),
                fiber: fiber.map(Into::into),
                strands,
                skein_metres,
                alternates: alternates.into(),
                ..Thread::plain(code, name, color)
            }
        },
    )
}

fn table() -> impl Strategy<Value = Table> {
    vec(thread(), 1..8).prop_filter_map("no two of one code", |threads| {
        Table::new(TableId::from_any("made"), threads).ok()
    })
}

#[test]
fn files_of_every_format_become_our_own_with_the_same_content() {
    for bytes in good_files() {
        // A Lab of a swatch exchange file means nothing before its white is said.
        let stated = ReadOptions { conditions: Some(Conditions::TEXTILE), ..options() };
        let first = table::read(&bytes, &stated);
        let first = first.unwrap_or_else(|refused| panic!("{bytes:?}\n{refused:?}"));
        assert_eq!(first.table.threads().len(), 2);
        let written = [
            write_csv(&first.table, CsvForm::Plain).unwrap(),
            write_csv(&first.table, CsvForm::SpreadsheetSafe).unwrap(),
            write_json(&first.table).unwrap(),
        ];
        for text in written {
            let again = table::read(text.as_bytes(), &options()).unwrap();
            assert_eq!(again.table.hash(), first.table.hash(), "{text}");
            let is_new = |text: &str| {
                !text.contains("with Lab and a reflectance spectrum")
                    && !first.notices.iter().any(|notice| notice.text == text)
            };
            assert!(!again.notices.iter().any(|it| is_new(&it.text)), "{:?}", again.notices);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_read_or_refused(bytes in vec(any::<u8>(), 0..400)) {
        check(&bytes);
    }

    #[test]
    fn any_bytes_below_a_good_header_are_read_or_refused(bytes in vec(any::<u8>(), 0..200)) {
        check(&[&b"code,name,hex\n"[..], &bytes].concat());
        check(&[&b"{\"threads\":[{\"code\":\"K-1\","[..], &bytes, b"}]}"].concat());
        for start in ["CGATS.17\nBEGIN_DATA_FORMAT\n", "GIMP Palette\n", "<CxF>", "IT8.7/2\n"] {
            check(&[start.as_bytes(), &bytes].concat());
        }
        check(&[&b"ASEF\x00\x01\x00\x00\x00\x00\x00\x01"[..], &bytes].concat());
    }

    #[test]
    fn good_files_with_cuts_are_read_or_refused(bytes in mutated()) {
        check(&bytes);
    }

    #[test]
    fn what_is_written_is_read_back_the_same(table in table()) {
        let written = [
            write_csv(&table, CsvForm::Plain).unwrap(),
            write_csv(&table, CsvForm::SpreadsheetSafe).unwrap(),
            write_json(&table).unwrap(),
        ];
        for text in written {
            let again = table::read(text.as_bytes(), &options());
            let again = again.unwrap_or_else(|refused| panic!("{text}\n{refused:?}"));
            prop_assert_eq!(again.table.threads(), table.threads(), "{}", text);
            prop_assert_eq!(again.table.hash(), table.hash());
            for (read, made) in again.table.threads().iter().zip(table.threads()) {
                prop_assert_eq!(read.code.as_str(), made.code.as_str());
            }
        }
    }
}
