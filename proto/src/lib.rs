//! The contract of dyekin: messages and stubs generated from `dyekin/v1/*.proto`, and their
//! descriptors. It knows neither the domain nor how a message is answered.
//!
//! The `.proto` files are the manual: unit, range, default and errors of every field stand there.

#[rustfmt::skip]
#[allow(
    missing_docs,
    unused_qualifications,
    rustdoc::all,
    clippy::all,
    reason = "generated code"
)]
mod generated {
    /// Version 1.
    pub mod v1 {
        include!("generated/dyekin.v1.rs");
    }
}

/// Version 1 of the contract.
pub mod v1 {
    pub use crate::generated::v1::*;
}

/// All files of the contract as an encoded `google.protobuf.FileDescriptorSet`, with comments, for
/// reflection and for the tests of style.
pub const FILE_DESCRIPTOR_SET: &[u8] = include_bytes!("generated/descriptor.bin");

/// Domain of every `google.rpc.ErrorInfo` that the service sends.
pub const ERROR_DOMAIN: &str = "dyekin";
