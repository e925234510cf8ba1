//! The formulas by name, with their parameters.
//! It does not know how any of them is computed or who asks.

use std::fmt;

use super::{Application, DeltaE, Factors, Pair, Ratio};
use super::{cie76, cie94, ciede2000, cmc, din99o, hyab};
use crate::error::{Error, ErrorKind, Result};

/// A color-difference formula with its parameters.
///
/// | formula | symmetric | a metric | suited for |
/// |---|---|---|---|
/// | CIEDE2000 | yes | no | the default; small to moderate differences |
/// | CMC(l:c) | no | no | textile tolerances written in it; small differences |
/// | CIE94 | no | no | old tolerances written in it |
/// | DIN99o | yes | yes | small to moderate differences where a metric is needed |
/// | HyAB | yes | yes | large differences, above about 10 |
/// | CIE76 | yes | yes | index geometry, history; overstates vivid colors |
///
/// In an asymmetric formula the standard's color decides the weights: exchanging the two colors asks
/// another question.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Formula {
    /// ISO/CIE 11664-4: the Euclidean length in CIELAB.
    Cie76,
    /// CIE 116:1995.
    Cie94(Application),
    /// ISO/CIE 11664-6.
    Ciede2000(Factors),
    /// ISO 105-J03.
    Cmc(Ratio),
    /// DIN 6176, with kE = kCH = 1.
    Din99o,
    /// Abasi, Amani Tehran, Fairchild 2020.
    Hyab,
}

/// What each name takes, for a remedy.
const KNOWN: &str = "write ciede2000, ciede2000:2:1:1 (textiles), cmc:2:1 (acceptability), cmc:1:1 \
                     (perceptibility), cie94:graphic-arts, cie94:textile, din99o, hyab or cie76";

impl Formula {
    /// CIEDE2000 under reference conditions, the default everywhere.
    pub const DEFAULT: Self = Self::Ciede2000(Factors::REFERENCE);

    /// CIEDE2000 with 2:1:1, in which lightness counts half, as is usual for textiles.
    pub const CIEDE2000_TEXTILE: Self = Self::Ciede2000(Factors::TEXTILE);

    /// CMC(2:1), for acceptability.
    pub const CMC_ACCEPTABILITY: Self = Self::Cmc(Ratio::ACCEPTABILITY);

    /// CMC(1:1), for perceptibility.
    pub const CMC_PERCEPTIBILITY: Self = Self::Cmc(Ratio::PERCEPTIBILITY);

    /// Every formula with the parameters that are in use, the default first.
    pub const PRESETS: [Self; 9] = [
        Self::DEFAULT,
        Self::CIEDE2000_TEXTILE,
        Self::CMC_ACCEPTABILITY,
        Self::CMC_PERCEPTIBILITY,
        Self::Cie94(Application::GraphicArts),
        Self::Cie94(Application::Textile),
        Self::Din99o,
        Self::Hyab,
        Self::Cie76,
    ];

    /// The difference alone, in this formula's units.
    ///
    /// The standard is the color asked for, the sample is the thread that answers.
    ///
    /// ```
    /// use dyekin_core::difference::Pair;
    /// use dyekin_core::{Formula, Lab};
    ///
    /// let standard = Lab::new(50.0, 2.6772, -79.7751)?;
    /// let sample = Lab::new(50.0, 0.0, -82.7485)?;
    /// let delta_e = Formula::DEFAULT.delta_e(Pair { standard, sample });
    /// assert_eq!(format!("{:.4}", delta_e.value()), "2.0425");
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    #[must_use]
    pub fn delta_e(self, pair: Pair) -> DeltaE {
        match self {
            Self::Cie76 => cie76::delta_e(pair),
            Self::Cie94(application) => cie94::delta_e(pair, application),
            Self::Ciede2000(factors) => ciede2000::delta_e(pair, factors),
            Self::Cmc(ratio) => cmc::delta_e(pair, ratio),
            Self::Din99o => din99o::delta_e(pair),
            Self::Hyab => hyab::delta_e(pair),
        }
    }

    /// Name as written on the command line and in files: `cie76`, `cie94`, `ciede2000`, `cmc`,
    /// `din99o`, `hyab`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Cie76 => "cie76",
            Self::Cie94(_) => "cie94",
            Self::Ciede2000(_) => "ciede2000",
            Self::Cmc(_) => "cmc",
            Self::Din99o => "din99o",
            Self::Hyab => "hyab",
        }
    }

    /// Parameters as printed beside each number, such as `1:1:1`, `2:1` or `textile`; empty without
    /// parameters.
    #[must_use]
    pub fn parameters(self) -> String {
        match self {
            Self::Cie94(application) => application.as_str().to_owned(),
            Self::Ciede2000(factors) => factors.to_string(),
            Self::Cmc(ratio) => ratio.to_string(),
            Self::Cie76 | Self::Din99o | Self::Hyab => String::new(),
        }
    }

    /// Reads a name with its parameters after a colon, such as `cmc:2:1`, in any case.
    ///
    /// A bare `ciede2000` is 1:1:1 and a bare `cie94` is `graphic-arts`, the reference conditions of
    /// both. A bare `cmc` is refused: its two usual ratios give numbers up to twice as large.
    ///
    /// ```
    /// use dyekin_core::Formula;
    ///
    /// assert_eq!(Formula::parse("cmc:2:1")?, Formula::CMC_ACCEPTABILITY);
    /// assert_eq!(Formula::parse("ciede2000")?, Formula::DEFAULT);
    /// assert!(Formula::parse("cmc").is_err());
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] for an unknown name or parameters that it does not take.
    pub fn parse(text: &str) -> Result<Self> {
        let lower = text.trim().to_ascii_lowercase();
        let mut parts = lower.split(':').map(str::trim);
        let name = parts.next().unwrap_or_default();
        let parameters: Vec<&str> = parts.collect();
        let numbers: Option<Vec<f64>> = parameters.iter().map(|part| part.parse().ok()).collect();
        match (name, parameters.as_slice(), numbers.as_deref()) {
            ("cie76", [], _) => Ok(Self::Cie76),
            ("cie94", [] | ["graphic-arts"], _) => Ok(Self::Cie94(Application::GraphicArts)),
            ("cie94", ["textile"], _) => Ok(Self::Cie94(Application::Textile)),
            ("ciede2000", [], _) => Ok(Self::DEFAULT),
            ("ciede2000", ["textile"], _) => Ok(Self::CIEDE2000_TEXTILE),
            ("ciede2000", _, Some([l, c, h])) => Factors::new(*l, *c, *h).map(Self::Ciede2000),
            ("cmc", _, Some([l, c])) => Ratio::new(*l, *c).map(Self::Cmc),
            ("din99o", [], _) => Ok(Self::Din99o),
            ("hyab", [], _) => Ok(Self::Hyab),
            _ => Err(unknown(text, name)),
        }
    }
}

fn unknown(text: &str, name: &str) -> Error {
    let reason = if name == "cmc" {
        "CMC needs its ratio l:c"
    } else if Formula::PRESETS.iter().any(|formula| formula.name() == name) {
        "the formula does not take these parameters"
    } else {
        "no known formula"
    };
    Error::new(ErrorKind::BadValue {
        value: text.to_owned(),
        reason: reason.into(),
        remedy: KNOWN.into(),
    })
}

impl fmt::Display for Formula {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Cie76 => f.write_str("CIE76"),
            Self::Cie94(application) => write!(f, "CIE94 {}", application.as_str()),
            Self::Ciede2000(factors) => write!(f, "CIEDE2000 {factors}"),
            Self::Cmc(ratio) => write!(f, "CMC {ratio}"),
            Self::Din99o => f.write_str("DIN99o"),
            Self::Hyab => f.write_str("HyAB"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn name_and_parameters_are_read_back() {
        let odd = [
            Formula::Ciede2000(Factors::new(1.5, 0.25, 3.0).unwrap()),
            Formula::Cmc(Ratio::new(1.7, 0.3).unwrap()),
        ];
        for formula in Formula::PRESETS.into_iter().chain(odd) {
            let text = format!("{}:{}", formula.name(), formula.parameters());
            assert_eq!(Formula::parse(text.trim_end_matches(':')).unwrap(), formula, "{text}");
        }
    }

    #[test]
    fn bare_names_take_the_reference_conditions() {
        assert_eq!(Formula::parse(" CIEDE2000 ").unwrap(), Formula::DEFAULT);
        assert_eq!(Formula::parse("ciede2000:textile").unwrap(), Formula::CIEDE2000_TEXTILE);
        assert_eq!(Formula::parse("cie94").unwrap(), Formula::Cie94(Application::GraphicArts));
    }

    #[test]
    fn what_a_formula_does_not_take_is_refused() {
        for (text, reason) in [
            ("cmc", "ratio"),
            ("cmc:2", "ratio"),
            ("cmc:2:1:1", "ratio"),
            ("cmc:two:one", "ratio"),
            ("cmc:0:1", "0.1 to 10"),
            ("cmc:nan:1", "0.1 to 10"),
            ("ciede2000:2:1", "parameters"),
            ("ciede2000:", "parameters"),
            ("cie94:2:1:1", "parameters"),
            ("cie76:1", "parameters"),
            ("hyab:", "parameters"),
            ("", "no known"),
            ("ciede", "no known"),
        ] {
            let error = Formula::parse(text).unwrap_err().to_string();
            assert!(error.contains(reason), "{text}: {error}");
        }
    }
}
