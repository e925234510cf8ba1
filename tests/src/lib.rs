//! To be filled: the dyekin-tests package.
