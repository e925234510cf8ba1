//! Nothing that callers rely on is removed, renamed, renumbered or retyped. The baseline is the
//! contract as last promised; `UPDATE_BASELINE=1` stores the present one after a release.

use std::collections::BTreeMap;
use std::path::PathBuf;

use dyekin_proto::FILE_DESCRIPTOR_SET;
use prost::Message;
use prost_types::{DescriptorProto, EnumDescriptorProto, FileDescriptorSet};

/// Every promise of a contract as `name -> form`. A promise may be added, never changed.
type Promises = BTreeMap<String, String>;

fn promises(set: &FileDescriptorSet) -> Promises {
    let mut all = Promises::new();
    for file in &set.file {
        let package = file.package();
        for message in &file.message_type {
            add_message(&mut all, package, message);
        }
        for one in &file.enum_type {
            add_enum(&mut all, package, one);
        }
        for service in &file.service {
            for method in &service.method {
                let form = format!(
                    "{}{} -> {}{}",
                    streamed(method.client_streaming()),
                    method.input_type(),
                    streamed(method.server_streaming()),
                    method.output_type()
                );
                all.insert(format!("rpc {package}.{}/{}", service.name(), method.name()), form);
            }
        }
    }
    all
}

fn streamed(yes: bool) -> &'static str {
    if yes { "stream " } else { "" }
}

fn add_message(all: &mut Promises, scope: &str, message: &DescriptorProto) {
    let path = format!("{scope}.{}", message.name());
    all.insert(format!("message {path}"), String::new());
    for field in &message.field {
        let oneof = match field.oneof_index {
            Some(place) if !field.proto3_optional() => {
                message.oneof_decl[usize::try_from(place).expect("a place")].name().to_owned()
            }
            _ => String::new(),
        };
        let form = format!(
            "{} {:?} {:?} {} optional={} oneof={oneof} json={}",
            field.name(),
            field.label(),
            field.r#type(),
            field.type_name(),
            field.proto3_optional(),
            field.json_name(),
        );
        all.insert(format!("field {path}#{}", field.number()), form);
    }
    for nested in &message.nested_type {
        add_message(all, &path, nested);
    }
    for one in &message.enum_type {
        add_enum(all, &path, one);
    }
}

fn add_enum(all: &mut Promises, scope: &str, one: &EnumDescriptorProto) {
    let path = format!("{scope}.{}", one.name());
    all.insert(format!("enum {path}"), String::new());
    for value in &one.value {
        all.insert(format!("value {path}#{}", value.number()), value.name().to_owned());
    }
}

/// What the present contract breaks of an earlier one.
fn broken(before: &FileDescriptorSet, now: &FileDescriptorSet) -> Vec<String> {
    let now = promises(now);
    promises(before)
        .into_iter()
        .filter_map(|(name, form)| match now.get(&name) {
            None => Some(format!("{name} is gone")),
            Some(other) if *other != form => Some(format!("{name}: was {form}, is {other}")),
            Some(_) => None,
        })
        .collect()
}

fn present() -> FileDescriptorSet {
    FileDescriptorSet::decode(FILE_DESCRIPTOR_SET).expect("a descriptor set")
}

#[test]
fn no_promise_is_broken() {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/baseline.bin");
    if std::env::var_os("UPDATE_BASELINE").is_some() {
        let mut stripped = present();
        stripped.file.iter_mut().for_each(|file| file.source_code_info = None);
        std::fs::write(&path, stripped.encode_to_vec()).expect("a baseline written");
    }
    let bytes = std::fs::read(&path).expect("a baseline");
    let baseline = FileDescriptorSet::decode(bytes.as_slice()).expect("a descriptor set");
    assert!(promises(&baseline).len() > 100, "the baseline holds the contract");
    let broken = broken(&baseline, &present());
    assert!(broken.is_empty(), "the contract breaks promises:\n{}", broken.join("\n"));
}

#[track_caller]
fn check(change: impl Fn(&mut FileDescriptorSet), expected: &str) {
    let mut changed = present();
    change(&mut changed);
    let broken = broken(&present(), &changed);
    assert!(broken.iter().any(|text| text.contains(expected)), "{broken:?}");
}

fn message<'s>(set: &'s mut FileDescriptorSet, name: &str) -> &'s mut DescriptorProto {
    set.file
        .iter_mut()
        .flat_map(|file| &mut file.message_type)
        .find(|message| message.name() == name)
        .expect("a message of that name")
}

#[test]
fn a_removed_field_is_found() {
    check(|set| drop(message(set, "LabColor").field.pop()), "field dyekin.v1.LabColor#3 is gone");
}

#[test]
fn a_renamed_field_is_found() {
    check(
        |set| message(set, "LabColor").field[0].name = Some("lightness".into()),
        "field dyekin.v1.LabColor#1: was l ",
    );
}

#[test]
fn a_renumbered_field_is_found() {
    check(
        |set| message(set, "LabColor").field[0].number = Some(9),
        "field dyekin.v1.LabColor#1 is gone",
    );
}

#[test]
fn a_retyped_field_is_found() {
    check(
        |set| {
            message(set, "LabColor").field[0]
                .set_type(prost_types::field_descriptor_proto::Type::Float)
        },
        "Float",
    );
}

#[test]
fn a_removed_method_is_found() {
    check(
        |set| {
            for service in set.file.iter_mut().flat_map(|file| &mut file.service) {
                service.method.retain(|method| method.name() != "CompareColors");
            }
        },
        "rpc dyekin.v1.MatchingService/CompareColors is gone",
    );
}

#[test]
fn a_method_that_stops_streaming_is_found() {
    check(
        |set| {
            for service in set.file.iter_mut().flat_map(|file| &mut file.service) {
                for method in &mut service.method {
                    method.server_streaming = Some(false);
                }
            }
        },
        "rpc dyekin.v1.PaletteService/ReducePalette: was",
    );
}

#[test]
fn a_removed_enum_value_is_found() {
    check(
        |set| {
            for one in set.file.iter_mut().flat_map(|file| &mut file.enum_type) {
                one.value.retain(|value| value.name() != "ORIGIN_SCAN");
            }
        },
        "value dyekin.v1.Origin#2 is gone",
    );
}

#[test]
fn an_added_field_breaks_nothing() {
    let mut changed = present();
    let mut field = message(&mut changed, "LabColor").field[0].clone();
    field.number = Some(9);
    field.name = Some("added".into());
    message(&mut changed, "LabColor").field.push(field);
    assert!(broken(&present(), &changed).is_empty());
}
