//! All tests across packages, in one binary so that they link once.
//! It does not know what a module asserts: one line here says it.

// Says to clippy that helpers here are test code too.
#![cfg(test)]

// Published numbers: CIEDE2000 (34 pairs), sRGB to CIELAB, `palette` as an independent oracle.
mod reference;
// What holds for any input: symmetry, round trips, search equals a plain scan through the public API.
mod properties;
// Thread tables with the injuries that spreadsheets, editors and web shops give them.
mod inputs_table;
// Palettes and swatch exchange files with the injuries that drawing programs give them.
mod inputs_swatch;
// Files of measurements: text and XML, with the light and observer that they state.
mod inputs_measured;

// Pictures that hurt people: each gives the right stitches or the clear error, real ones included.
mod inputs_picture;
// Real drawings through the whole command, judged from the written picture.
mod pictures;
// Charts through every format and back, their summaries, hostile bytes.
mod charts;
// Palette questions over the example tables, read as a user's would be.
mod planner;
// Reductions and substitutions held to best answers that an outside solver proved.
mod optima;
// Every method over the wire: answers, reasons of errors, limits, cancellation, reload, shutdown.
mod service;
// Each command in process: golden output, exit codes, standard error, files written and not written.
mod cli;
// Several charts in one run: order, bad files, names, going on after an end, the bar.
mod many;
// Tables of every format written as CSV and JSON by the command.
mod table_convert;
// The same questions in process and over a server on loopback: equal answers, equal words.
mod parity;
// The house rules: walls between packages, sizes, names, documents that must keep up.
mod tidy;
// The console blocks of the README print what they say.
mod docs;
// The demo prints what it should, from artwork to a replaced thread.
mod demo;
