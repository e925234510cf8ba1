//! What can be typed about a picture: how large its stitches are, and what shines through.
//! It does not know whether the picture bears it out.

use clap::{Args, ValueEnum};

use crate::chart::{PictureOptions, Scale, SeeThrough};

/// Options for charts that are pictures.
#[derive(Debug, Args)]
#[command(next_help_heading = "Picture")]
pub(crate) struct PictureArgs {
    /// Pixels across one stitch; 1 takes each pixel for a stitch. Without it the size is looked for
    /// in the picture, and told.
    #[arg(long, value_name = "N", conflicts_with = "cells")]
    pub(crate) cell_size: Option<u16>,
    /// Stitches across and down, such as 120x90; the picture is divided evenly.
    #[arg(long, value_name = "WxH", value_parser = cells)]
    pub(crate) cells: Option<(u16, u16)>,
    /// What half transparent squares are; without it they are refused with their places.
    #[arg(long, value_name = "WHAT", value_enum)]
    pub(crate) see_through: Option<Shown>,
}

/// Answers to `--see-through`.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Shown {
    /// Bare cloth.
    Cloth,
    /// Stitches of the color that shines through.
    Stitch,
}

impl PictureArgs {
    /// What was typed, to be typed again in another command.
    pub(crate) fn typed(&self) -> Vec<(&'static str, String)> {
        let side = self.cell_size.map(|side| ("--cell-size", side.to_string()));
        let cells = self.cells.map(|(across, down)| ("--cells", format!("{across}x{down}")));
        let shown = self.see_through.map(|shown| match shown {
            Shown::Cloth => "cloth",
            Shown::Stitch => "stitch",
        });
        let shown = shown.map(|shown| ("--see-through", shown.to_owned()));
        side.into_iter().chain(cells).chain(shown).collect()
    }

    /// As the reader of charts wants it.
    pub(crate) fn options(&self) -> PictureOptions {
        let side = self.cell_size.map(Scale::Side);
        let cells = || self.cells.map(|(across, down)| Scale::Cells(across, down));
        let see_through = self.see_through.map(|shown| match shown {
            Shown::Cloth => SeeThrough::Cloth,
            Shown::Stitch => SeeThrough::Stitch,
        });
        PictureOptions { scale: side.or_else(cells), see_through }
    }
}

fn cells(text: &str) -> Result<(u16, u16), &'static str> {
    let parts = text.split_once(['x', 'X', '\u{d7}']);
    let number = |part: &str| part.trim().parse().ok();
    parts
        .and_then(|(across, down)| Some((number(across)?, number(down)?)))
        .ok_or("write stitches across and down, such as 120x90")
}
