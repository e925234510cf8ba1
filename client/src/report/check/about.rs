//! What each code means and what to do about it, in one table for text, JSON and SARIF.
//! It does not know the notes that were found.

use crate::check::Code;

/// All that is said of a code wherever it is found.
#[derive(Debug)]
pub(crate) struct About {
    pub(crate) code: Code,
    /// What the code is for, as a sentence.
    pub(crate) sentence: &'static str,
    /// Behind the number 1, and behind other numbers; the first is empty where nothing is counted.
    pub(super) counted: (&'static str, &'static str),
    /// What the number counts.
    pub(super) counts: Counts,
    /// What to do.
    pub(crate) way: &'static str,
    /// The command that does it.
    pub(super) command: Option<Mend>,
}

/// What stands before the words of a heading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Counts {
    /// Notes of the code.
    Notes,
    /// Colors of the only note of the code.
    Colors,
}

/// A command on the chart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Mend {
    pub(super) verb: &'static str,
    /// Behind the chart and its tables.
    pub(super) options: &'static str,
    pub(super) needs_table: bool,
}

const fn mend(verb: &'static str, options: &'static str, needs_table: bool) -> Option<Mend> {
    Some(Mend { verb, options, needs_table })
}

impl About {
    /// What is said of a code.
    pub(crate) fn of(code: Code) -> &'static Self {
        ABOUT.iter().find(|about| about.code == code).unwrap_or(&UNNAMED)
    }
}

/// For a code that the table forgets, which a test excludes.
const UNNAMED: About = About {
    code: Code::NotChecked,
    sentence: "",
    counted: ("note", "notes"),
    counts: Counts::Notes,
    way: "",
    command: None,
};

const PUT_OTHERS: &str = "put others in their place";

/// One entry for each code, in the order of the codes.
const ABOUT: [About; 22] = [
    About {
        code: Code::ThreadGone,
        sentence: "A thread is discontinued or unavailable, as its table says.",
        counted: ("thread cannot be bought", "threads cannot be bought"),
        counts: Counts::Notes,
        way: PUT_OTHERS,
        command: mend("substitute", "", true),
    },
    About {
        code: Code::ThreadLow,
        sentence: "A thread is low or on back order, as its table says.",
        counted: ("thread is running out", "threads are running out"),
        counts: Counts::Notes,
        way: "buy all that is needed at once, or put others in their place",
        command: mend("substitute", "", true),
    },
    About {
        code: Code::ThreadUnknown,
        sentence: "The key names a thread that its table does not have.",
        counted: ("thread is not in its table", "threads are not in their tables"),
        counts: Counts::Notes,
        way: "correct the code in the key, or give the table that has it",
        command: None,
    },
    About {
        code: Code::KeyCount,
        sentence: "A separate key counts other stitches than the chart has.",
        counted: (
            "count of the separate key differs from the chart",
            "counts of the separate key differ from the chart",
        ),
        counts: Counts::Notes,
        way: "print the key anew from the chart, or correct the chart",
        command: None,
    },
    About {
        code: Code::KeyUnused,
        sentence: "Entries of the key have no stitch in the chart.",
        counted: (
            "entry of the key has no stitch in the chart",
            "entries of the key have no stitch in the chart",
        ),
        counts: Counts::Colors,
        way: "take it out of the key: nobody should buy its thread",
        command: None,
    },
    About {
        code: Code::KeyTwice,
        sentence: "The key has several entries for the same threads and strands.",
        counted: ("thread stands in the key twice", "threads stand in the key twice"),
        counts: Counts::Notes,
        way: "join the entries into one, or say in the key what tells them apart",
        command: None,
    },
    About {
        code: Code::KeyColor,
        sentence: "The chart shows an entry in another color than its thread's.",
        counted: (
            "entry is shown in another color than its thread's",
            "entries are shown in other colors than their threads'",
        ),
        counts: Counts::Notes,
        way: "show the entry in its thread's color, or correct its thread",
        command: None,
    },
    About {
        code: Code::NoSymbol,
        sentence: "Entries of the key have no symbol, though others have.",
        counted: (
            "entry of the key has no symbol, though others have",
            "entries of the key have no symbol, though others have",
        ),
        counts: Counts::Colors,
        way: "give each entry of the key a symbol",
        command: None,
    },
    About {
        code: Code::StatusUntold,
        sentence: "The tables do not say whether some threads can be bought.",
        counted: (
            "color is worked in a thread whose table does not say whether it can be bought",
            "colors are worked in threads whose table does not say whether they can be bought",
        ),
        counts: Counts::Colors,
        way: "fill in the column status of the table",
        command: None,
    },
    About {
        code: Code::NoSingleColor,
        sentence: "A thread is metallic, variegated or fluorescent, so its listed color says little.",
        counted: (
            "thread has no single color, so what is computed from it means little",
            "threads have no single color, so what is computed from them means little",
        ),
        counts: Counts::Notes,
        way: "look at the real thread beside the others, in daylight",
        command: None,
    },
    About {
        code: Code::ColorVision,
        sentence: "Two colors are lost to people with a color vision deficiency, and their symbols \
                   look alike.",
        counted: (
            "pair of colors is lost to some eyes, and its symbols look alike",
            "pairs of colors are lost to some eyes, and their symbols look alike",
        ),
        counts: Counts::Notes,
        way: "give one of the two another symbol",
        command: None,
    },
    About {
        code: Code::LikeSymbols,
        sentence: "Two symbols look alike in print, or when the chart is turned.",
        counted: ("pair of symbols looks alike", "pairs of symbols look alike"),
        counts: Counts::Notes,
        way: "give one of the two another symbol",
        command: None,
    },
    About {
        code: Code::NearColors,
        sentence: "Two colors can hardly be told apart.",
        counted: (
            "pair of colors can hardly be told apart",
            "pairs of colors can hardly be told apart",
        ),
        counts: Counts::Notes,
        way: "see what joining them costs",
        command: mend("merge", "", true),
    },
    About {
        code: Code::StrayEdges,
        sentence: "Stitches along hard edges are mixes of the two sides.",
        counted: ("", ""),
        counts: Counts::Notes,
        way: "give them to the side that they belong to",
        command: mend("clean", " -o OUT", false),
    },
    About {
        code: Code::LoneStitches,
        sentence: "Too many stitches have no equal one among the eight cells around.",
        counted: ("", ""),
        counts: Counts::Notes,
        way: "let those that do not stand out join the color around",
        command: mend("clean", " --lone -o OUT", false),
    },
    About {
        code: Code::FewStitches,
        sentence: "A color has a handful of stitches.",
        counted: ("color has few stitches", "colors have few stitches"),
        counts: Counts::Notes,
        way: "keep eyes, highlights and lettering; for the others see what joining a near color costs",
        command: mend("merge", "", true),
    },
    About {
        code: Code::LikeCloth,
        sentence: "A color beside bare cloth can hardly be told from it.",
        counted: ("color vanishes on the cloth", "colors vanish on the cloth"),
        counts: Counts::Notes,
        way: "choose another cloth or another thread, or outline these stitches",
        command: None,
    },
    About {
        code: Code::LostOutline,
        sentence: "Back-stitch lines vanish: they have the color of what they outline.",
        counted: (
            "color of lines vanishes on what it outlines",
            "colors of lines vanish on what they outline",
        ),
        counts: Counts::Notes,
        way: "give the lines a thread that stands out from what they lie on, or leave them out",
        command: None,
    },
    About {
        code: Code::MayBleed,
        sentence: "Dark, vivid or red colors, whose threads are the likeliest to bleed, touch pale ones.",
        counted: (
            "dark, vivid or red color touches pale ones",
            "dark, vivid or red colors touch pale ones",
        ),
        counts: Counts::Colors,
        way: "wet and blot these threads before you stitch, and say so in the chart",
        command: None,
    },
    About {
        code: Code::NoThread,
        sentence: "Colors have no thread yet.",
        counted: ("color has no thread yet", "colors have no thread yet"),
        counts: Counts::Colors,
        way: "give each its thread",
        command: mend("convert", " -o OUT --key FILE", true),
    },
    About {
        code: Code::OtherVersion,
        sentence: "The chart was made with another version of a table.",
        counted: ("", "the chart was made with another version of a table"),
        counts: Counts::Notes,
        way: "see what the new version changes: dyekin table compare OLD NEW",
        command: None,
    },
    About {
        code: Code::NotChecked,
        sentence: "Something could not be looked at.",
        counted: ("", "could not be looked at"),
        counts: Counts::Notes,
        way: "give what is missing",
        command: None,
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_code_has_its_words_in_order() {
        assert_eq!(ABOUT.each_ref().map(|about| about.code), Code::ALL);
        for about in &ABOUT {
            assert!(about.sentence.ends_with('.') && !about.way.is_empty(), "{:?}", about.code);
            assert!(!about.way.ends_with('.'), "{:?}", about.code);
        }
    }
}
