//! Charts through every format and back, their summaries, changes carried out, and hostile bytes.
//! It does not test pictures of foreign origin.

mod changes;
mod formats;
mod made;
mod properties;
mod summaries;
