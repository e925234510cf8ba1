//! To be filled: the dyekin-server package.
