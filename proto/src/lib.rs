//! To be filled: the dyekin-proto package.
