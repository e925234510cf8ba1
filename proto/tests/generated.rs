//! The generated code is what the `.proto` files say. It needs no protobuf compiler: the one used
//! here is written in Rust. `UPDATE_GENERATED=1` writes the files instead of comparing them.

use std::fs;
use std::path::{Path, PathBuf};

use prost::Message;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// All `.proto` files of the contract, in the order of their names.
fn sources() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(root().join("dyekin/v1"))
        .expect("the folder of the contract")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "proto"))
        .collect();
    files.sort();
    files
}

fn generate(into: &Path) {
    let mut compiler = protox::Compiler::new([root()]).expect("the root of the contract");
    compiler.include_imports(true).include_source_info(true);
    compiler.open_files(sources()).expect("files that compile");
    let set = compiler.file_descriptor_set();
    fs::write(into.join("descriptor.bin"), set.encode_to_vec()).expect("descriptor written");
    tonic_prost_build::configure()
        .out_dir(into)
        .btree_map(".")
        .compile_fds(set)
        .expect("code generated");
}

#[test]
fn generated_code_is_fresh() {
    let made = tempfile::tempdir().expect("a folder");
    generate(made.path());
    let kept = root().join("src/generated");
    for name in ["descriptor.bin", "dyekin.v1.rs"] {
        let fresh = fs::read(made.path().join(name)).expect("a generated file");
        if std::env::var_os("UPDATE_GENERATED").is_some() {
            fs::write(kept.join(name), &fresh).expect("a file written");
        }
        let stored = fs::read(kept.join(name)).unwrap_or_default();
        assert!(
            stored == fresh,
            "{name} is stale: run `UPDATE_GENERATED=1 cargo gen` and commit the result"
        );
    }
    let others: Vec<_> = fs::read_dir(made.path())
        .expect("a folder")
        .map(|entry| entry.expect("an entry").file_name())
        .filter(|name| name != "descriptor.bin" && name != "dyekin.v1.rs")
        .collect();
    assert!(others.is_empty(), "the generator made files that are not kept: {others:?}");
}
