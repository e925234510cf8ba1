//! Charts through every format and back, their summaries, and hostile bytes.
//! It does not test pictures of foreign origin.
