//! The names of columns in CGATS data formats and what they mean for a thread.
//! It does not read cells.

use crate::table::column::Column;
use crate::table::tristimulus::Space;
use crate::table::wavelength;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Field {
    Id,
    Name,
    LabL,
    LabA,
    LabB,
    LabC,
    LabH,
    X,
    Y,
    Z,
    /// Amounts of a printer or screen, which are no color without its profile.
    Device,
    /// Reflectance at a wavelength in nm, or one of the paired columns that have none.
    Spectral(Option<u16>),
    Other,
}

impl Field {
    /// What a column of this name holds.
    pub(super) fn parse(name: &str) -> Self {
        let bare = wavelength::bare(name);
        match bare.as_str() {
            "SAMPLEID" | "SAMPLENO" | "SAMPLENUMBER" => Self::Id,
            "SAMPLENAME" => Self::Name,
            "LABL" | "CIEL" | "CIELABL" => Self::LabL,
            "LABA" | "CIEA" | "CIELABA" => Self::LabA,
            "LABB" | "CIEB" | "CIELABB" => Self::LabB,
            "LABC" | "LCHC" | "CIELCHC" => Self::LabC,
            "LABH" | "LCHH" | "CIELCHH" => Self::LabH,
            "XYZX" | "CIEXYZX" => Self::X,
            "XYZY" | "CIEXYZY" => Self::Y,
            "XYZZ" | "CIEXYZZ" => Self::Z,
            "SPECTRALNM" | "SPECTRALPCT" | "SPECTRALDEC" => Self::Spectral(None),
            bare => {
                wavelength::parse(bare).map_or_else(|| other(bare), |nm| Self::Spectral(Some(nm)))
            }
        }
    }
}

fn other(bare: &str) -> Field {
    let device = ["RGB", "CMYK", "CMY", "KCMYK", "5CLR", "6CLR", "7CLR", "8CLR"];
    let is_device = device.into_iter().any(|start| {
        bare.strip_prefix(start).is_some_and(|rest| (1..=2).contains(&rest.chars().count()))
    });
    if is_device { Field::Device } else { Field::Other }
}

/// A form of color with the three fields that give it, best first.
pub(super) const FORMS: [(Space, [Field; 3]); 3] = [
    (Space::Lab, [Field::LabL, Field::LabA, Field::LabB]),
    (Space::Lch, [Field::LabL, Field::LabC, Field::LabH]),
    (Space::Xyz { white_y: 100.0 }, [Field::X, Field::Y, Field::Z]),
];

/// Where a color comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Source {
    /// Three numbers in a space.
    Numbers(Space, [usize; 3]),
    /// The spectrum of the row.
    Spectrum,
}

/// Where the cells of a thread stand in a row of the file.
#[derive(Debug)]
pub(super) struct Layout {
    /// Number of columns.
    pub(super) width: usize,
    pub(super) id: Option<usize>,
    pub(super) name: Option<usize>,
    pub(super) source: Source,
    /// Wavelengths in nm with their columns, upward.
    pub(super) bands: Vec<(u16, usize)>,
}

impl Layout {
    /// The layout of a data format; `None` where no whole color is there.
    pub(super) fn of(fields: &[Field]) -> Option<Self> {
        let place = |wanted: Field| fields.iter().position(|field| *field == wanted);
        let mut bands: Vec<(u16, usize)> = fields
            .iter()
            .enumerate()
            .filter_map(|(place, field)| {
                let Field::Spectral(Some(nm)) = field else { return None };
                Some((*nm, place))
            })
            .collect();
        bands.sort_unstable();
        let numbers = FORMS.into_iter().find_map(|(space, [first, second, third])| {
            Some(Source::Numbers(space, [place(first)?, place(second)?, place(third)?]))
        });
        let source = numbers.or_else(|| (bands.len() > 1).then_some(Source::Spectrum))?;
        let (id, name) = (place(Field::Id), place(Field::Name));
        Some(Self { width: fields.len(), id, name, source, bands })
    }

    /// The columns of the three numbers of a color.
    pub(super) fn numbers(&self) -> Option<[usize; 3]> {
        match self.source {
            Source::Numbers(_, places) => Some(places),
            Source::Spectrum => None,
        }
    }

    /// The columns that are read into cells, each with its place in the file's rows.
    pub(super) fn columns(&self) -> impl Iterator<Item = (Column, usize)> {
        let texts = [(Column::Code, self.id), (Column::Name, self.name)];
        let texts = texts.into_iter().filter_map(|(column, place)| Some((column, place?)));
        texts.chain(Column::LAB.into_iter().zip(self.numbers().into_iter().flatten()))
    }

    /// First wavelength and step in nm; `None` where the steps differ.
    pub(super) fn grid(&self) -> Option<(u16, u16)> {
        let steps: Vec<u16> = self
            .bands
            .windows(2)
            .filter_map(|pair| match pair {
                [(before, _), (after, _)] => Some(after - before),
                _ => None,
            })
            .collect();
        let (first, step) = (self.bands.first()?.0, *steps.first()?);
        (step > 0 && steps.iter().all(|other| *other == step)).then_some((first, step))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_read_in_the_spellings_of_the_wild() {
        for (name, field) in [
            ("SAMPLE_ID", Field::Id),
            ("SampleID", Field::Id),
            ("SAMPLE_NAME", Field::Name),
            ("LAB_L", Field::LabL),
            ("Lab_a*", Field::LabA),
            ("LAB_H", Field::LabH),
            ("XYZ_Y", Field::Y),
            ("SPECTRAL_NM400", Field::Spectral(Some(400))),
            ("SPECTRAL_NM_730", Field::Spectral(Some(730))),
            ("NM_400", Field::Spectral(Some(400))),
            ("SPEC_400", Field::Spectral(Some(400))),
            ("400_NM", Field::Spectral(Some(400))),
            ("R400", Field::Spectral(Some(400))),
            ("nm400.00", Field::Spectral(Some(400))),
            ("400", Field::Spectral(Some(400))),
            ("SPECTRAL_PCT", Field::Spectral(None)),
            ("RGB_R", Field::Device),
            ("CMYK_K", Field::Device),
            ("SAMPLE_400", Field::Other),
            ("R4000", Field::Other),
            ("R100", Field::Other),
            ("STDEV_LAB", Field::Other),
            ("é40", Field::Other),
        ] {
            assert_eq!(Field::parse(name), field, "{name}");
        }
    }
}
