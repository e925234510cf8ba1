//! To be filled: the dyekin-client package.
