//! From which number on something is a note, and how much it matters: what a shop can set.
//! It does not know the files in which shops write that.

use dyekin_core::DeltaE;

use super::{Code, Degree};

/// How much notes of one code matter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rule {
    /// The code.
    pub code: Code,
    /// Its degree; `None` turns its notes off.
    pub degree: Option<Degree>,
}

/// All limits.
#[derive(Clone, Debug, PartialEq)]
pub struct Limits {
    /// One rule for each code; a code without one is off.
    pub rules: Vec<Rule>,
    /// Two colors that differ by this or less are near. Units: CIEDE2000.
    pub near_within: DeltaE,
    /// A color that differs from the cloth by this or less vanishes on it. Units: CIEDE2000.
    pub cloth_within: DeltaE,
    /// A line that differs from what it lies on by this or less vanishes. Units: CIEDE2000.
    pub outline_within: DeltaE,
    /// As many pieces with the same color on all sides are told, 1 or more.
    pub outline_over: u64,
    /// So much of all lines of one color that vanishes is told. Units: percent, 0 to 100.
    pub outline_share: f64,
    /// Colors that differ by this or more are told apart by usual sight. Units: CIEDE2000.
    pub seen_above: DeltaE,
    /// Colors that differ by less are lost to whoever sees them so. Units: CIEDE2000.
    pub lost_below: DeltaE,
    /// An entry that is shown farther from its thread than this is told. Units: CIEDE2000.
    pub key_color_above: DeltaE,
    /// A color with fewer stitches has few. Range: 0 finds none.
    pub few_below: u64,
    /// A larger share of lone stitches is told. Units: percent of the cells with stitches, 0 to 100.
    pub lone_above: f64,
    /// A color this dark or darker may bleed. Units: L*, 0 to 100.
    pub dark_below: f64,
    /// A color this vivid or more may bleed. Units: C*ab.
    pub vivid_above: f64,
    /// A color is pale from this lightness on. Units: L*, 0 to 100.
    pub pale_above: f64,
}

impl Limits {
    /// What holds unless a shop says otherwise.
    ///
    /// House choices: near is what the bands call near-identical; 3 is about what an untrained eye
    /// sees side by side (2 to 3.5, common practice), below it a pair is lost; 5 is clearly different; a
    /// handful is below ten.
    #[must_use]
    pub fn usual() -> Self {
        let rule = |code: &Code| Rule { code: *code, degree: Some(usual_degree(*code)) };
        Self {
            rules: Code::ALL.iter().map(rule).collect(),
            near_within: units(1.0),
            cloth_within: units(3.0),
            outline_within: units(2.0),
            outline_over: 4,
            outline_share: 50.0,
            seen_above: units(5.0),
            lost_below: units(3.0),
            key_color_above: units(5.0),
            few_below: 10,
            lone_above: 5.0,
            dark_below: 30.0,
            vivid_above: 60.0,
            pale_above: 80.0,
        }
    }

    /// Sets the degree of a code; `None` turns its notes off.
    pub fn set_degree(&mut self, code: Code, degree: Option<Degree>) {
        self.rules.retain(|rule| rule.code != code);
        self.rules.push(Rule { code, degree });
    }

    /// The degree of a code; `None` when its notes are off.
    #[must_use]
    pub fn degree(&self, code: Code) -> Option<Degree> {
        self.rules.iter().find(|rule| rule.code == code).and_then(|rule| rule.degree)
    }
}

/// A difference of the constants above, which are finite and not negative.
fn units(value: f64) -> DeltaE {
    DeltaE::new(value).unwrap_or_default()
}

fn usual_degree(code: Code) -> Degree {
    match code {
        Code::ThreadGone
        | Code::ThreadUnknown
        | Code::KeyCount
        | Code::KeyUnused
        | Code::NoSymbol => Degree::Fix,
        Code::ThreadLow
        | Code::KeyTwice
        | Code::KeyColor
        | Code::NoSingleColor
        | Code::ColorVision
        | Code::LikeSymbols
        | Code::NearColors
        | Code::StrayEdges
        | Code::LoneStitches
        | Code::FewStitches
        | Code::LikeCloth
        | Code::LostOutline => Degree::Look,
        Code::StatusUntold
        | Code::MayBleed
        | Code::NoThread
        | Code::OtherVersion
        | Code::NotChecked => Degree::Information,
    }
}
