//! How far a run is, as one line: a bar, how many, how fast, how long still.
//! It does not draw: the printer does, where there is a terminal.

use std::time::{Duration, Instant};

use unicode_width::UnicodeWidthStr;

use crate::report::{counted, thousands};

/// A shorter run shows nothing. House choice: half a second is noticed, less is not.
const AFTER: Duration = Duration::from_millis(500);

/// Time between two states of the line.
const EVERY: Duration = Duration::from_millis(100);

/// Steps of the bar where there is room.
const STEPS: usize = 20;

/// The progress of a run.
#[derive(Debug)]
pub(crate) struct Bar {
    label: &'static str,
    all: usize,
    begun: Instant,
    drawn: Option<Instant>,
    /// Charts that are over.
    pub(crate) over: usize,
    /// Those of them that took work: what is skipped says nothing about how long the rest takes.
    pub(crate) worked: usize,
}

impl Bar {
    pub(crate) fn new(label: &'static str, all: usize) -> Self {
        Self { label, all, begun: Instant::now(), drawn: None, over: 0, worked: 0 }
    }

    /// The line, when it is time to draw it.
    pub(crate) fn due(&mut self, width: usize) -> Option<String> {
        let now = Instant::now();
        let since = self.drawn.map_or_else(
            || now.duration_since(self.begun) >= AFTER,
            |drawn| now.duration_since(drawn) >= EVERY,
        );
        since.then(|| {
            self.drawn = Some(now);
            self.line(now.duration_since(self.begun), width)
        })
    }

    /// The line after a time: as many of its parts as the width holds, the most telling first.
    fn line(&self, elapsed: Duration, width: usize) -> String {
        let room = width.saturating_sub(1);
        let percent = (self.over * 100).checked_div(self.all).unwrap_or(100);
        let many = format!("{} of {}", thousands(self.over as u64), thousands(self.all as u64));
        let mut line = many.clone();
        let left = self.left(elapsed);
        let with = [
            left.as_ref().map(|(_, left)| format!("{many}, {left}")),
            left.as_ref().map(|(rate, left)| format!("{many}, {rate}, {left}")),
            left.as_ref()
                .map(|(rate, left)| format!("{} {percent} %, {many}, {rate}, {left}", self.label)),
            left.as_ref().map(|(rate, left)| {
                let bar = bar(percent);
                format!("{} {bar} {percent} %, {many}, {rate}, {left}", self.label)
            }),
            left.is_none().then(|| format!("{} {} {percent} %, {many}", self.label, bar(percent))),
        ];
        for longer in with.into_iter().flatten().filter(|longer| longer.width() <= room) {
            line = longer;
        }
        line.chars().take(room).collect()
    }

    /// How many a second or a minute, and how long that makes the rest; nothing from nothing.
    fn left(&self, elapsed: Duration) -> Option<(String, String)> {
        let per_second = f64::from(u32::try_from(self.worked).ok()?) / elapsed.as_secs_f64();
        if !per_second.is_finite() || per_second <= 0.0 {
            return None;
        }
        let rest = u32::try_from(self.all.saturating_sub(self.over)).ok()?;
        let rate = if per_second >= 1.0 {
            format!("{per_second:.0} a second")
        } else {
            format!("{:.0} a minute", (per_second * 60.0).max(1.0))
        };
        let left = Duration::try_from_secs_f64(f64::from(rest) / per_second).ok()?;
        Some((rate, span(left.as_secs())))
    }
}

fn bar(percent: usize) -> String {
    let steps: String =
        (1..=STEPS).map(|step| if step * 100 <= percent * STEPS { '=' } else { ' ' }).collect();
    format!("[{steps}]")
}

/// A time that is left, no more exact than it is known.
fn span(seconds: u64) -> String {
    match seconds {
        0..=1 => "nearly done".to_owned(),
        2..=89 => format!("about {seconds} s left"),
        90..=5_399 => format!("about {} min left", seconds.div_ceil(60)),
        _ => format!("about {} left", counted(seconds.div_ceil(3_600), "hour", "hours")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(over: usize, worked: usize, seconds: u64, width: usize) -> String {
        let mut bar = Bar::new("convert", 1_000);
        (bar.over, bar.worked) = (over, worked);
        bar.line(Duration::from_secs(seconds), width)
    }

    #[test]
    fn a_wide_line_has_bar_rate_and_time_left() {
        assert_eq!(
            line(250, 250, 10, 100),
            "convert [=====               ] 25 %, 250 of 1,000, 25 a second, about 30 s left"
        );
        assert_eq!(
            line(4, 4, 10, 100),
            "convert [                    ] 0 %, 4 of 1,000, 24 a minute, about 42 min left"
        );
        assert_eq!(
            line(999, 999, 10, 100),
            "convert [=================== ] 99 %, 999 of 1,000, 100 a second, nearly done"
        );
    }

    #[test]
    fn what_is_skipped_says_nothing_about_the_rest() {
        assert!(
            line(900, 10, 10, 100).ends_with("1 a second, about 100 s left")
                || line(900, 10, 10, 100).ends_with("about 2 min left")
        );
        assert_eq!(line(900, 0, 10, 100), "convert [==================  ] 90 %, 900 of 1,000");
    }

    #[test]
    fn a_narrow_terminal_gets_fewer_parts_and_never_a_second_line() {
        assert_eq!(
            line(250, 250, 10, 60),
            "convert 25 %, 250 of 1,000, 25 a second, about 30 s left"
        );
        assert_eq!(line(250, 250, 10, 40), "250 of 1,000, about 30 s left");
        assert_eq!(line(250, 250, 10, 20), "250 of 1,000");
        for width in 1..120 {
            assert!(line(250, 250, 10, width).width() < width);
        }
    }

    #[test]
    fn a_short_run_shows_nothing() {
        let mut bar = Bar::new("convert", 10);
        assert_eq!(bar.due(80), None);
        bar.begun = Instant::now().checked_sub(AFTER).unwrap();
        assert!(bar.due(80).is_some());
        assert_eq!(bar.due(80), None);
    }
}
