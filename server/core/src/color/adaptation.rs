//! Chromatic adaptation: carries the appearance of a color from one light to another.
//! It does not know spectra: it cannot say how a dye behaves under another light, nor change the
//! observer, and every color that it gives carries a label.

use std::fmt;

use super::matrix::Matrix;
use super::{Color, Conditions, Lab, Observer, Trust, Xyz};
use crate::error::{Error, ErrorKind, Result};

/// A von Kries adaptation, taken to be complete (D = 1).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum AdaptationMethod {
    /// Linear Bradford, as color management uses it (ICC.1). The default.
    #[default]
    Bradford,
    /// CAT16 (Li, Li, Wang, Xu, Luo, Cui, Melgosa, Brill, Pointer, Color Res. Appl. 42 (2017) 703).
    Cat16,
}

/// Sharpened cone responses of linear Bradford (ICC.1, annex E).
const BRADFORD: Matrix =
    Matrix([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]);

/// Sharpened cone responses of CAT16 (Li et al. 2017).
const CAT16: Matrix = Matrix([
    [0.401_288, 0.650_173, -0.051_461],
    [-0.250_268, 1.204_414, 0.045_854],
    [-0.002_079, 0.048_952, 0.953_127],
]);

impl AdaptationMethod {
    /// The word of options and files: `bradford`, `cat16`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Bradford => "bradford",
            Self::Cat16 => "cat16",
        }
    }

    /// Reads the word, in any case.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        [Self::Bradford, Self::Cat16]
            .into_iter()
            .find(|method| method.as_str().eq_ignore_ascii_case(text.trim()))
    }

    fn responses(self) -> Matrix {
        match self {
            Self::Bradford => BRADFORD,
            Self::Cat16 => CAT16,
        }
    }
}

impl fmt::Display for AdaptationMethod {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Bradford => "Bradford",
            Self::Cat16 => "CAT16",
        })
    }
}

/// The label of a color that was not measured under the conditions it now has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Adapted {
    /// The conditions that it was measured under.
    pub from: Conditions,
    /// How it was carried over.
    pub method: AdaptationMethod,
}

impl fmt::Display for Adapted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "adapted from {} by {}", self.from, self.method)
    }
}

/// The way from one light to another for one observer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Adaptation {
    from: Conditions,
    to: Conditions,
    method: AdaptationMethod,
    matrix: Matrix,
}

impl Adaptation {
    /// The adaptation between the whites of two conditions.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when the observers differ: no adaptation turns what one observer sees
    /// into what the other sees.
    pub fn new(from: Conditions, to: Conditions, method: AdaptationMethod) -> Result<Self> {
        if from.observer != to.observer {
            return Err(other_observer(from, to));
        }
        Ok(Self { from, to, method, matrix: matrix(from.white(), to.white(), method) })
    }

    /// The matrix that carries XYZ over, row by row.
    #[must_use]
    pub fn matrix(&self) -> [[f64; 3]; 3] {
        self.matrix.0
    }

    /// Tristimulus values that look alike under the other light.
    #[must_use]
    pub fn xyz(&self, xyz: Xyz) -> Xyz {
        if self.from == self.to {
            return xyz;
        }
        Xyz::from_components(self.matrix.apply(xyz.components()))
    }

    /// The CIELAB value that looks alike under the other light.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadColor`] when that is no CIELAB value that is taken.
    pub fn lab(&self, lab: Lab) -> Result<Lab> {
        if self.from == self.to {
            return Ok(lab);
        }
        self.xyz(lab.to_xyz(self.from.white())).to_lab(self.to.white())
    }
}

fn matrix(from: Xyz, to: Xyz, method: AdaptationMethod) -> Matrix {
    let responses = method.responses();
    let [from, to] = [from, to].map(|white| responses.apply(white.components()));
    let [f1, f2, f3] = from;
    let [t1, t2, t3] = to;
    let gains = Matrix::diagonal([t1 / f1, t2 / f2, t3 / f3]);
    responses.inverse().after(&gains).after(&responses)
}

fn other_observer(from: Conditions, to: Conditions) -> Error {
    let observer = match to.observer {
        Observer::TwoDegree => "2°",
        Observer::TenDegree => "10°",
    };
    Error::new(ErrorKind::BadValue {
        value: to.to_string(),
        reason: format!("adaptation changes the light, not the observer of {from}"),
        remedy: format!("measure with the {observer} observer, or give the color's spectrum"),
    })
}

impl Color {
    /// The color as it looks under another light, labelled [`Color::adapted`].
    ///
    /// Under its own conditions a color is returned as it is, without a label.
    ///
    /// ```
    /// use dyekin_core::color::{AdaptationMethod, Trust};
    /// use dyekin_core::{Color, Conditions, Lab, Origin};
    ///
    /// let print = Conditions::parse("D50/2").unwrap();
    /// let asked = Color::lab_under(Lab::new(41.75, -19.66, 22.34)?, print, Origin::Meter);
    /// let held = Color::lab_under(Lab::new(42.0, -21.0, 23.0)?, Conditions::SCREEN, Origin::Meter);
    /// assert!(Color::trust(&asked, &held).is_err());
    ///
    /// let asked = asked.adapted_to(Conditions::SCREEN, AdaptationMethod::Bradford)?;
    /// assert_eq!(Color::trust(&asked, &held)?, Trust::Adapted(AdaptationMethod::Bradford));
    /// assert_eq!(asked.adapted().unwrap().to_string(), "adapted from D50/2° by Bradford");
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    ///
    /// # Errors
    ///
    /// [`ErrorKind::BadValue`] when the observers differ, [`ErrorKind::BadColor`] when the result is
    /// no CIELAB value that is taken.
    pub fn adapted_to(&self, to: Conditions, method: AdaptationMethod) -> Result<Self> {
        if self.conditions == to {
            return Ok(*self);
        }
        let lab = Adaptation::new(self.conditions, to, method)?.lab(self.lab)?;
        Ok(self.labelled(lab, to, method))
    }

    fn labelled(&self, lab: Lab, to: Conditions, method: AdaptationMethod) -> Self {
        let from = self.adapted.map_or(self.conditions, |label| label.from);
        Self { lab, conditions: to, adapted: Some(Adapted { from, method }), ..*self }
    }
}

/// Brings standards under the conditions of their samples where that was asked for, and remembers
/// the ways that it has been.
#[derive(Clone, Debug)]
pub(crate) struct Adapter {
    method: Option<AdaptationMethod>,
    ways: Vec<Adaptation>,
}

impl Adapter {
    /// Without a method nothing is adapted and different conditions are refused.
    pub(crate) fn new(method: Option<AdaptationMethod>) -> Self {
        Self { method, ways: Vec::new() }
    }

    /// The standard as it is compared with the sample, and how far the difference can be trusted.
    /// Only measured colors are adapted: a picture of a color is compared white to white anyway.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::ConditionsDiffer`] when both are measured under different conditions and no
    /// adaptation was asked for; those of [`Color::adapted_to`] when it was.
    pub(crate) fn meet(&mut self, standard: &Color, sample: &Color) -> Result<(Color, Trust)> {
        match (Color::trust(standard, sample), self.method) {
            (Ok(trust), _) => Ok((*standard, trust)),
            (Err(refused), None) => Err(refused),
            (Err(_), Some(method)) => {
                let (from, to) = (standard.conditions, sample.conditions);
                let lab = self.way(from, to, method)?.lab(standard.lab)?;
                Ok((standard.labelled(lab, to, method), Trust::Adapted(method)))
            }
        }
    }

    fn way(
        &mut self,
        from: Conditions,
        to: Conditions,
        method: AdaptationMethod,
    ) -> Result<Adaptation> {
        let known = self.ways.iter().find(|way| way.from == from && way.to == to);
        if let Some(known) = known {
            return Ok(*known);
        }
        let way = Adaptation::new(from, to, method)?;
        self.ways.push(way);
        Ok(way)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::color::{Origin, Srgb8, Trust};
    use crate::difference::{Difference, Formula};

    /// Von Kries matrices between CIE whites, computed in double precision from Bradford (ICC.1) and
    /// CAT16 (Li et al. 2017).
    const MATRICES: &str = include_str!("../../../../tests/data/reference/adaptation_matrices.csv");

    /// sRGB colors in CIELAB, with the D50 values that CSS Color 4 defines by linear Bradford.
    const SCREEN_COLORS: &str =
        include_str!("../../../../tests/data/reference/srgb_to_lab_d50.csv");

    fn under(text: &str) -> Conditions {
        Conditions::parse(text).unwrap()
    }

    /// The white of named conditions, or three numbers.
    fn white(text: &str) -> Xyz {
        Conditions::parse(text).map_or_else(
            || {
                let numbers: Vec<f64> = text.split(' ').map(|part| part.parse().unwrap()).collect();
                Xyz { x: 100.0 * numbers[0], y: 100.0 * numbers[1], z: 100.0 * numbers[2] }
            },
            Conditions::white,
        )
    }

    fn rows(text: &str) -> impl Iterator<Item = Vec<&str>> {
        text.lines()
            .filter(|line| !line.starts_with('#'))
            .skip(1)
            .map(|line| line.split(',').collect())
    }

    #[test]
    fn matrices_are_those_of_an_independent_computation() {
        let mut count = 0;
        for row in rows(MATRICES) {
            let method = AdaptationMethod::parse(row[0]).unwrap();
            let found = matrix(white(row[1]), white(row[2]), method);
            for (found, printed) in found.0.iter().flatten().zip(&row[3..]) {
                let printed: f64 = printed.parse().unwrap();
                assert!((found - printed).abs() < 5.1e-8, "{row:?}: {found}");
            }
            count += 1;
        }
        assert_eq!(count, 6);
    }

    #[test]
    fn screen_colors_become_those_of_css_under_d50() {
        let adaptation =
            Adaptation::new(Conditions::SCREEN, under("D50/2"), AdaptationMethod::Bradford)
                .unwrap();
        let mut count = 0;
        for row in rows(SCREEN_COLORS) {
            let number = |at: usize| row[at].parse::<f64>().unwrap();
            let found = adaptation.lab(Lab::new(number(1), number(2), number(3)).unwrap()).unwrap();
            for (found, at) in [(found.l(), 4), (found.a(), 5), (found.b(), 6)] {
                assert!((found - number(at)).abs() < 5e-6, "{row:?}: {found}");
            }
            count += 1;
        }
        assert_eq!(count, 20);
    }

    #[test]
    fn three_printed_colors_become_those_of_a_screen() {
        // Computed for this project from sRGB 4a6b3c, d9b45a and 1e2878 with linear Bradford.
        for (d50, d65) in [
            ([41.75, -19.66, 22.34], [41.68, -21.62, 22.60]),
            ([75.31, 6.21, 50.26], [74.91, 2.93, 50.12]),
            ([19.84, 19.63, -47.97], [20.63, 25.41, -46.86]),
        ] {
            let [l, a, b] = d50;
            let color = Color::lab_under(Lab::new(l, a, b).unwrap(), under("D50/2"), Origin::Meter);
            let found = color.adapted_to(Conditions::SCREEN, AdaptationMethod::Bradford).unwrap();
            let lab = found.lab();
            for (found, wanted) in [lab.l(), lab.a(), lab.b()].iter().zip(d65) {
                assert!((found - wanted).abs() < 0.02, "{lab:?}");
            }
        }
    }

    #[test]
    fn white_stays_white_and_the_way_back_leads_back() {
        let mut ways = 0;
        for from in ["D50/2", "D65/2", "A/2", "FL2/2", "FL11/2", "LED-B3/2"].map(under) {
            for method in [AdaptationMethod::Bradford, AdaptationMethod::Cat16] {
                let there = Adaptation::new(from, under("D65/2"), method).unwrap();
                let back = Adaptation::new(under("D65/2"), from, method).unwrap();
                let white = there.lab(Lab::new(100.0, 0.0, 0.0).unwrap()).unwrap();
                assert!((white.l() - 100.0).abs() < 1e-9, "{from} {method}: {white:?}");
                assert!(white.chroma() < 1e-9, "{from} {method}: {white:?}");
                let vivid = Lab::new(46.8, -36.0, 24.1).unwrap();
                let found = back.lab(there.lab(vivid).unwrap()).unwrap();
                assert!((found.a() - vivid.a()).abs() < 1e-9, "{from} {method}: {found:?}");
                ways += 1;
            }
        }
        assert_eq!(ways, 12);
    }

    #[test]
    fn the_observer_is_never_changed() {
        let color =
            Color::lab_under(Lab::new(50.0, 20.0, 10.0).unwrap(), under("D65/2"), Origin::Spectrum);
        let refused = color.adapted_to(under("D65/10"), AdaptationMethod::Bradford).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "`D65/10°`: adaptation changes the light, not the observer of D65/2°"
        );
        assert!(refused.hint().unwrap().contains("10° observer"));
    }

    #[test]
    fn a_difference_from_an_adapted_color_says_so() {
        let meter = |l, a, b, conditions| {
            Color::lab_under(Lab::new(l, a, b).unwrap(), conditions, Origin::Meter)
        };
        let asked = meter(41.75, -19.66, 22.34, under("D50/2"));
        let held = meter(41.68, -21.62, 22.60, under("D65/2"));
        assert!(Difference::between(&asked, &held, Formula::DEFAULT).is_err());
        let asked = asked.adapted_to(held.conditions(), AdaptationMethod::Bradford).unwrap();
        for (standard, sample) in [(&asked, &held), (&held, &asked)] {
            let found = Difference::between(standard, sample, Formula::DEFAULT).unwrap();
            assert_eq!(found.trust, Trust::Adapted(AdaptationMethod::Bradford));
            assert!(found.delta_e.value() < 0.02, "{found:?}");
        }
        let screen = Color::screen(Srgb8::parse_hex("#4a6b3c").unwrap());
        assert_eq!(Color::trust(&asked, &screen).unwrap(), Trust::Rough);
    }

    #[test]
    fn the_same_conditions_change_nothing_and_a_second_step_keeps_the_first_origin() {
        let color =
            Color::lab_under(Lab::new(33.333, 7.0, -9.0).unwrap(), under("D50/2"), Origin::Meter);
        let same = color.adapted_to(under("D50/2"), AdaptationMethod::Cat16).unwrap();
        assert_eq!(same, color);
        assert!(same.adapted().is_none());
        let twice = color
            .adapted_to(under("A/2"), AdaptationMethod::Bradford)
            .and_then(|once| once.adapted_to(under("D65/2"), AdaptationMethod::Bradford))
            .unwrap();
        assert_eq!(twice.adapted().unwrap().from, under("D50/2"));
    }
}
